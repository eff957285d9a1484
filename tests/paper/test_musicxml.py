"""New scores: what is in them, element by element, and valid by the schema."""

from __future__ import annotations

from dataclasses import replace

import pytest
from lxml import etree

from phrasing.marking.precedence import mark
from phrasing.paper.musicxml import add_harmony, clef_of, facing_score, new_score, note_ids
from phrasing.reading import read
from phrasing.score.instruments import BY_KEY, INSTRUMENTS
from phrasing.score.marks import MARKS
from phrasing.score.melody import ChordSymbol, Grace, Key, Melody, Section
from phrasing.score.meters import Meter, TempoMap, bars_of_meters
from tests.lines import marking, melody
from tests.schema import faults


def written(text: str, move: int = 0) -> etree._Element:
    parent = etree.Element("measure")
    add_harmony(parent, text, move)
    return parent[0]


@pytest.mark.parametrize(
    ("text", "root", "kind", "shown", "bass"),
    [
        ("C", "C", "major", "", None),
        ("Dm7", "D", "minor-seventh", "m7", None),
        ("G7", "G", "dominant", "7", None),
        ("Bbmaj7", "B-1", "major-seventh", "maj7", None),
        ("F♯m7♭5", "F1", "half-diminished", "m7♭5", None),
        ("E♭13", "E-1", "dominant-13th", "13", None),
        ("A7♭9", "A", "dominant", "7♭9", None),
        ("C6/9", "C", "major-sixth", "6/9", None),
        ("Gsus4", "G", "suspended-fourth", "sus4", None),
        ("B°7", "B", "diminished-seventh", "°7", None),
        ("Am9", "A", "minor-ninth", "m9", None),
        ("F/A", "F", "major", "", "A"),
        ("Cm7/B♭", "C", "minor-seventh", "m7", "B-1"),
    ],
)
def test_root_kind_text_and_bass(
    text: str, root: str, kind: str, shown: str, bass: str | None
) -> None:
    harmony = written(text)
    assert (
        harmony.findtext("root/root-step") + (harmony.findtext("root/root-alter") or "") == root
    )
    assert harmony.findtext("kind") == kind
    assert harmony.find("kind").get("text") == shown
    low = harmony.findtext("bass/bass-step")
    assert (low and low + (harmony.findtext("bass/bass-alter") or "")) == bass


def test_a_transposing_part_has_its_names_moved() -> None:
    harmony = written("B♭7/D", 3)
    assert harmony.findtext("root/root-step") == "G"
    assert harmony.findtext("bass/bass-step") == "B"


def test_no_chord_is_said_so() -> None:
    harmony = written("N.C.")
    assert (harmony.findtext("kind"), harmony.find("kind").get("text")) == ("none", "N.C.")


def test_what_is_no_chord_is_printed_as_it_stands() -> None:
    assert written("(break)").findtext("direction-type/words") == "(break)"
    assert written("Hdim♥").findtext("direction-type/words") == "Hdim♥"


LINE = "C5:1 D5:1 E5:1 F5:1 G5:2 E5:2 Eb5:1 D5:1 C5:2 r:4"


def score(line: Melody, *arguments, **named) -> etree._Element:
    content = new_score(line, *arguments, **named)
    assert faults(content) == []
    return etree.fromstring(content)


def every(root: etree._Element, path: str) -> list[str]:
    return [element.text for element in root.iterfind(f".//{path}")]


def test_a_plain_line() -> None:
    root = score(replace(melody(LINE, tempo=144), title="Rain on the Depot Roof"))
    assert root.findtext("work/work-title") == "Rain on the Depot Roof"
    assert every(root, "note/type") == ["eighth"] * 4 + ["quarter"] * 2 + ["eighth"] * 2 + [
        "quarter", "half",
    ]  # fmt: skip
    assert every(root, "note/duration") == ["1"] * 4 + ["2"] * 2 + ["1"] * 2 + ["2", "4"]
    assert root.find(".//sound").get("tempo") == "144"
    assert every(root, "accidental") == ["flat"]
    assert root.find(".//articulations") is None
    assert every(root, "bar-style") == ["light-heavy"]


