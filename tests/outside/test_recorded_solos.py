"""Lengths, gaps, levels and time against those counted from recorded solos.

Source: Weimar Jazz Database (Jazzomat Research Project; Pfleiderer, Frieler et al. 2017,
"Inside the Jazzomat", Schott Campus; ODbL): wind solos, swing feel, 4/4: 327 solos, 60
players, 148,774 notes, counted by us; levels from the published features of the same project.
Lengths there are hand-transcribed, and the notes are improvised: bands of what players do.
"""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from phrasing.app.folders import example
from phrasing.feel import FEELS, Detached, Feel
from phrasing.feelfile import adjusted
from phrasing.marking.precedence import mark
from phrasing.performing.performance import perform, timing
from phrasing.reading import read
from phrasing.score.marks import CODE, MARK_NAMES, UNMARKED
from phrasing.score.melody import Melody
from phrasing.score.meters import bars_of_meters
from phrasing.style import chosen
from tests.lines import melody
from tests.outside.hearing import line_of, recorded
from tests.outside.test_swing_in_sound import SCALE, ratio_heard

pytestmark = pytest.mark.outside
PLAYED = adjusted(Feel(), FEELS["played"])
TEMPOS = (100.0, 140.0, 200.0, 260.0)


def silences(tune: Melody) -> np.ndarray:
    """Seconds between each note's release and the next onset, shaped."""
    part = perform(tune, mark(tune)).parts[0]
    return np.asarray(tune.tempos.seconds(part.onset[1:] - part.release[:-1]))


def sounding(tune: Melody, marking=None) -> np.ndarray:
    """Seconds for which each note sounds, shaped."""
    part = perform(tune, marking or mark(tune)).parts[0]
    return np.asarray(tune.tempos.seconds(part.release - part.onset))


@pytest.mark.parametrize("tempo", TEMPOS)
def test_the_gap_before_a_repeated_note_is_the_same_at_any_tempo(tempo):
    """Counted: 32 ms at the median, for eighths."""
    gap = silences(melody("C5:1 C5:1 E5:1 D5:4", tempo=tempo))[0]
    assert gap == pytest.approx(0.032, abs=0.006)


@pytest.mark.parametrize(
    "to,counted",
    [("C#5", 0.014), ("D5", 0.016), ("F5", 0.021), ("G5", 0.028), ("C6", 0.041)],
)
def test_the_gap_of_a_tongued_note_grows_with_the_interval(to, counted):
    tune = melody(f"C5:1 {to}:1 A5:1 A4:1 C5:4", tempo=140)
    assert silences(tune)[0] == pytest.approx(counted, abs=0.002)


@pytest.mark.parametrize("tempo", [120.0, 160.0, 200.0])
def test_a_short_off_beat_before_a_rest_lasts_as_long_as_counted(tempo):
    """Counted: 114 ms at the median, 78 to 184 for eight in ten."""
    assert 0.078 < sounding(melody("E4:1 G4:1 r:6", tempo=tempo))[1] < 0.184


@pytest.mark.parametrize("tempo", [120.0, 160.0, 200.0, 260.0, 340.0])
def test_a_detached_quarter_sounds_for_the_share_that_was_counted(tempo):
    """Counted: 0.51 to 0.56 of its time, at every tempo."""
    share = sounding(melody("A4:2 F4:2 G4:4", tempo=tempo))[0] * tempo / 60
    assert 0.505 < share < 0.565


def test_no_note_is_shorter_than_one_in_twenty_of_the_recorded_ones():
    """Counted: the 5th percentile is 49 ms."""
    tune = replace(read(example()))
    for tempo in (152.0, 240.0, 300.0):
        assert sounding(tune.with_tempo(tempo)).min() >= 0.049


def spread(name: str, folder: Path, named: str) -> float:
    """Standard deviation (dB) of the levels of all notes of an example, in its sound."""
    tune = read(example().with_name(name))
    feel = adjusted(chosen(tune).style.played(), FEELS[named])
    shaped = perform(tune, mark(tune, detached=feel.detached), feel)
    take = recorded({"shaped": shaped}, folder)["shaped"]
    line = line_of(take, shaped)
    spans = zip(line.due + 0.02, np.minimum(line.until, line.due + 0.3), strict=True)
    return float(np.std([take.level(*span) for span in spans]))


def test_levels_of_a_blues_head_are_spread_as_they_are_within_a_solo(tmp_path):
    """Published: a standard deviation of 4.2 dB, 3.2 to 5.5 for eight solos in ten."""
    assert 3.2 < spread("caretakers_keys.mid", tmp_path, "taught") < 5.5


