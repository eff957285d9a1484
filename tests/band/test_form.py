"""The form of a play-along: count-in, choruses, pickups, ending, and its beats."""

from itertools import pairwise

import numpy as np
import pytest

from phrasing.band.form import form_of
from phrasing.band.plan import beats_of, grouped
from phrasing.errors import PhrasingError
from phrasing.score.melody import ChordSymbol, Melody
from phrasing.score.meters import TICKS, Bar, Meter, TempoMap, bars_of_meters
from tests.band.charts import METERS, chart, random_chart

BAR = 4 * TICKS


def chords(form):
    return [(span.onset / BAR, span.chord.text) for span in form.spans]


def test_count_in_choruses_and_ending_follow_each_other():
    song = chart("tempo: 120\nkey: C\n| Dm7 | G7 |")
    form = form_of(song, choruses=2, count_in=1)
    assert form.choruses == (BAR, 3 * BAR)
    assert form.final == 5 * BAR
    assert form.end == 6 * BAR
    assert [bar.number for bar in form.bars] == [0, 1, 2, 1, 2, 3]
    assert [bar.passing for bar in form.bars] == [1, 1, 1, 2, 2, 1]
    assert chords(form) == [(1, "Dm7"), (2, "G7"), (3, "Dm7"), (4, "G7"), (5, "C6")]


def test_without_an_ending_the_form_just_stops():
    form = form_of(chart("| Dm7 | G7 |"), count_in=0, ending="none")
    assert (form.final, form.end, form.choruses) == (None, 2 * BAR, (0,))


@pytest.mark.parametrize(
    "text,last",
    [
        ("key: C\n| Dm7 G7 | Cmaj7 | % |", "Cmaj7"),
        ("key: F\n| F7 | Gm7 C7 |", "F7"),
        ("| F7 | Bb7 | F7 C7 |", "F7"),
        ("key: Am\n| Dm7 | E7b9 |", "Am6"),
        ("key: Am\n| Am9 | E7b9 |", "Am9"),
        ("| Dm7 | G7 |", "C6"),
        ("key: Bb\n| Cm7 | A°7 |", "B♭6"),
        ("| N.C. |", "N.C."),
    ],
)
def test_it_ends_where_the_tune_rests(text, last):
    form = form_of(chart(text), count_in=0)
    assert form.spans[-1].chord.text == last
    assert form.spans[-1].end == form.end


def test_a_tune_that_rests_in_its_last_two_bars_is_not_made_longer():
    form = form_of(chart("tempo: 120\nkey: C\n| Dm7 | G7 | C6 | % |"), count_in=0)
    assert (form.final, form.end) == (2 * BAR, 4 * BAR)


@pytest.mark.parametrize("tempo", [30, 120, 400])
def test_the_last_chord_rings_for_two_seconds_at_least(tempo):
    form = form_of(chart(f"tempo: {tempo}\n| Dm7 | G7 |"), ring=2.0)
    assert form.final is not None
    seconds = form.tempos.seconds(form.end) - form.tempos.seconds(form.final)
    assert seconds >= 2.0 - 1e-9


def melody(pickup=TICKS, last=None, tempo=120.0):
    """Two bars of C and a pickup, the last bar as long as ``last``."""
    bars = list(bars_of_meters({}, 2 * BAR + pickup, pickup))
    if last is not None:
        end = bars[-1]
        bars[-1] = Bar(end.onset, last, end.number, end.meter)
    return Melody(
        np.array([0, pickup]),
        np.array([TICKS, TICKS]),
        np.array([60, 62]),
        tuple(bars),
        TempoMap((0,), (tempo,)),
        chords=(ChordSymbol(pickup, "C"), ChordSymbol(pickup + BAR, "F")),
    )


def test_a_pickup_falls_into_the_count_in_and_into_the_bar_before_each_chorus():
    form = form_of(melody(), choruses=2, count_in=1)
    assert form.choruses == (BAR, 3 * BAR)
    assert form.offset(0) == BAR - TICKS
    assert form.offset(1) == 3 * BAR - TICKS


def test_without_a_count_in_the_pickup_comes_first():
    form = form_of(melody(), count_in=0)
    assert form.choruses == (TICKS,)
    assert form.offset() == 0
    assert not form.counted
    assert form.bars[0].length == TICKS


