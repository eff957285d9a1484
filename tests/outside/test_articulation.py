"""What the rules do to tunes that are not ours, against what has been published.

Sources: Fagaly, a published guide to jazz articulation, and Tolson 2012, Music Educators
Journal 99(1):80 (scalar eighth lines: off-beats usually accented; on-beats accented at
melodic peaks; quarters usually short; eighths connected); Bresin & Battel 2000, JNMR
29(3):211-224 (piano: staccato sounds about 40 % of the time between onsets). The first two
give conventions in words; the shares asked for here ("usually") are ours. Tunes: the
collections that music21 carries; places and intervals are worked out from its own bars and
pitches, not from the package's columns.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
import pytest

from phrasing.feel import Feel
from phrasing.marking.explaining import reasons
from phrasing.marking.marking import Marking
from phrasing.marking.precedence import mark
from phrasing.performing.performance import shape_of, timing
from phrasing.score.melody import Melody
from phrasing.score.meters import Meter, bars_of_meters

pytestmark = pytest.mark.outside

REELS = (
    "BanjoReel", "BellaUnionReel", "BellesOfOmahaReel", "BostonBoysReel", "BoyneHuntReel",
    "BrooksideHornpipe", "ClydeSideLassiesReel", "ConnemarasPetReel", "DefianceHornpipe",
    "EurekaHornpipe", "FirstOfMayReel", "FlipMcGildersReel", "HarlequinHornpipe",
    "HiawathaHornpipe", "IrishRoversReel", "JennysWeddingReel", "KittyClydesReel",
    "LadusReel", "LadyGardnersReel", "LadyMontgomerysReel", "LordJamesMurraysReel",
    "MaidOfAthensReel", "MissPlaudysReel", "MuldoonsFavoriteReel", "NewLineReel",
    "OaklandGardenJig", "OldTempleHouseReel", "PigeonOnTheGateReel", "QueensGuardsReel",
    "RovingBachelorReel", "SalamancaReel", "ScotchPatriotsReel", "ShipsAreSailingReel",
    "StPierreHornpipe", "UncleTomsBestJig", "ViolettaHornpipe", "WeeBitReel",
    "WelcomeHereAgainReel",
)  # fmt: skip
"""Tunes in eighths, from a collection of fiddle tunes of 1883."""
SONGS = ("erk5", "irl")
"""Books of folk songs in quarters and eighths."""
USUALLY = 0.75


@dataclass
class Tune:
    """A tune as music21 has it (quarter notes), and what the package makes of it."""

    name: str
    place: np.ndarray
    length: np.ndarray
    pitch: np.ndarray
    gap: np.ndarray
    melody: Melody
    marking: Marking
    level: np.ndarray
    gate: np.ndarray

    def __len__(self) -> int:
        return len(self.pitch)


def tune_of(score, name: str) -> Tune | None:
    """The melody of a score in 2/2 or 4/4 whose bars are whole after a pickup."""
    part = score.parts[0].stripTies()
    meters = {m.ratioString for m in part.recurse().getElementsByClass("TimeSignature")}
    notes = [n for n in part.recurse().notes if n.isNote and n.quarterLength > 0]
    if (
        not part.getElementsByClass("Measure")
        or len(meters) != 1
        or not meters & {"2/2", "4/4"}
        or len(notes) < 16
    ):
        return None
    first = part.getElementsByClass("Measure")[0]
    pickup = first.duration.quarterLength % 4
    onset = np.array([float(n.getOffsetInHierarchy(part)) for n in notes])
    length = np.array([float(n.quarterLength) for n in notes])
    if (np.diff(onset) < length[:-1] - 1e-6).any():
        return None
    beats, unit = map(int, next(iter(meters)).split("/"))
    end = round((onset[-1] + length[-1]) * 960)
    melody = Melody(
        np.rint(onset * 960),
        np.rint(length * 960),
        [n.pitch.midi for n in notes],
        bars_of_meters({0: Meter(beats, unit)}, end, round(pickup * 960)),
    ).with_tempo(140)
    marking = mark(melody)
    shape = shape_of(melody, marking, Feel(), timing(melody, Feel()))
    place = np.mod(onset - pickup, 1.0)
    gap = np.append(np.diff(onset) - length[:-1], np.inf)
    pitch = np.array([n.pitch.ps for n in notes])
    return Tune(name, place, length, pitch, gap, melody, marking, shape.level, shape.gate)


@cache
def reels() -> tuple[Tune, ...]:
    from music21 import corpus

    found = (tune_of(corpus.parse(f"ryansMammoth/{n}.abc"), n) for n in REELS)
    return tuple(tune for tune in found if tune)


@cache
def songs() -> tuple[Tune, ...]:
    from music21 import corpus

    books = [corpus.parse(f"essenFolksong/{name}.abc") for name in SONGS]
    found = [tune_of(score, score.metadata.title) for book in books for score in book.scores]
    return tuple(tune for tune in found if tune)


def inside(tune: Tune) -> np.ndarray:
    """Indices of eighths between two other eighths, with no rest around them."""
    eighth = np.isclose(tune.length, 0.5) & np.isclose(tune.gap, 0.0)
    return np.flatnonzero(eighth[:-2] & eighth[1:-1] & np.isclose(tune.length[2:], 0.5)) + 1


def on(tune: Tune, i: int) -> bool:
    return bool(np.isclose(tune.place[i], 0.0))


def off(tune: Tune, i: int) -> bool:
    return bool(np.isclose(tune.place[i], 0.5))


def is_scalar(tune: Tune, i: int) -> bool:
    """Whether the line goes through the note by step in one direction."""
    if i + 1 >= len(tune):
        return False
    came, goes = tune.pitch[i] - tune.pitch[i - 1], tune.pitch[i + 1] - tune.pitch[i]
    return came * goes > 0 and abs(came) <= 2 and abs(goes) <= 2


def test_there_are_tunes_enough():
    assert len(reels()) == len(REELS)
    assert len(songs()) >= 15


def test_scalar_eighth_lines_have_their_off_beats_accented():
    """Tolson 2012 and Fagaly: in scalar lines of eighths the off-beats are accented.

    In a fall of a fifth or more the decrescendo takes the place of it: such pairs count
    among all, and are left out where each off-beat is held against its own beat.
    """
    off_beats, on_beats, stronger = [], [], []
    for tune in reels():
        falling = {i for s in tune.marking.swells for i in range(s.first, s.last + 1)}
        for i in (i for i in inside(tune) if is_scalar(tune, i)):
            if on(tune, i) or off(tune, i):
                (off_beats if off(tune, i) else on_beats).append(tune.level[i])
            if on(tune, i) and is_scalar(tune, i + 1) and i not in falling:
                stronger.append(tune.level[i + 1] > tune.level[i])
    assert min(len(off_beats), len(on_beats)) > 60
    assert np.mean(off_beats) - np.mean(on_beats) > 0.5
    assert len(stronger) > 20
    assert np.mean(stronger) > USUALLY


def test_on_beats_are_accented_at_melodic_peaks():
    """Tolson 2012 and Fagaly: an on-beat is accented where the melody has its peak."""
    accented = []
    for tune in reels():
        for i in inside(tune):
            rose = np.diff(tune.pitch[max(0, i - 2) : i + 1])
            fell = np.diff(tune.pitch[i : i + 3])
            is_peak = rose[-1] > 0 > fell[0] and (rose[0] > 0 or fell[-1] < 0)
            if on(tune, i) and is_peak:
                accented.append(tune.level[i] > max(tune.level[i - 1], tune.level[i + 1]))
    assert len(accented) > 60
    assert np.mean(accented) > USUALLY


def test_quarters_are_short():
    """Tolson 2012 and Fagaly: quarters are usually played short."""
    gates = [
        tune.gate[i]
        for tune in (*reels(), *songs())
        for i in np.flatnonzero(np.isclose(tune.length, 1.0))
    ]
    assert len(gates) > 300
    assert np.mean(np.array(gates) <= 0.6) > USUALLY


def test_eighths_are_connected():
    """Tolson 2012 and Fagaly: eighths in a line are connected, not separated."""
    connected = []
    for tune in reels():
        for i in inside(tune):
            if tune.pitch[i] != tune.pitch[i + 1]:
                connected.append(tune.gate[i] >= 0.85)
    assert len(connected) > 500
    assert np.mean(connected) > 0.98


def test_staccato_notes_are_as_short_as_pianists_play_them():
    """Bresin & Battel 2000: staccato sounds for about 40 % of its time (piano).

    Their repeated notes sound for about 60 %; wind players' leave 32 ms at any tempo (see
    ``test_recorded_solos``), which is what is played here.
    """
    staccato = [
        tune.gate[i]
        for tune in (*reels(), *songs())
        for i in np.flatnonzero(np.isclose(tune.length, 0.5))
        if on(tune, i) and tune.gap[i] >= 0.5
    ]
    assert len(staccato) > 5
    assert np.median(staccato) == pytest.approx(0.40, abs=0.08)


def test_every_mark_is_explained_and_most_notes_are_left_alone():
    """A player marks what stands out (common practice, no source)."""
    for tune in reels():
        marked = tune.marking.mark >= 0
        told = reasons(tune.melody, tune.marking)
        assert all(told[i] for i in np.flatnonzero(marked))
        assert 0.1 < marked.mean() < 0.5, tune.name