def test_each_mark_has_its_sign_at_its_note() -> None:
    line = melody(LINE)
    names = [own.name for own in MARKS]
    root = score(line, marking(9, dict(enumerate(names)), swells=((5, 8),)))
    for index, own in enumerate(MARKS):
        note = root.find(f".//note[@id='n{index + 1}']")
        assert [sign.tag for sign in note.iterfind(".//articulations/*")] == list(own.musicxml)
        assert (note.find("notehead") is not None) == own.parenthesised
    wedges = [wedge.get("type") for wedge in root.iter("wedge")]
    assert wedges == ["diminuendo", "stop"]


def test_a_wedge_opens_before_its_first_note_and_stops_after_its_last() -> None:
    root = score(melody(LINE), marking(9, swells=((5, 8),)))
    order = [
        element.get("id") or element.find("direction-type/wedge").get("type")
        for element in root.iter("note", "direction")
        if element.get("id") or element.find("direction-type/wedge") is not None
    ]
    assert order[5:] == ["diminuendo", "n6", "n7", "n8", "n9", "stop"]


def test_the_authors_marks_stand_in_an_unmarked_score() -> None:
    root = score(replace(melody(LINE), marks={4: "tenuto"}))
    assert [note.get("id") for note in root.iterfind(".//tenuto/../../..")] == ["n5"]


def test_a_note_over_the_bar_line_is_tied_and_only_its_first_half_is_marked() -> None:
    root = score(melody("C5:7 D5:3 E5:6"), marking(3, {1: "accent"}))
    tied = [note for note in root.iter("note") if note.find("tie") is not None]
    assert [note.get("id") for note in tied] == ["n1", "n1-2", "n2", "n2-2"]
    assert [note.find(".//accent") is not None for note in tied] == [False, False, True, False]


def test_a_pickup_bar_is_number_0_and_implicit() -> None:
    root = score(melody("G4:2 C5:8", pickup=2))
    assert [bar.get("number") for bar in root.iter("measure")] == ["0", "1"]
    assert root.find(".//measure").get("implicit") == "yes"


def test_swing_is_said_in_words_and_to_programs() -> None:
    root = score(melody(LINE), swing=(3, 2))
    assert every(root, "words") == ["Swing 1.5 : 1"]
    swing = root.find(".//sound/swing")
    assert [(part.tag, part.text) for part in swing] == [
        ("first", "3"), ("second", "2"), ("swing-type", "eighth"),
    ]  # fmt: skip
    even = score(melody(LINE), swing=(1, 1))
    assert even.find(".//swing/straight") is not None
    assert every(even, "words") == ["Even eighths"]


def test_nothing_is_said_of_swing_where_no_meter_has_off_beats() -> None:
    assert score(melody("C5:3 D5:3", "6/8"), swing=(2, 1)).find(".//swing") is None


def test_a_compound_meter_counts_dotted_quarters() -> None:
    root = score(melody("C5:3 D5:3", "6/8", tempo=120))
    assert root.find(".//beat-unit-dot") is not None
    assert every(root, "per-minute") == ["80"]
    assert root.find(".//sound").get("tempo") == "120"


def test_only_tempo_changes_that_matter_are_printed() -> None:
    tempos = TempoMap((0, 960, 1920, 3840), (120.0, 121.0, 122.0, 60.0))
    root = score(replace(melody("C5:2 D5:2 E5:4 F5:8"), tempos=tempos))
    assert every(root, "per-minute") == ["120", "60"]
    assert [float(s.get("tempo")) for s in root.iter("sound")] == [120.0, 121.0, 122.0, 60.0]


def test_meters_keys_and_letters_change_where_they_do() -> None:
    bars = bars_of_meters({0: Meter(4, 4), 3840: Meter(3, 4)}, 6720)
    line = Melody(
        [0, 3840], [3840, 2880], [60, 62], bars,
        keys=(Key(0, -3), Key(3840, 2)), sections=(Section(3840, "B"),),
    )  # fmt: skip
    first, second = score(line).iter("measure")
    assert (first.findtext(".//beats"), second.findtext(".//beats")) == ("4", "3")
    assert (first.findtext(".//fifths"), second.findtext(".//fifths")) == ("-3", "2")
    assert second.findtext(".//rehearsal") == "B"


