"""How a play-along begins and ends, and trading fours."""

import numpy as np
import pytest

from phrasing.band import drums as kit
from phrasing.band.band import accompany
from phrasing.band.ear import ear_of
from phrasing.band.edges import ENDINGS, INTROS
from phrasing.band.form import form_of
from phrasing.errors import PhrasingError
from phrasing.lesson.playalong import band_for, play_along
from phrasing.lesson.request import BandRequest
from phrasing.score.meters import TICKS
from tests.band.charts import chart
from tests.lesson.test_playalong import lesson

BAR = 4 * TICKS
TUNE = "tempo: 120\nkey: Bb\n| Bbmaj7 | Eb7 | Dm7 | G7 | Cm7 | F7 | Bb6 | % |"
OPEN = TUNE.replace("Bb6 | %", "Cm7 | F7")
MINOR = "tempo: 120\nkey: Cm\n| Cm7 | Fm7 | Dm7b5 | G7b9 |"


def chords(form, start, end):
    return [span.chord.text for span in form.spans if start <= span.onset < end]


def part(backing, name):
    return next(part for part in backing.parts if part.name == name)


def test_four_bars_turn_round_the_key():
    form = form_of(chart(TUNE), count_in=1, intro="four")
    assert (form.count_in, form.choruses) == (BAR, (5 * BAR,))
    assert chords(form, BAR, 5 * BAR) == ["B♭6", "G7", "Cm7", "F7"]
    assert [bar.number for bar in form.bars[:6]] == [0, 0, 0, 0, 0, 1]
    minor = form_of(chart(MINOR), count_in=0, intro="four")
    assert chords(minor, 0, 4 * BAR) == ["Cm7", "Aø7", "Dø7", "G7♭9"]


def test_the_last_four_bars_of_the_tune_lead_in():
    form = form_of(chart(OPEN), count_in=1, intro="last-four")
    assert form.choruses == (5 * BAR,)
    assert chords(form, BAR, 5 * BAR) == ["Cm7", "F7", "Cm7", "F7"]


def test_a_tune_of_two_bars_leads_in_with_both():
    form = form_of(chart("key: C\n| Dm7 | G7 |"), count_in=1, intro="last-four")
    assert form.choruses == (3 * BAR,)


@pytest.mark.parametrize("intro", INTROS)
def test_the_band_comes_in_after_the_count(intro):
    backing = accompany(chart(OPEN), count_in=1, intro=intro)
    for name in ("Bass", "Drums"):
        first = part(backing, name).onset.min()
        assert BAR - 40 <= first < BAR + TICKS // 2
    assert part(backing, "Count-in").onset.max() < BAR


def test_a_pickup_has_its_place_in_the_introduction():
    piece = lesson("G4:1 A4:1 C5:2 D5:2 E5:4 C5:8", pickup=2)
    backing = band_for(piece, BandRequest(count_in=0, intro="four"))
    assert backing.form.count_in == 0
    tune = part(play_along(piece, backing, "plain"), "Melody")
    assert 3 * BAR <= tune.onset[0] < backing.form.choruses[0] == 4 * BAR


def test_a_tag_keeps_away_from_home_twice():
    form = form_of(chart(TUNE), count_in=0, ending="tag")
    tagged = ["Dm7", "G7", "Cm7", "F7"] * 2
    assert chords(form, 6 * BAR, 10 * BAR) == tagged
    assert form.final == 10 * BAR
    assert form.spans[-1].chord.text == "B♭6"
    assert [bar.number for bar in form.bars[5:11]] == [6, 7, 8, 9, 10, 11]
    bass = part(accompany(chart(TUNE), count_in=0, ending="tag"), "Bass")
    assert bass.pitch[-1] % 12 == 10


WORDS = "C5:2 E5:2 D5:2 C5:2 A4:8 D5:1 E5:1 F5:2 E5:2 D5:2 B4:2 D5:2 G4:4 C5:8"
CHANGES = ("Cmaj7", "Am7", "Dm7", "G7", "C6")


def test_in_a_tag_the_melody_says_its_last_bars_again_with_their_chords():
    """It had come home while the band was still turning round."""
    piece = lesson(WORDS, CHANGES)
    backing = band_for(piece, BandRequest(count_in=0, ending="tag", choruses=2))
    form, tune = backing.form, part(play_along(piece, backing, "plain"), "Melody")
    start = form.choruses[1]
    assert form.final == start + 8 * BAR
    assert chords(form, start + 2 * BAR, form.final) == ["Dm7", "G7"] * 3
    assert form.spans[-1].chord.text == "C6"
    heads = len(piece.melody)
    assert tune.pitch[: heads + 5].tolist() == [*piece.melody.pitch, *piece.melody.pitch[:5]]
    said = piece.melody.pitch[5:-1].tolist()
    assert tune.pitch[heads + 5 :].tolist() == [*said * 3, piece.melody.pitch[-1]]
    assert tune.onset[-1] == pytest.approx(form.final, abs=100)
    again = tune.onset[heads + 5 : -1].reshape(3, -1)
    assert np.diff(again, axis=0).ravel().tolist() == pytest.approx([2 * BAR] * 2 * len(said))


