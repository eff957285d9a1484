"""Chord charts: what a teacher writes by hand, and what is said about mistakes."""

from pathlib import Path

import pytest

from phrasing.errors import PhrasingError
from phrasing.reading import read
from phrasing.reading.chart import read_chart
from phrasing.score.melody import Manner, Melody
from phrasing.score.meters import TICKS, Meter

EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.fixture
def chart(tmp_path):
    def reading(content: str | bytes) -> Melody:
        path = tmp_path / "song.chart"
        raw = content if isinstance(content, bytes) else content.encode("utf-8")
        path.write_bytes(raw)
        return read_chart(path)

    return reading


def beats(melody: Melody) -> list[list[tuple[float, str]]]:
    """For each bar, its chords with the quarter note they begin on, from 1."""
    return [
        [
            ((c.onset - bar.onset) / TICKS + 1, c.text)
            for c in melody.chords
            if bar.onset <= c.onset < bar.onset + bar.length
        ]
        for bar in melody.bars
    ]


def names(melody: Melody) -> str:
    return " ".join(chord.text for chord in melody.chords)


def test_settings_and_bars(chart):
    song = chart("title: Kettle\ntempo: 140\nkey: Bb\nmeter: 3/4\nswing: 2\n| Dm7 | G7 |\n")
    assert (song.title, song.tempos.tempos, song.swing) == ("Kettle", (140.0,), 2.0)
    assert (song.keys[0].fifths, song.keys[0].minor) == (-2, False)
    assert [bar.meter for bar in song.bars] == [Meter(3, 4)] * 2
    assert [(bar.onset, bar.number) for bar in song.bars] == [(0, 1), (3 * TICKS, 2)]
    assert len(song) == 0
    assert song.end == 6 * TICKS


@pytest.mark.parametrize(
    "bar,meter,places",
    [
        ("Dm7", "4/4", [1]),
        ("Dm7 G7", "4/4", [1, 3]),
        ("Dm7 G7 C", "4/4", [1, 3, 4]),
        ("Dm7 G7 C F", "4/4", [1, 2, 3, 4]),
        ("D G C F D G C F", "4/4", [1, 1.5, 2, 2.5, 3, 3.5, 4, 4.5]),
        ("Dm7 G7", "3/4", [1, 3]),
        ("Dm7 G7", "5/4", [1, 4]),
        ("Dm7 G7", "6/8", [1, 2.5]),
        ("Dm7 G7 C", "6/8", [1, 2, 3]),
        ("Dm7 G7", "2/2", [1, 3]),
        ("Dm7 / / G7", "4/4", [1, 4]),
        ("Dm7 / G7 /", "4/4", [1, 3]),
        ("/ / G7 /", "4/4", [3]),
        ("Dm7 G7 /", "3/4", [1, 2]),
        ("Dm7 / / G7 / /", "6/8", [1, 2.5]),
        ("Dm7 /", "6/8", [1]),
    ],
)
def test_chords_share_their_bar_evenly_or_by_slashes(chart, bar, meter, places):
    song = chart(f"meter: {meter}\n| {bar} |")
    assert [beat for beat, _ in beats(song)[0]] == places


def test_percent_plays_the_bar_before_again_and_an_empty_bar_goes_on(chart):
    song = chart("| Dm7 G7 | % | | C |")
    assert beats(song)[:3] == [[(1, "Dm7"), (3, "G7")], [(1, "Dm7"), (3, "G7")], []]
    assert len(song.bars) == 4


def test_no_chord(chart):
    assert names(chart("| C | N.C. | NC |")) == "C N.C. N.C."


def test_repeats_times_and_endings(chart):
    assert names(chart("|: C | D :| E |")) == "C D C D E"
    assert names(chart("|: C :| x3 | D |")) == "C C C D"
    assert names(chart("| A | B :| C |")) == "A B A B C"
    assert names(chart("|: C |1. D :|2. E | F |")) == "C D C E F"
    assert names(chart("|: C |1,2. D :|3. E |")) == "C D C D C E"
    assert names(chart("|: C |1-2. D :|3. E |")) == "C D C D C E"
    assert names(chart("|: C :||: D :| E ||")) == "C C D D E"
    assert names(chart("|: C :|: D :|")) == "C C D D"


