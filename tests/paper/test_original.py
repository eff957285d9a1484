"""An author's score moved, given away and cut: only what must change changes."""

from __future__ import annotations

from pathlib import Path

import pytest
from lxml import etree

from phrasing.errors import PhrasingError
from phrasing.lesson.handout import marked_score, original_of
from phrasing.lesson.lesson import Lesson, open_lesson
from phrasing.lesson.request import Request
from phrasing.paper.preparing import prepared
from phrasing.reading.musicxml.melody import read_musicxml
from tests.reading.scores import (
    END,
    FOUR,
    START,
    bar,
    direction,
    ending,
    harmony,
    note,
    notes,
    part,
    saved,
    score,
    slur,
    words,
)
from tests.schema import faults

KEY = "<key><fifths>{}</fifths></key>".format
B_FLAT = "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>"
LYRIC = "<lyric><text>la</text></lyric></note>"
SUNG = notes("C5:1 D5:1 E5:1 F5:1").replace("</note>", LYRIC)
QUIET = direction("<dynamics><mp/></dynamics>")
PARTS = ("Flute", "Bass")


def song(folder: Path, *bars: str, attributes: str = KEY(0) + FOUR, **given) -> Path:
    low = part(*[notes("C3:4")] * len(bars), attributes=KEY(0) + FOUR)
    content = score(part(*bars, attributes=attributes), low, names=PARTS, **given)
    return saved(folder, content)


def lesson_on(path: Path, **wishes) -> tuple[Lesson, etree._Element]:
    """The lesson and its score, which is valid and read again as what is played."""
    lesson = open_lesson(path, Request(**wishes))
    content = marked_score(lesson)
    assert faults(content) == []
    again = path.with_name("again.musicxml")
    again.write_bytes(content)
    read = read_musicxml(again, as_written=bool(lesson.is_cut))
    assert read.pitch.tolist() == lesson.melody.pitch.tolist()
    assert read.onset.tolist() == lesson.melody.onset.tolist()
    assert [k.fifths for k in read.keys] == [k.fifths for k in lesson.melody.keys]
    assert [c.text for c in read.chords] == [c.text for c in lesson.melody.chords]
    return lesson, etree.fromstring(content)


def spelled(root: etree._Element, number: int = 0) -> list[str]:
    own = root.findall("part")[number]
    return [
        (p.findtext("step") or "") + (p.findtext("alter") or "") + (p.findtext("octave") or "")
        for p in own.iter("pitch")
    ]


def test_moved_it_keeps_words_lyrics_repeats_dynamics_and_chords(tmp_path):
    one = START + QUIET + words("dolce") + harmony("C", "dominant") + SUNG
    path = song(tmp_path, one, SUNG + END)
    _, root = lesson_on(path, transpose="up a minor third")
    assert spelled(root)[:4] == ["E-15", "F5", "G5", "A-15"]
    assert spelled(root, 1) == ["E-13", "E-13"]
    assert [f.text for f in root.iter("fifths")] == ["-3", "-3"]
    assert len(root.findall(".//lyric")) == 8
    assert len(root.findall(".//repeat")) == 2
    assert root.find(".//dynamics/mp") is not None
    assert [w.text for w in root.iter("words")][:1] == ["dolce"]
    assert (root.findtext(".//root-step"), root.findtext(".//root-alter")) == ("E", "-1")


def test_what_does_not_sound_is_as_it_was(tmp_path):
    """Without pitches, keys, accidentals and chord roots the moved score is the marked one."""
    path = song(tmp_path, harmony("C", "major") + SUNG, QUIET + SUNG, notes("F#4:2 r:2"))
    plain = lesson_on(path)[1]
    moved = lesson_on(path, transpose="Eb")[1]
    for root in (plain, moved):
        for tag in ("pitch", "fifths", "accidental", "root"):
            for element in list(root.iter(tag)):
                for child in list(element):
                    element.remove(child)
                element.text = ""
    assert etree.tostring(moved) == etree.tostring(plain)


def test_an_octave_moves_the_melodys_part_alone(tmp_path):
    _, root = lesson_on(song(tmp_path, SUNG), octave=-1)
    assert spelled(root)[0] == "C4"
    assert spelled(root, 1) == ["C3"]


def test_accidentals_follow_their_notes(tmp_path):
    sharp = note("F#4", 1).replace("</duration>", "</duration><type>quarter</type>")
    sharp = sharp.replace("</type>", "</type><accidental>sharp</accidental>")
    _, root = lesson_on(song(tmp_path, sharp + notes("G4:3")), transpose="Bb")
    assert spelled(root)[0] == "E4"
    assert [a.text for a in root.iter("accidental")] == ["natural"]


def test_no_double_sharp_is_written_and_its_bar_has_the_signs_it_needs(tmp_path):
    path = song(tmp_path, notes("G#4:1 A4:1 A#4:1 B4:1"))
    _, root = lesson_on(path, transpose="E")
    assert spelled(root) == ["B14", "C15", "D5", "D15"]
    names = [n.findtext("accidental") for n in root.find("part").iter("note")]
    assert names == ["sharp", None, "natural", "sharp"]


