"""Every groove is what players mean by its name: time, bass, chords, how it is asked for."""

from collections import Counter
from itertools import pairwise

import numpy as np
import pytest

from phrasing.band import drums as kit
from phrasing.band import figures
from phrasing.band.band import accompany
from phrasing.band.drums import KIT
from phrasing.band.grooves import GROOVES, OWN, groove_of
from phrasing.band.notation import bar_of, figure
from phrasing.feel import Band, Bass, Comping, Drums, Feel
from phrasing.score.meters import TICKS
from phrasing.style import STYLE, chosen
from tests.band.charts import chart
from tests.band.tunes import CHARTS

STILL = Feel(
    band=Band(
        bass=Bass(timing=0.0),
        drums=Drums(timing=0.0, ride_timing=0.0, comping=0.0),
        comping=Comping(timing=0.0, roll=0.0),
    )
)
BEATS = (1, 2, 3, 4)


def part(backing, name):
    return next(part for part in backing.parts if part.name == name)


def played(name, feel=STILL, **options):
    return accompany(chart(CHARTS[name]), feel, count_in=0, ending="none", **options)


def bars(backing, name, key=None, unit=TICKS):
    """For each bar, where in it a player (or one drum) plays: beats from 1."""
    one = part(backing, name)
    onset = one.onset if key is None else one.onset[one.pitch == key]
    return [
        [
            round((tick - bar.onset) / unit + 1, 2)
            for tick in np.unique(onset).tolist()
            if bar.onset <= tick < bar.onset + bar.length
        ]
        for bar in backing.form.bars
    ]


def roots(backing):
    """For each note of the bass, its semitones above the root in force."""
    bass = part(backing, "Bass")
    chords = [backing.form.chord_at(int(tick)).chord for tick in bass.onset]
    return [(p - c.root) % 12 for p, c in zip(bass.pitch.tolist(), chords, strict=True)]


@pytest.mark.parametrize("groove", GROOVES, ids=lambda groove: groove.name)
def test_every_rhythm_of_a_row_can_be_read_and_played(groove):
    own = [groove.comments, groove.chords, *(layer.rhythm for layer in groove.layers)]
    own += [groove.bass] if not isinstance(groove.bass, str) else []
    for rhythm in own:
        for size in BEATS:
            for number in range(2):
                spots = [spot for _, spots in bar_of(rhythm, size, number) for spot in spots]
                assert all(spot.place < size for spot in spots)
    assert {spot.note for fill in groove.fills for spot in figure(fill)} <= KIT.keys()
    assert {layer.drum for layer in groove.layers} | {groove.comment_on} <= KIT.keys()
    assert all(hasattr(Drums(), layer.level) for layer in groove.layers)


@pytest.mark.parametrize("name", CHARTS)
def test_its_chart_asks_for_it(name):
    song = chart(CHARTS[name])
    assert groove_of(song, chosen(song).style).name == name


@pytest.mark.parametrize("name", STYLE)
def test_every_style_has_a_groove_of_its_own(name):
    assert OWN[name].style == name
    assert groove_of(chart("| C |"), STYLE[name]) is OWN[name]


@pytest.mark.parametrize(
    "text,name",
    [
        ("style: Medium bossa nova\n| C |", "bossa"),
        ("feel: latin\n| C |", "bossa"),
        ("style: two feel\n| C |", "two-feel"),
        ("style: swing\nmeter: 3/4\n| C |", "waltz"),
        ("style: slow blues\n| C |", "12/8"),
        ("meter: 12/8\ntempo: 180\n| C |", "shuffle"),
        ("swing: straight\n| C |", "even"),
        ("tempo: 60\n| C |", "ballad"),
        ("meter: 6/8\nstyle: swing\n| C |", "swing"),
    ],
)
def test_words_meter_and_tempo_decide(text, name):
    song = chart(text)
    assert groove_of(song, chosen(song).style).name == name


def test_another_style_than_the_words_ask_for_has_its_own_groove():
    song = chart(CHARTS["bossa"])
    assert groove_of(song, STYLE["swing"]).name == "swing"
    backing = accompany(song, STYLE["swing"].played(), style=STYLE["swing"])
    assert backing.groove == "swing in four"


