"""A clock that wanders with memory, and is still where nobody asks for it."""

from dataclasses import replace

import numpy as np
import pytest

from phrasing.feel import FEELS, Feel, Wander
from phrasing.feelfile import adjusted
from phrasing.performing.clock import wandering
from phrasing.performing.performance import perform, timing
from tests.lines import marking, melody

EIGHTHS = "C5:1 D5:1 E5:1 F5:1 G5:1 F5:1 E5:1 D5:1 " * 64
PLAYED = adjusted(Feel(), FEELS["played"]).wander
HUMAN = Feel(wander=PLAYED)


def seconds(feel: Feel, tempo: float = 120.0, **options) -> np.ndarray:
    tune = melody(EIGHTHS, tempo=tempo)
    return tune.tempos.seconds(timing(tune, feel, **options).onset)


def off_by(tempo: float) -> np.ndarray:
    return seconds(HUMAN, tempo) - seconds(Feel(), tempo)


def test_a_clock_stands_still_where_nobody_asks():
    assert Feel().wander == Wander()
    assert Wander().time == Wander().ratio == Wander().lag == 0


def test_it_wanders_by_a_few_milliseconds_and_remembers():
    beats = off_by(120.0)[::2] * 1000
    assert 2 < beats.std() < 16
    near = np.corrcoef(beats[:-1], beats[1:])[0, 1]
    assert near > 0.5
    white = np.random.default_rng(1).standard_normal(len(beats))
    assert near > np.corrcoef(white[:-1], white[1:])[0, 1] + 0.3


def test_it_wanders_less_as_the_tempo_rises():
    assert np.abs(off_by(300.0)).max() < np.abs(off_by(100.0)).max()


def test_the_ratio_varies_along_the_line_around_what_was_asked():
    at = seconds(replace(HUMAN, wander=replace(PLAYED, time=0.0)))
    ratio = (at[1:-1:2] - at[:-2:2]) / (at[2::2] - at[1:-1:2])
    asked = timing(melody(EIGHTHS, tempo=120), Feel()).ratio
    assert np.median(ratio) == pytest.approx(asked, abs=0.2)
    assert 0.05 < ratio.std() < 0.4
    assert ratio.min() >= 1


def test_laying_back_changes_with_the_phrase_and_is_gone_at_300():
    late = seconds(HUMAN, 140.0, lay_back=True)[::2] - seconds(Feel(), 140.0)[::2]
    assert late.std() > 0.002
    still = replace(HUMAN, wander=replace(PLAYED, time=0.0, ratio=0.0))
    gone = seconds(still, 300.0, lay_back=True)[::2] - seconds(Feel(), 300.0)[::2]
    assert np.abs(gone).max() < 0.001


def test_plain_and_shaped_wander_together_and_notes_stay_in_order():
    tune = melody(EIGHTHS, tempo=120)
    plain = perform(tune, None, HUMAN).parts[0]
    shaped = perform(tune, marking(len(tune), {0: "marcato"}), HUMAN).parts[0]
    assert plain.onset.tolist() == shaped.onset.tolist()
    assert (np.diff(plain.onset) > 0).all()
    assert plain.onset[0] >= 0


def test_the_same_seed_is_the_same_take_and_another_is_not():
    assert seconds(HUMAN).tolist() == seconds(HUMAN).tolist()
    assert seconds(HUMAN).tolist() != seconds(Feel(wander=replace(PLAYED, seed=2))).tolist()


def test_nothing_to_wander_over_is_no_fault():
    assert wandering(0, np.random.default_rng(1)).shape == (0,)