def test_bars_played_twice_keep_their_number_and_count_their_passing(chart):
    song = chart("|: C | D :|")
    assert [(bar.number, bar.passing) for bar in song.bars] == [(1, 1), (2, 1), (1, 2), (2, 2)]
    assert song.reading.format == "chord chart, 2 bars, 4 with repeats"


def test_sections_before_or_above_their_bars(chart):
    song = chart("A:\n| C | D |\nBridge: | E |\n")
    assert [(s.name, s.onset) for s in song.sections] == [("A", 0), ("Bridge", 8 * TICKS)]
    assert len(song.bars) == 3


def test_tempo_meter_and_key_may_change(chart):
    song = chart("tempo: 100\nkey: C\n| C |\ntempo: 150\nmeter: 3/4\nkey: Am\n|: E7 | Am :|\n")
    assert song.tempos.onsets == (0, 4 * TICKS)
    assert song.tempos.tempos == (100.0, 150.0)
    assert [(k.onset, k.fifths, k.minor) for k in song.keys] == [
        (0, 0, False),
        (4 * TICKS, 0, True),
    ]
    assert [bar.length for bar in song.bars] == [4 * TICKS, *[3 * TICKS] * 4]


def test_words_for_the_feel_tell_the_tempo_where_no_figure_does(chart):
    melody = chart("style: Slow blues\n| C7 |\nstyle: Up swing\n| F7 |\ntempo: 90\n| C7 |")
    assert melody.tempos.tempos == (66.0, 220.0, 90.0)
    assert melody.reading.warnings == (
        "The chart does not give the tempo of bar 1; 66 is taken, as is usual for "
        "“Slow blues”.",
    )
    assert chart("tempo: 90\nstyle: Ballad\n| C7 |").tempos.tempos == (90.0,)


def test_a_tempo_inside_a_repeat_comes_again(chart):
    song = chart("tempo: 100\n|: C |\ntempo: 50\n| D :|\n")
    assert song.tempos.tempos == (100.0, 50.0, 100.0, 50.0)


@pytest.mark.parametrize(
    "key,fifths,minor",
    [
        *(("C", 0, False), ("F#m", 3, True), ("E♭", -3, False), ("C minor", -3, True)),
        *(("Gb major", -6, False), ("A-", 0, True), ("G#m", 5, True), ("C#", 7, False)),
    ],
)
def test_keys(chart, key, fifths, minor):
    found = chart(f"key: {key}\n| C |").keys[0]
    assert (found.fifths, found.minor) == (fifths, minor)


@pytest.mark.parametrize(
    "text,ratio", [("2", 2), ("2:1", 2), ("3:2", 1.5), ("straight", 1), ("1", 1)]
)
def test_swing(chart, text, ratio):
    assert chart(f"swing: {text}\n| C |").swing == ratio


def test_chords_are_as_written_with_real_accidentals(chart):
    assert names(chart("| Bb-7b5 Ebmaj7/G |")) == "B♭-7♭5 E♭maj7/G"


def test_spaces_in_a_chords_parentheses(chart):
    assert names(chart("| C7(b9, #11) F |")) == "C7(♭9, ♯11) F"


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "latin-1", "cp1252"])
def test_whatever_the_editor_saved_it_as(chart, encoding):
    song = chart("title: Für alle\r\n| Cø7 | D°7 |\r\n".encode(encoding))
    assert (song.title, names(song)) == ("Für alle", "Cø7 D°7")


def test_remarks_old_line_ends_and_missing_last_bar_lines(chart):
    assert names(chart("# a remark\r\r| C | D\r# another\r| E")) == "C D E"


