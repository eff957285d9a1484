"""Repeats played out: signs, endings, D.C. and D.S., codas; and what incomplete signs mean."""

from __future__ import annotations

import pytest

from phrasing.errors import PhrasingError
from phrasing.reading.musicxml.melody import read_musicxml
from phrasing.reading.repeats import BarSigns, TooLongError, played_order
from tests.reading.scores import (
    END,
    START,
    bar,
    barline,
    direction,
    end,
    ending,
    note,
    notes,
    part,
    read,
    saved,
    score,
    words,
)

SIGNS = {
    "|:": {"forward": True},
    ":|": {"backward": True},
    ":|3": {"backward": True, "times": 3},
    "segno": {"segno": "s"},
    "coda": {"coda": "c"},
    "DC": {"da_capo": True},
    "DS": {"dal_segno": "s"},
    "toCoda": {"to_coda": "c"},
    "fine": {"fine": True},
    "pickup": {"pickup": True},
    "full": {"full": True},
    "repeats": {"after_jump": True},
}


def order(text: str) -> str:
    """Bars ``name,sign,sign`` as played; ``1(`` opens an ending so numbered, ``)`` ends it."""
    names, bars, numbers = [], [], ()
    for word in text.split():
        name, *signs = word.split(",")
        of_bar: dict[str, object] = {}
        closes = False
        for sign in signs:
            if sign.endswith("("):
                numbers = tuple(int(n) for n in sign[:-1].split("+"))
                of_bar["opens_ending"] = True
            elif sign == ")":
                closes = True
            else:
                of_bar |= SIGNS[sign]
        names.append(name)
        bars.append(BarSigns(ending=numbers, **of_bar))
        numbers = () if closes else numbers
    return "".join(names[index] for index in played_order(bars))


@pytest.mark.parametrize(
    ("printed", "played"),
    [
        ("a b c", "abc"),
        ("a b,:| c", "ababc"),
        ("a b,|: c,:| d", "abcbcd"),
        ("a,:| b,:| c", "aabbc"),
        ("a,|:,:| b,|:,:|", "aabb"),
        ("a,:|3 b", "aaab"),
        ("a b,1(,:|,) c,2(,) d", "abacd"),
        ("a b,1( c,:|,) d,2( e,) f", "abcadef"),
        ("a b,1+2(,:|,) c,3(,) d", "ababacd"),
        ("a b,1(,:|,) c,2(,:|,) d,3(,) e", "abacade"),
        ("a b,1(,:|,) c d", "abacd"),
        ("a b,1(,:|,) c,2(,:|,) d", "abacd"),
        ("a b,1(,:|3,) c,2(,) d", "ababacd"),
        ("a b,1(,:|,) c,2(,) d e,:| f", "abacdedef"),
        ("x a,|: b,1(,:|,) c,2(,)", "xabac"),
        ("a,|: b,|: c,:| d,:| e", "abcbcdabcbcde"),
        ("a,|: b,|:,:|3 c,:| d", "abbbcabbbcd"),
        ("a,|: b,|:,:| c,|:,:| d,:| e", "abbccdabbccde"),
        ("a,|: b,|: c,|:,:| d,:| e,:|", "abccdbccdeabccdbccde"),
        ("a,|: b,|: c,1(,:|,) d,2(,) e,:| f", "abcbdeabcbdef"),
        ("a,|: b,|:,:| c,1(,:|,) d,2(,) e", "abbcabbde"),
        ("a,|: b,|: c,:| d", "abcbcd"),
        ("a,|: b,|:,:| c,:| d,DC", "abbcabbcdabcd"),
    ],
)
def test_repeats_and_endings(printed, played):
    assert order(printed) == played


@pytest.mark.parametrize(
    ("printed", "played"),
    [
        ("a,fine b,DC", "aba"),
        ("a b,fine c d,DC", "abcdab"),
        ("a,:| b,:|,fine c,:| d,DC", "aabbccdab"),
        ("a b,segno c d,fine e,DS f", "abcdebcd"),
        ("a b,toCoda c,DC d,coda e", "abcabde"),
        ("a b,segno c,toCoda d,DS e,coda f", "abcdbcef"),
        ("a,toCoda b,DC c,coda,|: d,:| e", "abacdcde"),
        ("a,|: b,1(,:|,) c,2(,toCoda,) d,DC e,coda", "abacdace"),
        ("a,|: b,1(,:|,fine,) c,2(,) d,DC", "abacdab"),
        ("a b,1(,DC,) c,2(,) d", "abacd"),
        ("a b,:|,repeats,fine c,DC", "ababcabab"),
        ("a b,DC", "abab"),
        ("a,fine b", "ab"),
        ("a b,DS c", "ababc"),
    ],
)
def test_da_capo_dal_segno_fine_and_coda(printed, played):
    assert order(printed) == played


