"""Notes of a score: ties, tuplets, grace notes, chords, voices, transposition."""

from __future__ import annotations

from fractions import Fraction

import pytest

from phrasing.errors import PhrasingError
from phrasing.reading.musicxml.file import note_names, open_score
from phrasing.reading.musicxml.melody import read_musicxml
from phrasing.score.melody import Grace
from tests.reading.scores import (
    DIVISIONS,
    END,
    FOUR,
    QUARTER,
    backup,
    bar,
    note,
    notes,
    part,
    pitch,
    read,
    rows,
    saved,
    score,
)


def test_notes_and_rests_follow_each_other(tmp_path):
    melody = read(tmp_path, notes("C5:1 D5:0.5 r:1.5 Bb4:1"))
    assert rows(melody) == [(0, 1, 72), (1, 0.5, 74), (3, 1, 70)]
    assert melody.end == 4 * QUARTER


def test_ties_are_merged_over_the_bar_line_and_keep_the_first_name(tmp_path):
    melody = read(
        tmp_path,
        notes("C5:2") + note("D5", 2, tie="start", id="held"),
        note("D5", 4, tie="stop start"),
        note("D5", 1, tie="stop", id="end") + note("D5", 3),
    )
    assert rows(melody) == [(0, 2, 72), (2, 7, 74), (9, 3, 74)]
    assert melody.ids == ("n1", "held", "n5")


def test_a_printed_tie_counts_where_there_is_no_sounding_one(tmp_path):
    melody = read(
        tmp_path,
        note("C5", 4, notations='<tied type="start"/>'),
        note("C5", 4, notations='<tied type="stop"/>'),
    )
    assert rows(melody) == [(0, 8, 72)]


def test_a_tie_that_leads_nowhere_joins_nothing(tmp_path):
    melody = read(tmp_path, note("C5", 1, tie="start") + note("D5", 1) + notes("C5:2"))
    assert [row[2] for row in rows(melody)] == [72, 74, 72]
    struck_again = read(tmp_path, note("C5", 1, tie="start") + notes("r:1 C5:2"))
    assert rows(struck_again) == [(0, 1, 72), (2, 2, 72)]


def test_a_tie_whose_end_is_missing_goes_to_the_next_note_of_its_pitch(tmp_path):
    within = read(tmp_path, note("C5", 1, tie="start") + notes("C5:1 C5:2"))
    assert rows(within) == [(0, 2, 72), (2, 2, 72)]
    over = read(tmp_path, notes("C5:2") + note("D5", 2, tie="start"), notes("D5:4"))
    assert rows(over) == [(0, 2, 72), (2, 6, 74)]


def test_a_tie_whose_end_is_missing_does_not_leap_over_a_repeat(tmp_path):
    repeated = notes("C5:2") + note("C5", 2, tie="start") + END
    melody = read(tmp_path, notes("C5:4"), repeated, notes("E5:4"))
    assert [(at, lasts) for at, lasts, _ in rows(melody)][:5] == [
        (0, 4), (4, 2), (6, 2), (8, 4), (12, 2),
    ]  # fmt: skip


@pytest.mark.parametrize("divisions", [256, 1024, 10080])
def test_tuplets_of_rounded_durations_are_taken_exactly(tmp_path, divisions):
    """The fifth of seven sixteenths in the time of four, and a triplet that ends the bar."""

    def tuplet(name, actual, normal, kind):
        quarters = Fraction(4, {"16th": 16, "eighth": 8}[kind]) * normal / actual
        return (
            f"<note>{pitch(name)}<duration>{round(quarters * divisions)}</duration>"
            f"<type>{kind}</type><time-modification><actual-notes>{actual}</actual-notes>"
            f"<normal-notes>{normal}</normal-notes></time-modification></note>"
        )

    content = tuplet("C5", 7, 4, "16th") * 7 + tuplet("D5", 3, 2, "eighth") * 3
    content += f"<note>{pitch('E5')}<duration>{2 * divisions}</duration></note>"
    music = part(content, "").replace(f"<divisions>{DIVISIONS}<", f"<divisions>{divisions}<")
    melody = read_musicxml(saved(tmp_path, score(music)))
    sevenths = [round(Fraction(k, 7) * 960) for k in range(7)]
    assert melody.onset.tolist() == [*sevenths, 960, 1280, 1600, 1920]
    assert melody.reading.warnings == (
        "The score gives no tempo; 120 quarter notes a minute are taken.",
    )


