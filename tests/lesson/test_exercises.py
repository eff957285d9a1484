"""Practice material, in the order of practice."""

from dataclasses import replace

import numpy as np
import pytest

from phrasing.errors import PhrasingError
from phrasing.lesson import exercises as room
from phrasing.lesson.exercises import Ladder, built_up, exercises, ladder_from, turns, units
from phrasing.score.instruments import BY_KEY
from phrasing.score.melody import Key
from tests.lesson.test_playalong import lesson

EIGHT_BARS = "C5:2 D5:2 E5:2 C5:2 " * 8
PHRASES = "C5:2 D5:2 E5:2 F5:2 G5:2 F5:2 E5:1 r:3 " * 4


def bars_of(found):
    return [(unit.low + 1, unit.high + 1) for unit in found]


def test_without_a_phrases_end_two_bars_are_a_phrase():
    assert bars_of(units(lesson(EIGHT_BARS), 2)) == [(1, 2), (3, 4), (5, 6), (7, 8)]


def test_a_phrase_that_ends_a_little_later_is_not_cut():
    words = "C5:2 D5:2 E5:2 F5:2 " * 2 + "G5:2 F5:2 E5:1 r:3 " + "C5:2 D5:2 E5:2 F5:2 " * 3
    assert bars_of(units(lesson(words), 2))[0] == (1, 3)


def test_a_pickup_belongs_to_the_phrase_it_leads_to():
    words = "C5:2 D5:2 E5:2 F5:2 G5:4 r:2 A4:1 B4:1 C5:2 D5:2 E5:2 F5:2 G5:8"
    first, second = units(lesson(words), 2)
    assert (first.last, second.first, second.pickup) == (4, 5, 960)
    assert bars_of([first, second]) == [(1, 2), (3, 4)]


def test_every_note_is_in_one_phrase_and_every_bar_too():
    for words in (EIGHT_BARS, PHRASES, "r:8 " + PHRASES + "r:8 r:8"):
        piece = lesson(words)
        found = units(piece, 2)
        notes = [i for unit in found for i in range(unit.first, unit.last + 1)]
        assert notes == list(range(len(piece.melody)))


def test_phrases_went_over_the_repeat_from_bar_4_to_bar_1():
    piece = lesson("C5:2 D5:2 E5:2 F5:2 " * 6)
    printed = [(1, 1), (2, 1), (3, 1), (1, 2), (2, 2), (3, 2)]
    bars = [
        replace(bar, number=number, passing=passing)
        for bar, (number, passing) in zip(piece.melody.bars, printed, strict=True)
    ]
    piece = replace(piece, melody=replace(piece.melody, bars=tuple(bars)))
    names = [e.name for e in made(piece) if e.group == "Phrases, alone and joined"]
    assert names == ["bars-1-3", "bars-1-3-again"]
    names = [e.name for e in made(piece, bars=1) if e.group == "Phrases, alone and joined"]
    assert names[:3] == ["bar-1", "bar-2", "bars-1-2"]
    assert "bars-3-1-over-the-repeat" in names


def test_phrases_are_joined_two_by_two():
    found = list(built_up(units(lesson(EIGHT_BARS), 2)))
    assert bars_of(found) == [(1, 2), (3, 4), (1, 4), (5, 6), (7, 8), (5, 8), (1, 8)]


def test_a_ladder_of_hundredths_is_climbed_in_whole_tempos():
    assert Ladder(60, 100, 20).tempos(150.0) == (90.0, 120.0, 150.0)
    assert ladder_from("60%", "100%", "25%").tempos(100.0) == (60.0, 85.0, 100.0)
    assert ladder_from("100", "140", "20").tempos(150.0) == (100.0, 120.0, 140.0)


@pytest.mark.parametrize(
    "words",
    [("60%", "100", "5"), ("x", "y", "z"), ("100%", "60%", "5%"), ("60%", "100%", "0%")],
)
def test_a_ladder_that_leads_nowhere_is_refused(words):
    with pytest.raises(PhrasingError, match=r"^Tempos from"):
        ladder_from(*words)


