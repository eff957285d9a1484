"""The whole band: parts in performed time, swing, small differences; nothing breaks."""

from dataclasses import replace

import numpy as np
import pytest

from phrasing.band.band import PLAYERS, accompany
from phrasing.band.drums import BRUSH_KIT, JAZZ_KIT, PEDAL, RIDE, SIDE_STICK
from phrasing.band.edges import ENDINGS, INTROS
from phrasing.band.strokes import clock_of
from phrasing.errors import PhrasingError
from phrasing.feel import Band, Bass, Comping, Drums, Feel
from phrasing.feelfile import load_feel
from phrasing.score.meters import TICKS
from tests.band.charts import busy_chart, chart, random_chart

SONG = "tempo: 150\nkey: C\n" + "| Dm7 | G7 | Cmaj7 | A7 | Dm7 G7 | Em7 A7 | Dm7 | G7 |"
STILL = Feel(
    band=Band(
        bass=Bass(timing=0.0),
        drums=Drums(timing=0.0, ride_timing=0.0),
        comping=Comping(timing=0.0, roll=0.0),
    )
)


def part(backing, name):
    return next(part for part in backing.parts if part.name == name)


def offs(part, pitches=None):
    """Where in their beat the notes between the beats fall."""
    keep = np.isin(part.pitch, pitches) if pitches else np.ones(len(part.pitch), bool)
    inside = part.onset[keep] % TICKS / TICKS
    return inside[(inside > 0.1) & (inside < 0.95)]


def test_names_programs_and_kits():
    backing = accompany(chart(SONG))
    named = {p.name: (p.program, p.kit) for p in backing.parts}
    assert named == {
        "Bass": (33, 1),
        "Drums": (0, JAZZ_KIT),
        "Piano": (1, 1),
        "Count-in": (0, JAZZ_KIT),
    }
    slow = accompany(chart(SONG.replace("150", "60")), comping="guitar", count_in=0)
    assert {p.name: (p.program, p.kit) for p in slow.parts} == {
        "Bass": (33, 1),
        "Drums": (0, BRUSH_KIT),
        "Guitar": (27, 1),
    }


def test_leaving_a_player_out_changes_nothing_in_the_others():
    everybody = {p.name: p for p in accompany(chart(SONG), seed=4).parts}
    for left_out in PLAYERS:
        few = accompany(chart(SONG), seed=4, parts=[p for p in PLAYERS if p != left_out])
        assert len(few.parts) == 3
        for one in few.parts:
            assert np.array_equal(one.onset, everybody[one.name].onset)
            assert np.array_equal(one.velocity, everybody[one.name].velocity)


def test_one_seed_one_performance():
    def columns(seed):
        parts = accompany(chart(SONG), seed=seed).parts
        return [(p.onset.tolist(), p.pitch.tolist(), p.velocity.tolist()) for p in parts]

    assert columns(3) == columns(3)
    assert columns(3)[:3] != columns(4)[:3]


@pytest.mark.parametrize("tempo,ratio", [(120, 2.5), (200, 2.0), (250, 1.4), (300, 1.0)])
def test_all_parts_swing_by_the_rides_ratio(tempo, ratio):
    backing = accompany(chart(SONG.replace("150", str(tempo))), STILL, choruses=3)
    assert backing.ratio == pytest.approx(ratio, abs=0.001)
    off = ratio / (1 + ratio)
    assert offs(part(backing, "Drums"), [RIDE]) == pytest.approx(off, abs=0.001)
    for name in ("Bass", "Piano"):
        between = offs(part(backing, name))
        thirds = (abs(between - 1 / 3) < 0.001) | (abs(between - 2 / 3) < 0.001)
        assert between[~thirds] == pytest.approx(off, abs=0.001)


def test_a_ratio_that_the_chart_asks_for():
    assert accompany(chart("swing: 1.5\n" + SONG)).ratio == 1.5
    assert accompany(chart("swing: straight\n" + SONG)).ratio == 1.0
    with pytest.raises(PhrasingError, match="outside 1"):
        accompany(chart("swing: 9\n" + SONG))