def test_a_second_voice_after_a_rounded_triplet_starts_where_it_should(tmp_path):
    third = "<duration>{}</duration><voice>1</voice><type>eighth</type>".format
    ratio = (
        "<time-modification><actual-notes>3</actual-notes>"
        "<normal-notes>2</normal-notes></time-modification>"
    )
    voice = "".join(f"<note>{pitch('C5')}{third(85)}{ratio}</note>" for _ in range(3))
    back = "<backup><duration>170</duration></backup>"
    low = f"<note>{pitch('C4')}<duration>170</duration><voice>2</voice></note>"
    music = part(voice + back + low, "").replace(f">{DIVISIONS}<", ">256<")
    melody = read_musicxml(saved(tmp_path, score(music)))
    assert melody.onset.tolist() == [0, 320, 640]
    assert melody.bars[0].length in (960, 3840)


def test_notes_without_length_are_grace_notes(tmp_path):
    file = tmp_path / "no-length.musicxml"
    file.write_bytes(score(part(notes("D5:0 C5:1 D5:3"))))
    melody = read_musicxml(file)
    assert rows(melody) == [(0, 1, 72), (1, 3, 74)]
    assert melody.graces == (Grace(0, (74,)),)


def test_a_slur_between_equal_notes_is_not_a_tie(tmp_path):
    melody = read(
        tmp_path,
        note("C5", 2, notations='<slur type="start"/>')
        + note("C5", 2, notations='<slur type="stop"/>'),
    )
    assert len(melody) == 2


def test_a_tie_over_a_repeat_is_played_both_times(tmp_path):
    """The held last note goes on into the first note, but only when it comes from there."""
    repeat = '<barline location="right"><repeat direction="backward"/></barline>'
    melody = read(
        tmp_path,
        note("G4", 1, tie="stop") + notes("A4:3"),
        notes("B4:3") + note("G4", 1, tie="start") + repeat,
        note("G4", 4, tie="stop"),
    )
    assert rows(melody) == [
        (0, 1, 67),
        (1, 3, 69),
        (4, 3, 71),
        (7, 2, 67),
        (9, 3, 69),
        (12, 3, 71),
        (15, 5, 67),
    ]


@pytest.mark.parametrize(
    ("count", "in_time_of"), [(3, 2), (5, 4), (7, 4), (6, 4), (9, 8), (11, 8)]
)
def test_tuplets_fall_on_the_nearest_tick_and_leave_no_gap(tmp_path, count, in_time_of):
    """Divisions that fit the tuplet, as notation programs choose them."""
    quarters = in_time_of / 2
    one = f"<note>{pitch('C5')}<duration>{in_time_of}</duration></note>"
    rest = f"<note><rest/><duration>{2 * count * 2}</duration></note>"
    measure = f"<divisions>{2 * count}</divisions>{FOUR}"
    content = (
        f"<measure number='1'><attributes>{measure}</attributes>{one * count}{rest}</measure>"
    )
    melody = read_musicxml(saved(tmp_path, score(content)))
    exact = [i * quarters * QUARTER / count for i in range(count)]
    assert melody.onset.tolist() == [round(at) for at in exact]
    ends = melody.onset + melody.length
    assert ends.tolist() == [*melody.onset[1:].tolist(), round(quarters * QUARTER)]


def test_divisions_may_change_on_the_way(tmp_path):
    new = "<divisions>2</divisions>"
    eighth = f"<note>{pitch('D5')}<duration>1</duration></note>"
    melody = read(tmp_path, notes("C5:4"), bar(eighth * 8, attributes=new))
    assert melody.onset[1:].tolist() == [4 * QUARTER + 480 * i for i in range(8)]


def test_grace_notes_are_kept_with_their_note(tmp_path):
    melody = read(
        tmp_path,
        note("B4", grace=True)
        + note("C#5", grace=True)
        + notes("D5:2 E5:1")
        + note("A4", grace=True)
        + notes("G4:1"),
    )
    assert rows(melody) == [(0, 2, 74), (2, 1, 76), (3, 1, 67)]
    assert [(g.note, g.pitches) for g in melody.graces] == [(0, (71, 73)), (2, (69,))]


def test_a_grace_note_sounds_where_its_part_sounds(tmp_path):
    transpose = "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>"
    melody = read(tmp_path, note("C5", grace=True) + notes("D5:4"), attributes=FOUR + transpose)
    assert melody.graces[0].pitches == (70,)


def test_a_grace_note_before_a_rest_belongs_to_no_later_note(tmp_path):
    melody = read(tmp_path, notes("C5:1") + note("B4", grace=True) + notes("r:2 D5:1"))
    assert melody.graces == ()