def made(piece, **options):
    return list(exercises(piece, Ladder(60, 100, 20), **options))


def test_the_order_is_phrases_then_tempos_then_call_and_response_then_keys():
    found = made(lesson(EIGHT_BARS), keys=("F", "B♭"), players=("bass", "drums"))
    groups = list(dict.fromkeys(exercise.group for exercise in found))
    assert groups == [
        "Phrases, alone and joined", "The whole melody", "Call and response",
        "The band without the melody", "All keys",
    ]  # fmt: skip
    for group in groups[1:4]:
        assert [e.tempo for e in found if e.group == group] == [90.0, 120.0, 150.0]


def test_each_tempo_has_its_own_swing_ratio():
    found = made(lesson(EIGHT_BARS, tempo=220.0))
    rides = [e.performance.swing[0] for e in found if e.group == "The whole melody"]
    assert rides == sorted(rides, reverse=True)
    assert len(set(rides)) > 1


def melody_of(exercise):
    return next(part for part in exercise.performance.parts if part.name == "Melody")


def test_a_phrase_starts_on_its_beat_after_one_counted_bar():
    second = made(lesson(EIGHT_BARS))[1]
    assert second.title.startswith("Bars 3-4 at 90")
    assert melody_of(second).onset[0] == 3840
    assert second.performance.end == 3 * 3840


