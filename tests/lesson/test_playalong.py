"""The melody over its band."""

from dataclasses import replace

import numpy as np
import pytest

from phrasing.errors import PhrasingError
from phrasing.feel import Feel
from phrasing.feelfile import swing_from_text
from phrasing.lesson.lesson import Lesson, open_piece
from phrasing.lesson.playalong import band_for, play_along
from phrasing.lesson.request import BandRequest, Request
from phrasing.marking.precedence import mark
from phrasing.score.instruments import DEFAULT
from phrasing.score.melody import ChordSymbol
from tests.lines import melody

NONE = np.zeros(0, dtype=np.int64)
BARS = "C5:1 D5:1 E5:1 F5:1 G5:2 E5:2 D5:1 E5:1 D5:1 C5:1 A4:4"


def lesson(words=BARS, chords=("Cmaj7", "G7"), tempo=150.0, feel=Feel(), pickup=0, tmp=None):
    tune = melody(words, tempo=tempo, pickup=pickup)
    start = pickup * 480
    symbols = tuple(ChordSymbol(start + 3840 * i, text) for i, text in enumerate(chords))
    tune = replace(tune, chords=symbols, title="Lamp Oil")
    return Lesson(tmp, tune, mark(tune), feel, DEFAULT, (None,) * len(tune))


def named(performance):
    return {part.name: part for part in performance.parts}


def test_the_melody_comes_in_every_chorus_and_on_the_beat_it_is_late():
    piece = lesson()
    backing = band_for(piece, BandRequest(choruses=2, count_in=1))
    tune = named(play_along(piece, backing))["Melody"]
    count = len(piece.melody)
    assert len(tune.onset) == 2 * count
    first, second = backing.form.choruses
    late = piece.tempo / 60 * 960 * np.interp(piece.tempo, [140, 180], [0.025, 0.021])
    assert tune.onset[0] - first == pytest.approx(late, abs=1)
    assert tune.onset[count] - second == pytest.approx(late, abs=1)


def test_off_beats_of_the_melody_meet_the_ride():
    piece = lesson(tempo=150.0)
    backing = band_for(piece, BandRequest(count_in=0, ending="none"))
    tune = named(play_along(piece, backing))["Melody"]
    off_beats = tune.onset[np.isin(tune.source, [1, 3])]
    assert off_beats.tolist() == [round(960 * 2.5 / 3.5), round(960 + 960 * 2.5 / 3.5)]


def test_a_pickup_falls_into_the_count_in():
    piece = lesson("G4:1 A4:1 " + BARS, pickup=2)
    backing = band_for(piece, BandRequest(count_in=1))
    tune = named(play_along(piece, backing))["Melody"]
    assert 0 < tune.onset[0] < backing.form.count_in
    assert tune.onset[2] >= backing.form.count_in


def test_the_same_band_plays_under_plain_and_shaped():
    piece = lesson()
    backing = band_for(piece, BandRequest(seed=3))
    plain, shaped = (play_along(piece, backing, way) for way in ("plain", "shaped"))
    for name, part in named(plain).items():
        other = named(shaped)[name]
        assert part.onset.tolist() == other.onset.tolist()
        if name != "Melody":
            assert part.velocity.tolist() == other.velocity.tolist()
    assert named(plain)["Melody"].velocity.tolist() != named(shaped)["Melody"].velocity.tolist()


def test_the_melody_may_be_left_to_the_student():
    piece = lesson()
    backing = band_for(piece, BandRequest())
    assert "Melody" not in named(play_along(piece, backing, "off"))


def test_a_band_of_nobody_counted_in_and_was_silent():
    piece = lesson()
    nobody = band_for(piece, BandRequest(mute=("bass", "drums", "chords")))
    with pytest.raises(PhrasingError, match="Nobody is left"):
        play_along(piece, nobody, "off")
    assert "Melody" in named(play_along(piece, nobody, "plain"))


def test_a_chart_has_no_melody_to_play_on_top():
    piece = lesson()
    bare = replace(piece, melody=replace(piece.melody, onset=NONE, length=NONE, pitch=NONE))
    with pytest.raises(PhrasingError, match="no melody"):
        play_along(bare, band_for(bare, BandRequest()), "shaped")


def test_players_are_chosen_and_muted():
    piece = lesson()
    chosen = band_for(piece, BandRequest(parts=("bass", "drums"), mute=("drums",), count_in=0))
    assert [part.name for part in chosen.parts] == ["Bass"]


def test_a_ratio_that_is_asked_for_is_the_rides():
    feel = replace(Feel(), swing=swing_from_text("1.5"))
    assert band_for(lesson(feel=feel), BandRequest()).ratio == pytest.approx(1.5)


@pytest.mark.parametrize(
    "asked,word",
    [
        (BandRequest(parts=("banjo",)), "banjo"),
        (BandRequest(comping="organ"), "organ"),
        (BandRequest(clicks="3"), "3"),
        (BandRequest(choruses=0), "choruses"),
        (BandRequest(count_in=-1), "count-in"),
    ],
)
def test_a_band_that_cannot_play_so_says_why(asked, word):
    with pytest.raises(PhrasingError, match=word):
        band_for(lesson(), asked)


def test_without_chords_only_the_drums_can_play():
    piece = lesson(chords=())
    with pytest.raises(PhrasingError, match="no chord symbols"):
        band_for(piece, BandRequest())
    assert band_for(piece, BandRequest(parts=("drums",))).parts


@pytest.mark.parametrize(
    "style,groove",
    [
        (None, "a bossa"),
        ("even", "a bossa"),
        ("samba", "like a samba"),
        ("swing", "swing in four"),
        ("two-feel", "in two"),
    ],
)
def test_a_style_that_is_asked_for_decides_what_the_band_plays(tmp_path, style, groove):
    path = tmp_path / "a.chart"
    path.write_text("tempo: 140\nstyle: bossa\n| Cmaj7 | Dm7 G7 |\n")
    piece = open_piece(path, Request(style=style))
    assert band_for(piece, BandRequest()).groove == groove


def test_over_later_choruses_the_band_drowned_the_melody():
    piece = lesson()
    backing = band_for(piece, BandRequest(choruses=3, count_in=0, ending="none"))
    tune = named(play_along(piece, backing, "plain"))["Melody"]
    count = len(piece.melody)
    by_chorus = [float(tune.level[k * count]) for k in range(3)]
    assert by_chorus == [0.0, 1.5, 3.0]
    assert tune.velocity[0] < tune.velocity[count] < tune.velocity[2 * count]