def test_a_melody_with_even_eighths_has_an_even_band():
    """Its own ratio is for the melody; that its eighths are even holds for all."""
    tune = replace(
        chart(SONG), onset=np.array([0]), length=np.array([960]), pitch=np.array([72])
    )
    assert accompany(replace(tune, swing=1.0)).ratio == 1.0
    assert accompany(replace(tune, swing=1.5)).ratio == accompany(tune).ratio


def test_compound_meters_are_thirds_already():
    backing = accompany(chart("tempo: 150\nmeter: 12/8\n" + "| C7 | F7 | C7 | G7 |"), STILL)
    ride = part(backing, "Drums")
    onset = ride.onset[ride.pitch == RIDE]
    assert set((onset % (TICKS // 2)).tolist()) == {0}


def test_small_differences_are_small():
    still = accompany(chart(SONG), STILL, seed=2)
    human = accompany(chart(SONG), seed=2)
    for a, b in zip(still.parts, human.parts, strict=True):
        seconds = lambda ticks, form=still.form: form.tempos.seconds(np.sort(ticks))  # noqa: E731
        off = np.abs(seconds(a.onset) - seconds(b.onset)) * 1000
        assert off.max() <= (14.0 if a.name == "Piano" else 8.0), a.name
        assert (off.max() == 0) == (a.name == "Count-in"), a.name
    rides = [np.sort(p.onset[p.pitch == RIDE]) for p in (still.parts[1], human.parts[1])]
    off = np.abs(np.subtract(*(still.form.tempos.seconds(ticks) for ticks in rides))) * 1000
    assert off.max() <= 4.0


def test_the_notes_of_a_piano_chord_stay_together():
    backing = accompany(chart(SONG), seed=2)
    piano = part(backing, "Piano")
    seconds = backing.form.tempos.seconds(piano.onset)
    groups = np.split(seconds, np.flatnonzero(np.diff(seconds) > 0.05) + 1)
    assert max(np.ptp(group) for group in groups) <= 0.0075
    assert all(len(group) >= 3 for group in groups)


def test_clicks_on_all_beats_or_on_two_and_four():
    everything = part(accompany(chart(SONG), count_in=2), "Count-in")
    assert (everything.onset / TICKS).tolist() == [0, 1, 2, 3, 4, 5, 6, 7]
    two_four = part(accompany(chart(SONG), count_in=1, clicks="2,4"), "Count-in")
    assert (two_four.onset / TICKS).tolist() == [1, 3]
    assert set(everything.pitch.tolist()) == {SIDE_STICK}
    waltz = part(accompany(chart("meter: 3/4\n" + SONG), count_in=1, clicks="2,4"), "Count-in")
    assert len(waltz.onset) == 3


def test_the_count_in_sits_in_the_mix_where_the_drums_do():
    backing = accompany(chart(SONG))
    click, drums = part(backing, "Count-in"), part(backing, "Drums")
    assert (click.gain, click.kit) == (drums.gain, drums.kit)


def test_the_band_waits_for_the_count_in():
    backing = accompany(chart(SONG), count_in=2)
    for name in ("Bass", "Drums", "Piano"):
        assert part(backing, name).onset.min() >= 8 * TICKS - 40


def test_a_performance_of_the_band():
    backing = accompany(chart("title: Kettle\n" + SONG), choruses=2)
    performance = backing.performance("Kettle")
    assert performance.title == "Kettle"
    assert performance.end == backing.form.end
    assert performance.bars == backing.form.bars
    assert performance.swing == (backing.ratio,)


def test_a_feel_file_can_change_the_band(tmp_path):
    path = tmp_path / "feel.toml"
    path.write_text("[band.bass]\nlow = 31\nplain = 1.0\n[band.drums]\nbrushes_below = 200\n")
    feel = load_feel(path)
    backing = accompany(chart(SONG), feel, choruses=3)
    assert part(backing, "Bass").pitch.min() >= 31
    assert part(backing, "Drums").kit == BRUSH_KIT


@pytest.mark.parametrize(
    "text,told",
    [
        ("[band.bass]\nlow = 60", "band.bass.low is 60"),
        ("[band.bass]\nintervals = []", "band.bass.intervals"),
        ("[band.bass]\nabove = 0.9", "shares of all approaches"),
        ("[band.comping]\npiano_low = 60", "band.comping.piano_low is 60"),
        ("[band.drums]\ncomping = 2", "band.drums.comping is 2"),
        ("[band.drums]\ntiming = 1", "band.drums.timing is 1"),
        ("[band]\nrign = 1", "band.rign"),
    ],
)
def test_a_band_that_cannot_play_is_refused(tmp_path, text, told):
    path = tmp_path / "feel.toml"
    path.write_text(text)
    with pytest.raises(PhrasingError, match=told):
        load_feel(path)


@pytest.mark.parametrize("tempo", [10, 500])
def test_tempos_that_nobody_plays_are_refused(tempo):
    with pytest.raises(PhrasingError, match="outside"):
        accompany(chart(f"tempo: {tempo}\n| C |"))


def test_no_chord_at_all_leaves_the_drums():
    backing = accompany(chart("| N.C. | % | % | % |"))
    assert len(part(backing, "Bass").onset) == 0
    assert len(part(backing, "Piano").onset) == 0
    assert PEDAL in part(backing, "Drums").pitch


def check(backing, seed):
    """Every bar filled, nothing past the end, all columns sound."""
    form = backing.form
    for p in backing.parts:
        if len(p.onset):
            assert p.onset.min() >= 0, seed
            assert p.release.max() <= form.end, (seed, p.name)
        assert (p.release > p.onset).all(), (seed, p.name)
        assert (np.diff(p.onset) >= 0).all(), (seed, p.name)
        assert ((p.velocity >= 1) & (p.velocity <= 127)).all(), (seed, p.name)
    drums, bass = part(backing, "Drums"), part(backing, "Bass")
    early = 2 * TICKS // 10
    for bar in form.bars:
        if form.count_in <= bar.onset <= (form.end if form.final is None else form.final):
            end = bar.onset + bar.length
            inside = (drums.onset >= bar.onset - early) & (drums.onset < end)
            assert inside.any(), (seed, bar)
    for span in form.spans:
        if span.chord.sounds and not form.is_solo(span.onset):
            inside = (bass.onset >= span.onset - early) & (bass.onset < span.end)
            assert inside.any(), (seed, span)


@pytest.mark.long
@pytest.mark.parametrize("hundred", range(5))
def test_500_random_charts_are_played(hundred):
    for seed in range(100 * hundred, 100 * hundred + 100):
        song = chart(random_chart(seed) if seed % 2 else busy_chart(seed))
        backing = accompany(
            song,
            choruses=1 + seed % 2,
            count_in=seed % 3,
            ending=ENDINGS[seed % 5],
            intro=INTROS[seed % 3],
            trade=(0, 0, 2, 4)[seed % 4],
            comping="piano" if seed % 4 < 2 else "guitar",
            head_in_two=seed % 7 == 0,
            clicks="all" if seed % 3 else "2,4",
            seed=seed,
        )
        check(backing, seed)


def test_the_ride_follows_a_chart_whose_swing_changes_on_the_way():
    backing = accompany(
        chart("swing: 2\n| C7 | F7 |\nstyle: bossa\n| C7 | F7 |"), choruses=2, count_in=1
    )
    clock = clock_of(backing.form, backing.feel)
    bars = [bar.onset for bar in backing.form.bars][1:9]
    late = clock.place([onset + TICKS // 2 for onset in bars]) - bars
    assert np.rint(late).tolist() == [640, 640, 480, 480] * 2