@pytest.mark.parametrize(
    "name",
    ["caretakers_keys.mid", "late_bus_home.mid", "folding_chairs_waltz.mid",
     "corridor_line_played.mid"],
)  # fmt: skip
def test_as_recorded_levels_of_any_melody_are_spread_as_much(tmp_path, name):
    """As taught, melodies with few marks stay at 2.2 to 3.0 dB: what is not marked is plain."""
    assert 3.2 < spread(name, tmp_path, "played") < 5.5


class TestPlayed:
    """The feel that follows the counts, where the default follows what is taught."""

    def shares(self, tune: Melody) -> np.ndarray:
        marking = mark(tune, detached=Detached(by_share=True))
        return marking.mark == CODE["marcato"]

    def quarters(self, steps: int, count: int = 6000) -> Melody:
        """Quarters that move by so many semitones up and down."""
        onset = 960 * np.arange(count)
        pitch = 67 + steps * (np.arange(count) % 2)
        bars = bars_of_meters({}, 960 * count)
        return Melody(onset, np.full(count, 960), pitch, bars).with_tempo(160)

    @pytest.mark.parametrize(
        "steps,strong,weak", [(4, 0.40, 0.60), (2, 0.29, 0.60), (0, 0.40, 0.76)]
    )
    def test_quarters_on_the_beat_are_detached_by_the_shares_counted(self, steps, strong, weak):
        short = self.shares(self.quarters(steps))
        assert short[0::2].mean() == pytest.approx(strong, abs=0.03)
        assert short[1::2].mean() == pytest.approx(weak, abs=0.03)

    @pytest.mark.parametrize(
        "tempo,counted", [(80, 1.42), (120, 1.68), (160, 1.74), (200, 1.63), (240, 1.39)]
    )
    def test_it_swings_in_the_sound_as_counted_by_tempo(self, tmp_path, tempo, counted):
        tune = melody(SCALE, tempo=float(tempo))
        played = perform(tune, None, PLAYED)
        take = recorded({"plain": played}, tmp_path)["plain"]
        assert ratio_heard(take, played) == pytest.approx(counted, abs=0.15)

    def test_plain_and_shaped_still_begin_every_note_together(self):
        tune = melody(SCALE, tempo=160.0)
        plain, shaped = perform(tune, None, PLAYED), perform(tune, mark(tune), PLAYED)
        assert plain.parts[0].onset.tolist() == shaped.parts[0].onset.tolist()
        assert (np.diff(plain.parts[0].onset) > 0).all()

    def test_the_same_seed_plays_the_same_and_another_does_not(self):
        tune = melody(SCALE, tempo=160.0)
        other = adjusted(PLAYED, {"wander": {"seed": 5}})
        onsets = [timing(tune, feel).onset.tolist() for feel in (PLAYED, PLAYED, other)]
        assert onsets[0] == onsets[1] != onsets[2]

    def test_a_higher_note_is_louder_by_as_much_as_was_published(self):
        """Friberg, Bresin & Sundberg 2006: 0.25 dB a semitone; as taught, none."""
        tune = melody("C4:2 C5:2 C4:2 C5:2", tempo=160.0)
        calm = adjusted(PLAYED, {"chance": {"level": 0.0}})
        marking = mark(tune)
        levels = [perform(tune, marking, feel).parts[0].level for feel in (calm, Feel())]
        assert np.diff(levels[0] - levels[1]).tolist() == pytest.approx([3.0, -3.0, 3.0])

    def test_marks_stand_out_from_the_plain_notes_beside_them(self):
        """Louder or softer by at least what is heard (1 dB: Jesteadt, Wier & Green 1977)."""
        gaps: dict[str, list[float]] = {}
        for name in ("caretakers_keys.mid", "late_bus_home.mid", "corridor_line_played.mid"):
            tune = read(example().with_name(name))
            marking = mark(tune, detached=PLAYED.detached)
            level = perform(tune, marking, PLAYED).parts[0].level
            for note in range(1, len(level) - 1):
                plain = [i for i in (note - 1, note + 1) if marking.mark[i] == UNMARKED]
                if marking.mark[note] != UNMARKED and plain:
                    mine = gaps.setdefault(MARK_NAMES[marking.mark[note]], [])
                    mine.append(float(level[note] - level[plain].mean()))
        louder = {name: np.median(gaps[name]) for name in ("marcato", "accent", "stress")}
        assert min(louder.values()) > 1
        assert np.median(gaps["ghost"]) < -5

    def test_the_default_is_as_taught(self):
        assert Feel() == adjusted(Feel(), FEELS["taught"])
        tune = melody(SCALE, tempo=160.0)
        assert timing(tune, Feel()).onset[:3:2].tolist() == [0.0, 960.0]
