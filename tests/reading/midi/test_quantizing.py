"""Rhythms written, played and read again. Rhythms are in quarter notes."""

from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from phrasing.reading.midi.quantizing import Quantized, quantize, written_lengths
from phrasing.score.meters import TICKS, Meter, TempoMap, bars_of_meters

Q, E, S = 960, 480, 240


def lengths(*notes: tuple[float, float], exact: bool = False) -> list[int]:
    """Written lengths of (room to the next, held) notes; the first starts on beat one."""
    room, held = np.array(notes, dtype=np.float64).T
    onset = np.concatenate([[0], np.cumsum(room[:-1])]).astype(np.int64)
    return written_lengths(onset, held, exact, 1.0).tolist()


LEGATO = [(E, 460.0)] * 12
"""Eighths that show a player who holds notes nearly to the next."""


@pytest.mark.parametrize("gate", [0.58, 0.7, 0.8, 0.9, 1.0])
def test_a_quarter_played_short_is_still_a_quarter(gate: float):
    assert lengths(*LEGATO, (Q, gate * Q), *LEGATO)[12] == Q


@pytest.mark.parametrize("held", [380, 430, 470])
def test_an_eighth_and_a_rest(held: float):
    assert lengths(*LEGATO, (Q, held), *LEGATO)[12] == E


def test_a_staccato_eighth_and_a_rest_are_an_eighth_and_a_rest():
    assert lengths(*LEGATO, (Q, 200), *LEGATO)[12] == E


@pytest.mark.parametrize(("room", "held", "written"), [
    (2 * Q, 900, Q),
    (2 * Q, 1700, 2 * Q),
    (3 * Q, 1850, 2 * Q),
    (3 * Q, 2700, 3 * Q),
    (4 * Q, 900, Q),
    (4 * Q, 3600, 4 * Q),
    (1.5 * Q, 930, Q),
    (1.5 * Q, 1300, 1.5 * Q),
    (1.5 * Q, 450, E),
    (8 * Q, 3700, 4 * Q),
])  # fmt: skip
def test_long_notes_and_rests(room: float, held: float, written: int):
    assert lengths(*LEGATO, (room, held), *LEGATO)[12] == written


def test_eighths_played_short_are_eighths():
    assert lengths(*[(E, 200.0)] * 12, (Q, 400), *[(E, 200.0)] * 3)[:12] == [E] * 12


def test_the_player_who_plays_all_short_means_quarters():
    short = [(E, 260.0)] * 12
    assert lengths(*short, (Q, 440), *short)[12] == Q


def test_sixteenths_go_up_to_the_next_note():
    assert lengths(*LEGATO, *[(S, 130.0)] * 4, *LEGATO)[12:16] == [S] * 4


def test_a_sixteenth_of_silence_after_a_played_note_is_no_rest():
    found = lengths(*LEGATO, (S, 230.0), (E, 222.0), (S, 230.0), *LEGATO)
    assert found[12:15] == [S, E, S]


def test_a_note_off_the_grid_of_eighths_may_end_on_sixteenths():
    found = lengths(*LEGATO, (S, 230.0), (3 * S, 230.0), *LEGATO)
    assert found[12:14] == [S, S]


def test_a_triplet_note_before_a_rest():
    third = 320
    found = lengths(*LEGATO, (third, 300.0), (2 * third, 300.0), *LEGATO)
    assert found[12:14] == [third, third]


def test_exact_lengths_are_taken_at_their_word():
    notes = [(Q, Q), (Q, E), (E, E), (E, E), (Q, S), (2 * Q, 1.5 * Q), (320, 320), (640, 320)]
    assert lengths(*notes, (Q, Q), exact=True) == [Q, E, E, E, S, 1440, 320, 320, Q]


def test_an_exact_dotted_sixteenth_is_taken_at_its_word():
    """Its end lies on a 64th, which no coarser grid has."""
    dotted = 3 * TICKS // 8
    notes = [(E, E), (E, dotted), (Q, Q), (E, dotted), (E, E), (Q, dotted), (Q, Q)]
    assert lengths(*notes, (Q, Q), exact=True) == [*(round(held) for _, held in notes), Q]