@pytest.mark.parametrize(
    ("printed", "played"),
    [
        ("p,pickup a b,:| c", "pabpabc"),
        ("p,pickup a b,full,:| c", "pababc"),
        ("p,pickup,|: a b,full,:| c", "pabpabc"),
        ("p,pickup a,fine b,full,DC", "paba"),
        ("p,pickup a,fine b,DC", "pabpa"),
    ],
)
def test_a_pickup_comes_again_only_where_there_is_room_for_it(printed, played):
    assert order(printed) == played


@pytest.mark.parametrize(
    ("printed", "played"),
    [
        ("a b,1(,) c,2(,) d", "abacd"),
        ("a,|: b,1(,) c,2(,) d,:| e", "abdacde"),
        ("a,|: b c", "abc"),
        ("a,toCoda b,DC c", "ababc"),
    ],
    ids=["first ending without its sign", "endings in the middle", "no end", "no coda"],
)
def test_signs_that_are_missing(printed, played):
    assert order(printed) == played


def test_what_would_never_end_is_refused():
    bars = [BarSigns(backward=True, times=32)] * 1000
    with pytest.raises(TooLongError):
        played_order(bars)


# In MusicXML


def played(melody) -> list[int]:
    return [b.number for b in melody.bars]


def test_an_aaba_tune_with_endings(tmp_path):
    printed = [
        START + notes("C5:4"),
        ending("1", notes("D5:4"), back=True),
        ending("2", notes("E5:4"), back=False),
        notes("F5:4"),
    ]
    melody = read(tmp_path, *printed)
    assert played(melody) == [1, 2, 1, 3, 4]
    assert [b.passing for b in melody.bars] == [1, 1, 2, 1, 1]
    assert melody.pitch.tolist() == [72, 74, 72, 76, 77]
    assert melody.ids == ("n1", "n2", "n1", "n3", "n4")
    written = read(tmp_path, *printed, as_written=True)
    assert played(written) == [1, 2, 3, 4]
    assert written.pitch.tolist() == [72, 74, 76, 77]


def test_a_repeat_says_how_often(tmp_path):
    assert played(read(tmp_path, notes("C5:4") + end(4), notes("D5:4"))) == [1, 1, 1, 1, 2]


@pytest.mark.parametrize(
    ("numbers", "order_"), [("1, 2", [1, 2, 1, 2, 1, 3]), ("1,2", [1, 2, 1, 2, 1, 3])]
)
def test_an_ending_for_several_times(tmp_path, numbers, order_):
    melody = read(
        tmp_path,
        notes("C5:4"),
        ending(numbers, notes("D5:4"), back=True),
        ending("3", notes("E5:4"), back=False),
    )
    assert played(melody) == order_


def test_endings_that_say_no_numbers_are_counted(tmp_path):
    bars = [notes("C5:4"), ending(" ", notes("D5:4"), back=True)]
    melody = read(tmp_path, *bars, ending(" ", notes("E5:4"), back=False))
    assert played(melody) == [1, 2, 1, 3]


def test_a_bracket_that_nobody_closed_ends_at_the_next_repeat(tmp_path):
    opened = barline("left", '<ending number="2" type="start"/>')
    melody = read(
        tmp_path,
        notes("C5:4"),
        ending("1", notes("D5:4"), back=True),
        opened + notes("E5:4"),
        START + notes("F5:4"),
        ending("1", notes("G5:4"), back=True),
        ending("2", notes("A5:4"), back=False),
    )
    assert played(melody) == [1, 2, 1, 3, 4, 5, 4, 6]


def test_repeat_signs_may_stand_in_another_part(tmp_path):
    plain = part(notes("C5:4"), notes("D5:4"))
    with_sign = part(notes("C3:4") + END, notes("D3:4"))
    assert played(read_musicxml(saved(tmp_path, score(plain, with_sign)))) == [1, 1, 2]


