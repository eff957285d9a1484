"""Sound as it is played: when notes start and stop, and what they take."""

import tracemalloc

import numpy as np
import pytest

from phrasing.sound.sound import render, starts_at
from phrasing.sound.soundfonts import embedded_soundfont
from phrasing.sound.streams import BLOCK
from tests.sound.playing import curve, part, performance


def sound(played, **options) -> np.ndarray:
    return np.concatenate(list(render(played, embedded_soundfont(), **options)), axis=1)


def starts(wave: np.ndarray, rate: int = 44100) -> list[float]:
    """Seconds at which sound (above -60 dB of the highest) follows 50 ms of silence."""
    size = np.abs(wave).max(axis=0)
    loud = np.flatnonzero(size > size.max() / 1000)
    return [float(at) / rate for at in loud[np.diff(loud, prepend=-rate) > 0.05 * rate]]


def there(wave: np.ndarray, due: list[float], rate: int = 44100) -> list[float]:
    """Seconds at which the note due then comes within 6 dB of its first 80 ms."""
    power = np.convolve(wave[0].astype(float) ** 2, np.ones(rate // 100), "same")
    heard = []
    for at in due:
        level = power[round(at * rate) : round((at + 0.08) * rate)].mean()
        first = round((at - 0.06) * rate)
        heard.append(float((first + np.argmax(power[first:] > level / 4)) / rate))
    return heard


@pytest.mark.parametrize("rate", [44100, 48000])
@pytest.mark.parametrize("program", [58, 72, 74])
def test_notes_are_there_when_they_are_due(rate, program):
    """They had been struck on time, and a flute had been heard 35 ms late."""
    notes = part((0, 0.2, 67), (2, 2.2, 69), (4.5, 4.6, 71), program=program)
    due = [starts_at(rate) + quarter * 0.6 for quarter in (0, 2, 4.5)]
    wave = sound(performance(notes, tempo=100), rate=rate, room=False)
    assert there(wave, due, rate) == pytest.approx(due, abs=0.004)


def test_a_note_is_there_at_the_same_instant_however_it_is_played():
    plain = part((0, 0.9, 60), (1.5, 1.9, 62), (3, 3.9, 60))
    shaped = part((0, 0.5, 60, 3, 0.5), (1.5, 1.9, 62, -3, -0.4), (3, 3.9, 60, 3, 0.2))
    due = [starts_at(44100) + quarter * 0.5 for quarter in (0, 1.5, 3)]
    one, two = (there(sound(performance(p), room=False), due) for p in (plain, shaped))
    assert one == pytest.approx(two, abs=0.003)


def test_blocks_are_all_of_one_size_and_the_last_is_all_but_silent():
    blocks = list(render(performance(part((0, 2, 60))), embedded_soundfont()))
    assert {block.shape for block in blocks} == {(2, BLOCK)}
    highest = max(np.abs(block).max() for block in blocks)
    assert np.abs(blocks[-1][:, -2000:]).max() < highest / 30000


def test_a_cymbal_rings_to_its_end():
    played = performance(part((0, 0.1, 49), program=0), end=0.5)
    wave = sound(played, room=False)
    assert wave.shape[1] > 2 * 44100
    assert np.abs(wave[:, -500:]).max() < np.abs(wave).max() / 3000


@pytest.mark.parametrize("program", [57, 67, 72, 1])
def test_a_note_that_ends_is_gone_before_an_ear_notices(program):
    wave = sound(performance(part((0, 1, 62), program=program), end=2), room=False)
    end = round((starts_at(44100) + 0.5) * 44100)
    before, after = wave[0, end - 2000 : end], wave[0, end + 2900 : end + 4900]
    assert np.mean(after.astype(float) ** 2) < np.mean(before.astype(float) ** 2) / 500


def test_the_last_bar_is_played_out_though_nothing_sounds():
    wave = sound(performance(part((0, 0.5, 60)), end=8))
    assert wave.shape[1] / 44100 >= 4.0


def test_the_same_performance_gives_the_same_samples():
    wave = curve("bend", (0, 0), (0.5, 0.3), (0.75, 0))
    played = performance(part((0, 1, 60, 4, 0.5), (1, 2, 64, -9, -1), curves=(wave,)))
    assert np.array_equal(sound(played), sound(played))


def test_a_part_without_notes_is_silence():
    wave = sound(performance(part(), end=2))
    assert not wave.any()


def test_a_longer_piece_takes_no_more_memory():
    def most(quarters: int) -> int:
        notes = part(*[(i, i + 0.5, 60 + i % 5) for i in range(0, quarters, 8)])
        blocks = render(performance(notes, end=quarters), embedded_soundfont())
        next(blocks)
        tracemalloc.start()
        for _ in blocks:
            pass
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        return peak

    most(16)
    assert most(480) < most(64) + 500_000


def test_expression_and_gain_reach_the_sound():
    def level(played) -> float:
        wave = sound(played, room=False)[0, 13000:22000].astype(float)
        return float(10 * np.log10(np.mean(wave**2)))

    plain = level(performance(part((0, 2, 60))))
    softer = curve("expression", (0, -6), (2, 0))
    assert level(performance(part((0, 2, 60), curves=(softer,)))) - plain == pytest.approx(
        -6, abs=0.1
    )
    assert level(performance(part((0, 2, 60), gain=-8))) - plain == pytest.approx(-8, abs=0.1)


def test_what_is_set_for_a_note_does_not_change_the_tail_of_the_one_before():
    def tail(brightness: float) -> np.ndarray:
        notes = part((0, 0.5, 48, 0, -1), (0.6, 1, 84, -60, brightness), program=12)
        wave = sound(performance(notes, end=2), room=False)
        at = int((starts_at(44100) + 0.3) * 44100)
        return wave[:, at - 2000 : at + 6000]

    assert np.abs(tail(-1)).max() > 0.001
    assert np.abs(tail(-1) - tail(1)).max() < np.abs(tail(1)).max() / 300


def test_a_soft_drum_does_not_change_a_cymbal_that_rings():
    """The settings for a stroke had reached the cymbal struck before."""

    def ringing(*strokes) -> np.ndarray:
        played = performance(part((0, 0.1, 49), *strokes, program=0), end=2)
        at = int((starts_at(44100) + 0.6) * 44100)
        return sound(played, room=False)[:, at : at + 4000]

    alone, beside = ringing((1.0, 1.1, 49, -80)), ringing((1.0, 1.1, 35, -80))
    assert np.abs(alone).max() > 0.001
    assert np.abs(alone - beside).max() < 0.02 * np.abs(alone).max()


def test_a_closed_hi_hat_silences_the_open_one():
    def after(*strokes) -> float:
        played = performance(part((0, 0.1, 46), *strokes, program=0), end=2)
        at = int((starts_at(44100) + 0.4) * 44100)
        return float(np.abs(sound(played, room=False)[:, at : at + 4000]).max())

    assert after((0.5, 0.6, 42)) < 0.3 * after()


@pytest.mark.parametrize("program", [57, 67, 72, 66])
def test_a_slur_has_neither_a_gap_nor_a_bump(program):
    """Two notes sounding side by side had stood out by 5 dB, a short gap fell by 13."""
    slurred = part((0, 0.55, 62), (0.5, 1, 64), program=program)
    wave = sound(performance(slurred), room=False)[0].astype(float)
    join = round((starts_at(44100) + 0.25) * 44100)
    steps = wave[join - 8 * 441 : join + 12 * 441].reshape(-1, 441)
    levels = 10 * np.log10((steps**2).mean(axis=1))
    around = np.concatenate([levels[:5], levels[-5:]])
    assert levels[5:-5].min() > around.min() - 3.5
    assert levels[5:-5].max() < around.max() + 2.5