@pytest.mark.parametrize("gate", [0.5, 0.7, 0.85, 0.9, 0.95])
def test_a_program_that_shortens_all_notes_by_a_factor_is_undone(gate: float):
    notes = [(E, E), (E, E), (Q, Q), (Q, E), (2 * Q, Q), (E, E), (E, E), (Q, Q), (Q, Q)]
    found = lengths(*[(room, held * gate) for room, held in notes], exact=True)
    assert found == [round(held) for _, held in notes]


@pytest.mark.parametrize("gap", [1, 8, 30])
def test_a_program_that_ends_all_notes_some_ticks_early_is_undone(gap: float):
    notes = [(E, E), (E, E), (Q, Q), (Q, E), (2 * Q, Q), (E, E), (E, E), (Q, Q), (Q, Q)]
    found = lengths(*[(room, held - gap) for room, held in notes], exact=True)
    assert found == [round(held) for _, held in notes]


@pytest.mark.parametrize("gap", [0, 8])
def test_a_short_rest_is_seen_behind_notes_that_all_end_early(gap: float):
    notes = [(E, E), (S, S), (E, S), (S, S), (E, E), (Q, Q), (Q, Q)]
    found = lengths(*[(room, held - gap) for room, held in notes], exact=True)
    assert found == [E, S, S, S, E, Q, Q]


def test_an_exact_eighth_at_half_length_is_a_staccato_eighth():
    notes = [(E, E), (E, S), (E, E), (E, S), (Q, Q), (Q, Q)]
    assert lengths(*notes, exact=True) == [E, E, E, E, Q, Q]


def test_an_exact_sixteenth_before_a_rest_on_the_beat_is_a_sixteenth():
    notes = [(E, E), (S, S), (E, S), (S, S), (E, E), (Q, Q), (Q, Q)]
    assert lengths(*notes, exact=True) == [E, S, S, S, E, Q, Q]


def test_human_gates_in_an_exact_file_are_read_as_played():
    rng = np.random.default_rng(1)
    notes = [(E, E * g) for g in rng.uniform(0.7, 0.98, 30)]
    assert lengths(*notes, (Q, 700), *notes, exact=True)[:61] == [E] * 30 + [Q] + [E] * 30


def test_no_length_passes_the_next_note():
    assert lengths((E, 5000), (Q, 5000), (Q, 100))[:2] == [E, Q]


Rhythm = Sequence[tuple[float, float]]
"""(onset, length) of each note."""


def repeated(beats: Sequence[Rhythm], times: int, length: int = 1) -> list[tuple[float, float]]:
    """Beats (of ``length`` quarters) one after the other, all of it several times."""
    return [
        (i * length + onset, held)
        for i, beat in enumerate(list(beats) * times)
        for onset, held in beat
    ]


def read(
    rhythm: Rhythm,
    *,
    noise: float = 0.0,
    late: float = 0.0,
    gate: float = 1.0,
    tempo: float = 120.0,
    meter: str = "4/4",
    pickup: float = 0.0,
    seed: int = 1,
) -> Quantized:
    """Quantize a rhythm played with noise (seconds), late, and with this gate."""
    rng = np.random.default_rng(seed)
    onset, length = np.array(rhythm, dtype=np.float64).T * TICKS
    speed = tempo * TICKS / 60
    played = np.maximum(onset + (late + rng.normal(0, noise, len(onset))) * speed, 0)
    played = np.maximum.accumulate(played + np.arange(len(onset)) * 1e-6)
    release = played + np.maximum(length * gate, 20)
    release[:-1] = np.minimum(release[:-1], played[1:])
    beats, unit = map(int, meter.split("/"))
    bars = bars_of_meters({0: Meter(beats, unit)}, int(played[-1]) + 1, round(pickup * TICKS))
    return quantize(played, release, bars, TempoMap((0,), (tempo,)))


def rows(found: Quantized) -> list[tuple[int, int]]:
    return list(zip(found.onset.tolist(), found.length.tolist(), strict=True))


def ticks(rhythm: Rhythm) -> list[tuple[int, int]]:
    return [(round(onset * TICKS), round(length * TICKS)) for onset, length in rhythm]


