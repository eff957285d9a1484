"""The rhythm section: bass, drums and chords over a melody's or a chart's chord symbols."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from phrasing.band.bass import bass_line
from phrasing.band.comping import comp
from phrasing.band.drums import BRUSH_KIT, JAZZ_KIT, Clicks, Drummer, clicked
from phrasing.band.ear import ear_of
from phrasing.band.edges import Ending, Intro
from phrasing.band.form import Form, form_of
from phrasing.band.grooves import grooves_of
from phrasing.band.plan import Plan, plan_of
from phrasing.band.strokes import Seat, Stroke, clock_of, part_of
from phrasing.band.voicing import Instrument
from phrasing.errors import PhrasingError
from phrasing.feel import RATIOS, Band, Bass, Comping, Drums, Feel
from phrasing.marking.marking import Marking
from phrasing.performing.performance import DRUMS, Part, Performance
from phrasing.score.melody import Melody
from phrasing.score.meters import checked_tempo
from phrasing.style import Style, chosen

Player = Literal["bass", "drums", "chords"]
PLAYERS: tuple[Player, ...] = ("bass", "drums", "chords")
PROGRAMS: dict[Instrument, int] = {"piano": 1, "guitar": 27}
BASS = 33
"""General MIDI programs from 1: acoustic bass, piano, jazz guitar."""
EVEN = 1.0


@dataclass(frozen=True, eq=False)
class Backing:
    """A rhythm section, what it plays and where: parts on the ticks of the ``form``.

    ``ratio``: the ride's swing ratio at the first chorus. ``feel``: the feel it was played
    with; a melody over it is performed with the same. ``groove``: what it plays, in words.
    """

    parts: tuple[Part, ...]
    form: Form
    ratio: float
    feel: Feel
    groove: str = ""

    def performance(self, title: str, melody: Sequence[Part] = ()) -> Performance:
        """All that sounds, with parts of a melody (on the form's ticks) before the band."""
        parts = (*melody, *self.parts)
        return Performance(
            parts, self.form.tempos, self.form.bars, title, self.form.end, (self.ratio,)
        )


def accompany(
    melody: Melody,
    feel: Feel | None = None,
    *,
    choruses: int = 1,
    count_in: int = 2,
    clicks: Clicks = "all",
    intro: Intro = "none",
    ending: Ending = "ring",
    trade: int = 0,
    parts: Sequence[Player] = PLAYERS,
    comping: Instrument = "piano",
    head_in_two: bool = False,
    style: Style | None = None,
    marking: Marking | None = None,
    seed: int = 0,
) -> Backing:
    """A rhythm section for a melody or chart with chord symbols; drums alone need none.

    ``count_in``: bars before it comes in, with ``clicks`` on all beats or on 2 and 4.
    ``intro``: four bars round the key, or the last four of the tune; ``ending``: the last
    chord rings, comes after a ritardando or a tag, stops short, or there is none; ``trade``:
    bars that the drums answer alone in the choruses in the middle.
    ``parts``: who plays; leaving one out changes nothing in the others. ``comping``: who
    plays the chords. ``head_in_two``: the first chorus in two. ``style``: that of the melody
    (its own); with its words and meter it decides the groove. ``marking``: its marks, for the
    drums to play along with. The same ``seed`` plays the same. A ratio that a chart asks for
    is the band's; of a melody's, even eighths are.

    Raises ``PhrasingError`` for a melody without chords, a chord that is not known, or a
    number that cannot be played.

    >>> band = accompany(chart("| Dm7 | G7 | C6 | C6 |"), choruses=2)
    >>> [part.name for part in band.parts]
    ['Bass', 'Drums', 'Piano', 'Count-in']
    """
    for tempo in melody.tempos.tempos:
        checked_tempo(tempo)
    style = style or chosen(melody).style
    feel = _with_swing(feel or style.played(), melody, style)
    form = form_of(
        melody,
        choruses=choruses,
        count_in=count_in,
        intro=intro,
        ending=ending,
        trade=trade,
        ring=feel.band.ring,
        slowest=feel.band.ritard,
        harmony=any(player != "drums" for player in parts),
    )
    plan = plan_of(
        form,
        feel,
        _rng(seed, "plan"),
        grooves=tuple(form.every_chorus(grooves_of(melody, style))),
        ear=ear_of(melody, marking, form),
        head_in_two=head_in_two,
    )
    clock = clock_of(form, feel)
    seated = _seated(plan, feel, parts, comping, clicks, seed)
    played = tuple(
        part_of(strokes, seat, clock, feel, _rng(seed, seat.name)) for seat, strokes in seated
    )
    return Backing(played, form, clock.ratio, feel, plan.grooves[0][1].title)


def _with_swing(feel: Feel, melody: Melody, style: Style) -> Feel:
    """The feel with a ride of the ratio that is asked for: all share its beat.

    The feel's own table for the ride decides, then its ratios, those of a chart or of even
    eighths, and the style's.
    """
    table, asked = feel.swing.by_tempo, melody.swing
    if not table and asked is not None and (not len(melody) or asked == EVEN):
        if not EVEN <= asked <= RATIOS[1]:
            raise PhrasingError(
                f"The swing ratio {asked:g} is outside 1 (even) to {RATIOS[1]:g} "
                "(long note : short)."
            )
        table = ((melody.tempos.tempos[0], asked),)
    own = style.played().swing.by_tempo
    if not (table or own) or feel.swing.ride_by_tempo:
        return feel
    swing = replace(feel.swing, by_tempo=feel.swing.by_tempo or own, ride_by_tempo=table or own)
    return replace(feel, swing=swing)


def _rng(seed: int, name: str) -> np.random.Generator:
    """Chance of its own for each player."""
    return np.random.default_rng([abs(seed), *name.encode()])


def _seated(
    plan: Plan,
    feel: Feel,
    parts: Sequence[Player],
    comping: Instrument,
    clicks: Clicks,
    seed: int,
) -> Iterator[tuple[Seat, list[Stroke]]]:
    """Who plays, and what each means to play."""
    band = feel.band
    kit = _seat("drums", "Drums", DRUMS, band, band.drums)
    lower = plan.drums_in(len(plan.form.bars) - 1).drums_lower
    kit = replace(
        kit,
        steady_timing=band.drums.ride_timing,
        kit=BRUSH_KIT if plan.brushes else JAZZ_KIT,
        gain=kit.gain - lower,
        place=band.drums_place - lower,
    )
    if "bass" in parts:
        seat = _seat("bass", "Bass", BASS, band, band.bass)
        yield seat, bass_line(plan, band.bass, _rng(seed, "bass line"))
    if "drums" in parts:
        yield kit, Drummer(plan, band.drums, _rng(seed, "drummer")).play()
    if "chords" in parts:
        name = comping.capitalize()
        seat = _seat(comping, name, PROGRAMS[comping], band, band.comping)
        seat = replace(seat, together=True)
        yield seat, comp(plan, band.comping, comping, _rng(seed, "comping"))
    if plan.form.counted:
        seat = replace(kit, name="Count-in", spread=0.0, steady_timing=0.0)
        yield seat, list(clicked(plan, clicks))


def _seat(
    player: str, name: str, program: int, band: Band, looseness: Bass | Drums | Comping
) -> Seat:
    """A player's seat as the feel has it."""
    gain, pan, place = (getattr(band, f"{player}_{what}") for what in ("gain", "seat", "place"))
    timing, spread = looseness.timing, looseness.spread
    return Seat(name, program, gain, timing, spread, pan=pan, place=place)
