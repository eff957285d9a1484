"""What the end of a note means. Lengths are in ticks: a quarter has 960."""

import numpy as np
import pytest

from phrasing.reading.lengths import written_lengths

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