SEGNO, CODA = direction("<segno/>"), direction("<coda/>")


@pytest.mark.parametrize(
    ("segno", "to_coda", "jump", "coda"),
    [
        (
            direction("<segno/>", 'segno="s"'),
            words("To Coda").replace("</direction>", '<sound tocoda="c"/></direction>'),
            words("D.S. al Coda").replace("</direction>", '<sound dalsegno="s"/></direction>'),
            direction("<coda/>", 'coda="c"'),
        ),
        (
            '<sound segno="s"/>',
            '<sound tocoda="c"/>',
            '<sound dalsegno="s"/>',
            '<sound coda="c"/>',
        ),
        (SEGNO, words("To Coda"), words("D.S. al Coda"), CODA),
        (SEGNO, CODA, words("D. S. al Coda"), CODA),
        (
            SEGNO,
            "<direction><direction-type><words>to</words></direction-type>"
            "<direction-type><coda/></direction-type></direction>",
            words("Dal Segno al Coda"),
            words("Coda"),
        ),
        (
            barline("left", "<segno/>"),
            words("al Coda"),
            words("d.s. al coda"),
            barline("left", "<coda/>"),
        ),
    ],
    ids=["sounds and print", "sounds", "print", "signs", "words and signs", "barlines"],
)
def test_dal_segno_al_coda_however_it_is_written(tmp_path, segno, to_coda, jump, coda):
    melody = read(
        tmp_path,
        notes("C5:4"),
        segno + notes("D5:4"),
        notes("E5:4") + to_coda,
        notes("F5:4") + jump,
        coda + notes("G5:4"),
    )
    assert played(melody) == [1, 2, 3, 4, 2, 3, 5]


@pytest.mark.parametrize(
    ("fine", "jump"),
    [
        (direction("<words>Fine</words>", 'fine="yes"'), '<sound dacapo="yes"/>'),
        (words("Fine"), words("D.C. al Fine")),
        (words("FINE."), words("Da capo al fine")),
        (words("fine"), words("Minuet D.C.")),
    ],
)
def test_da_capo_al_fine_however_it_is_written(tmp_path, fine, jump):
    melody = read(tmp_path, notes("C5:4"), notes("D5:4") + fine, notes("E5:4") + jump)
    assert played(melody) == [1, 2, 3, 1, 2]


def test_words_that_only_look_like_a_jump(tmp_path):
    melody = read(
        tmp_path,
        words("decresc. CD 12") + notes("C5:4"),
        words("finely") + notes("D5:4"),
        words("Dadaesque capo on 3") + notes("E5:4"),
        words("codas follow") + notes("F5:4"),
    )
    assert played(melody) == [1, 2, 3, 4]


def test_the_same_jump_in_every_part_is_one_jump(tmp_path):
    def one(pitch):
        fine = words("Fine")
        return part(notes(f"{pitch}:4") + fine, notes(f"{pitch}:4") + words("D.C. al Fine"))

    melody = read_musicxml(saved(tmp_path, score(one("C5"), one("C4"), one("C3"))))
    assert played(melody) == [1, 2, 1]


def test_the_sign_that_is_missing_is_named(tmp_path):
    melody = read(tmp_path, notes("C5:4"), notes("D5:4") + words("D.S. al Fine"))
    assert played(melody) == [1, 2, 1, 2]
    assert melody.reading.warnings[:2] == (
        "Bar 2 says D.S., but there is no sign; it goes back to the beginning.",
        "Bar 2 goes back without Fine or Coda; it is played to the end.",
    )


def test_a_coda_that_is_missing_is_named(tmp_path):
    melody = read(tmp_path, notes("C5:4") + words("To Coda"), notes("D5:4") + words("D.C."))
    assert "Bar 1 leads to a coda that is not there; it goes on." in melody.reading.warnings


def test_a_pickup_that_has_no_room_to_come_again_is_named(tmp_path):
    melody = read(
        tmp_path,
        bar(notes("G4:1"), implicit="yes", number="0"),
        bar(notes("C5:4"), number="1"),
        bar(notes("D5:4") + END, number="2"),
    )
    assert played(melody) == [0, 1, 2, 1, 2]
    assert melody.reading.warnings[0] == (
        "The pickup is played only once: the bar before the repeat has no room for it."
    )


