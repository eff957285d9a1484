"""The frame of a score: pickups, split bars, meters, keys, tempos, swing, sections, title."""

from __future__ import annotations

import pytest

from phrasing.errors import PhrasingError
from phrasing.reading.musicxml.melody import read_musicxml
from phrasing.score.instruments import BY_KEY
from phrasing.score.melody import Key
from phrasing.score.meters import Meter
from phrasing.score.transposing import Move, as_written, moved
from phrasing.score.words import name_at
from tests.reading.scores import (
    END,
    FOUR,
    QUARTER,
    START,
    backup,
    bar,
    direction,
    note,
    notes,
    part,
    read,
    rows,
    saved,
    score,
    words,
)

NO_TEMPO = "The score gives no tempo; 120 quarter notes a minute are taken."


def frames(melody):
    """Number, length and offset of each bar, in quarters."""
    return [(b.number, b.length / QUARTER, b.offset / QUARTER) for b in melody.bars]


def time(beats, unit):
    return f"<time><beats>{beats}</beats><beat-type>{unit}</beat-type></time>"


def key(fifths, mode="major"):
    return f"<key><fifths>{fifths}</fifths><mode>{mode}</mode></key>"


def test_an_implicit_first_bar_is_the_pickup(tmp_path):
    pickup = bar(notes("G4:1"), number="0", implicit="yes")
    melody = read(
        tmp_path, pickup, bar(notes("C5:4"), number="1"), bar(notes("E5:3"), number="2")
    )
    assert frames(melody) == [(0, 1, 3), (1, 4, 0), (2, 3, 0)]
    assert melody.pickup == QUARTER
    assert melody.beat.tolist() == [4, 1, 1]
    assert melody.bar_number.tolist() == [0, 1, 2]


def test_a_short_first_bar_is_a_pickup_whatever_its_number(tmp_path):
    melody = read(tmp_path, notes("G4:0.5"), notes("C5:4"), notes("D5:4"))
    assert frames(melody) == [(0, 0.5, 3.5), (2, 4, 0), (3, 4, 0)]
    assert melody.beat[0] == 4.5


def test_a_score_of_one_short_bar_has_no_pickup(tmp_path):
    assert frames(read(tmp_path, notes("G4:1"))) == [(1, 1, 0)]


def test_a_pickup_padded_with_rests_is_as_long_as_it_is_written(tmp_path):
    pickup = bar(notes("r:3 G4:1"), number="0", implicit="yes")
    melody = read(tmp_path, pickup, bar(notes("C5:4"), number="1"))
    assert frames(melody) == [(0, 4, 0), (1, 4, 0)]
    assert melody.beat.tolist() == [4, 1]


def test_a_bar_split_by_a_repeat_sign_stays_one_bar_in_the_count(tmp_path):
    """Each part of the tune begins with its own pickup, as in dance tunes."""
    melody = read(
        tmp_path,
        bar(notes("G4:1"), number="0", implicit="yes"),
        bar(notes("C5:4"), number="1"),
        bar(notes("E5:3") + END, number="2"),
        bar(START + notes("D5:1"), number="X1", implicit="yes"),
        bar(notes("F5:4"), number="3"),
        bar(notes("C5:3") + END, number="4"),
    )
    once = [(0, 1, 3), (1, 4, 0), (2, 3, 0)]
    second = [(2, 1, 3), (3, 4, 0), (4, 3, 0)]
    assert frames(melody) == once + once + second + second
    assert [b.passing for b in melody.bars] == [1] * 3 + [2] * 3 + [1] * 3 + [2] * 3
    assert melody.reading.warnings == (NO_TEMPO,)