WHOLE = [(0, 1)]
PAIR = [(0, 0.5), (0.5, 0.5)]
TRIPLET = [(0, 1 / 3), (1 / 3, 1 / 3), (2 / 3, 1 / 3)]
SIXTEENTHS = [(i / 4, 0.25) for i in range(4)]
DOTTED = [(0, 0.75), (0.75, 0.25)]
GALLOP = [(0, 0.5), (0.5, 0.25), (0.75, 0.25)]
THIRTYSECONDS = [(0, 0.25), (0.25, 0.125), (0.375, 0.125), (0.5, 0.5)]
SEXTUPLET = [(i / 6, 1 / 6) for i in range(6)]
QUINTUPLET = [(i / 5, 0.2) for i in range(5)]
SEPTUPLET = [(i / 7, 1 / 7) for i in range(7)]
LONG_SHORT = [(0, 2 / 3), (2 / 3, 1 / 3)]


@pytest.mark.parametrize(
    "odd",
    [TRIPLET, SIXTEENTHS, DOTTED, GALLOP, THIRTYSECONDS, SEXTUPLET, QUINTUPLET, SEPTUPLET,
     LONG_SHORT],
)  # fmt: skip
def test_one_odd_beat_among_eighths_comes_back_exactly(odd: Rhythm):
    rhythm = repeated([PAIR, WHOLE, PAIR, odd, PAIR, PAIR, WHOLE, WHOLE], 1)
    found = read(rhythm)
    assert np.abs(np.array(rows(found)) - np.array(ticks(rhythm))).max() <= 1
    assert found.noise == 0


def test_what_fits_no_grid_stays_where_it_is_in_an_exact_file():
    eleven = [(i / 11, 1 / 11) for i in range(11)]
    rhythm = repeated([PAIR, WHOLE, eleven, WHOLE, *[PAIR] * 20], 1)
    found = read(rhythm)
    assert np.abs(found.onset - np.array(rhythm)[:, 0] * TICKS).max() < 1


def test_quarter_triplets_over_two_beats():
    two_beats = [(0, 2 / 3), (2 / 3, 2 / 3), (4 / 3, 2 / 3)]
    rhythm = repeated([two_beats, [(0, 0.5), (0.5, 0.5), (1, 1)]], 4, 2)
    assert rows(read(rhythm)) == ticks(rhythm)
    assert rows(read(rhythm, noise=0.008)) == ticks(rhythm)


def test_half_note_triplets_are_no_swing():
    bar = [(0, 4 / 3), (4 / 3, 4 / 3), (8 / 3, 4 / 3)]
    rhythm = repeated([bar, [(0, 4)]], 8, 4)
    found = read(rhythm)
    assert found.swing is None
    assert found.onset.tolist() == [on for on, _ in ticks(rhythm)]


def test_ties_over_beats_and_bars():
    rhythm = [(0, 1.5), (1.5, 1), (2.5, 3), (5.5, 0.5), (6, 2.5), (8.5, 3.5)]
    assert rows(read(rhythm)) == ticks(rhythm)


@pytest.mark.parametrize("noise", [0.005, 0.010])
@pytest.mark.parametrize("tempo", [72, 120, 160])
def test_loose_playing_comes_back_as_meant(noise: float, tempo: float):
    rhythm = repeated([PAIR, WHOLE, PAIR, PAIR, WHOLE, PAIR, TRIPLET, WHOLE], 4)
    found = read(rhythm, noise=noise, tempo=tempo, gate=0.9)
    assert rows(found)[:-1] == ticks(rhythm)[:-1]
    assert found.noise == pytest.approx(noise, rel=0.45)


def test_a_fast_player_is_no_less_exact_than_the_tempo_allows():
    rhythm = repeated([PAIR, WHOLE, PAIR, PAIR], 8)
    assert read(rhythm, noise=0.012, tempo=240).onset.tolist() == [o for o, _ in ticks(rhythm)]


def test_the_piece_teaches_its_own_rhythms():
    # alone, a beat as loose as this would be read as pairs or triplets as often as dotted
    rhythm = repeated([DOTTED], 64)
    found = read(rhythm, noise=0.020)
    assert (found.onset == [on for on, _ in ticks(rhythm)]).mean() > 0.98
    assert found.swing is None