@pytest.mark.parametrize(
    ("instrument", "first", "fifths", "transpose"),
    [
        ("alto-sax", "A5", 3, ("-5", "-9", None)),
        ("tenor-sax", "D6", 2, ("-1", "-2", "-1")),
        ("trombone", "C5", 0, None),
        ("Bb", "D5", 2, ("-1", "-2", None)),
        ("concert", "C5", 0, None),
    ],
)
def test_given_to_another_instrument_it_is_read_as_that_one_reads(
    tmp_path, instrument, first, fifths, transpose
):
    path = song(tmp_path, harmony("C", "major") + SUNG)
    lesson, root = lesson_on(path, instrument=instrument)
    own = root.find("part")
    assert spelled(root)[0] == first
    assert own.findtext(".//fifths") == str(fifths)
    found = own.find(".//transpose")
    tags = ("diatonic", "chromatic", "octave-change")
    assert (found is None and transpose is None) or tuple(
        map(found.findtext, tags)
    ) == transpose
    assert root.findtext(".//part-name") == lesson.instrument.name
    assert spelled(root, 1) == ["C3"]


def test_a_transposing_part_given_away_is_written_from_how_it_sounds(tmp_path):
    path = song(tmp_path, SUNG, attributes=KEY(2) + FOUR + B_FLAT)
    _, root = lesson_on(path, instrument="alto-sax")
    assert spelled(root)[0] == "G5"
    assert root.findtext("part//fifths") == "3"
    assert len(root.findall("part//transpose")) == 1


def test_a_horns_part_printed_at_concert_pitch_is_written_for_the_horn(tmp_path):
    content = score(part(SUNG, attributes=KEY(0) + FOUR), names=("Alto Sax",))
    lesson, root = lesson_on(saved(tmp_path, content))
    assert lesson.instrument.key == "alto-sax"
    assert spelled(root)[0] == "A5"
    assert root.findtext(".//part-name") == "Alto saxophone in E♭"


def test_a_concert_score_becomes_one_of_parts_where_a_horn_reads_it(tmp_path):
    horn = part(notes("D5:4"), attributes=KEY(0) + FOUR + B_FLAT)
    content = score(
        part(SUNG, attributes=KEY(0) + FOUR),
        horn,
        names=("Flute", "Trumpet"),
        defaults="<defaults><concert-score/></defaults>",
    )
    _, root = lesson_on(saved(tmp_path, content), instrument="alto-sax")
    assert root.find("defaults/concert-score") is None
    assert spelled(root)[0] == "A5"
    assert spelled(root, 1) == ["E5"]
    assert [f.text for f in root.iter("fifths")] == ["3", "2"]


def test_a_guitars_part_is_left_an_octave_where_it_is_unless_asked(tmp_path):
    content = score(part(SUNG, attributes=KEY(0) + FOUR), names=("Guitar",))
    path = saved(tmp_path, content)
    assert spelled(lesson_on(path)[1])[0] == "C5"
    assert spelled(lesson_on(path, instrument="guitar")[1])[0] == "C6"


def test_a_single_voices_stems_are_left_to_the_engraver(tmp_path):
    stemmed = notes("C5:4").replace("</duration>", "</duration><stem>down</stem>")
    path = song(tmp_path, stemmed)
    assert lesson_on(path)[1].find(".//stem") is not None
    assert lesson_on(path, octave=-1)[1].find("part//stem") is None


def test_some_bars_are_cut_out_with_what_held_in_them(tmp_path):
    later = bar(SUNG, attributes=KEY(-2) + "<clef><sign>G</sign><line>2</line></clef>")
    path = song(tmp_path, SUNG, later, SUNG, SUNG)
    lesson, root = lesson_on(path, only="3-4")
    assert [m.get("number") for m in root.find("part")] == ["3", "4"]
    assert root.findtext("part//fifths") == "-2"
    assert root.findtext("part//divisions") == "24"
    assert root.find("part//clef") is not None
    assert len(root.findall("part//lyric")) == 8
    assert not any("repeat" in text for text in lesson.warnings)


def test_what_crosses_the_edges_of_a_cut_ends_there(tmp_path):
    first = notes("C5:2") + note("D5", 2, tie="start", notations=slur("start"))
    second = note("D5", 1, tie="stop", notations=slur("stop")) + notes("E5:2")
    second += note("F5", 1, tie="start", notations=slur("start", 2))
    third = note("F5", 1, tie="stop", notations=slur("stop", 2)) + notes("G5:3")
    path = song(tmp_path, first, second, third)
    _, root = lesson_on(path, only="2")
    assert spelled(root)[:2] == ["E5", "F5"]
    assert root.find(".//slur") is None
    assert root.find(".//tie") is None
    assert [n.find("rest") is not None for n in root.find("part").iter("note")] == [
        True,
        False,
        False,
    ]