def test_a_bar_split_without_a_repeat_sign_is_whole_too(tmp_path):
    """As at the end of a line, where the page is too narrow for the bar."""
    melody = read(
        tmp_path,
        bar(notes("C5:4"), number="1"),
        bar(notes("D5:2.5"), number="2"),
        bar(notes("E5:1.5"), number="X1", implicit="yes"),
        bar(notes("F5:4"), number="3"),
    )
    assert frames(melody) == [(1, 4, 0), (2, 2.5, 0), (2, 1.5, 2.5), (3, 4, 0)]
    assert melody.beat.tolist() == [1, 1, 3.5, 1]
    assert melody.reading.warnings == (NO_TEMPO,)


def test_a_pickup_to_a_repeat_after_a_full_bar_counts_back(tmp_path):
    melody = read(
        tmp_path,
        notes("C5:4"),
        bar(START + notes("G4:1"), implicit="yes"),
        bar(notes("C5:4"), number="2"),
        bar(notes("C5:3") + END, number="3"),
        as_written=True,
    )
    assert frames(melody) == [(1, 4, 0), (1, 1, 3), (2, 4, 0), (3, 3, 0)]
    assert melody.beat.tolist() == [1, 4, 1, 1]


def test_a_bar_that_is_short_for_no_reason_is_named(tmp_path):
    melody = read(tmp_path, *[notes("C5:4")] * 2, notes("C5:3"), *[notes("C5:4")] * 2)
    assert frames(melody)[2] == (3, 3, 0)
    assert melody.reading.warnings[0] == (
        "Bar 3 does not hold what its meter asks for; it is taken as it is."
    )


def test_many_damaged_bars_are_named_in_one_sentence(tmp_path):
    melody = read(tmp_path, notes("C5:4"), *[notes("C5:5")] * 6)
    assert melody.reading.warnings[0].startswith("Bars 2, 3, 4, 5 and 2 more do not hold")


def test_a_bar_whose_tuplets_were_rounded_is_whole(tmp_path):
    """Seven in the time of four, a division too long: the next bar begins on the beat."""
    seven = "".join(note("C5", quarters / 24) for quarters in (7, 7, 7, 7, 7, 7, 7))
    held = note("D5", 2 - 1 / 24, tie="start")
    melody = read(tmp_path, seven + held, note("D5", 4, tie="stop"), notes("E5:4"))
    assert frames(melody) == [(1, 4, 0), (2, 4, 0), (3, 4, 0)]
    assert melody.onset[-1] == 8 * QUARTER
    assert len(melody) == 9
    assert melody.reading.warnings == (NO_TEMPO,)


def test_bars_of_the_same_again_play_the_bars_before(tmp_path):
    sign = '<measure-style><measure-repeat type="{}">{}</measure-repeat></measure-style>'
    melody = read(
        tmp_path,
        notes("C5:4"),
        notes("D5:2 E5:2"),
        bar(notes("r:4"), attributes=sign.format("start", 2)),
        bar(notes("r:4")),
        bar(notes("r:4"), attributes=sign.format("stop", "")),
    )
    assert melody.pitch.tolist() == [72, 74, 76] * 2
    assert melody.ids == ("n1", "n2", "n3") * 2


def test_a_part_that_left_out_its_rests_is_as_long_as_the_others(tmp_path):
    tune = part(notes("C5:4"), notes("D5:1"), "", notes("E5:4"))
    bass = part(*[notes("C3:4")] * 4)
    melody = read_musicxml(saved(tmp_path, score(tune, bass)))
    assert rows(melody) == [(0, 4, 72), (4, 1, 74), (12, 4, 76)]
    assert [b.length for b in melody.bars] == [4 * QUARTER] * 4


def test_an_empty_bar_is_a_bar_of_rest(tmp_path):
    melody = read(tmp_path, notes("C5:4"), "", notes("E5:4"))
    assert rows(melody) == [(0, 4, 72), (8, 4, 76)]


