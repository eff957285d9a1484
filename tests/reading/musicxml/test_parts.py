"""Which part is the melody, what it is called, and which instrument plays it."""

from __future__ import annotations

import pytest

from phrasing.errors import PhrasingError
from phrasing.reading.musicxml.melody import read_musicxml
from tests.reading.scores import FOUR, bar, harmony, note, notes, part, saved, score

BASS = FOUR + "<clef><sign>F</sign><line>4</line></clef>"
TREBLE = FOUR + "<clef><sign>G</sign><line>2</line></clef>"
DRUMS = (
    '<score-instrument id="D1"><instrument-name>Kit</instrument-name></score-instrument>'
    '<midi-instrument id="D1"><midi-channel>10</midi-channel></midi-instrument>'
)
BUSY = notes("C5:1 D5:1 E5:1 F5:1")


def sung(name: str) -> str:
    return notes(f"{name}:4").replace("</note>", "<lyric><text>oh</text></lyric></note>")


def chosen(tmp_path, *parts, names=(), headers=(), wanted=None):
    file = saved(tmp_path, score(*parts, names=names, headers=headers))
    return read_musicxml(file, part=wanted)


def header(*, sound="", program=None, instrument="Any"):
    """What a score says of a part's instrument."""
    named = f"<instrument-name>{instrument}</instrument-name>"
    known = f"<instrument-sound>{sound}</instrument-sound>" if sound else ""
    midi = f"<midi-program>{program}</midi-program>" if program else ""
    return (
        f'<score-instrument id="I1">{named}{known}</score-instrument>'
        f'<midi-instrument id="I1">{midi}</midi-instrument>'
    )


def test_the_first_part_in_treble_clef_is_the_melody(tmp_path):
    low, high = part(BUSY, attributes=BASS), part(BUSY, attributes=TREBLE)
    melody = chosen(tmp_path, low, high, high, names=("Trombone", "Clarinet", "Flute"))
    assert melody.reading.part == "Clarinet (part 2 of 3)"


def test_drums_are_passed_over_however_they_are_written(tmp_path):
    by_channel = part(BUSY)
    unpitched = part(
        "<note><unpitched><display-step>E</display-step><display-octave>4</display-octave>"
        "</unpitched><duration>96</duration></note>"
    )
    melody = chosen(
        tmp_path,
        by_channel,
        unpitched,
        part(notes("C5:4")),
        names=("Kit", "Tambourine", "Trumpet"),
        headers=(DRUMS, "", ""),
    )
    assert melody.reading.part == "Trumpet (part 3 of 3)"


def test_a_part_named_as_the_lead_is_the_melody(tmp_path):
    melody = chosen(tmp_path, part(BUSY), part(notes("C4:4")), names=("Reed 1", "Lead trumpet"))
    assert melody.reading.part == "Lead trumpet (part 2 of 2)"


def test_a_part_with_words_to_sing_is_the_melody(tmp_path):
    melody = chosen(tmp_path, part(BUSY), part(sung("G4")), names=("Reed 1", "Reed 2"))
    assert melody.reading.part == "Reed 2 (part 2 of 2)"


def test_a_part_with_hardly_a_note_is_not_the_melody(tmp_path):
    melody = chosen(
        tmp_path,
        part(notes("C6:4"), "", ""),
        part(BUSY, BUSY, BUSY),
        names=("Reed 1", "Reed 2"),
    )
    assert melody.reading.part == "Reed 2 (part 2 of 2)"


def chordal(*names: str) -> str:
    """Four quarters of a chord."""
    chord = note(names[0]) + "".join(note(name, chord=True) for name in names[1:])
    return chord * 4


@pytest.mark.parametrize("lead", ["Melody", "Tune", "Theme"])
def test_the_part_named_so_is_the_melody_though_others_have_more_notes(tmp_path, lead):
    melody = chosen(
        tmp_path,
        part(sung("C5"), *[BUSY] * 8),
        part(notes("C4:4"), *[""] * 8),
        names=("Soprano", lead),
    )
    assert melody.reading.part == f"{lead} (part 2 of 2)"


def test_the_piano_is_not_the_melody_because_it_has_more_notes(tmp_path):
    piano = part(*[chordal("C5", "E5", "G5", "C6")] * 4, attributes=TREBLE)
    horn = part(notes("C4:2 D4:2"), notes("E4:4"), "", notes("C4:4"), attributes=TREBLE)
    melody = chosen(tmp_path, piano, horn, names=("Piano", "Alto Sax"))
    assert melody.reading.part == "Alto Sax (part 2 of 2)"