def test_in_call_and_response_the_melody_rests_every_second_time():
    calls = [e for e in made(lesson(EIGHT_BARS)) if e.group == "Call and response"]
    assert [call.tempo for call in calls] == [90.0, 120.0, 150.0]
    call = calls[-1]
    bars = set((melody_of(call).onset // 3840).tolist())
    assert bars == {1, 2, 5, 6, 9, 10, 13, 14}
    assert call.performance.end == 17 * 3840


def test_the_next_calls_pickup_sounded_in_the_students_bars():
    words = "C5:2 D5:2 E5:2 F5:2 G5:4 r:2 A4:1 B4:1 C5:2 D5:2 E5:2 F5:2 G5:8"
    piece = lesson(words)
    order = list(turns(piece.melody, units(piece, 2)))
    assert [turn.who for turn in order] == ["player", "student", "nobody", "player", "student"]
    assert bars_of([turn.unit for turn in order])[2] == (2, 2)
    call = next(e for e in made(piece) if e.group == "Call and response")
    played = {int(tick) // 3840 for tick in melody_of(call).onset}
    assert played == {1, 2, 5, 6, 7}
    in_the_bar_between = melody_of(call).onset // 3840 == 5
    assert in_the_bar_between.sum() == 2


def test_minus_one_is_the_same_band_without_the_melody():
    found = made(lesson(EIGHT_BARS), players=("bass", "drums", "chords"))
    whole = [e for e in found if e.group == "The whole melody"]
    alone = [e for e in found if e.group == "The band without the melody"]
    for one, two in zip(whole, alone, strict=True):
        names = [part.name for part in two.performance.parts]
        assert names == ["Bass", "Drums", "Piano", "Count-in"]
        for part in two.performance.parts:
            same = next(p for p in one.performance.parts if p.name == part.name)
            assert part.onset.tolist() == same.onset.tolist()
            assert part.velocity.tolist() == same.velocity.tolist()


def test_without_anybody_there_is_no_file_of_nobody():
    for piece in (lesson(EIGHT_BARS), lesson(EIGHT_BARS, chords=())):
        groups = {e.group for e in made(piece)}
        assert "The band without the melody" not in groups


def test_in_call_and_response_the_band_hears_both_turns():
    piece = lesson("C5:1 E5:1 G5:1 E5:1 r:4 " * 8)
    calls = [e for e in made(piece, players=("chords",)) if e.group == "Call and response"]
    piano = next(p for p in calls[-1].performance.parts if p.name == "Piano")
    places = np.unique(np.rint(piano.onset / 480).astype(int)) % 8
    assert (places >= 4).sum() > ((places > 0) & (places < 4)).sum()


def test_all_keys_go_round_the_cycle_and_stay_in_range():
    piece = lesson(EIGHT_BARS)
    piece = replace(piece, melody=replace(piece.melody, keys=(Key(0, 0),)))
    keys = [e for e in made(piece, keys=("all",)) if e.group == "All keys"]
    titles = [e.title.split(" at ")[0] for e in keys]
    assert titles[:4] == ["In concert C", "In concert F", "In concert B♭", "In concert E♭"]
    assert len(set(titles)) == 12
    for exercise in keys:
        pitch = melody_of(exercise).pitch
        assert pitch.min() >= piece.instrument.low
        assert pitch.max() <= piece.instrument.high
        assert (np.diff(pitch) == np.diff(piece.melody.pitch)).all()


def test_the_shortest_melody_has_exercises_too():
    found = made(lesson("C5:2 D5:2 E5:2 F5:2"))
    assert [e.group for e in found].count("The whole melody") == 3


def test_the_melody_is_what_the_others_are_set_against():
    """Its place is 0 LU in every exercise; a part 1 LU up is no reference any more."""
    found = made(lesson(EIGHT_BARS), keys=("F",))
    places = {p.place for e in found for p in e.performance.parts if p.name == "Melody"}
    assert places == {0.0}


def test_a_pickup_is_played_before_the_first_phrase():
    piece = lesson("A4:1 B4:1 " + EIGHT_BARS, pickup=2)
    first, *_ = units(piece, 2)
    assert (first.first, first.low, first.high, first.pickup) == (0, 1, 2, 960)


def test_over_each_phrase_stand_the_chords_that_stood_over_it():
    piece = lesson("C5:2 D5:2 E5:2 F5:2 " * 4, chords=("C6", "Dm7", "G7", "Em7"))
    order = list(turns(piece.melody, units(piece, 2)))
    chart = room._chart(piece.melody, order, 0)
    bars = [(chord.onset // 3840, chord.text) for chord in chart.chords]
    half = [(0, "C6"), (1, "Dm7"), (2, "C6"), (3, "Dm7")]
    assert bars == [*half, (4, "G7"), (5, "Em7"), (6, "G7"), (7, "Em7")]
    assert [bar.onset for bar in chart.bars] == [3840 * i for i in range(8)]


def test_a_pickup_has_a_bar_of_its_own_before_the_first_turn():
    piece = lesson("A4:1 B4:1 " + EIGHT_BARS, pickup=2)
    order = list(turns(piece.melody, units(piece, 2)))
    chart = room._chart(piece.melody, order, 960)
    assert (chart.bars[0].onset, chart.bars[0].length, chart.bars[0].number) == (0, 960, 0)
    assert chart.bars[0].offset == 3840 - 960
    assert chart.bars[1].onset == 960


def test_a_key_typed_without_its_sign_is_titled_with_it():
    found = made(lesson("C5:2 D5:2 E5:2 F5:2 G5:8"), keys=("Bb",))
    assert "In concert B♭" in [exercise.title.split(" at ")[0] for exercise in found]


@pytest.mark.parametrize("high", [True, False])
def test_keys_left_the_instruments_range_at_its_top_and_bottom(high):
    """Half of the keys lie above the melody's own: from the top of the range they go down."""
    trumpet = BY_KEY["trumpet"]
    piece = replace(lesson("C5:2 D5:2 E5:2 C5:2 " * 4), instrument=trumpet)
    shift = trumpet.high - 76 if high else trumpet.low - 72
    tune = replace(piece.melody, keys=(Key(0, 0),), pitch=piece.melody.pitch + shift)
    piece = replace(piece, melody=tune)
    keys = [e for e in made(piece, keys=("all",)) if e.group == "All keys"]
    assert len(keys) == 12
    for exercise in keys:
        pitch = melody_of(exercise).pitch
        assert trumpet.low <= pitch.min()
        assert pitch.max() <= trumpet.high