def test_a_tie_into_the_second_ending_holds(tmp_path):
    melody = read(
        tmp_path,
        START + notes("C5:2") + note("D5", 2, tie="start"),
        ending("1", note("D5", 4, tie="stop"), back=True),
        ending("2", note("D5", 1, tie="stop") + notes("E5:3"), back=False),
    )
    assert melody.length.tolist() == [1920, 5760, 1920, 2880, 2880]


def test_a_repeat_asked_for_a_thousand_times_is_played_as_often_as_sense_allows(tmp_path):
    melody = read(tmp_path, notes("C5:4") + end(1000))
    assert len(melody) == 32


def test_repeats_without_end_are_refused_and_can_be_read_as_written(tmp_path):
    bars = [notes("C5:4") + end(32)] * 700
    with pytest.raises(PhrasingError, match="more than 10,000 bars; read it as written"):
        read(tmp_path, *bars)
    assert len(read(tmp_path, *bars, as_written=True)) == 700


def order_of(tmp_path, *bars: str) -> list[int]:
    return [bar.number for bar in read(tmp_path, *bars).bars]


def test_a_repeat_inside_another_one_is_played_each_time_and_said(tmp_path):
    melody = read(
        tmp_path,
        START + notes("C5:4"),
        START + notes("D5:4") + END,
        notes("E5:4") + END,
    )
    assert [bar.number for bar in melody.bars] == [1, 2, 2, 3, 1, 2, 2, 3]
    said = "Bar 2 begins a repeat inside another one; it is played each time the outer one is."
    assert said in melody.reading.warnings


@pytest.mark.parametrize(
    ("text", "times"),
    [
        ("4x", 4),
        ("(Play 3 times)", 3),
        ("x3", 3),
        ("Repeat three times", 3),
        ("2nd x only", 2),
        ("4x8 bars", 2),
    ],
)
def test_how_often_may_stand_in_words(tmp_path, text, times):
    one = START + words(text) + notes("C5:4")
    assert order_of(tmp_path, one, notes("D5:4") + END, notes("E5:4")) == [1, 2] * times + [3]
    last = START + notes("C5:4")
    two = notes("D5:4") + words(text) + END
    assert order_of(tmp_path, last, two, notes("E5:4")) == [1, 2] * times + [3]


def test_words_for_the_times_count_for_the_repeat_they_stand_in(tmp_path):
    order = order_of(
        tmp_path,
        notes("C5:4") + END,
        START + notes("D5:4") + END,
        words("3x") + notes("E5:4"),
        notes("F5:4") + END,
    )
    assert order == [1, 1, 2, 2, 3, 4, 3, 4, 3, 4]


SMUFL_SEGNO, SMUFL_CODA = "\ue047", "\ue048"


@pytest.mark.parametrize(
    ("segno", "coda"),
    [("𝄋", "𝄌"), (SMUFL_SEGNO, SMUFL_CODA), ("Segno", "Coda"), ("Sign", "⊕")],
)
def test_signs_drawn_as_characters_are_signs(tmp_path, segno, coda):
    order = order_of(
        tmp_path,
        notes("C5:4"),
        words(segno) + notes("D5:4"),
        notes("E5:4") + words(f"To {coda}" if len(coda) == 1 else "To Coda"),
        notes("F5:4") + words(f"D.S. al {coda}"),
        words(coda) + notes("G5:4"),
    )
    assert order == [1, 2, 3, 4, 2, 3, 5]


def test_signs_of_older_founts_are_signs_only_in_a_fount_of_their_own(tmp_path):
    def sign(text):
        return direction(f'<words font-family="Signs">{text}</words>')

    bars = [
        notes("C5:4"),
        sign("%") + notes("D5:4"),
        sign("Þ") + notes("E5:4"),
        notes("F5:4") + words("D.S. al Coda"),
        sign("Þ") + notes("G5:4"),
    ]
    assert order_of(tmp_path, *bars) == [1, 2, 3, 4, 2, 3, 5]
    bars[1] = words("%") + notes("D5:4")
    assert order_of(tmp_path, *bars) == [1, 2, 3, 4, 1, 2, 3, 5]