def test_a_chord_keeps_its_top_note_and_says_what_it_left_out(tmp_path):
    melody = read(
        tmp_path,
        note("C4", 2)
        + note("E4", 2, chord=True)
        + note("G4", 2, chord=True, id="top")
        + note("F4", 2)
        + note("A4", 2, chord=True),
        notes("C5:4"),
    )
    assert rows(melody) == [(0, 2, 67), (2, 2, 69), (4, 4, 72)]
    assert melody.ids[0] == "top"
    assert "Bar 1 has chords; the top note is taken and 3 lower notes are left out." in (
        melody.reading.warnings
    )


def test_the_top_voice_is_read_and_named(tmp_path):
    upper = note("C5", 2, voice=1) + note("D5", 2, voice=1)
    lower = note("E4", 4, voice=2)
    melody = read(tmp_path, upper + backup(4) + lower)
    assert rows(melody) == [(0, 2, 72), (2, 2, 74)]
    assert melody.reading.part == "Trumpet, voice 1 of 2"


def test_the_top_voice_is_the_higher_one_whatever_its_number(tmp_path):
    lower = note("E4", 4, voice=1)
    upper = note("C5", 2, voice=2) + note("D5", 2, voice=2)
    melody = read(tmp_path, lower + backup(4) + upper)
    assert melody.pitch.tolist() == [72, 74]


def test_a_few_high_notes_of_a_second_voice_do_not_take_over(tmp_path):
    plain = notes("C5:1 D5:1 E5:1 F5:1")
    both = plain + backup(4) + note("A5", 4, voice=2)
    melody = read(tmp_path, plain, plain, plain, both)
    assert melody.pitch.tolist() == [72, 74, 76, 77] * 4


def test_a_voice_without_its_bar_is_filled_in_by_the_next(tmp_path):
    first = note("C5", 4, voice=1) + backup(4) + note("E4", 4, voice=2)
    melody = read(tmp_path, first, note("F4", 4, voice=2), first)
    assert melody.pitch.tolist() == [72, 65, 72]


def test_a_resting_top_voice_rests(tmp_path):
    first = note("C5", 4, voice=1) + backup(4) + note("E4", 4, voice=2)
    second = note("r", 4, voice=1) + backup(4) + note("F4", 4, voice=2)
    assert read(tmp_path, first, second).pitch.tolist() == [72]


def test_the_upper_staff_is_read(tmp_path):
    right = note("C5", 4, voice=1, staff=1)
    left = "".join(note(n, 1, voice=5, staff=2) for n in ("C3", "G3", "E3", "G3"))
    melody = read(tmp_path, right + backup(4) + left, attributes=FOUR + "<staves>2</staves>")
    assert rows(melody) == [(0, 4, 72)]
    assert melody.reading.part == "Trumpet, staff 1, voice 1 of 2"


def test_a_voice_that_crosses_to_the_other_staff_stays_whole(tmp_path):
    line = [("C4", 1), ("G3", 2), ("C4", 1), ("G4", 1)]
    content = "".join(note(name, 1, voice=1, staff=staff) for name, staff in line)
    melody = read(tmp_path, content, attributes=FOUR + "<staves>2</staves>")
    assert melody.pitch.tolist() == [60, 55, 60, 67]


def test_two_staves_that_name_their_voices_alike_are_two_voices(tmp_path):
    right = note("C5", 4, voice=1, staff=1)
    left = "".join(note(n, 1, voice=1, staff=2) for n in ("C3", "G3", "E3", "G3"))
    melody = read(tmp_path, right + backup(4) + left, attributes=FOUR + "<staves>2</staves>")
    assert melody.pitch.tolist() == [72]


def test_a_note_that_runs_into_the_next_is_cut_and_named(tmp_path):
    melody = read(tmp_path, notes("C5:3") + backup(2) + notes("D5:3"))
    assert rows(melody) == [(0, 1, 72), (1, 3, 74)]
    assert melody.reading.warnings[0] == (
        "Bar 1 has a note that lasts into the next one; it is cut short."
    )


@pytest.mark.parametrize(
    ("transpose", "semitones"),
    [
        ("<diatonic>-1</diatonic><chromatic>-2</chromatic>", -2),
        ("<diatonic>-5</diatonic><chromatic>-9</chromatic>", -9),
        (
            "<diatonic>-1</diatonic><chromatic>-2</chromatic><octave-change>-1</octave-change>",
            -14,
        ),
        ("<chromatic>3</chromatic>", 3),
        ("<chromatic>0</chromatic><octave-change>1</octave-change>", 12),
    ],
)
def test_a_transposing_part_is_read_as_it_sounds(tmp_path, transpose, semitones):
    given = f"{FOUR}<transpose>{transpose}</transpose>"
    melody = read(tmp_path, notes("C5:2 F#5:2"), attributes=given)
    assert melody.pitch.tolist() == [72 + semitones, 78 + semitones]


