"""The bass: where it plays, in what range, how it moves, and that it does not repeat itself."""

from collections import Counter
from itertools import pairwise

import numpy as np
import pytest

from phrasing.band.bass import bass_line
from phrasing.band.form import form_of
from phrasing.band.plan import Plan, plan_of
from phrasing.band.strokes import Stroke
from phrasing.feel import Bass, Feel
from phrasing.score.chords import parse_chord
from phrasing.score.meters import TICKS
from tests.band.charts import chart

SONG = """tempo: 150
key: C
| Dm7 | G7 | Cmaj7 | A7 | Dm7 G7 | Em7 A7 | Dm7 | G7 |
| Fmaj7 | Fm6 | Em7 | Eb°7 | Dm7 | G7 | C6 | A7 |
"""


def line(text=SONG, seed=0, two=False, choruses=2, **settings) -> tuple[Plan, list[Stroke]]:
    form = form_of(chart(text), choruses=choruses, count_in=1)
    plan = plan_of(form, Feel(), np.random.default_rng(seed), head_in_two=two)
    return plan, bass_line(plan, Bass(**settings), np.random.default_rng(seed))


def sounding(strokes: list[Stroke]) -> list[Stroke]:
    """Without the ghost notes."""
    return [stroke for stroke in strokes if stroke.level > -5]


def starts(plan, strokes):
    """For each bar, the quarters (from 1) at which a note starts."""
    return [
        [(s.onset - bar.onset) / TICKS + 1 for s in strokes
         if bar.onset <= s.onset < bar.onset + bar.length]
        for bar in plan.form.bars
    ]  # fmt: skip


def test_it_walks_in_quarters():
    plan, strokes = line(plain=1.0)
    walked = starts(plan, strokes)
    assert walked[0] == []
    assert all(bar == [1, 2, 3, 4] for bar in walked[1:-4])


def test_every_chord_gets_a_note_when_it_arrives():
    plan, strokes = line("tempo: 120\n| C F G C | Dm7 G7 | C D E F G A B C | C |", plain=1.0)
    onsets = {stroke.onset for stroke in strokes}
    assert {span.onset for span in plan.form.spans} <= onsets


@pytest.mark.parametrize("seed", range(5))
def test_it_stays_on_its_strings_and_moves_by_small_intervals(seed):
    _, strokes = line(seed=seed)
    pitches = np.array([stroke.pitch for stroke in sounding(strokes)])
    assert pitches.min() >= 28
    assert pitches.max() <= 55
    moves = np.abs(np.diff(pitches))
    assert moves.max() <= 12
    assert (moves <= 5).mean() > 0.75
    assert (moves == 0).mean() < 0.12


def test_the_first_note_of_every_chorus_is_the_root():
    for seed in range(10):
        plan, strokes = line(seed=seed)
        at = {stroke.onset: stroke.pitch % 12 for stroke in strokes}
        assert [at[start] for start in plan.form.choruses] == [2, 2]
        assert plan.form.final is not None
        assert at[plan.form.final] == 0


def test_a_slash_chord_has_its_own_bass():
    for seed in range(10):
        _, strokes = line("| C/E | Dm7/G | C/E |", seed=seed, choruses=1)
        assert strokes[0].pitch % 12 == 4


