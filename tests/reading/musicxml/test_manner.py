"""How the author wants a score played: words for the feel and swing signs, place by place."""

from __future__ import annotations

import pytest

from phrasing.reading.musicxml.melody import read_musicxml
from phrasing.score.melody import Manner
from tests.reading.scores import (
    END,
    START,
    bar,
    direction,
    ending,
    notes,
    part,
    read,
    saved,
    score,
    words,
)

WHOLE = notes("C5:4")
BAR = 3840


def swing(first: int, second: int, kind: str = "") -> str:
    named = f"<swing-type>{kind}</swing-type>" if kind else ""
    return f"<swing><first>{first}</first><second>{second}</second>{named}</swing>"


def sound(content: str) -> str:
    return f"<sound>{content}</sound>"


def test_words_that_name_a_style_are_kept_without_their_brackets(tmp_path):
    assert read(tmp_path, words("(Slow ballad)") + WHOLE).style_words == "Slow ballad"
    assert read(tmp_path, words("[Bossa]") + WHOLE).style_words == "Bossa"
    assert read(tmp_path, words("dolce") + WHOLE).all_manners == (Manner(0),)


def test_a_rehearsal_mark_may_name_the_style(tmp_path):
    mark = direction("<rehearsal>Latin</rehearsal>")
    assert read(tmp_path, mark + WHOLE).style_words == "Latin"


def test_each_section_has_its_own_words(tmp_path):
    melody = read(tmp_path, words("Bossa") + WHOLE, WHOLE, words("Swing") + WHOLE)
    assert melody.style_words == "Bossa"
    assert melody.manners == (Manner(2 * BAR, "Swing"),)


def test_words_for_the_feel_tell_the_tempo_where_no_figure_does(tmp_path):
    melody = read(tmp_path, words("Ballad") + WHOLE, WHOLE, words("Medium Swing") + WHOLE)
    assert (melody.tempos.onsets, melody.tempos.tempos) == ((0, 2 * BAR), (66.0, 140.0))
    assert melody.reading.warnings == (
        "The score gives no tempo in figures; “Ballad” at 66, “Medium Swing” at 140 quarter "
        "notes a minute is usual.",
    )


def test_a_figure_counts_before_words_for_the_feel(tmp_path):
    melody = read(tmp_path, words("Up swing (♩ = 250)") + WHOLE, words("Ballad") + WHOLE)
    assert melody.tempos.tempos == (250.0,)
    assert read(tmp_path, words("Swing") + WHOLE).tempos.tempos == (120.0,)


def test_words_before_the_first_downbeat_hold_from_the_start(tmp_path):
    melody = read(tmp_path, notes("C5:1") + words("Samba") + notes("D5:3"))
    assert melody.all_manners == (Manner(0, "Samba"),)


def test_words_after_an_introduction_hold_from_their_bar_on(tmp_path):
    melody = read(tmp_path, WHOLE, words("Swing") + WHOLE)
    assert melody.all_manners == (Manner(0), Manner(BAR, "Swing"))


def test_a_repeat_brings_back_what_held_in_it(tmp_path):
    melody = read(
        tmp_path,
        START + words("Latin") + WHOLE,
        words("Swing") + ending("1", WHOLE, back=True),
        ending("2", WHOLE, back=False),
    )
    assert [(m.onset // BAR, m.words) for m in melody.all_manners] == [
        (0, "Latin"),
        (1, "Swing"),
        (2, "Latin"),
        (3, "Swing"),
    ]


def test_going_back_before_the_first_words_takes_them_away(tmp_path):
    melody = read(tmp_path, WHOLE, words("Swing") + WHOLE + END, WHOLE)
    assert [(m.onset // BAR, m.words) for m in melody.all_manners] == [
        (0, ""),
        (1, "Swing"),
        (2, ""),
        (3, "Swing"),
    ]


def test_a_swing_sign_beside_words_gives_the_ratio(tmp_path):
    melody = read(tmp_path, direction("<words>Medium swing</words>", swing(3, 2)) + WHOLE)
    assert melody.all_manners == (Manner(0, "Medium swing", 1.5),)


def test_a_swing_sign_that_contradicts_the_words_is_obeyed(tmp_path):
    straight = direction("<words>Swing</words>", "<swing><straight/></swing>")
    melody = read(tmp_path, straight + WHOLE)
    assert melody.all_manners == (Manner(0, "", 1.0),)


def test_a_swing_sign_without_words_leaves_the_style_as_it_was(tmp_path):
    later = sound(swing(2, 1)) + WHOLE
    assert read(tmp_path, words("Ballad") + WHOLE, later).manners == (
        Manner(BAR, "Ballad", 2.0),
    )
    assert read(tmp_path, words("Bossa") + WHOLE, later).manners == (Manner(BAR, "", 2.0),)


@pytest.mark.parametrize("kind", ["16th", "eighth", ""])
def test_the_value_that_swings(tmp_path, kind):
    melody = read(tmp_path, sound(swing(2, 1, kind)) + WHOLE)
    assert melody.sixteenths == (kind == "16th")
    assert melody.swing == 2.0


def test_words_for_swinging_sixteenths(tmp_path):
    melody = read(tmp_path, words("Funk (16th swing)") + WHOLE)
    assert (melody.style_words, melody.sixteenths) == ("Funk (16th swing)", True)


def test_a_double_time_feel_swings_sixteenths_until_it_ends(tmp_path):
    melody = read(
        tmp_path,
        words("Ballad") + WHOLE,
        words("double-time feel") + WHOLE,
        words("end double time") + WHOLE,
    )
    assert melody.all_manners == (
        Manner(0, "Ballad"),
        Manner(BAR, "Ballad", sixteenths=True),
        Manner(2 * BAR, "Ballad"),
    )


def test_two_parts_that_say_the_same_say_it_once(tmp_path):
    first = part(words("Bossa") + WHOLE, words("Swing") + WHOLE)
    second = part(WHOLE, words("Swing") + WHOLE)
    melody = read_musicxml(saved(tmp_path, score(first, second)))
    assert [m.words for m in melody.all_manners] == ["Bossa", "Swing"]


@pytest.mark.parametrize(
    ("kind", "text", "found"),
    [
        ("", "Medium Swing", "Medium Swing"),
        ("", "(Bossa Nova)", "Bossa Nova"),
        ("title", "Swing", ""),
        ("", "The song that everybody knows will swing", ""),
    ],
)
def test_a_text_on_the_page_may_name_the_feel(tmp_path, kind, text, found):
    named = f"<credit-type>{kind}</credit-type>" if kind else ""
    credit = f'<credit page="1">{named}<credit-words>{text}</credit-words></credit>'
    melody = read_musicxml(saved(tmp_path, score(part(WHOLE), defaults=credit)))
    assert melody.style_words == found


def test_a_title_on_the_page_is_no_feel(tmp_path):
    top = "<work><work-title>Sofa Swing</work-title></work>"
    credit = '<credit page="1"><credit-words>Sofa Swing</credit-words></credit>'
    melody = read_musicxml(saved(tmp_path, score(part(WHOLE), top=top, defaults=credit)))
    assert melody.style_words == ""


def test_bars_in_the_middle_keep_what_was_said_before(tmp_path):
    melody = read(tmp_path, words("Samba") + WHOLE, bar(WHOLE), bar(WHOLE))
    assert melody.manners == ()