def test_chords_stand_where_they_change_even_within_a_note() -> None:
    chords = (ChordSymbol(0, "Dm7"), ChordSymbol(1920, "G13"))
    root = score(replace(melody("C5:8"), chords=chords))
    assert [kind.get("text") for kind in root.iter("kind")] == ["m7", "13"]
    divisions = int(root.findtext(".//divisions"))
    assert [h.findtext("offset") for h in root.iter("harmony")] == [None, str(2 * divisions)]


def test_grace_notes_lead_to_their_note() -> None:
    line = replace(melody("C5:2 E5:2 G5:4"), graces=(Grace(1, (75,)), Grace(2, (77, 78))))
    notes = list(score(line).iter("note"))
    assert [note.find("grace") is not None for note in notes] == [
        False, True, False, True, True, False,
    ]  # fmt: skip
    assert notes[1].findtext("pitch/step") + notes[1].findtext("pitch/alter") == "D1"


def test_triplets_have_their_number_and_a_bracket_unless_beamed() -> None:
    line = Melody(
        [0, 320, 640, 960, 1600], [320, 320, 320, 640, 320], [60, 62, 64, 65, 67],
        bars_of_meters({}, 3840),
    )  # fmt: skip
    root = score(line)
    starts = [t for t in root.iter("tuplet") if t.get("type") == "start"]
    assert [start.get("bracket") for start in starts] == ["no", "yes"]
    ratios = {
        (ratio.findtext("actual-notes"), ratio.findtext("normal-notes"))
        for ratio in root.iter("time-modification")
    }
    assert ratios == {("3", "2")}


def test_accidentals_are_printed_once_a_bar_and_taken_back_in_the_next() -> None:
    line = replace(melody("F#4:2 F#4:2 F4:2 F#4:2 F4:2 F#5:2 F4:4"), keys=(Key(0, 0),))
    root = score(line)
    signs = [note.findtext("accidental") for note in root.iter("note")]
    assert signs == ["sharp", None, "natural", "sharp", "natural", "sharp", None]
    courtesies = [s.get("cautionary") for s in root.iter("accidental")]
    assert courtesies == [None, None, None, "yes", None]


def test_a_tie_into_the_next_bar_has_no_second_accidental() -> None:
    line = replace(melody("C5:7 F#4:2 F#4:7"), keys=(Key(0, 0),))
    notes = [n for n in score(line).iter("note") if n.findtext("pitch/step") == "F"]
    assert [n.findtext("accidental") for n in notes] == ["sharp", None, "sharp", None]


@pytest.mark.parametrize("instrument", INSTRUMENTS, ids=lambda own: own.key)
def test_each_instruments_part_is_valid_and_names_it(instrument) -> None:
    line = replace(melody(LINE), keys=(Key(0, -1),))
    root = score(line, instrument=instrument)
    assert root.findtext(".//part-name") == instrument.name
    assert root.findtext(".//midi-program") == str(instrument.program)
    transposed = root.find(".//transpose")
    assert (transposed is not None) == (instrument.transposition != 0)


def test_an_alto_part_is_written_a_sixth_higher_in_its_key() -> None:
    chords = (ChordSymbol(0, "F7"),)
    line = replace(melody("F4:4 Bb4:4"), keys=(Key(0, -1),), chords=chords)
    root = score(line, instrument=BY_KEY["alto-sax"])
    assert every(root, "fifths") == ["2"]
    assert every(root, "pitch/step") == ["D", "G"]
    assert every(root, "pitch/octave") == ["5", "5"]
    assert every(root, "root/root-step") == ["D"]
    assert every(root, "transpose/diatonic") == ["-5"]
    assert every(root, "transpose/chromatic") == ["-9"]


