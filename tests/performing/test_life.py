"""What notes do while they sound: their curves, in dB and semitones."""

from dataclasses import replace

import numpy as np
import pytest

from phrasing.feel import Feel, Life
from phrasing.performing import life
from phrasing.performing.performance import perform
from tests.lines import marking, melody

ALIVE = Life()


def curves(words, marks=None, inflections=None, feel=None, tempo=100.0):
    """The curves of a shaped melody by kind, as (seconds, value) rows."""
    tune = replace(melody(words, tempo=tempo), inflections=inflections or {})
    played = perform(tune, marking(len(tune), marks), feel or Feel())
    return {
        curve.kind: (tune.tempos.seconds(curve.ticks), curve.values)
        for curve in played.parts[0].curves
    }


def value(curve, at: float) -> float:
    """What a curve holds at a second."""
    when, values = curve
    return float(values[np.searchsorted(when, at, "right") - 1])


def test_short_notes_are_left_alone():
    assert curves("C5:1 D5:1 E5:1 F5:1", tempo=200.0) == {}


def test_a_note_is_strongest_a_little_before_its_middle():
    when, values = curves("C5:2 r:2")["expression"]
    strongest = when[np.isclose(values, 0.0)]
    assert strongest.min() == pytest.approx(0.445 * 0.588, abs=0.016)
    assert values[0] == pytest.approx(-ALIVE.arch / 3)
    assert values[np.searchsorted(when, 0.55)] < -0.75


def test_a_marcato_has_its_weight_at_once_and_settles():
    level = curves("C5:2 r:2", {0: "marcato"})["expression"]
    assert value(level, 0.05) == 0.0
    assert value(level, 0.16) == pytest.approx(-ALIVE.overshoot, abs=0.05)


def test_a_swell_eases_and_comes_back():
    level = curves("C5:4 r:4", {0: "accent"})["expression"]
    assert level[1].min() == pytest.approx(-1.5, abs=0.1)
    assert value(level, 0.0) == value(level, 1.1) == 0.0


def test_a_long_note_grows_into_the_next_and_a_last_one_falls():
    going = curves("C5:4 D5:4 r:4")["expression"]
    assert value(going, 0.25) == pytest.approx(-ALIVE.grow, abs=0.2)
    assert value(going, 1.05) > -0.3
    assert value(going, 2.3) < -2.0


def test_the_next_note_begins_with_nothing_left_of_the_one_before():
    both = curves("C5:4 D5:1 r:3", inflections={0: "falloff"})
    for kind in ("expression", "bend"):
        assert value(both[kind], 1.19) < -3
        assert value(both[kind], 1.2) > -0.5


def test_vibrato_is_delayed_modest_and_ends_in_tune():
    points = list(life.vibrato_points(1.5, replace(ALIVE, vibrato_delay=0.3), 1.0))
    assert points[0][0] == pytest.approx(0.3)
    assert max(abs(value) for _, value in points) <= ALIVE.vibrato_depth
    assert points[-1] == (1.5, 0.0)


def test_the_longer_a_note_the_more_it_sways():
    depth = [
        max(abs(value) for _, value in life.vibrato_points(seconds, ALIVE, 1.0))
        for seconds in (0.6, 1.0, 2.0)
    ]
    assert depth == sorted(depth)
    assert depth[0] < 0.7 * depth[2]


@pytest.mark.parametrize(
    "name, start, end",
    [("scoop", -1.2, 0.0), ("plop", 2.0, 0.0), ("falloff", 0.0, -5.0), ("doit", 0.0, 4.0)],
)
def test_a_note_is_bent_as_the_score_says(name, start, end):
    bend = curves("C5:2 r:2", inflections={0: name})["bend"]
    assert value(bend, 0.0) == pytest.approx(start)
    assert value(bend, 0.61) == pytest.approx(end, abs=0.01)


def test_strength_scales_all_of_it_and_none_leaves_nothing():
    half = curves("C5:2 r:2", {0: "marcato"}, {0: "scoop"}, Feel(strength=0.5))
    assert half["expression"][1].min() == pytest.approx(-ALIVE.overshoot / 2, abs=0.05)
    assert half["bend"][1].min() == pytest.approx(-ALIVE.scoop / 2)
    assert curves("C5:2 r:2", {0: "marcato"}, {0: "scoop"}, Feel(strength=0.0)) == {}


def test_a_plain_note_does_nothing():
    tune = replace(melody("C5:8", tempo=100), inflections={0: "scoop"})
    assert perform(tune, None).parts[0].curves == ()


def test_a_short_marcato_settles_before_it_is_over():
    when, values = curves("C5:1 r:3", {0: "marcato"}, tempo=160.0)["expression"]
    tune = melody("C5:1 r:3", tempo=160.0)
    part = perform(tune, marking(1, {0: "marcato"})).parts[0]
    assert when.max() <= float(tune.tempos.seconds(part.release[0])) + 0.001 < 0.15
    assert values.min() == pytest.approx(-ALIVE.overshoot, abs=0.05)


@pytest.mark.parametrize("bend", ["scoop", "plop"])
@pytest.mark.parametrize("tempo", [60.0, 240.0])
def test_a_note_is_there_in_time_however_it_is_reached(bend, tempo):
    """A bend into a note takes its time, but of a short note half at most."""
    bent = curves("C5:1 r:3", inflections={0: bend}, tempo=tempo)["bend"]
    sounding = 0.85 * 30 / tempo
    assert value(bent, max(ALIVE.into, 0.0) + 0.02) == pytest.approx(0.0, abs=0.05)
    assert value(bent, 0.8 * sounding) == pytest.approx(0.0, abs=0.05)
    assert abs(value(bent, 0.0)) > 0.3


def test_what_tapers_holds_its_level_for_its_first_half():
    """With the taper twice as late it faded behind the note's end, where nobody hears it."""
    now = a_second_of(tapers=True)
    points = life.level_points(now, 0, replace(ALIVE, taper=2.0))
    assert points == [(0.5, 0.0), (1.0, -2.0)]


def a_second_of(**changes):
    from types import SimpleNamespace

    usual = {"sounding": [1.0], "mark": [""], "bent": [""], "tapers": [False], "leads": [False]}
    own = {name: [value] for name, value in changes.items()}
    return SimpleNamespace(**(usual | {"ends": [False]} | own))