@pytest.mark.parametrize("name", ["even", "bossa", "samba"])
def test_nothing_swings_where_eighths_are_even(name):
    backing = played(name)
    assert backing.ratio == 1.0
    for one in backing.parts:
        assert set((one.onset % (TICKS // 2)).tolist()) <= {0, TICKS // 4}, one.name


def test_a_shuffle_is_in_triplets_at_any_tempo():
    fast = accompany(chart(CHARTS["shuffle"].replace("126", "240")), STILL, count_in=0)
    assert fast.ratio == played("shuffle").ratio == 2.0


def test_a_bossa():
    backing = played("bossa")
    sticks = bars(backing, "Drums", kit.SIDE_STICK)
    assert sticks[0:8:2] == [[1, 2.5, 4]] * 4
    assert [bar[:2] for bar in sticks[1:6:2]] == [[2, 3.5]] * 3
    kicks = bars(backing, "Drums", kit.KICK)
    assert sum(bar[:4] == [1, 2.5, 3, 4.5] for bar in kicks) >= 14
    lines = Counter(tuple(bar) for bar in bars(backing, "Bass"))
    assert lines.most_common(1)[0][0] == (1, 2.5, 3, 4.5)
    assert Counter(roots(backing)).most_common(1)[0][0] == 0
    assert 0.2 < roots(backing).count(7) / len(roots(backing)) < 0.5


def test_a_samba_leans_on_three():
    backing = played("samba")
    drums = part(backing, "Drums")
    low = drums.level[drums.pitch == kit.LOW_TOM]
    assert all(3 in bar for bar in bars(backing, "Drums", kit.LOW_TOM)[:15])
    kick = drums.pitch == kit.KICK
    place = (drums.onset // TICKS) % 4
    assert drums.level[kick & (place == 2)].mean() > drums.level[kick & (place == 0)].mean() + 1
    assert len(low)


def test_even_eighths_have_a_bass_of_their_own():
    lines = Counter(tuple(bar) for bar in bars(played("even"), "Bass"))
    assert (1, 2, 3, 4) not in lines
    assert sum(n for bar, n in lines.items() if 2.5 in bar) > 5


def test_a_shuffle_has_every_eighth_on_the_ride_and_a_back_beat():
    backing = played("shuffle")
    rides = bars(backing, "Drums", kit.RIDE)
    assert sum(len(bar) == 8 for bar in rides) >= 8
    drums = part(backing, "Drums")
    for bar in bars(backing, "Drums", kit.SNARE)[:10]:
        assert {2, 4} <= set(bar)
    assert bars(backing, "Bass")[0][0] == 1
    assert drums.level[drums.pitch == kit.SNARE].max() > -6


def test_a_ballad_is_in_two_with_brushes():
    backing = played("ballad")
    assert part(backing, "Drums").kit == kit.BRUSH_KIT
    assert sum({1, 3} <= set(bar) for bar in bars(backing, "Bass")) >= 13
    lengths = Counter(np.rint(np.diff(part(backing, "Bass").onset) / TICKS).tolist())
    assert lengths.most_common(1)[0][0] == 2.0


def test_two_feel_is_in_halves_with_a_pickup_now_and_then():
    backing = played("two-feel")
    bass = part(backing, "Bass")
    held = (bass.release - bass.onset)[bass.onset % (4 * TICKS) == 0] / TICKS
    assert np.median(held) > 1.8
    lines = Counter(tuple(bar) for bar in bars(backing, "Bass"))
    assert lines.most_common(1)[0][0] == (1, 3)
    assert kit.RIDE not in part(backing, "Drums").pitch


def test_a_waltz_has_its_hi_hat_on_two():
    backing = played("waltz")
    assert bars(backing, "Drums", kit.PEDAL) == [[2]] * 16
    assert all(1 in bar for bar in bars(backing, "Drums", kit.KICK))


def test_a_slow_twelve_eight_is_in_triplets_with_a_back_beat():
    backing = played("12/8")
    dotted = 3 * TICKS // 2
    assert all(len(bar) == 12 for bar in bars(backing, "Drums", kit.CLOSED, dotted))
    assert all({2, 4} <= set(bar) for bar in bars(backing, "Drums", kit.SNARE, dotted))
    assert all(1 in bar for bar in bars(backing, "Bass", None, dotted))


@pytest.mark.parametrize("name", CHARTS)
def test_no_two_of_eight_choruses_are_alike(name):
    backing = played(name, Feel(), choruses=8)
    starts = [*backing.form.choruses, backing.form.end]
    for one in backing.parts:
        seen = set()
        for start, end in pairwise(starts):
            inside = (one.onset >= start - 200) & (one.onset < end - 200)
            grid = np.rint((one.onset[inside] - start) / (TICKS / 12)).astype(int)
            seen.add((tuple(grid.tolist()), tuple(one.pitch[inside].tolist())))
        assert len(seen) == 8, one.name


@pytest.mark.parametrize("name", CHARTS)
@pytest.mark.parametrize("comping", ["piano", "guitar"])
def test_the_chords_leave_15_to_40_percent_of_the_bars_empty(name, comping):
    empty = count = 0
    for seed in range(8):
        backing = played(name, choruses=2, comping=comping, seed=seed)
        found = bars(backing, comping.capitalize())
        empty += sum(not bar for bar in found)
        count += len(found)
    assert 0.15 <= empty / count <= 0.40


@pytest.mark.parametrize("name", CHARTS)
def test_choruses_build_by_several_db_and_grow_denser(name):
    first = last = 0
    for seed in range(4):
        backing = played(name, Feel(), choruses=4, seed=seed)
        starts = backing.form.choruses
        for one in backing.parts:
            early, late = one.onset < starts[1] - 200, one.onset >= starts[3] - 200
            grown = np.median(one.level[late]) - np.median(one.level[early])
            assert 3.0 <= grown <= 7.0, one.name
        for one in (part(backing, "Piano"), part(backing, "Drums")):
            struck = np.unique(np.rint(one.onset / (TICKS / 6)))
            first += int((struck < starts[1] * 6 / TICKS - 2).sum())
            last += int((struck >= starts[3] * 6 / TICKS - 2).sum())
    assert last > first


def test_a_stroke_of_a_triplet_meets_the_swung_and():
    """They flammed: at 2.5 : 1 the ride came 8 ms after the snare's triplet, at 66 bars 43."""
    for seed in range(6):
        backing = accompany(chart(CHARTS["swing"]), Feel(), count_in=0, seed=seed)
        drums = part(backing, "Drums")
        inside = drums.onset % TICKS
        assert not ((inside > 630) & (inside < 650)).any()


def test_a_style_that_changes_on_the_way_is_played_from_there_in_every_chorus():
    text = "tempo: 150\n| C7 | F7 | C7 | G7 |\nstyle: bossa\n| C7 | F7 | C7 | G7 |"
    backing = accompany(chart(text), STILL, choruses=2, count_in=0, ending="none")
    sticks = bars(backing, "Drums", kit.SIDE_STICK)
    assert [bool(bar) for bar in sticks] == ([False] * 4 + [True] * 4) * 2
    rides = bars(backing, "Drums", kit.RIDE)
    assert all(1 in bar for bar in rides[0:4] + rides[8:12])
    lines = bars(backing, "Bass")
    assert lines[4][:2] == [1, 2.5]


def test_a_drummer_does_not_change_from_sticks_to_brushes_in_the_middle():
    text = "tempo: 150\n| C7 | F7 | C7 | G7 |\nstyle: ballad\n| C7 | F7 | C7 | G7 |"
    drums = part(accompany(chart(text), STILL, count_in=0, ending="none"), "Drums")
    assert drums.kit == kit.JAZZ_KIT
    assert not set(drums.pitch.tolist()) & {kit.SWIRL, kit.SLAP}


@pytest.mark.parametrize(
    "name", ["RIDE", "TAPS", "BACK_BEATS", "SWING_COMMENTS", "CHORDS", "EIGHTHS"]
)
def test_a_rhythm_has_figures_for_groups_of_one_to_four_beats(name):
    """A meter of five is a group of three and one of two: a rhythm without either is silent."""
    assert set(getattr(figures, name)) == {1, 2, 3, 4}


@pytest.mark.parametrize("beats", [2, 3, 4])
def test_a_back_beat_is_on_two_and_on_four(beats):
    played = {place for text in figures.BACK_BEATS[beats] for place in text.split()}
    assert played == {"2", "4"} & {str(beat + 1) for beat in range(beats)}