def test_a_note_held_over_the_bar_line_makes_room_where_a_tag_begins_again():
    words = WORDS.replace("G4:4 C5:8", "G4:2 B4:1 C5:9")
    piece = lesson(words, CHANGES)
    backing = band_for(piece, BandRequest(count_in=0, ending="tag"))
    tune = part(play_along(piece, backing, "plain"), "Melody")
    held = np.flatnonzero(tune.pitch == 72)[-3:]
    ends = tune.release[held[:2]]
    assert (ends <= tune.onset[held[:2] + 1] + 100).all()
    assert tune.release[-1] - tune.onset[-1] > 2 * (tune.release - tune.onset)[held[0]]


def test_the_band_hears_the_melody_in_a_tag_too():
    piece = lesson(WORDS, CHANGES)
    form = form_of(piece.melody, count_in=0, ending="tag")
    ear = ear_of(piece.melody, piece.marking, form)
    assert ear.onset.max() == form.final
    assert (np.diff(ear.onset) > 0).all()
    assert (ear.onset[1:] >= ear.end[:-1] - TICKS // 5).all()


def test_a_ritard_slows_down_from_beat_to_beat():
    form = form_of(chart(TUNE), count_in=0, ending="ritard", slowest=0.7)
    assert form.final == 6 * BAR
    tempos = [float(form.tempos.at(tick)) for tick in range(0, form.final + 1, TICKS)]
    assert tempos[:17] == [120.0] * 17
    assert (np.diff(tempos[16:]) < 0).all()
    assert tempos[-1] == pytest.approx(84.0)


def test_a_short_stop_is_struck_and_over():
    backing = accompany(chart(TUNE), count_in=0, ending="stop")
    final = backing.form.final
    for one in backing.parts:
        assert one.onset.max() >= final - 20
        assert one.release.max() <= final + TICKS
    assert kit.CRASH not in part(backing, "Drums").pitch
    seconds = backing.form.tempos.seconds
    assert seconds(backing.form.end) - seconds(final) >= 1.0


def test_every_ending_ends_at_home():
    for ending in ENDINGS[:-1]:
        backing = accompany(chart(OPEN), count_in=0, ending=ending, seed=4)
        assert backing.form.spans[-1].chord.text == "B♭maj7"
        assert part(backing, "Bass").pitch[-1] % 12 == 10


def alone(backing, solos):
    """Whether the drums play alone in these stretches, and do play."""
    for start, end in solos:
        for name in ("Bass", "Piano"):
            one = part(backing, name)
            inside = (one.onset >= start - 20) & (one.onset < end - TICKS)
            assert not inside.any(), name
            assert one.release[one.onset < start - 20].max(initial=0) <= start + TICKS // 4
        drums = part(backing, "Drums")
        inside = (drums.onset >= start) & (drums.onset < end) & (drums.level > -8)
        assert inside.sum() >= 3 * (end - start) // BAR
    return True


def test_fours_are_traded_in_the_choruses_in_the_middle():
    backing = accompany(chart(TUNE), count_in=0, choruses=3, trade=4)
    assert backing.form.solos == ((12 * BAR, 16 * BAR),)
    assert backing.form.heads == (0, 2)
    assert alone(backing, backing.form.solos)


def test_over_twelve_bars_the_fours_go_on_through_the_choruses():
    blues = "tempo: 150\nkey: F\n| F7 | Bb7 | F7 | % | Bb7 | % | F7 | D7 | Gm7 | C7 | F7 | C7 |"
    backing = accompany(chart(blues), count_in=0, choruses=4, trade=4)
    starts = [start // BAR for start, _ in backing.form.solos]
    assert starts == [16, 24, 32]
    assert alone(backing, backing.form.solos)


def test_no_two_answers_are_alike():
    backing = accompany(chart(TUNE), count_in=0, choruses=6, trade=4)
    drums = part(backing, "Drums")
    said = set()
    for start, end in backing.form.solos:
        inside = (drums.onset >= start) & (drums.onset < end) & (drums.pitch != kit.PEDAL)
        grid = np.rint((drums.onset[inside] - start) / (TICKS / 12)).astype(int)
        said.add((tuple(grid.tolist()), tuple(drums.pitch[inside].tolist())))
    assert len(said) == len(backing.form.solos) == 4


def test_the_melody_leaves_traded_choruses_to_the_player():
    piece = lesson()
    backing = band_for(piece, BandRequest(choruses=3, count_in=0, trade=1, ending="none"))
    tune = part(play_along(piece, backing), "Melody")
    start, end = backing.form.choruses[1:3]
    assert len(tune.onset) == 2 * len(piece.melody)
    assert not ((tune.onset >= start) & (tune.onset < end)).any()
    once = band_for(piece, BandRequest(choruses=1, trade=1))
    with pytest.raises(PhrasingError, match="two choruses"):
        play_along(piece, once)


@pytest.mark.parametrize(
    "asked,told",
    [
        (BandRequest(intro="eight"), "--intro eight: choose none, four or last-four"),
        (BandRequest(ending="fade"), "--ending fade: choose ring, ritard, tag, stop or none"),
        (BandRequest(trade=99), "Trading 99 bars: choose 1 to 16"),
    ],
)
def test_what_the_band_cannot_do_is_refused(asked, told):
    with pytest.raises(PhrasingError, match=told):
        band_for(lesson(), asked)