def test_seven_flats_stay_seven_flats() -> None:
    root = score(replace(melody("Cb5:8"), keys=(Key(0, -7),)), instrument=BY_KEY["trombone"])
    assert every(root, "fifths") == ["-7"]
    assert every(root, "accidental") == []


def test_the_clef_goes_by_the_instrument_or_by_the_notes() -> None:
    low, high = melody("C3:2 E3:2 G3:2"), melody("C5:2")
    assert clef_of(low, None) == "F4"
    assert clef_of(high, None) == "G2"
    assert clef_of(low, BY_KEY["piano"]) == "F4"
    assert clef_of(high, BY_KEY["trombone"]) == "F4"
    assert clef_of(low, BY_KEY["baritone-sax"]) == "G2"


def test_ids_are_the_melodys_unless_one_stands_twice() -> None:
    line = replace(melody("C5:2 D5:2"), ids=("a", "b"))
    assert note_ids(line) == ("a", "b")
    assert note_ids(replace(line, ids=("a", "a"))) == ("n1", "n2")
    assert note_ids(replace(line, ids=())) == ("n1", "n2")


def test_a_title_that_xml_cannot_hold_is_cleaned() -> None:
    line = replace(melody("C5:2"), title="<b>Rain</b> & \x07\x00 ’♭’ \ud800 🎷")
    root = score(line)
    assert root.findtext("work/work-title") == "<b>Rain</b> &  ’♭’  🎷"


def test_a_chart_without_notes_is_bars_of_rests_with_chords() -> None:
    bars = bars_of_meters({}, 7680)
    line = Melody([], [], [], bars, chords=(ChordSymbol(0, "C7"), ChordSymbol(3840, "F7")))
    root = score(line)
    assert [rest.get("measure") for rest in root.iter("rest")] == ["yes", "yes"]
    assert len(list(root.iter("harmony"))) == 2


def test_facing_scores_share_their_bars_and_only_the_lower_has_marks() -> None:
    line = replace(melody(LINE), chords=(ChordSymbol(0, "C"),), sections=(Section(0, "A"),))
    plain, marked = new_score(line, swing=(2, 1)), new_score(line, mark(line), swing=(2, 1))
    content = facing_score(plain, marked)
    assert faults(content) == []
    upper, lower = etree.fromstring(content).iterfind("part")
    assert len(upper) == len(lower)
    assert upper.find(".//articulations") is None
    assert lower.find(".//articulations") is not None
    for once in ("harmony", "rehearsal", "metronome"):
        assert (len(list(upper.iter(once))), len(list(lower.iter(once)))) == (1, 0)
    ids = [note.get("id") for note in lower.iter("note") if note.get("id")]
    assert ids == list(note_ids(line))


def test_the_same_melody_gives_the_same_bytes() -> None:
    line = melody(LINE)
    assert new_score(line, mark(line)) == new_score(line, mark(line))


def test_how_notes_are_bent_is_written_and_read_again(tmp_path):
    """A scoop stands where a tied note begins, a fall where it ends."""
    bends = {0: "scoop", 1: "plop", 2: "doit", 3: "falloff"}
    line = replace(melody("C5:2 D5:2 E5:2 F5:6 r:4"), inflections=bends)
    path = tmp_path / "bent.musicxml"
    path.write_bytes(new_score(line))
    assert dict(read(path).inflections) == bends
    root = etree.fromstring(path.read_bytes())
    tied = [note for note in root.iter("note") if note.findtext("pitch/step") == "F"]
    assert [note.find(".//falloff") is not None for note in tied] == [False, True]


def test_a_rhythm_that_no_value_says_exactly_is_read_as_it_was_written(tmp_path):
    """A third that begins on the half of a beat was printed as the nearest value, and read as
    if it had been rounded from that: the rest of the bar came later."""
    tune = melody("r:1 C5:0.6666667 D5:3 E5:0.5")
    file = tmp_path / "again.musicxml"
    file.write_bytes(new_score(tune, None))
    again = read(file)
    assert again.onset.tolist() == tune.onset.tolist() == [480, 800, 2240]
    assert again.length.tolist() == tune.length.tolist() == [320, 1440, 240]