def test_over_a_bass_note_of_its_own_a_held_chord_comes_back_to_it_on_its_strong_beats():
    back = {0: [], 1: [], 2: [], 3: []}
    for seed in range(10):
        _, strokes = line("| C/E | % | % | % |", seed=seed, choruses=1, plain=1.0)
        for note in sounding(strokes):
            back[note.onset % 3840 // 960].append(note.pitch % 12 == 4)
    assert np.mean(back[2]) > 2 * np.mean(back[1])


def test_notes_between_belong_to_the_chord_or_lead_on_by_a_semitone():
    plan, strokes = line(plain=1.0)
    notes = sounding(strokes)
    scale = {0, 2, 4, 5, 7, 9, 11}
    for note, after in pairwise(notes):
        chord = plan.chord_span(note.onset).chord
        if chord.text == "Dm7" and plan.chord_span(after.onset).chord == chord:
            leads = abs(after.pitch - note.pitch) == 1
            assert note.pitch % 12 in scale or leads


@pytest.mark.parametrize(
    "kind,move", [("above", -1), ("below", 1), ("whole_above", -2), ("whole_below", 2)]
)
def test_an_approach_comes_from_the_side_it_is_called_after(kind, move):
    """From above and from below were once exchanged, and every line still sounded right."""
    shares = dict.fromkeys(("above", "below", "whole_below", "whole_above", "fifth"), 0.0)
    moves = []
    for seed in range(6):
        _, strokes = line(plain=1.0, seed=seed, root=1.0, **(shares | {kind: 1.0}))
        notes = sounding(strokes)
        bars = [n for n in notes if n.onset % 3840 == 0]
        before = {n.onset + 960: n for n in notes}
        moves += [n.pitch - before[n.onset].pitch for n in bars if n.onset in before]
    assert moves.count(move) > 0.6 * len(moves)
    assert moves.count(move) > 5 * moves.count(-move)


def test_it_never_plays_the_same_bar_for_ever():
    plan, strokes = line("tempo: 150\n" + "| C7 | % | % | % " * 8 + "|", choruses=1)
    bars: dict[int, list] = {}
    for stroke in strokes:
        bar = plan.beat_at(stroke.onset).bar
        bars.setdefault(bar, []).append(
            (stroke.pitch, stroke.onset - plan.form.bars[bar].onset)
        )
    played = [tuple(bar) for bar in bars.values()]
    assert max(Counter(played).values()) <= 3
    assert all(a != b for a, b in pairwise(played))


def test_two_choruses_differ_and_two_seeds_differ_and_one_seed_does_not():
    plan, strokes = line()
    half = plan.form.choruses[1] - plan.form.choruses[0]
    first = [s.pitch for s in strokes if s.onset < plan.form.choruses[1]]
    second = [s.pitch for s in strokes if plan.form.choruses[1] <= s.onset < plan.stop]
    assert half > 0
    assert first != second
    assert line(seed=1)[1] != strokes
    assert line()[1] == strokes


def test_the_head_in_two_and_then_in_four():
    plan, strokes = line(two=True, plain=1.0)
    walked = starts(plan, strokes)
    head = walked[1:17]
    assert all(bar in ([1, 3], [1, 3, 4]) for bar in head)
    assert [1, 3] in head
    assert walked[17] == [1, 2, 3, 4]


def test_a_ballad_is_in_two():
    plan, strokes = line(SONG.replace("150", "60"), plain=1.0, choruses=1)
    assert starts(plan, strokes)[1] in ([1, 3], [1, 3, 4])


@pytest.mark.parametrize("tempo,two", [(60, False), (150, True)])
def test_a_chord_that_comes_with_a_long_note_is_told_by_its_root(tempo, two):
    """A fifth and its third over a new chord had left open which one it was."""
    for seed in range(6):
        song = SONG.replace("150", str(tempo))
        plan, strokes = line(song, seed, two, choruses=2 if two else 1, plain=1.0)
        arrivals = {span.onset: span.chord for span in plan.form.spans}
        told = [
            stroke.pitch % 12 == arrivals[stroke.onset].root
            for stroke in strokes
            if stroke.onset in arrivals and stroke.end - stroke.onset > TICKS
        ]
        assert len(told) > 2
        assert all(told)


def test_in_two_the_fifth_answers_the_root():
    fifths = 0
    for seed in range(20):
        _, strokes = line("tempo: 60\n| C6 | F6 | C6 | F6 |", seed=seed, two_pickup=0.0)
        fifths += [s.pitch % 12 for s in strokes[:2]] == [0, 7]
    assert fifths >= 10


@pytest.mark.parametrize(
    "meter,bar", [("3/4", [1, 2, 3]), ("5/4", [1, 2, 3, 4, 5]), ("6/8", [1, 2.5])]
)
def test_other_meters_are_walked_on_their_beats(meter, bar):
    plan, strokes = line(f"tempo: 150\nmeter: {meter}\n| C | F | C | F | C | F |", plain=1.0)
    assert all(played == bar for played in starts(plan, strokes)[1:8])


def test_no_chord_no_bass():
    plan, strokes = line("tempo: 150\n| C | N.C. | C | F |", choruses=1)
    assert starts(plan, strokes)[2] == []
    silent = plan.form.bars[2].onset
    assert all(s.end <= silent for s in strokes if s.onset < silent)
    assert line("| N.C. |")[1] == []


def test_the_end_is_broken_time_and_a_long_root():
    plan, strokes = line(plain=1.0)
    assert plan.form.final is not None
    last = strokes[-1]
    assert (last.onset, last.end) == (plan.form.final, plan.form.end)
    before = [bar for bar in starts(plan, strokes)[-4:] if bar]
    assert [1, 2, 3, 4] not in before[:2]


@pytest.mark.parametrize("tempo,busy", [(140, True), (300, False)])
def test_triplets_only_where_there_is_time(tempo, busy):
    thirds = 0
    for seed in range(5):
        _, strokes = line(SONG.replace("150", str(tempo)), seed=seed, plain=0.0)
        thirds += sum(stroke.onset % TICKS == TICKS // 3 for stroke in strokes)
    assert (thirds > 0) == busy


def test_the_root_is_the_last_resort_of_a_bare_fifth():
    _, strokes = line("| C5 | F5 |")
    assert strokes[0].pitch % 12 == parse_chord("C5").root