def test_a_note_early_on_the_beat_is_not_taken_for_the_end_of_the_beat_before():
    rhythm = repeated([PAIR, PAIR, WHOLE, SIXTEENTHS], 8)
    onset = np.array([on for on, _ in rhythm]) * TICKS
    early = onset - 50 * ((onset % 3840 == 960) & (onset > 9000) & (onset < 20000))
    bars = bars_of_meters({}, int(onset[-1]) + 1)
    rng = np.random.default_rng(1)
    played = np.maximum(early + rng.normal(0, 15, len(early)), 0)
    found = quantize(played, played + 200, bars, TempoMap())
    assert found.onset.tolist() == onset.astype(int).tolist()


@pytest.mark.parametrize("late", [-0.03, 0.02, 0.04])
def test_a_late_take_is_moved_as_a_whole(late: float):
    rhythm = [(on + 1, held) for on, held in repeated([PAIR, WHOLE, PAIR, PAIR], 8)]
    found = read(rhythm, noise=0.006, late=late)
    assert found.late == pytest.approx(late, abs=0.005)
    assert rows(found)[:-1] == ticks(rhythm)[:-1]
    assert float(np.median(found.off)) == pytest.approx(late * 1920, abs=6)


@pytest.mark.parametrize("held", [2 / 3, 1.2])
@pytest.mark.parametrize("late", [-0.05, 0.05])
def test_lateness_does_not_stay_in_the_lengths_of_a_swung_take(late: float, held: float):
    """Lengths are straightened where the notes would lie if the take were on time."""
    pair, rest = [(0, 2 / 3), (2 / 3, 1 / 3)], []
    beats = [pair, pair, [(2 / 3, held)], rest, pair, [(0, held)], rest, pair]
    rhythm = [(on + 1, length) for on, length in repeated(beats, 8)]
    found = read(rhythm, noise=0.004, late=late)
    assert found.swing == pytest.approx(2.0, abs=0.05)
    assert rows(found) == rows(read(rhythm, noise=0.004))


def test_an_exact_file_is_never_late():
    assert read(repeated([PAIR, WHOLE], 16)).late == 0


def test_a_player_who_wanders_around_the_click_is_followed():
    for seed in range(5):
        rng = np.random.default_rng(seed)
        kinds = [SIXTEENTHS, PAIR, GALLOP, WHOLE, TRIPLET, PAIR]
        onset = np.array(
            [o for o, _ in repeated([kinds[i] for i in rng.integers(0, 6, 64)], 1)]
        )
        away = 0.050 * np.sin(onset / 8 + seed)
        played = np.maximum((onset + 2 * away) * TICKS + rng.normal(0, 8, len(onset)), 0)
        bars = bars_of_meters({}, int(played[-1]) + 1)
        found = quantize(played, played + 50, bars, TempoMap())
        wanted = np.rint(onset * TICKS).astype(int)
        assert np.isin(wanted, found.onset).mean() > 0.99
        assert np.abs(found.off).max() > 60


@pytest.mark.parametrize("meter", ["6/8", "9/8", "12/8", "3/8"])
def test_compound_meters(meter: str):
    beat = [(0, 0.5), (0.5, 0.5), (1, 0.5)]
    lilt = [(0, 0.75), (0.75, 0.25), (1, 0.5)]
    long_short = [(0, 1), (1, 0.5)]
    rhythm = [
        (i * 1.5 + onset, held)
        for i, one in enumerate([beat, long_short, lilt, beat, [(0, 1.5)], beat] * 4)
        for onset, held in one
    ]
    assert rows(read(rhythm, meter=meter)) == ticks(rhythm)
    loose = read(rhythm, meter=meter, noise=0.010, gate=0.9)
    assert loose.onset.tolist() == [on for on, _ in ticks(rhythm)]
    assert loose.swing is None


def test_a_duplet_in_a_compound_meter():
    rhythm = [(0, 0.5), (0.5, 0.5), (1, 0.5), (1.5, 0.75), (2.25, 0.75), (3, 1.5), (4.5, 1.5)]
    assert rows(read(rhythm, meter="6/8")) == ticks(rhythm)


