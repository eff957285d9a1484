"""The author's own score on the page: all that was written, in the order of playing."""

from __future__ import annotations

from pathlib import Path

from lxml import etree

from phrasing.lesson.exercises import exercises, ladder_from
from phrasing.lesson.lesson import Lesson, open_lesson
from phrasing.lesson.request import Request
from phrasing.lesson.versions import Version, plain_version, shaped_version
from phrasing.marking.table import marks_csv
from phrasing.page.listening import WRITTEN_OUT, listening_page
from phrasing.page.part import PlayersPart, players_part
from phrasing.page.score import draw_score
from phrasing.paper.drawing import SVG
from tests.reading.scores import (
    END,
    FOUR,
    START,
    direction,
    ending,
    harmony,
    note,
    notes,
    part,
    saved,
    score,
)

KEY = "<key><fifths>{}</fifths></key>".format
LOUD = direction("<dynamics><mf/></dynamics>")
LETTER = direction("<rehearsal>Q</rehearsal>")
TEMPO = direction(
    "<metronome><beat-unit>quarter</beat-unit><per-minute>92</per-minute></metronome>",
    'tempo="92"',
)


def sung(names: str, *verses: str) -> str:
    """Notes with a syllable of each verse under every one of them."""
    lyrics = "".join(
        f'<lyric number="{number}"><text>{verse}</text></lyric>'
        for number, verse in enumerate(verses, 1)
    )
    return notes(names).replace("</note>", f"{lyrics}</note>")


def lesson_on(folder: Path, *bars: str, **given) -> Lesson:
    content = score(part(*bars, attributes=KEY(0) + FOUR), names=("Flute",), **given)
    return open_lesson(saved(folder, content), Request())


def both(lesson: Lesson) -> tuple[Version, Version]:
    return plain_version(lesson), shaped_version(lesson)


def inked(lesson: Lesson) -> PlayersPart:
    return players_part(lesson, both(lesson))


def test_what_the_author_wrote_is_in_every_version(tmp_path):
    one = TEMPO + LETTER + LOUD + harmony("C", "dominant", text="7") + sung("C5:1 D#5:1", "la")
    lesson = lesson_on(tmp_path, one + sung("Eb5:2", "lo"), notes("A#4:4"))
    for content in inked(lesson).scores:
        root = etree.fromstring(content)
        assert [e.text for e in root.iter("text")] == ["la", "la", "lo"]
        assert root.findtext(".//rehearsal") == "Q"
        assert root.find(".//dynamics/mf") is not None
        assert root.findtext(".//per-minute") == "92"
        steps = [(p.findtext("step"), p.findtext("alter")) for p in root.iter("pitch")]
        assert steps == [("C", None), ("D", "1"), ("E", "-1"), ("A", "1")]
    page = listening_page(lesson, both(lesson), None)
    assert ">la</text>" in page
    assert ">Q</text>" in page


def test_repeats_are_written_out_each_time_with_its_own_verse_and_notes(tmp_path):
    first = START + TEMPO + sung("C5:2 D5:2", "one", "two")
    lesson = lesson_on(
        tmp_path,
        first,
        ending("1", sung("E5:4", "one", "two"), back=True),
        ending("2", sung("F5:4", "one", "two"), back=False),
    )
    found = inked(lesson)
    assert [each.tick for each in found.notes] == lesson.melody.onset.tolist()
    assert len({each.name for each in found.notes}) == len(lesson.melody) == 6
    root = etree.fromstring(found.scores[1])
    assert [e.text for e in root.iter("text")] == ["one"] * 3 + ["two"] * 3
    assert {e.get("number") for e in root.iter("lyric")} == {"1"}
    assert root.find(".//repeat") is None
    assert root.find(".//ending") is None
    assert len(root.findall(".//metronome")) == 1
    double = [m.findtext("barline/bar-style") for m in root.iter("measure")]
    assert double == [None, "light-light", None, None]
    assert WRITTEN_OUT in listening_page(lesson, both(lesson), None)