def test_meters_change_and_hold(tmp_path):
    melody = read(
        tmp_path,
        notes("C5:4"),
        bar(notes("C5:3"), attributes=time(3, 4)),
        notes("C5:3"),
        bar(notes("C5:3"), attributes=time(6, 8)),
        bar(notes("C5:2.5"), attributes=time("3+2", 8)),
        bar(
            notes("C5:2.5"),
            attributes="<time><beats>2</beats><beat-type>4</beat-type>"
            "<beats>1</beats><beat-type>8</beat-type></time>",
        ),
    )
    meters = [str(b.meter) for b in melody.bars]
    assert meters == ["4/4", "3/4", "3/4", "6/8", "5/8", "5/8"]
    assert melody.onset.tolist() == [round(QUARTER * q) for q in (0, 4, 7, 10, 13, 15.5)]


def test_a_free_meter_lasts_as_long_as_its_notes(tmp_path):
    free = "<time><senza-misura/></time>"
    melody = read(tmp_path, notes("C5:4"), bar(notes("C5:7"), attributes=free), notes("D5:2"))
    assert [b.length / QUARTER for b in melody.bars] == [4, 7, 2]
    assert melody.reading.warnings == (NO_TEMPO,)


def test_a_meter_that_cannot_be_is_passed_over(tmp_path):
    melody = read(tmp_path, notes("C5:4"), bar(notes("D5:4"), attributes=time(4, 8)))
    assert str(melody.bars[1].meter) == "4/8"
    file = tmp_path / "odd.xml"
    odd = score(part(notes("C5:4"))).replace(b"<beat-type>4<", b"<beat-type>5<")
    file.write_bytes(odd)
    assert read_musicxml(file).meter == Meter(4, 4)


def test_a_bar_of_a_thousand_beats_is_damage(tmp_path):
    with pytest.raises(PhrasingError, match="bar 2 is 1000 quarter notes long"):
        read(tmp_path, notes("C5:4"), notes("C5:1000"))


def test_keys_are_at_concert_pitch(tmp_path):
    """An alto saxophone's one sharp is the concert two flats; its six sharps are three."""
    alto = "<transpose><diatonic>-5</diatonic><chromatic>-9</chromatic></transpose>"
    melody = read(
        tmp_path,
        notes("C5:4"),
        bar(notes("C5:4"), attributes=key(6, "minor")),
        bar(notes("C5:4"), attributes=key(-5)),
        attributes=key(1) + FOUR + alto,
    )
    assert melody.keys == (
        Key(0, -2),
        Key(4 * QUARTER, 3, minor=True),
        Key(8 * QUARTER, 4),
    )


@pytest.mark.parametrize(("fifths", "concert", "name"), [(7, 5, "C♯5"), (-7, 3, "C♭5")])
def test_a_part_in_seven_signs_stays_in_the_key_its_author_chose(
    tmp_path, fifths: int, concert: int, name: str
):
    trumpet = "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>"
    first = notes(f"{name[0]}{'#' if fifths > 0 else 'b'}5:4")
    melody = read(tmp_path, first, attributes=key(fifths) + FOUR + trumpet)
    assert (melody.keys[0].fifths, melody.keys[0].written) == (concert, fifths)
    part = as_written(moved(melody, Move(0, 0)), BY_KEY["trumpet"])
    assert part.keys[0].fifths == fifths
    assert name_at(part, 0) == name
    higher = as_written(moved(melody, Move(2, 2)), BY_KEY["trumpet"])
    assert abs(higher.keys[0].fifths) <= 6


def test_the_key_is_that_of_the_upper_staff(tmp_path):
    keys = key(1).replace("<key>", '<key number="1">') + key(-3).replace(
        "<key>", '<key number="2">'
    )
    melody = read(tmp_path, notes("C5:4"), attributes=keys + FOUR + "<staves>2</staves>")
    assert melody.keys == (Key(0, 1),)