def test_words_to_sing_count_more_than_a_lead_in_the_section(tmp_path):
    melody = chosen(
        tmp_path,
        part(BUSY),
        part(BUSY.replace("</note>", "<lyric><text>la</text></lyric></note>")),
        names=("Lead Trumpet", "Reed"),
    )
    assert melody.reading.part == "Reed (part 2 of 2)"


def test_a_single_line_comes_before_chords(tmp_path):
    melody = chosen(
        tmp_path, part(chordal("C5", "E5")), part(BUSY), names=("Strings", "Clarinet")
    )
    assert melody.reading.part == "Clarinet (part 2 of 2)"


def test_a_piano_alone_is_read(tmp_path):
    melody = chosen(tmp_path, part(chordal("C5", "E5")), part(notes("r:4")), names=("Piano",))
    assert melody.pitch.tolist() == [76] * 4


SLASHES = (
    '<measure-style><slash type="{}" use-dots="no" use-stems="no"/></measure-style>'.format
)


def test_notes_under_slashes_are_no_melody(tmp_path):
    comping = part(
        notes("C5:4"),
        bar(BUSY, attributes=SLASHES("start")),
        bar(notes("D5:4"), attributes=SLASHES("stop")),
    )
    melody = chosen(tmp_path, comping)
    assert [(n.onset, n.pitch) for n in melody.notes] == [(0, 72), (2 * 3840, 74)]


def test_a_part_all_in_slashes_is_not_taken(tmp_path):
    slashed = part(bar(BUSY, attributes=SLASHES("start")), BUSY, BUSY)
    melody = chosen(tmp_path, slashed, part(notes("C4:4"), "", ""), names=("Guitar", "Horn"))
    assert melody.reading.part == "Horn (part 2 of 2)"


@pytest.mark.parametrize(
    ("wanted", "pitch"),
    [
        ("Alto Saxophone", 60),
        ("alto  saxophone", 60),
        ("2", 60),
        ("3", 48),
        ("Alto", 60),
        ("sax", 60),
        ("1", 72),
    ],
)
def test_a_part_is_chosen_by_name_or_number(tmp_path, wanted, pitch):
    names = ("Flute", "Alto Saxophone", "Bass")
    parts = (part(notes(f"{n}:4")) for n in ("C5", "C4", "C3"))
    melody = chosen(tmp_path, *parts, names=names, wanted=wanted)
    assert melody.pitch.tolist() == [pitch]


def test_parts_are_counted_as_the_list_has_them(tmp_path):
    content = score(part(notes("C5:4")), part(notes("C3:4")), names=("Flute", "Bass"))
    first, second = content.find(b'<part id="P1">'), content.find(b'<part id="P2">')
    end = content.find(b"</score-partwise>")
    turned = content[:first] + content[second:end] + content[first:second] + content[end:]
    melody = read_musicxml(saved(tmp_path, turned), part="1")
    assert melody.reading.part == "Flute (part 1 of 2)"
    assert melody.pitch.tolist() == [72]


@pytest.mark.parametrize("wanted", ["Oboe", "4", "0", "", "e", "-1", "²"])
def test_a_part_that_is_not_there_is_refused_with_those_that_are(tmp_path, wanted):
    parts = [part(notes("C5:4"))] * 3
    with pytest.raises(PhrasingError) as caught:
        chosen(tmp_path, *parts, names=("Flute", "Trumpet", "Bass"), wanted=wanted)
    message = str(caught.value)
    assert f"there is no one part “{wanted}”" in message
    assert message.endswith("its parts are 1 Flute, 2 Trumpet, 3 Bass.")


def test_a_part_that_only_rests_is_refused(tmp_path):
    with pytest.raises(PhrasingError, match="part “Flute” has no pitched notes"):
        chosen(
            tmp_path, part(notes("r:4")), part(BUSY), names=("Flute", "Trumpet"), wanted="Flute"
        )


def test_a_score_that_only_rests_is_refused(tmp_path):
    with pytest.raises(
        PhrasingError, match="no pitched notes in any part, so there is no melody"
    ):
        chosen(tmp_path, part(notes("r:4")))


