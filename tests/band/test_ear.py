"""A band that listens: out of the melody's way, into its gaps, with its accents."""

from dataclasses import replace

import numpy as np
import pytest

from phrasing.band import drums as kit
from phrasing.band.band import accompany
from phrasing.band.ear import NOBODY, ear_of
from phrasing.band.form import form_of
from phrasing.feel import Band, Comping, Drums, Feel
from phrasing.lesson.playalong import melody_over
from phrasing.marking.precedence import mark
from phrasing.score.instruments import DEFAULT
from phrasing.score.meters import TICKS
from phrasing.style import chosen
from tests.band.charts import chart
from tests.band.tunes import CHARTS, tune

SONG = "tempo: 150\nkey: C\n" + "| Cmaj7 | Am7 | Dm7 | G7 " * 2 + "|"
RUB = (1, 13)
HEARD = 0.030
"""Seconds for which two notes sound together before it is called a rub."""


def part(backing, *names):
    return next(part for part in backing.parts if part.name in names)


def with_notes(text, *notes):
    """A chart with notes (onset and length in eighths, pitch) over it."""
    onset, length, pitch = np.array(notes).T
    return replace(
        chart(text), onset=onset * TICKS // 2, length=length * TICKS // 2, pitch=pitch
    )


def rubs(backing, melody, marking):
    """How many notes of the melody rub with a chord, and how many notes there are."""
    line = melody_over(backing, melody, marking, DEFAULT)
    chords = part(backing, "Piano", "Guitar")
    found = 0
    for onset, release, pitch in zip(line.onset, line.release, line.pitch, strict=True):
        seconds = backing.form.tempos.seconds
        together = seconds(np.minimum(chords.release, release)) - seconds(
            np.maximum(chords.onset, onset)
        )
        found += bool(((together > HEARD) & np.isin(abs(chords.pitch - pitch), RUB)).any())
    return found, len(line.onset)


@pytest.mark.parametrize("name", CHARTS)
@pytest.mark.parametrize("comping", ["piano", "guitar"])
def test_at_most_two_percent_of_the_melodys_notes_rub_with_the_chords(name, comping):
    found = count = 0
    for seed in range(4):
        melody = tune(CHARTS[name], seed)
        style = chosen(melody).style
        marking = mark(melody, style=style)
        backing = accompany(
            melody, count_in=0, comping=comping, style=style, marking=marking, seed=seed
        )
        more, notes = rubs(backing, melody, marking)
        found, count = found + more, count + notes
    assert found / count <= 0.02


def test_a_band_that_did_not_listen_rubbed():
    """What the check above is worth: the same chords under a melody they know nothing of."""
    melody = tune(CHARTS["swing"], 1)
    marking = mark(melody)
    deaf = [accompany(chart(CHARTS["swing"]), count_in=0, seed=seed) for seed in range(4)]
    assert sum(rubs(band, melody, marking)[0] for band in deaf) / (4 * len(melody)) > 0.05


def test_chords_answer_in_the_gaps_and_keep_out_of_busy_beats():
    busy = [(bar * 8 + i, 1, 67 + i) for bar in range(8) for i in range(4)]
    melody = with_notes(SONG, *busy)
    first = second = 0
    for seed in range(12):
        piano = part(accompany(melody, count_in=0, ending="none", seed=seed), "Piano")
        places = np.unique(np.rint(piano.onset / (TICKS / 2)).astype(int)) % 8
        first += int(((places > 0) & (places < 4)).sum())
        second += int((places >= 4).sum())
    assert second > 1.8 * first


def test_chords_lie_below_a_high_melody_and_above_a_low_one():
    tops, bottoms = [], []
    for pitch, found in ((70, tops), (58, bottoms)):
        melody = with_notes(SONG, *((8 * bar, 8, pitch) for bar in range(8)))
        for seed in range(6):
            piano = part(accompany(melody, count_in=0, ending="none", seed=seed), "Piano")
            found += piano.pitch.tolist()
    assert np.mean([pitch >= 68 for pitch in tops]) < 0.05
    assert np.mean(bottoms) > np.mean(tops) + 2


def test_the_highest_notes_move():
    still = count = 0
    for seed in range(10):
        piano = part(accompany(chart(CHARTS["swing"]), count_in=0, seed=seed), "Piano")
        beats = np.rint(piano.onset / (TICKS / 6))
        tops = [piano.pitch[beats == beat].max() for beat in np.unique(beats)]
        still += int((np.diff(tops) == 0).sum())
        count += len(tops) - 1
    assert still / count < 0.35


def strokes(melody, marking=None, seed=0, **settings):
    feel = Feel(band=Band(drums=Drums(timing=0.0, ride_timing=0.0, spread=0.0, **settings)))
    backing = accompany(
        melody, feel, count_in=0, ending="none", parts=["drums"], marking=marking, seed=seed
    )
    return backing, backing.parts[0]


def test_the_drums_set_up_a_linked_pair_and_catch_its_arrival():
    melody = with_notes(SONG, (3, 2, 67), (5, 2, 69))
    marking = mark(melody)
    ear = ear_of(melody, marking, form_of(melody, count_in=0))
    assert ear.pairs == ((3 * TICKS // 2, 5 * TICKS // 2),)
    backing, drums = strokes(melody, marking, sets_up=1.0, comping=0.0)
    loud = drums.onset[(drums.pitch == kit.KICK) & (drums.level > -6)]
    swung = TICKS * backing.ratio / (1 + backing.ratio)
    assert round(2 * TICKS + swung) in loud.tolist()
    snares = drums.onset[drums.pitch == kit.SNARE]
    assert any(tick < 2 * TICKS + swung for tick in snares)


def test_an_accent_off_the_beat_is_played_along_with():
    melody = with_notes(SONG, *((8 * bar + 3, 5, 67) for bar in range(8)))
    caught = {}
    for share in (0.0, 1.0):
        backing, drums = strokes(melody, mark(melody), catches=share, comping=0.0)
        at = np.rint(TICKS + TICKS * backing.ratio / (1 + backing.ratio))
        inside = drums.onset % (4 * TICKS) == at
        caught[share] = int((inside & (drums.pitch != kit.RIDE)).sum())
    assert caught[1.0] >= 6
    assert caught[0.0] <= 1


def test_the_band_is_the_same_under_plain_and_shaped_and_without_the_melody():
    melody = tune(CHARTS["swing"], 3)
    one, two = (accompany(melody, marking=mark(melody), seed=2) for _ in range(2))
    for a, b in zip(one.parts, two.parts, strict=True):
        assert a.onset.tolist() == b.onset.tolist()
        assert a.level.tolist() == b.level.tolist()


def test_nobody_is_heard_where_nobody_plays():
    assert not NOBODY.hears
    assert not NOBODY.leaves_room(0, 1000)
    assert NOBODY.rub(60, 0, 1000) is None
    assert ear_of(chart(SONG), None, form_of(chart(SONG))).struck(0, 10**6) == 0


def thinned(**settings):
    """The share of the piano's chords in which notes are left out for the melody's sake."""
    few = count = 0
    for seed in range(6):
        feel = Feel(band=Band(comping=Comping(**settings)))
        melody = tune(CHARTS["swing"], seed)
        piano = part(accompany(melody, feel, count_in=0, seed=seed), "Piano")
        sizes = np.unique(np.rint(piano.onset / (TICKS / 6)), return_counts=True)[1]
        few, count = few + int((sizes < 4).sum()), count + len(sizes)
    return few / count


def test_a_voicing_is_chosen_that_does_not_rub_before_notes_are_left_out():
    assert thinned() < 0.75 * thinned(clash=0.0)