def test_tempos_by_sound_and_by_print(tmp_path):
    def metronome(*units, per=""):
        content = "".join(units) + (f"<per-minute>{per}</per-minute>" if per else "")
        return direction(f"<metronome>{content}</metronome>")

    quarter, half = "<beat-unit>quarter</beat-unit>", "<beat-unit>half</beat-unit>"
    dotted = quarter + "<beat-unit-dot/>"
    melody = read(
        tmp_path,
        direction("<words>Easy</words>", 'tempo="132.5"') + notes("C5:4"),
        metronome(half, per="80") + notes("C5:4"),
        metronome(dotted, per="c. 92") + notes("C5:4"),
        metronome(quarter, dotted)
        + notes("C5:2")
        + metronome(quarter, per="100")
        + notes("C5:2"),
        metronome(half, quarter) + notes("C5:4"),
    )
    assert melody.tempos.onsets == tuple(round(q * QUARTER) for q in (0, 4, 8, 12, 14, 16))
    assert melody.tempos.tempos == pytest.approx((132.5, 160, 138, 207, 100, 50))


def test_a_sounding_tempo_counts_before_the_printed_one(tmp_path):
    mark = "<metronome><beat-unit>quarter</beat-unit><per-minute>90</per-minute></metronome>"
    assert read(tmp_path, direction(mark, 'tempo="96"') + notes("C5:4")).tempos.tempos == (96,)


def test_a_tempo_in_the_first_bar_holds_from_its_start(tmp_path):
    melody = read(
        tmp_path, notes("r:1") + direction("<words>A</words>", 'tempo="90"') + notes("C5:3")
    )
    assert melody.tempos.tempos == (90,)


def test_a_tempo_of_nothing_is_no_tempo(tmp_path):
    melody = read(tmp_path, direction("<words>A</words>", 'tempo="0"') + notes("C5:4"))
    assert melody.tempos.tempos == (120,)
    assert NO_TEMPO in melody.reading.warnings


def test_a_tempo_may_stand_in_another_part(tmp_path):
    piano = part(direction("<words>A</words>", 'tempo="150"') + notes("C3:4"))
    content = score(piano, part(notes("C5:4")), names=("Piano", "Lead"))
    assert read_musicxml(saved(tmp_path, content)).tempos.tempos == (150,)


def test_a_repeat_takes_back_the_tempo_and_key_of_its_bars(tmp_path):
    slow = direction("<words>slower</words>", 'tempo="60"')
    melody = read(
        tmp_path,
        direction("<words>A</words>", 'tempo="120"') + notes("C5:4"),
        bar(slow + notes("C5:4") + END, attributes=key(2)),
        attributes=key(-1) + FOUR,
    )
    assert melody.tempos.onsets == tuple(4 * QUARTER * i for i in range(4))
    assert melody.tempos.tempos == (120, 60, 120, 60)
    assert [k.fifths for k in melody.keys] == [-1, 2, -1, 2]


@pytest.mark.parametrize(
    ("swing", "ratio"),
    [
        ("<swing><straight/></swing>", 1.0),
        ("<swing><first>2</first><second>1</second></swing>", 2.0),
        (
            "<swing><first>3</first><second>2</second><swing-type>eighth</swing-type></swing>",
            1.5,
        ),
        ("<swing><first>1</first><second>2</second></swing>", None),
    ],
)
def test_the_swing_of_a_score(tmp_path, swing, ratio):
    melody = read(tmp_path, direction("<words>Swing</words>", swing) + notes("C5:4"))
    assert melody.swing == ratio


def test_the_two_eighths_that_are_printed_as_a_triplet(tmp_path):
    def metronome_note(value, dots=0):
        return (
            f"<metronome-note><metronome-type>{value}</metronome-type>"
            + "<metronome-dot/>" * dots
            + "</metronome-note>"
        )

    even = metronome_note("eighth") * 2 + "<metronome-relation>equals</metronome-relation>"
    triplet = even + metronome_note("quarter") + metronome_note("eighth")
    dotted = even + metronome_note("eighth", 1) + metronome_note("16th")
    for content, ratio in ((triplet, 2.0), (dotted, 3.0)):
        mark = direction(f"<metronome>{content}</metronome>")
        assert read(tmp_path, mark + notes("C5:4")).swing == ratio