@pytest.mark.parametrize("meter", ["5/8", "7/8", "5/4", "3/2", "2/2", "1/4"])
def test_other_meters(meter: str):
    rhythm = repeated([PAIR, WHOLE, PAIR, SIXTEENTHS, [(0, 1)]], 3)
    assert rows(read(rhythm, meter=meter)) == ticks(rhythm)


@pytest.mark.parametrize("pickup", [0.5, 1, 1.5, 3])
def test_pickups(pickup: float):
    rhythm = [(on + pickup, held) for on, held in repeated([PAIR, WHOLE, TRIPLET, PAIR], 4)]
    if pickup >= 1:
        rhythm = [(pickup - 1, 1), *rhythm]
    assert rows(read(rhythm, pickup=pickup)) == ticks(rhythm)
    assert rows(read(rhythm, pickup=pickup, noise=0.006))[:-1] == ticks(rhythm)[:-1]


def test_a_bar_that_is_cut_short():
    bars = bars_of_meters({0: Meter(4, 4), 3360: Meter(4, 4)}, 10_000)
    onset = np.array([0, 960, 1920, 2880, 3360, 3840, 4320, 5280, 5600, 5920, 6240.0])
    found = quantize(onset, onset + 300, bars, TempoMap())
    assert found.onset.tolist() == onset.astype(int).tolist()


def test_one_note():
    found = quantize(np.array([0.0]), np.array([960.0]), bars_of_meters({}, 960), TempoMap())
    assert rows(found) == [(0, 960)]


def test_a_glissando_of_many_notes_stays_in_order():
    rng = np.random.default_rng(4)
    onset = np.sort(rng.uniform(0, 960, 40))
    found = quantize(onset, onset + 10, bars_of_meters({}, 960), TempoMap())
    assert (np.diff(found.onset) > 0).all()
    assert len(found.onset) == found.kept.sum()


def test_grace_notes_have_no_place_of_their_own():
    rhythm = np.array(repeated([PAIR, WHOLE, WHOLE, PAIR], 8))
    onset = rhythm[:, 0] * TICKS + np.random.default_rng(6).normal(0, 12, len(rhythm))
    onset = np.maximum(onset, 0)
    small = onset[[8, 20, 33]] - 80
    together = np.sort(np.concatenate([onset, small]))
    found = quantize(together, together + 60, bars_of_meters({}, int(onset[-1])), TempoMap())
    assert together[~found.kept].tolist() == small.tolist()
    assert found.onset.tolist() == np.rint(rhythm[:, 0] * TICKS).astype(int).tolist()


def test_thirtyseconds_all_over_are_rhythm_and_not_grace_notes():
    snap = [(0, 0.375), (0.375, 0.125), (0.5, 0.375), (0.875, 0.125)]
    rhythm = repeated([snap, PAIR], 12)
    for seed in range(4):
        assert read(rhythm, noise=0.015, seed=seed).kept.all()


@pytest.mark.parametrize("noise", [0.0, 0.006])
def test_a_run_of_thirtyseconds_is_no_ornament(noise: float):
    run = [(i / 8, 0.125) for i in range(4)] + [(0.5, 0.5)]
    rhythm = repeated([PAIR, WHOLE, PAIR, WHOLE] * 4 + [run] + [PAIR, WHOLE] * 4, 1)
    found = read(rhythm, noise=noise)
    assert found.kept.all()
    assert found.onset.tolist() == [on for on, _ in ticks(rhythm)]


def test_tempo_changes_count_where_noise_is_in_seconds():
    rhythm = repeated([PAIR, SIXTEENTHS, PAIR, WHOLE], 16)
    onset = np.array([on for on, _ in rhythm]) * TICKS
    tempos = TempoMap((0, 30 * TICKS), (60.0, 180.0))
    noise = np.random.default_rng(8).normal(0, 0.012, len(onset))
    played = np.maximum.accumulate(np.maximum(onset + noise * tempos.at(onset) * 16, 0))
    found = quantize(played, played + 200, bars_of_meters({}, int(onset[-1]) + 1), tempos)
    assert found.noise == pytest.approx(0.012, abs=0.005)
    assert (found.onset == onset).mean() > 0.99