def test_a_missing_tempo_is_mentioned(chart):
    assert "120" in chart("| C |").reading.warnings[0]
    assert not chart("tempo: 90\n| C |").reading.warnings


@pytest.mark.parametrize(
    "text,told",
    [
        ("| Dm7 |\n| G7 | Cmaj8 |", "line 2, bar 3: the chord “Cmaj8” is not known; .*“Cmaj7”"),
        ("| H7 |", "line 1, bar 1: the chord “H7” is not known; .*A to G"),
        ("| C / D |", "line 1, bar 1: it has 3 chords and slashes, .* has 4 beats"),
        ("meter: 6/8\n| C / / |", "line 2, bar 1: .* a bar of 6/8 has 2 or 6 beats"),
        ("| C D E F G A B C D |", "line 1, bar 1: a bar of 4/4 has no room for 9 chords"),
        ("| % |", "line 1, bar 1: “%” plays the bar before again, and there is none"),
        ("| C | % D |", "line 1, bar 2: “%” .* stands alone"),
        ("tempi: 120\n| C |", "line 1: there is no setting “tempi”; .*“tempo”"),
        ("tempo: fast\n| C |", "line 1: the tempo “fast” is no number"),
        ("tempo: 0\n| C |", "line 1: the tempo “0”"),
        ("tempo: 999999\n| C |", "line 1: the tempo “999999” is outside 20 to 400"),
        ("meter: 4/3\n| C |", "line 1: the meter “4/3” is not known"),
        ("meter: 3/17\n| C |", "line 1: the meter “3/17” is not known"),
        ("meter: 0/4\n| C |", "line 1: the meter “0/4” is not known"),
        ("meter: " + "9" * 5000 + "/4\n| C |", "line 1: the meter “9+…” is not known"),
        ("key: H\n| C |", "line 1: the key “H” is not known"),
        ("key: D#\n| C |", "line 1: there is no key signature of D#"),
        ("swing: 0.5\n| C |", r"line 1: swing “0.5”: the ratio 0.5 is outside 1 \(even\) to 4"),
        ("swing: 120:2,200:1.5\n| C |", "line 1: swing .* a piece has one ratio"),
        ("|: C :| x1", "line 1, bar 1: “x1” is no number of times"),
        ("|: C :| x" + "9" * 5000, r"line 1, bar 1: “x9+…” is no number of times"),
        ("| 1-2-9. C |", "line 1, bar 1: “1-2-9.” is no ending"),
        ("| " + "9" * 5000 + ". C |", "line 1, bar 1: “9+…” is no ending"),
        ("| 0. C |", "line 1, bar 1: “0.” is no ending"),
        ("| C |\nC D", "line 2: “C D” is neither bars"),
        ("hello", "line 1: “hello” is neither bars"),
        ("| C |\nCoda:\n", "line 2: the section “Coda” has no bars"),
        ("title: X", "has no bars"),
        ("|", "has no bars"),
    ],
)
def test_a_mistake_names_its_line_its_bar_and_the_remedy(chart, text, told):
    with pytest.raises(PhrasingError, match=told) as error:
        chart(text)
    assert "song.chart" in str(error.value)
    assert "\n" not in str(error.value)


def test_a_song_without_end_is_refused(chart):
    with pytest.raises(PhrasingError, match="more bars than anyone plays"):
        chart("|: " + " | ".join(["C"] * 300) + " :| x99")


@pytest.mark.parametrize("content", [b"\0\1\2", b"| C |" * 300_000, b""])
def test_what_is_no_text_is_refused(chart, content):
    with pytest.raises(PhrasingError):
        chart(content)


def test_a_file_that_is_not_there(tmp_path):
    with pytest.raises(PhrasingError, match="no such file"):
        read_chart(tmp_path / "none.chart")


@pytest.mark.parametrize("path", sorted(EXAMPLES.glob("*.chart")), ids=lambda p: p.stem)
def test_the_examples_are_read_without_warning(path):
    song = read(path)
    assert song.title
    assert song.keys
    assert song.chords
    assert not song.reading.warnings