@pytest.mark.parametrize(
    ("text", "tempo"),
    [
        ("♩ = 140", 140),
        ("Medium swing ♩=126", 126),
        ("\ueca5 = 132", 132),
        ("(= 96)", 96),
        ("♩. = 60", 90),
        ("dotted quarter = 60", 90),
        ("half = c. 80", 160),
        ("Bright, 200 bpm", 200),
        ("A = 440", 120),
        ("bars 12-16", 120),
    ],
)
def test_a_tempo_may_stand_in_words(tmp_path, text, tempo):
    assert read(tmp_path, words(text) + notes("C5:4")).tempos.tempos == (tempo,)


def test_a_sounding_tempo_counts_before_its_words(tmp_path):
    both = direction("<words>♩ = 140</words>", 'tempo="138"')
    assert read(tmp_path, both + notes("C5:4")).tempos.tempos == (138,)


def test_rehearsal_letters_are_sections_every_time_they_come(tmp_path):
    letter = "<rehearsal>{}</rehearsal>".format
    tune = part(
        direction(letter("A")) + notes("C5:4") + END,
        direction(letter("Bridge")) + notes("C5:4"),
    )
    melody = read_musicxml(saved(tmp_path, score(tune, tune)))
    assert [(s.onset / QUARTER, s.name) for s in melody.sections] == [
        (0, "A"),
        (4, "A"),
        (8, "Bridge"),
    ]


@pytest.mark.parametrize(
    ("top", "title"),
    [
        (
            "<work><work-title>Harbour  Lights\nat Six</work-title></work>",
            "Harbour Lights at Six",
        ),
        ("<movement-title>Ferry Landing</movement-title>", "Ferry Landing"),
        (
            "<work><work-title>Spring Concert</work-title></work>"
            "<movement-title>Ferry Landing</movement-title>",
            "Spring Concert",
        ),
        ("", "score"),
    ],
)
def test_the_title(tmp_path, top, title):
    content = score(part(notes("C5:4")), top=top)
    assert read_musicxml(saved(tmp_path, content)).title == title


def test_the_title_printed_on_the_page(tmp_path):
    credits = (
        "<credit><credit-type>composer</credit-type><credit-words>N. N.</credit-words></credit>"
        "<credit><credit-type>title</credit-type><credit-words>Lamp</credit-words>"
        "<credit-words>lighters</credit-words></credit>"
    )
    content = score(part(notes("C5:4")), defaults=credits)
    assert read_musicxml(saved(tmp_path, content)).title == "Lamplighters"


def test_a_voice_that_only_the_second_staff_has_does_not_shorten_the_bar(tmp_path):
    right = note("C5", 1, voice=1, staff=1)
    left = note("C3", 4, voice=5, staff=2)
    melody = read(
        tmp_path,
        right + backup(1) + left,
        note("D5", 4, voice=1, staff=1),
        attributes=FOUR + "<staves>2</staves>",
    )
    assert rows(melody) == [(0, 1, 72), (4, 4, 74)]


def test_a_bar_of_rests_without_a_sign_is_a_bar_of_rests(tmp_path):
    tune = read(tmp_path, notes("C5:4"), notes("r:4"), "", notes("D5:4"))
    assert rows(tune) == [(0, 4, 72), (12, 4, 74)]


def test_a_bar_in_three_pieces_goes_on_where_each_ends(tmp_path):
    later = [bar(notes("D5:1"), implicit="yes"), bar(notes("E5:2"), implicit="yes")]
    melody = read(tmp_path, notes("C5:4"), notes("C5:1"), *later, notes("C5:4"))
    assert frames(melody)[1:4] == [(2, 1, 0), (2, 1, 1), (2, 2, 2)]