def test_a_player_who_changes_instrument_changes_transposition(tmp_path):
    to_flute = "<transpose><diatonic>0</diatonic><chromatic>0</chromatic></transpose>"
    from_alto = "<transpose><diatonic>-5</diatonic><chromatic>-9</chromatic></transpose>"
    melody = read(
        tmp_path,
        notes("C5:4"),
        bar(notes("C5:4"), attributes=to_flute),
        attributes=FOUR + from_alto,
    )
    assert melody.pitch.tolist() == [63, 72]


def test_a_transposition_for_all_staves_takes_the_place_of_one_for_a_staff(tmp_path):
    one = '<transpose number="1"><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>'
    every = "<transpose><diatonic>0</diatonic><chromatic>0</chromatic></transpose>"
    melody = read(
        tmp_path, notes("C5:4"), bar(notes("C5:4"), attributes=every), attributes=FOUR + one
    )
    assert melody.pitch.tolist() == [70, 72]


def test_a_concert_score_is_already_at_sounding_pitch_but_for_octaves(tmp_path):
    transpose = (
        "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic>"
        "<octave-change>-1</octave-change></transpose>"
    )
    content = score(
        part(notes("C5:4"), attributes=FOUR + transpose),
        defaults="<defaults><concert-score/></defaults>",
    )
    assert read_musicxml(saved(tmp_path, content)).pitch.tolist() == [60]


def test_an_octave_line_and_an_octave_clef_change_nothing(tmp_path):
    """A MusicXML pitch is that of the sound, whatever clef or 8va line it is printed with."""
    clef = (
        "<clef><sign>G</sign><line>2</line><clef-octave-change>-1</clef-octave-change></clef>"
    )
    line = '<direction><direction-type><octave-shift type="down" size="8"/></direction-type>'
    melody = read(tmp_path, line + "</direction>" + notes("C5:4"), attributes=FOUR + clef)
    assert melody.pitch.tolist() == [72]


def test_cue_notes_and_rhythm_slashes_are_not_the_melody(tmp_path):
    slash = note("B4", 1, head="<notehead>slash</notehead>")
    melody = read(tmp_path, note("A4", 1, cue=True) + notes("C5:1") + slash + notes("D5:1"))
    assert rows(melody) == [(1, 1, 72), (3, 1, 74)]


def test_quarter_tones_sound_at_a_semitone(tmp_path):
    raised = "<note><pitch><step>C</step><alter>0.7</alter><octave>5</octave></pitch>"
    melody = read(tmp_path, f"{raised}<duration>{4 * DIVISIONS}</duration></note>")
    assert melody.pitch.tolist() == [73]


def test_a_note_above_what_midi_can_play_is_left_out_and_named(tmp_path):
    melody = read(tmp_path, notes("C5:3 B9:1"), notes("D5:4"))
    assert melody.pitch.tolist() == [72, 74]
    assert "Bar 1 has a note without a playable pitch; it is left out." in (
        melody.reading.warnings
    )


def test_a_part_with_only_grace_notes_has_no_melody(tmp_path):
    with pytest.raises(PhrasingError, match="no pitched notes in any part"):
        read(tmp_path, note("C5", grace=True) + notes("r:4"))


def test_every_note_can_be_found_again_by_its_name(tmp_path):
    content = score(
        part(
            note("C5", 1, id="n2")
            + note("D5", 1)
            + note("E5", 1, tie="start")
            + note("E5", 1, tie="stop"),
            notes("F5:2 G5:2"),
        )
    )
    path = saved(tmp_path, content)
    melody = read_musicxml(path)
    tree = open_score(path)
    by_name = {name: element for element, name in note_names(tree).items()}
    steps = [by_name[name].findtext("pitch/step") for name in melody.ids]
    assert steps == ["C", "D", "E", "F", "G"]


def test_an_eighth_that_its_divisions_cannot_hold_is_an_eighth(tmp_path):
    """Seventeen divisions to the quarter, as one program wrote: eight stand for an eighth."""
    eighth = f"<note>{pitch('C5')}<duration>8</duration><type>eighth</type></note>"
    music = part(eighth * 8, "").replace(f">{DIVISIONS}<", ">17<")
    melody = read_musicxml(saved(tmp_path, score(music)))
    assert melody.onset.tolist() == [480 * k for k in range(8)]