place = st.one_of(
    st.integers(0, 40).map(lambda n: n * 240.0),
    st.integers(0, 30).map(lambda n: n * 320.0),
    st.floats(0, 9600, width=32),
)


@pytest.mark.long
@settings(max_examples=200, deadline=None, derandomize=True)
@given(st.lists(place, min_size=1, max_size=40, unique=True), st.sampled_from([0.1, 1.0, 40.0]))
def test_whatever_is_played_onsets_ascend_and_notes_end_before_the_next(places, resolution):
    onset = np.sort(np.array(places))
    bars = bars_of_meters({}, int(onset[-1]) + 1)
    found = quantize(onset, onset + 50, bars, TempoMap(), resolution)
    assert found.kept.sum() == len(found.onset) == len(found.length) == len(found.off)
    assert found.onset[0] >= 0
    assert (np.diff(found.onset) > 0).all()
    assert (found.length > 0).all()
    assert (found.length[:-1] <= np.diff(found.onset)).all()


def test_a_file_with_lost_time_keeps_its_notes_in_order():
    # a damaged file: what follows the third note came 15.7 ticks late, so that all was exact
    # but late, and the notes before were odd
    later = 1935.7 + np.cumsum([0, *[960, 960, 480, 480, 960, 1920] * 12])
    onset = np.array([0, 960, 1920, 1926.57, *later])
    found = quantize(onset, onset + 50, bars_of_meters({}, int(onset[-1]) + 1), TempoMap(), 0.1)
    assert (np.diff(found.onset) > 0).all()
    assert found.noise == 0
    assert found.onset[-73:].tolist() == (later - 15.7).round().astype(int).tolist()


REST_AFTER_A_QUARTER = [(0.0, 1.0), (1.5, 0.5)]
SHORT_OF_THE_NEXT = [(0.0, 1.0), (1.5, 1.0)]


@pytest.mark.parametrize(
    ("rhythm", "length"), [(REST_AFTER_A_QUARTER, 2), (SHORT_OF_THE_NEXT, 4)]
)
def test_where_all_ends_lie_on_eighths_rests_are_meant(rhythm: Rhythm, length: int):
    """A quarter, an eighth rest and an off-beat note: no dotted quarter."""
    whole = repeated([rhythm], 4, length)
    assert rows(read(whole)) == ticks(whole)


def test_notes_that_a_program_shortened_by_one_factor_are_full():
    whole = repeated([PAIR, WHOLE, PAIR, WHOLE], 4)
    assert rows(read(whole, gate=0.5)) == ticks(whole)


@pytest.mark.parametrize(("count", "apart"), [(1, 0.060), (2, 0.050), (2, 0.068), (3, 0.045)])
def test_a_few_quick_notes_before_a_longer_one_are_graces(count: int, apart: float):
    rng = np.random.default_rng(12)
    rhythm = np.array(repeated([PAIR, WHOLE, WHOLE, PAIR], 8))
    onset = np.maximum(rhythm[:, 0] * TICKS + rng.normal(0, 12, len(rhythm)), 0)
    main = [9, 14, 21, 33, 38]
    quick = [onset[i] - apart * 1920 * (k + 1) for i in main for k in range(count)]
    together = np.sort(np.concatenate([onset, quick]))
    found = quantize(together, together + 60, bars_of_meters({}, int(onset[-1])), TempoMap())
    assert found.onset.tolist() == np.rint(rhythm[:, 0] * TICKS).astype(int).tolist()


def test_eighths_printed_short_among_long_ones_are_eighths():
    """A program plays a staccato eighth as a sixteenth; the other notes are as they stand."""
    long, short = (0, 0.5), (0, 0.25)
    lengths = [long, short, short, long, long, short, long, long] * 4
    rows = [(i / 2, length, 60 + i % 3) for i, (_, length) in enumerate(lengths)]
    ends = np.array([TICKS * (on + length) for on, length, _ in rows])
    onset = np.array([TICKS * on for on, _, _ in rows])
    bars = bars_of_meters({}, int(onset[-1]) + 1)
    found = quantize(onset, ends, bars, TempoMap())
    assert found.length.tolist() == [TICKS // 2] * len(rows)
