"""A marking cut to some of its notes, and what holds between neighbours."""

from __future__ import annotations

import numpy as np
import pytest

from phrasing.marking.columns import after, before
from phrasing.marking.precedence import mark
from tests.lines import marking, melody


def of(words, **changes):
    return mark(melody(words), **changes)


@pytest.mark.parametrize(
    "low,high,swells,links",
    [
        (0, 9, [[0, 2], [3, 6], [7, 9]], [[2, 3], [6, 7]]),
        (2, 7, [[1, 4]], [[0, 1], [4, 5]]),
        (3, 6, [[0, 3]], []),
        (4, 8, [[0, 2], [3, 4]], [[2, 3]]),
        (9, 9, [], []),
    ],
)
def test_swells_are_cut_and_links_left_out_at_the_ends_of_a_part(low, high, swells, links):
    """Of a swell at least two notes must be left; a link needs both of its notes."""
    from dataclasses import replace

    whole = marking(10, dict.fromkeys(range(10), "stress"), swells=((0, 2), (3, 6), (7, 9)))
    whole = replace(whole, link_rows=np.array([[2, 3], [6, 7]]), growing_rows=whole.swell_rows)
    part = whole.part(low, high)
    assert part.swell_rows.tolist() == swells
    assert part.growing_rows.tolist() == swells
    assert part.link_rows.tolist() == links
    assert len(part) == high - low + 1


def test_phrases_keep_what_lies_in_a_part():
    whole = marking(10, phrases=((0, 4, 2, 3840), (5, 9, 8, 0)))
    assert whole.part(0, 9).phrase_rows.tolist() == [[0, 4, 2, 3840], [5, 9, 8, 0]]
    assert whole.part(2, 8).phrase_rows.tolist() == [[0, 2, 0, 0], [3, 6, 6, 0]]
    assert whole.part(3, 4).phrase_rows.tolist() == [[0, 1, -1, 0]]


def test_neighbours_are_those_on_the_left_and_on_the_right():
    column = np.array([1, 2, 3])
    assert before(column, 9).tolist() == [9, 1, 2]
    assert after(column, 9).tolist() == [2, 3, 9]


def test_a_note_is_repeated_where_its_pitch_comes_again_at_once():
    """Not over a rest, and not the last one of a run."""
    made = of("C5:1 C5:1 r:2 C5:1 r:1 C5:1 D5:1 D5:1")
    assert made.repeated.tolist() == [True, False, False, False, True, False]


def test_tongued_are_notes_that_touch_another_pitch():
    made = of("C5:1 C5:1 r:2 C5:1 D5:1 E5:1 D5:1")
    assert made.tongued.tolist() == [False, False, True, True, True, False]


def test_growing_needs_three_of_one_pitch_with_one_mark():
    assert of("F5:1 F5:1 F5:1 F5:1 G5:4").growing_rows.tolist() == [[0, 3]]
    assert of("F5:1 F5:1 G5:1 F5:1 G5:4").growing_rows.tolist() == []
    assert of("F5:1 F5:1 F5:1 E5:1 G5:4").growing_rows.tolist() == [[0, 2]]


def test_a_note_that_another_was_modelled_on_is_found_in_the_part():
    from dataclasses import replace

    whole = replace(marking(10), model=np.array([0, 0, 1, 2, 3, 4, 5, 9, 7, 8]))
    assert whole.part(2, 8).model.tolist() == [0, 0, 1, 2, 3, 6, 5]
    assert whole.part(4, 4).model.tolist() == [0]
