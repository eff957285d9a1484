"""Where the line is going: phrases, what leads to them, figures that come again, targets.

A **phrase** ends at a rest of a quarter or more, where the author breathes, after a note of a
half or longer that the line comes to rest on, or at the end. A **lead-in**, a few short notes
that run over a bar line, belongs to the phrase that it leads to, also where only an eighth's
rest comes before it. A **figure** is the rhythm of a bar or half a bar together with its
contour; places with the same figure are **statements** of it. A **target** is a note that the
line goes to.

Common practice among jazz wind players; no published source. All functions take ``Columns``
and are looked up with ``Columns.find``; there is no loop over notes.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from phrasing.marking.columns import ENDLESS, QUARTER, STEP, Columns, after, before, moved
from phrasing.score.chords import Chord, known_chord
from phrasing.score.meters import Bools, Ints

HALF = 2 * QUARTER
FEWEST = 5
"""Notes that make a phrase long enough to have a peak."""
FIGURE = 3
"""Notes that a figure has at least."""
NEAR = 8
"""Bars between two statements of a figure at most."""
CHORD_TONES = (1, 3, 5, 7)
"""Degrees of a chord on which a line arrives."""

# Phrases


def ends_phrase(c: Columns) -> Bools:
    """The last notes of phrases."""
    silent: Bools = c.rest >= QUARTER
    return silent | c.author_ends | _comes_to_rest(c) | _breathes(c)


def _comes_to_rest(c: Columns) -> Bools:
    """A half or longer that the next note is shorter than, not slurred on by the author."""
    long = (c.length >= HALF) & (after(c.length) < c.length)
    return long & ~c.author_slurred


def _breathes(c: Columns) -> Bools:
    """A quarter or longer with a rest behind it, before a lead-in."""
    return (c.length >= QUARTER) & c.ends_line & after(_leads_over(c))


def _leads_over(c: Columns) -> Bools:
    """Notes of the second half of a bar from which short notes run on over its bar line."""
    bar = c.melody.bar_index
    line = c.bar_onset[bar + 1]
    at_line = np.searchsorted(c.onset, line, "right") - 1
    sounds = c.onset[at_line] + c.length[at_line] > line
    late = 2 * c.in_bar >= c.bar_length[bar]
    same_line = _number(c.ends_line)
    unbroken = same_line[at_line] == same_line
    longer = np.append(0, np.cumsum(~c.is_short))
    short = longer[at_line] == longer[:-1]
    return sounds & late & unbroken & short & (at_line > np.arange(len(c)))


def _number(ends: Bools) -> Ints:
    """For each note, the number of its run, where ``ends`` says which notes are the last."""
    return np.cumsum(before(ends, 0), dtype=np.int64)


def phrase_starts(c: Columns) -> Ints:
    """For each phrase, the index of its first note."""
    return np.flatnonzero(before(c.find(ends_phrase), 1))


def phrase_lasts(c: Columns) -> Ints:
    """For each phrase, the index of its last note."""
    starts = c.find(phrase_starts)
    return np.append(starts[1:], len(c))[: len(starts)] - 1


def phrase_peaks(c: Columns) -> Ints:
    """For each phrase, the index of its highest note; -1 where that comes again.

    Phrases of fewer than five notes have no peak.
    """
    if not len(c):
        return np.empty(0, dtype=np.int64)
    starts = c.find(phrase_starts)
    sizes = c.find(phrase_lasts) - starts + 1
    highest = c.pitch == np.repeat(np.maximum.reduceat(c.pitch, starts), sizes)
    alone = np.add.reduceat(highest.astype(np.int64), starts) == 1
    where = np.add.reduceat(np.where(highest, np.arange(len(c)), 0), starts)
    return np.where(alone & (sizes >= FEWEST), where, -1)


def pickups(c: Columns) -> Ints:
    """For each phrase, how many notes lead to its downbeat.

    Those that start before its first bar line, where the phrase goes on over that line and
    a note begins or sounds there; a note that anticipates the downbeat is no pickup itself,
    and notes that fill more than three quarters of a bar are a bar of their own.
    """
    first, last = c.find(phrase_starts), c.find(phrase_lasts)
    whole = np.array([not bar.offset for bar in c.melody.bars], dtype=bool)
    downbeats = c.bar_onset[:-1][whole]
    following = np.searchsorted(downbeats, c.onset[first])
    line = np.append(downbeats, np.iinfo(np.int64).max)[following]
    at_line = np.searchsorted(c.onset, line, "right") - 1
    sounds = c.onset[at_line] + c.length[at_line] > line
    short = 4 * (line - c.onset[first]) <= 3 * c.bar_length[c.melody.bar_index[first]]
    leads = sounds & (at_line <= last) & (at_line > first) & short
    return np.where(leads, at_line - first, 0)


def is_pickup(c: Columns) -> Bools:
    """Notes that lead to the downbeat of their phrase."""
    change = np.zeros(len(c) + 1, dtype=np.int64)
    starts = c.find(phrase_starts)
    np.add.at(change, starts, 1)
    np.add.at(change, starts + c.find(pickups), -1)
    inside: Bools = np.cumsum(change[:-1]) > 0
    return inside


# Targets


def targets(c: Columns, arrivals: Bools) -> Bools:
    """Notes that the line goes to.

    The ``arrivals``; notes on the beat that are longer than the note before; those on which a
    chord begins and that are its root, third, fifth or seventh; the last of a phrase. Not one
    that a scale or a sequence only passes through.
    """
    longer = c.on_beat & (c.length > before(c.length, ENDLESS))
    others = (longer | c.find(begins_chord)) & ~c.find(is_passed)
    return arrivals | others | c.find(ends_phrase)


def begins_chord(c: Columns) -> Bools:
    """Notes that start together with a chord and belong to it."""
    belongs = np.zeros(len(c), dtype=bool)
    onsets = np.array([chord.onset for chord in c.melody.chords], dtype=np.int64)
    notes = np.searchsorted(c.melody.onset, onsets)
    for note, symbol in zip(notes.tolist(), c.melody.chords, strict=True):
        if note < len(c) and c.melody.onset[note] == symbol.onset:
            chord = known_chord(symbol.text)
            belongs[note] = chord is not None and c.pitch[note] % 12 in _arrival_tones(chord)
    return belongs


def _arrival_tones(chord: Chord) -> set[int]:
    return {(chord.root + interval) % 12 for interval in chord.intervals(*CHORD_TONES)}


def is_passed(c: Columns) -> Bools:
    """Notes inside a scale, or inside a pattern of two moves that comes again and again."""
    return _repeats(c, 1) | _repeats(c, 2)


def is_pattern(c: Columns) -> Bools:
    """Notes of a line that goes up and down in turn five times or more, as thirds do."""
    alike = _as_before(c, 2) & (c.interval_out * before(c.interval_out) < 0)
    run = alike & before(alike) & before(before(alike))
    found = run.copy()
    for back in range(-4, 2):
        found |= moved(run, back)
    return found


def _repeats(c: Columns, period: int) -> Bools:
    """Whether the moves around a note go on as they did ``period`` moves before.

    Two periods before the note and one behind it.
    """
    alike = _as_before(c, period)
    found = np.ones(len(c), dtype=bool)
    for back in range(1 - period, period + 1):
        found &= moved(alike, back)
    return found


def _as_before(c: Columns, period: int) -> Bools:
    """Whether the move behind a note goes the way of the one ``period`` moves before.

    All notes between are of the same length; a scale (a period of 1) moves by step.
    """
    way = np.sign(c.interval_out)
    same = (way != 0) & (c.length == after(c.length))
    if period == 1:
        same &= np.abs(c.interval_out) <= STEP
    return same & (way == moved(way, period)) & moved(same, period)


# Figures


def statements(c: Columns, target: Bools) -> Ints:
    """For each note, the number of its place in the statements of a figure; -1 for none.

    Notes with the same number are at the same place of statements near each other: of bars,
    or of half bars where the bar comes only once. The first note of a figure is compared
    where the line reaches it from the same side, the last where it goes on to the same side,
    and any note where the next is a ``target`` too, or none.
    """
    if not len(c):
        return np.empty(0, dtype=np.int64)
    bars = _places(c, c.melody.bar_index, c.in_bar)
    halves = _places(c, *_half_bars(c))
    place = np.where(bars >= 0, bars, halves + np.where(halves >= 0, bars.max() + 1, 0))
    return _numbered(np.where(place >= 0, 2 * place + after(target), -1))


def _numbered(place: Ints) -> Ints:
    """The places numbered from 0, and -1 for those that only one note is at."""
    size = np.bincount(place[place >= 0], minlength=1)
    number = np.cumsum(size > 1) - 1
    return np.where((place >= 0) & (size[place] > 1), number[place], -1)


def _half_bars(c: Columns) -> tuple[Ints, Ints]:
    """For each note, its half bar and the ticks from its start; where a bar has halves."""
    bar = c.melody.bar_index
    half = c.bar_length[bar] // 2
    parted = (half % c.beat_length == 0) & (half >= 2 * c.beat_length)
    second = parted & (c.in_bar >= half)
    return 2 * bar + second, c.in_bar - np.where(second, half, 0)


def _places(c: Columns, window: Ints, into: Ints) -> Ints:
    """The places of the notes in the figures of these windows; -1 where one has no like.

    ``window``: the number of each note's bar or half bar, ``into``: ticks from its start.
    """
    starts = np.flatnonzero(np.diff(window, prepend=-1))
    size = np.diff(starts, append=len(c))
    figures = np.add.reduceat(_rhythm_and_contour(c, window, into), starts)
    group = _near_each_other(figures, c.melody.bar_index[starts], size)
    # Statements of a figure have the same count of notes, so that its places can be numbered
    # one after the other.
    longest = np.zeros(group.max(initial=-1) + 2, dtype=np.int64)
    longest[group] = size
    first = (np.cumsum(longest) - longest)[group]
    within = np.arange(len(c)) - np.repeat(starts, size)
    came = np.where(within == 0, np.sign(c.interval_in), 0)
    goes = np.where(within == np.repeat(size, size) - 1, np.sign(c.interval_out), 0)
    place = ((np.repeat(first, size) + within) * 3 + came + 1) * 3 + goes + 1
    return np.where(np.repeat(group, size) >= 0, place, -1)


def _rhythm_and_contour(c: Columns, window: Ints, into: Ints) -> NDArray[np.uint64]:
    """For each note, a number made of its place, its length and the move behind it."""
    way = np.where(after(window, -1) == window, np.sign(c.interval_out) + 1, 3)
    return _mixed(_mixed(into.astype(np.uint64)) + (4 * c.length + way).astype(np.uint64))


def _mixed(numbers: NDArray[np.uint64]) -> NDArray[np.uint64]:
    """Numbers strewn over 64 bits, so that sums of different ones hardly ever agree."""
    for factor in (0xBF58476D1CE4E5B9, 0x94D049BB133111EB):
        numbers = (numbers ^ (numbers >> np.uint64(29))) * np.uint64(factor) + np.uint64(1)
    return numbers ^ (numbers >> np.uint64(32))


def _near_each_other(figures: NDArray[np.uint64], bar: Ints, size: Ints) -> Ints:
    """For each window, the number of its group of statements; -1 where it is alone.

    ``bar`` ascends.
    """
    order = np.argsort(figures, kind="stable")
    same = np.diff(figures[order].view(np.int64), prepend=0) == 0
    near = np.diff(bar[order], prepend=0) <= NEAR
    group = np.empty(len(order), dtype=np.int64)
    group[order] = np.cumsum(~(same & near))
    alone = np.bincount(group)[group] < 2
    return np.where(alone | (size < FIGURE), -1, group)