def test_a_double_bar_shows_where_a_repeat_sign_stood(tmp_path):
    heavy = END.replace("<repeat", "<bar-style>light-heavy</bar-style><repeat")
    lesson = lesson_on(tmp_path, notes("C5:2 D5:2"), notes("E5:4") + heavy)
    root = etree.fromstring(inked(lesson).scores[0])
    lines = [m.findtext("barline/bar-style") for m in root.iter("measure")]
    assert lines == [None, "light-light", None, "light-heavy"]


def test_a_note_tied_on_belongs_to_the_one_before(tmp_path):
    held = notes("C5:2") + note("D5", 2, tie="start")
    lesson = lesson_on(tmp_path, held, note("D5", 3, tie="stop") + notes("D5:1"))
    found = inked(lesson)
    assert [(each.tick, each.note) for each in found.notes] == [
        (0, 0),
        (1920, 1),
        (3840, 1),
        (6720, 2),
    ]
    drawn = draw_score(lesson, lesson.read, both(lesson), shown=1, only="broad")
    assert "".join(drawn.layouts["broad"]).count('data-tied=""') == 1


def test_plain_has_no_marks_even_where_the_author_wrote_some(tmp_path):
    accented = notes("C5:1 D5:1 E5:1") + note("F5", 1, articulations="accent")
    lesson = lesson_on(tmp_path, accented, notes("G5:4"))
    drawn = draw_score(lesson, lesson.read, both(lesson), shown=1, only="broad")
    root = etree.fromstring(drawn.layouts["broad"][0])
    glyphs = {
        layer.get("data-version"): [use.get("href") for use in layer.iter(f"{{{SVG}}}use")]
        for layer in root.find(f".//{{{SVG}}}g[@class='staff']").iterfind("*[@data-version]")
    }
    assert glyphs["0"] == []
    assert any(name.startswith("#E4A0") for name in glyphs["1"])


def test_an_authors_mark_that_a_teacher_overruled_is_not_inked(tmp_path):
    dotted = notes("C5:1 D5:1 E5:1") + note("F5", 1, articulations="staccato breath-mark")
    path = saved(tmp_path, score(part(dotted, attributes=KEY(0) + FOUR), names=("Flute",)))
    marks = tmp_path / "mine.csv"
    table = marks_csv(*open_lesson(path, Request()).table)
    assert "staccato" in table
    marks.write_text(table.replace("staccato", "tenuto"), encoding="utf-8")
    lesson = open_lesson(path, Request(marks=marks))
    last = etree.fromstring(inked(lesson).scores[1]).findall(".//note")[-1]
    assert [sign.tag for sign in last.find("notations/articulations")] == [
        "breath-mark",
        "tenuto",
    ]
    plain = etree.fromstring(inked(lesson).scores[0]).findall(".//note")[-1]
    assert plain.find(".//staccato") is not None


def test_chords_that_share_a_note_stand_over_parts_of_it(tmp_path):
    two = harmony("D", "minor-seventh", text="m7") + harmony("G", "dominant", text="7")
    lesson = lesson_on(tmp_path, two + notes("C5:4"))
    drawn = draw_score(lesson, lesson.read, both(lesson), shown=1, only="broad")
    texts = etree.fromstring(drawn.layouts["broad"][0]).iter(f"{{{SVG}}}text")
    heights = {e.get("y") for e in texts if e.text in ("D", "G")}
    assert len(heights) == 1


def test_in_another_key_to_practise_it_is_the_authors_score_still(tmp_path):
    lesson = lesson_on(tmp_path, sung("C5:2 D5:2", "la"), sung("E5:4", "la"))
    found = list(exercises(lesson, ladder_from("100%", "100%", "5%"), keys=("Eb",)))
    moved = found[-1].lesson
    root = etree.fromstring(players_part(moved, both(moved)).scores[1])
    assert [e.text for e in root.iter("text")] == ["la"] * 3
    assert [p.findtext("step") for p in root.iter("pitch")] == ["E", "F", "G"]
    assert root.findtext(".//fifths") == "-3"