def test_a_last_bar_short_by_the_pickup_is_filled_up():
    form = form_of(melody(last=3 * TICKS), choruses=2, count_in=1)
    assert form.choruses[1] - form.choruses[0] == 2 * BAR


def test_a_chord_before_the_bar_line_holds_from_bar_1():
    song = melody()
    early = Melody(
        song.onset, song.length, song.pitch, song.bars, chords=(ChordSymbol(0, "G7"),)
    )
    form = form_of(early, count_in=1, ending="none")
    assert chords(form) == [(1, "G7")]


def test_no_chord_until_the_first_one_comes():
    form = form_of(chart("| | C |"), count_in=0, ending="none")
    assert chords(form) == [(0, "N.C."), (1, "C")]


def test_tempo_changes_come_again_in_every_chorus_and_the_count_in_has_the_first():
    song = chart("tempo: 100\n| C |\ntempo: 200\n| F |")
    form = form_of(song, choruses=2, count_in=1, ending="none")
    assert form.tempos.onsets == (0, 2 * BAR, 3 * BAR, 4 * BAR)
    assert form.tempos.tempos == (100.0, 200.0, 100.0, 200.0)


def test_an_unknown_chord_in_a_score_names_its_bar():
    song = melody()
    odd = Melody(
        song.onset,
        song.length,
        song.pitch,
        song.bars,
        chords=(ChordSymbol(TICKS + BAR, "Cmaj8"),),
    )
    with pytest.raises(PhrasingError, match=r"^Bar 2: the chord “Cmaj8” is not known"):
        form_of(odd)


def test_a_melody_without_chords_is_refused():
    song = melody()
    bare = Melody(song.onset, song.length, song.pitch, song.bars)
    with pytest.raises(PhrasingError, match="no chord symbols"):
        form_of(bare)


@pytest.mark.parametrize("choruses,count_in", [(0, 1), (51, 1), (1, -1), (1, 9)])
def test_numbers_that_cannot_be_played(choruses, count_in):
    with pytest.raises(PhrasingError, match="choose"):
        form_of(chart("| C |"), choruses=choruses, count_in=count_in)


@pytest.mark.parametrize("meter", sorted(set(METERS)))
def test_beats_cover_every_bar_in_groups(meter):
    beats_in, unit = map(int, meter.split("/"))
    bar = Bar(0, Meter(beats_in, unit).bar_length, 1, Meter(beats_in, unit))
    beats = beats_of((bar,))
    assert beats[0].onset == 0
    assert all(a.end == b.onset for a, b in pairwise(beats))
    assert beats[-1].end == bar.length
    assert all(beat.place < beat.size <= 4 for beat in beats)
    assert all(0 <= beat.off < beat.length for beat in beats)


@pytest.mark.parametrize(
    "meter,groups",
    [
        *(("4/4", (4,)), ("3/4", (3,)), ("5/4", (3, 2)), ("7/4", (4, 3)), ("3/2", (2, 2, 2))),
        *(("6/8", (2,)), ("12/8", (4,)), ("9/8", (3,)), ("6/4", (3, 3)), ("8/4", (4, 4))),
    ],
)
def test_how_meters_are_felt(meter, groups):
    beats_in, unit = map(int, meter.split("/"))
    full = Meter(beats_in, unit)
    assert grouped(len(full.beat_lengths), full) == groups


def test_a_five_and_a_seven_in_eighths_have_beats_of_two_and_three():
    for meter, lengths in (("5/8", [3, 2]), ("7/8", [2, 2, 3])):
        full = Meter(*map(int, meter.split("/")))
        beats = beats_of((Bar(0, full.bar_length, 1, full),))
        assert [beat.length // (TICKS // 2) for beat in beats] == lengths


@pytest.mark.parametrize("seed", range(20))
def test_bars_and_chords_cover_any_form_without_gaps(seed):
    form = form_of(chart(random_chart(seed)), choruses=2, count_in=seed % 3)
    ends = [bar.onset + bar.length for bar in form.bars]
    assert [bar.onset for bar in form.bars] == [0, *ends[:-1]]
    assert ends[-1] == form.end
    assert form.spans[0].onset == form.count_in
    assert [s.onset for s in form.spans[1:]] == [s.end for s in form.spans[:-1]]
    assert form.spans[-1].end == form.end
