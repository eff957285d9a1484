"""Parts moved, cut and joined."""

from dataclasses import replace

import numpy as np
import pytest

from phrasing.feel import Feel
from phrasing.feelfile import adjusted
from phrasing.marking.precedence import mark
from phrasing.performing.performance import Curve, joined, moved, of_notes, perform
from phrasing.score.instruments import BY_KEY
from phrasing.score.melody import Grace, Manner
from phrasing.style import STYLE
from tests.lines import marking, melody

RUN = "C5:1 D5:1 E5:1 F5:1 G5:1 A5:1 B5:1 C6:1"
LONG = "C5:2 r:1 D5:5"


def test_plain_and_shaped_have_the_same_notes_at_the_same_places():
    tune = melody(RUN)
    marks = marking(8, {1: "ghost", 4: "marcato", 6: "tenuto"}, joined=(1, 3, 5))
    plain = perform(tune, None).parts[0]
    shaped = perform(tune, marks).parts[0]
    for column in ("onset", "pitch", "source"):
        assert getattr(plain, column).tolist() == getattr(shaped, column).tolist()
    assert plain.release.tolist() != shaped.release.tolist()


def test_the_plain_performance_is_flat():
    part = perform(melody(RUN), None).parts[0]
    assert set(part.velocity.tolist()) == {80}
    assert not part.level.any()
    assert part.curves == ()


def test_straight_has_even_eighths():
    assert perform(melody(RUN), None, straight=True).parts[0].onset.tolist() == list(
        range(0, 8 * 480, 480)
    )


def test_swing_is_that_of_the_tempo_and_is_reported():
    performance = perform(melody(RUN, tempo=100), None)
    assert performance.parts[0].onset[:3].tolist() == [0, 640, 960]
    assert performance.swing == (2.0,)


def test_a_quarter_off_the_beat_sounds_to_its_swung_end():
    tune = melody("r:1 C5:2 D5:1", tempo=100)
    part = perform(tune, marking(2, {0: "accent"})).parts[0]
    assert part.onset.tolist() == [640, 1600]
    assert part.release[0] == round(640 + 0.98 * 960)


def test_a_slurred_note_overlaps_but_never_its_own_pitch():
    tune = melody("C5:1 D5:1 D5:1 E5:1")
    part = perform(tune, marking(4, joined=(0, 1, 2), repeated=(1,))).parts[0]
    assert part.release[0] > part.onset[1]
    assert part.release[1] < part.onset[2]


def test_a_careless_marking_cannot_make_a_pitch_overlap_itself():
    tune = melody("D5:1 D5:1")
    part = perform(tune, marking(2, joined=(0,))).parts[0]
    assert part.release[0] < part.onset[1]


def test_grace_notes_come_before_their_note_and_the_note_before_makes_room():
    tune = replace(melody(RUN), graces=(Grace(2, (75, 73)),))
    part = perform(tune, None).parts[0]
    graces = np.flatnonzero(part.source == 2)[:-1]
    assert part.pitch[graces].tolist() == [75, 73]
    assert part.release[graces[-1]] == 960
    assert part.release[1] <= part.onset[graces[0]]
    assert (np.diff(part.onset) > 0).all()


def test_a_grace_note_at_the_very_start_has_no_time_and_is_left_out():
    tune = replace(melody(RUN), graces=(Grace(0, (71,)),))
    assert len(perform(tune, None).parts[0].onset) == 8


def test_a_held_accent_swells_and_has_vibrato_on_a_wind_instrument_only():
    tune = melody(LONG)
    marks = marking(2, {1: "accent"})
    wind = perform(tune, marks, instrument=BY_KEY["trumpet"]).parts[0]
    assert {curve.kind for curve in wind.curves} == {"expression", "bend"}
    for curve in wind.curves:
        held = curve.ticks >= wind.onset[1]
        assert np.ptp(curve.values[held]) > 0.1
        assert curve.ticks[-1] <= wind.release[1]
        assert curve.values[-1] == 0.0
    assert perform(tune, marks, instrument=BY_KEY["piano"]).parts[0].curves == ()