def test_a_score_of_chord_symbols_alone_is_a_chart_for_a_band(tmp_path):
    bars = [
        harmony("D", "minor-seventh") + notes("r:4"),
        harmony("G", "dominant") + notes("r:4"),
    ]
    melody = chosen(tmp_path, part(*bars))
    assert len(melody) == 0
    assert [(chord.onset, chord.text) for chord in melody.chords] == [(0, "Dm7"), (3840, "G7")]
    assert len(melody.bars) == 2


@pytest.mark.parametrize(
    ("name", "instrument", "program"),
    [
        ("Alto Sax.", "alto-sax", 66),
        ("Tenorsaxophon", "tenor-sax", 67),
        ("Bari Sax", "baritone-sax", 68),
        ("Trumpet in B♭ 1", "trumpet", 57),
        ("Klarinette", "clarinet", 72),
        ("Bass Clarinet", "bass-clarinet", 72),
        ("Tbn. 2", "trombone", 58),
        ("Querflöte", "flute", 74),
        ("Alto Flute", None, None),
        ("Bass Guitar", "bass", 33),
        ("F Horn 1", "horn", 61),
        ("A. Sx. 2", "alto-sax", 66),
        ("Vibes", "vibraphone", 12),
        ("Alto 2", "alto-sax", 66),
        ("Bari.", "baritone-sax", 68),
        ("Bagpipe", None, None),
        ("Vocals", "voice", 54),
    ],
)
def test_the_instrument_by_the_parts_name(tmp_path, name, instrument, program):
    melody = chosen(tmp_path, part(notes("C5:4")), names=(name,))
    assert (melody.instrument, melody.program) == (instrument, program)


def test_an_alto_with_words_to_sing_is_a_voice(tmp_path):
    assert chosen(tmp_path, part(sung("G4")), names=("Alto",)).instrument == "voice"


@pytest.mark.parametrize(
    ("sound", "given", "instrument", "program"),
    [
        ("wind.reed.saxophone.alto", None, "alto-sax", 66),
        ("wind.reed.saxophone.tenor", 1, "tenor-sax", 1),
        ("brass.cornet.soprano", 57, "cornet", 57),
        ("wind.flutes.flute.alto", 74, None, 74),
        ("wind.reed.clarinet.bass", 72, "bass-clarinet", 72),
        ("", 74, "flute", 74),
        ("", 72, "clarinet", 72),
        ("", 110, None, 110),
    ],
)
def test_the_instrument_by_its_sound_or_program(tmp_path, sound, given, instrument, program):
    melody = chosen(
        tmp_path,
        part(notes("C5:4")),
        names=("Player",),
        headers=(header(sound=sound, program=given),),
    )
    assert (melody.instrument, melody.program) == (instrument, program)


@pytest.mark.parametrize(
    ("name", "diatonic", "chromatic", "octave", "key"),
    [
        ("Trombone", -1, -2, -1, "trombone-treble"),
        ("Trombone", 0, 0, 0, "trombone"),
        ("Euphonium", -1, -2, -1, "euphonium-treble"),
        ("Clarinet", -2, -3, 0, "clarinet-in-a"),
        ("Trumpet", -1, -2, 0, "trumpet"),
        ("Trumpet", 0, 0, 0, "trumpet-in-c"),
    ],
)
def test_a_part_is_for_the_instrument_that_is_written_so(
    tmp_path, name, diatonic, chromatic, octave, key
):
    shift = f"<octave-change>{octave}</octave-change>" if octave else ""
    transpose = (
        f"{FOUR}<transpose><diatonic>{diatonic}</diatonic>"
        f"<chromatic>{chromatic}</chromatic>{shift}</transpose>"
    )
    melody = chosen(tmp_path, part(notes("C5:4"), attributes=transpose), names=(name,))
    assert melody.instrument == key


def test_the_format_is_named(tmp_path):
    assert chosen(tmp_path, part(notes("C5:4"))).reading.format == "MusicXML 4.0"


@pytest.mark.parametrize(
    ("chromatic", "key"),
    [(-2, "part-in-b-flat"), (-9, "part-in-e-flat"), (0, None), (-7, None)],
)
def test_a_part_that_names_nobody_is_anyones_part_at_its_own_pitch(tmp_path, chromatic, key):
    transpose = f"{FOUR}<transpose><chromatic>{chromatic}</chromatic></transpose>"
    melody = chosen(tmp_path, part(notes("C5:4"), attributes=transpose), names=("Melody",))
    assert melody.instrument == key