def test_a_repeat_inside_a_cut_is_written_out_and_said(tmp_path):
    path = song(
        tmp_path,
        START + SUNG,
        ending("1", notes("G5:4"), back=True),
        ending("2", notes("A5:4"), back=False),
        notes("C5:4"),
    )
    lesson, root = lesson_on(path, only="1-4")
    assert "Bars 1-4 go over a repeat, which is written out." in lesson.warnings
    assert [m.get("number") for m in root.find("part")] == ["1", "2", "1", "3", "4"]
    assert root.find(".//repeat") is None
    assert root.find(".//ending") is None
    ids = [n.get("id") for n in root.find("part").iter("note") if n.get("id")]
    assert len(ids) == len(set(ids)) == len(lesson.melody)


def test_marks_stand_on_every_written_out_time(tmp_path):
    path = song(tmp_path, START + notes("C5:1 D5:0.5 E5:2.5") + END, notes("C5:4"))
    lesson, root = lesson_on(path, only="1-2")
    bars = root.find("part").findall("measure")
    signs = [[a.tag for a in m.iterfind("note/notations/articulations/*")] for m in bars[:2]]
    assert signs[0] == signs[1] != []
    assert original_of(lesson).bars == (0, 0, 1)


def test_a_remark_among_the_attributes_is_no_obstacle(tmp_path):
    """A program's remark inside ``<attributes>`` ended a cut in a fault."""
    later = bar(SUNG, attributes=KEY(-2) + FOUR).replace("<key>", "<!-- new key --><key>")
    _, root = lesson_on(song(tmp_path, SUNG, later, SUNG), only="2-3")
    assert root.findtext("part//fifths") == "-2"


def test_slurs_that_overlap_under_one_number_are_both_kept(tmp_path):
    first = note("C5", 2, notations=slur("start"))
    second = note("D5", 2, notations=slur("start"))
    third = note("E5", 2, notations=slur("stop")) + note("F5", 2, notations=slur("stop"))
    _, root = lesson_on(song(tmp_path, SUNG, first + second, third), only="2-3")
    own = [s.get("type") for s in root.iter("slur") if s.get("number") == "1"]
    assert own == ["start", "start", "stop", "stop"]


def test_jumps_are_taken_out_of_a_cut(tmp_path):
    path = song(tmp_path, SUNG, SUNG + words("Fine"), SUNG + words("D.C. al Fine"))
    _, root = lesson_on(path, only="2-3")
    assert not [w.text for w in root.iter("words") if "Fine" in (w.text or "")]


def test_cut_and_moved_and_given_away_at_once(tmp_path):
    path = song(tmp_path, SUNG, SUNG, SUNG)
    lesson, root = lesson_on(path, only="2", transpose="Eb", instrument="trumpet", octave=-1)
    assert lesson.melody.pitch.tolist() == [63, 65, 67, 68]
    assert spelled(root)[:4] == ["F4", "G4", "A4", "B-14"]
    assert root.findtext("part//fifths") == "-1"


def test_no_word_for_swing_stands_beside_the_authors_own(tmp_path):
    path = song(tmp_path, words("Bossa") + SUNG, words("Swing") + SUNG)
    _, root = lesson_on(path)
    assert [w.text for w in root.iter("words")] == ["Bossa", "Swing"]
    swings = [[child.tag for child in swing] for swing in root.iter("swing")]
    assert swings == [["straight"], ["first", "second", "swing-type"]]
    printed = [w.text for w in prepared(etree.tostring(root)).iter("words")]
    assert printed == ["Bossa", "Swing"]


def test_where_the_author_says_nothing_the_ratio_is_said(tmp_path):
    _, root = lesson_on(song(tmp_path, SUNG))
    assert next(w.text for w in root.iter("words")).startswith("Swing 1.")


def test_an_instrument_that_is_not_known_is_no_fault_of_the_file(tmp_path):
    with pytest.raises(PhrasingError, match=r"^There is no instrument “trumpt”"):
        open_lesson(song(tmp_path, SUNG), Request(instrument="trumpt"))


def test_a_chords_fingering_goes_when_the_chord_is_moved(tmp_path):
    """A picture of the strings shows one chord in one place of the neck."""
    strings = "<frame-strings>6</frame-strings><frame-frets>4</frame-frets>"
    one = "<frame-note><string>2</string><fret>1</fret></frame-note>"
    chord = harmony("C", "major", extra=f"<frame>{strings}{one}</frame>")
    path = song(tmp_path, chord + notes("C5:1 D5:1 E5:1 F5:1"))
    moved, root = lesson_on(path, transpose="2")
    assert [c.text for c in moved.melody.chords] == ["D"]
    assert root.find(".//frame") is None
    assert lesson_on(path)[1].find(".//frame") is not None