def test_without_strength_shaped_is_plain():
    tune = melody(LONG)
    marks = marking(2, {0: "marcato", 1: "accent"})
    none = perform(tune, marks, Feel(strength=0.0)).parts[0]
    plain = perform(tune, None).parts[0]
    assert none.release.tolist() == plain.release.tolist()
    assert none.velocity.tolist() == plain.velocity.tolist()
    assert all(not curve.values.any() for curve in none.curves)


def test_laid_back_on_beats_are_late_and_off_beats_are_with_the_ride():
    tune = melody(RUN, tempo=150)
    alone = replace(Feel(), swing=replace(Feel().swing, by_tempo=((150, 2.5),)))
    ride = perform(tune, None, alone).parts[0].onset
    laid = perform(tune, None, lay_back=True).parts[0].onset
    assert (laid - ride)[::2].tolist() == [58, 58, 58, 58]
    assert (laid - ride)[1::2].tolist() == [0, 0, 0, 0]


def test_laying_back_keeps_the_order_of_triplets():
    tune = melody("C5:0.6666667 D5:0.6666667 E5:0.6666666 F5:1 G5:1", tempo=60)
    assert (np.diff(perform(tune, None, lay_back=True).parts[0].onset) > 0).all()


@pytest.mark.parametrize("tempo", [40, 120, 300])
def test_every_release_comes_after_its_onset(tempo):
    tune = melody("C5:0.125 D5:0.125 C5:0.25 E5:1 E5:0.5 r:1 F5:4", tempo=tempo)
    part = perform(tune, marking(6, {0: "ghost", 5: "marcato"}, joined=(1, 2))).parts[0]
    assert (part.release > part.onset).all()


TUNE = melody("C5:2 D5:2 E5:2 F5:2")


def part():
    made = perform(TUNE, marking(4, {1: "accent"})).parts[0]
    bend = Curve("bend", np.array([1000, 2500]), np.array([0.1, 0.0]))
    return replace(made, curves=(bend,))


def test_moving_a_part_takes_its_curves_along():
    later = moved(part(), 480)
    assert (later.onset - part().onset).tolist() == [480] * 4
    assert (later.release - part().release).tolist() == [480] * 4
    assert later.curves[0].ticks.tolist() == [1480, 2980]


def test_notes_are_taken_by_their_place_in_the_melody_with_what_they_do():
    cut = of_notes(part(), [1])
    assert cut.pitch.tolist() == [74]
    assert cut.curves[0].ticks.tolist() == [1000]
    assert len(of_notes(part(), []).onset) == 0


def test_joined_parts_are_in_order_of_time():
    whole = joined([moved(part(), 4000), part()])
    assert (np.diff(whole.onset) >= 0).all()
    assert len(whole.onset) == 8
    assert whole.curves[0].ticks.tolist() == [1000, 2500, 5000, 6500]


@pytest.mark.parametrize("tempo", [90.0, 180.0])
def test_a_grace_note_takes_its_time_in_seconds_whatever_the_tempo(tempo):
    tune = replace(melody("C5:4 E5:4", tempo=tempo), graces=(Grace(1, (75, 74)),))
    part = perform(tune, None).parts[0]
    at = tune.tempos.seconds(part.onset)
    assert part.pitch.tolist() == [72, 75, 74, 76]
    assert at[2] - at[1] == pytest.approx(Feel().line.grace, abs=0.002)
    assert at[3] - at[2] == pytest.approx(Feel().line.grace, abs=0.002)
    assert part.release[0] <= part.onset[1]


def test_a_section_has_the_levels_of_its_own_style():
    tune = melody("C5:1 D5:1 G4:1 E5:1 F5:1 G5:3 " * 4)
    half = len(tune) // 2
    from_the_middle = int(tune.onset[half])
    both = replace(tune, manners=(Manner(from_the_middle, words="Bossa nova"),))
    ghosts = {7: "ghost", half + 7: "ghost"}
    marked = mark(both, style=STYLE["swing"], author=ghosts)
    level = perform(both, marked, Feel()).parts[0].level
    swing, even = (STYLE[name].played().sounds["ghost"].level for name in ("swing", "even"))
    assert swing != even
    assert (level[7], level[half + 7]) == (swing, even)
    by_hand = adjusted(Feel(), {"sounds": {"ghost": {"level": -8.0}}})
    level = perform(both, marked, by_hand).parts[0].level
    assert (level[7], level[half + 7]) == (-8.0, -8.0)