def test_a_repeat_without_an_end_was_not_repeated_and_nothing_said(chart):
    song = chart("tempo: 120\n|: C | F | G |: C | F :|")
    assert len(song.bars) == 7
    assert song.reading.warnings == (
        "The repeat that begins in bar 1 has no end (:|); it is played once.",
    )


@pytest.mark.parametrize("text", ["ballad", "Bossa nova", "shuffle"])
def test_a_style_is_kept_in_the_authors_words(chart, text):
    assert chart(f"style: {text}\n| C |").style_words == text


def test_an_unknown_style_is_refused(chart):
    with pytest.raises(PhrasingError, match="line 1: the style “polka” is not known"):
        chart("style: polka\n| C |")


def test_style_and_swing_change_between_lines_and_the_later_one_counts(chart):
    song = chart("style: bossa\n| C |\nswing: 1.5\n| F |\nstyle: shuffle\n| C |")
    assert song.all_manners == (
        Manner(0, "bossa"),
        Manner(3840, "", 1.5),
        Manner(7680, "shuffle", 1.5),
    )
    assert chart("swing: 2\nstyle: bossa\n| C |").all_manners == (Manner(0, "bossa"),)


def test_a_repeat_brings_back_the_style_of_its_bars(chart):
    song = chart("|: C |\nstyle: bossa\n| F :|")
    assert [m.words for m in song.all_manners] == ["", "bossa", "", "bossa"]


def order(song: Melody) -> list[int]:
    return [bar.number for bar in song.bars]


@pytest.mark.parametrize(
    ("text", "played"),
    [
        ("| C | F Fine | G | D.C. al Fine", [1, 2, 3, 1, 2]),
        ("| C | F Fine | G D.C. al Fine |", [1, 2, 3, 1, 2]),
        ("| C | Segno F | G To Coda | A7 | D.S. al Coda\nCoda:\n| C6 |", [1, 2, 3, 4, 2, 3, 5]),
        ("| C | 𝄋 F | G to 𝄌 | A7 D.S. al 𝄌 |\n| 𝄌 C6 |", [1, 2, 3, 4, 2, 3, 5]),
        ("|: C :|\n| F |\nDC al Fine", [1, 1, 2, 1, 2]),
        ("|: C |: D :| E :|", [1, 2, 2, 3, 1, 2, 2, 3]),
    ],
)
def test_jumps_are_played(chart, text, played):
    assert order(chart(text)) == played


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("| C | F D.S. |", "has no Segno; it goes back to the beginning"),
        ("| C To Coda | F D.C. |", "leads to a coda that is not there; it goes on"),
        ("| C | F D.C. |", "goes back without Fine or Coda; it is played to the end"),
    ],
)
def test_jumps_to_nowhere_are_said(chart, text, said):
    assert any(said in text for text in chart(text).reading.warnings)


@pytest.mark.parametrize(
    "text",
    ["Dm7 | G7 | Cmaj7", "| Dm7 | G7 | Cmaj7", "Dm7 | G7 | Cmaj7 |", "A: Dm7 | G7 | Cmaj7"],
)
def test_outer_bar_lines_may_be_left_out(chart, text):
    song = chart(text)
    assert [(c.onset // 3840, c.text) for c in song.chords] == [
        (0, "Dm7"),
        (1, "G7"),
        (2, "Cmaj7"),
    ]
    assert len(song.bars) == 3


def test_repeats_in_a_row_without_outer_bar_lines(chart):
    assert order(chart("C | 1. F :| 2. G | C")) == [1, 2, 1, 3, 4]


@pytest.mark.parametrize("unit", [1, 2, 4, 8, 16])
def test_each_unit_of_a_meter(chart, unit):
    assert chart(f"meter: 3/{unit}\n| C |").bars[0].meter == Meter(3, unit)
