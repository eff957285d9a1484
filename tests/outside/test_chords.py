"""The chord table against two general chord libraries, where they are right.

pychord and music21 read a symbol each in their own way. Wherever one of them gives notes for a
spelling, the notes are ours; what is left out of the comparison stands below with the reason.
Common practice, no source: a thirteenth chord has no natural eleventh beside a major third.
"""

from __future__ import annotations

import warnings

import pytest

from phrasing.score.chords import parse_chord

pytestmark = pytest.mark.outside

BODIES = """
m min - maj7 M7 7 m7 min7 -7 6 m6 69 6/9 m69 m6/9 9 m9 maj9 M9 11 m11 13 m13 maj13 M13
7b9 7#9 7b5 7#5 7#11 7b13 7b9#9 7b9#5 7b9b13 7#9b13 7#9#5 7b5b9 13b9 13#11 13#9 9#11 9b5
9#5 maj7#11 maj7#5 maj7b5 M7b5 M7#5 m7b5 ø7 -7b5 min7b5 m9b5 o dim o7 dim7 + aug +7 aug7
7+ +M7 augmaj7 sus sus2 sus4 7sus 7sus4 9sus4 add9 madd9 add2 add11 5 mM7 mmaj7 minmaj7
mM9 m7add11 7(b9) 7add13 6add9
"""
SPELLINGS = ("", *BODIES.split())
ROOTS = ("C", "F#", "Eb", "A")
WRONG = {
    "pychord": {
        "the number after the slash is passed over": ("6/9", "m6/9"),
    },
    "music21": {
        "a minus after the root is read as a flat": ("-", "-7", "-7b5"),
        "the fifth and third are lost": ("69",),
        "alterations of a thirteenth chord are passed over": ("13b9", "13#11", "13#9"),
    },
}
ELEVENTH = {
    "pychord": ("13", "maj13", "M13", "13b9", "13#9", "7b9b13"),
    "music21": ("13", "m13", "maj13", "M13"),
}
"""Here they add a natural eleventh, which is left out in practice: compared without it."""


def by_pychord(root: str, body: str) -> frozenset[int] | None:
    import pychord

    try:
        notes = pychord.Chord(root + body).components(visible=False)
    except ValueError:
        return None
    return frozenset(note % 12 for note in notes)


def by_music21(root: str, body: str) -> frozenset[int] | None:
    from music21 import harmony

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            symbol = harmony.ChordSymbol(root.replace("b", "-") + body)
        except Exception:  # it raises whatever it meets on the way
            return None
    return frozenset(pitch.pitchClass for pitch in symbol.pitches) or None


@pytest.mark.parametrize("library,reads", [("pychord", by_pychord), ("music21", by_music21)])
def test_the_table_agrees_with_the_library_where_it_is_right(library, reads):
    wrong = {body for bodies in WRONG[library].values() for body in bodies}
    agreed = 0
    for root in ROOTS:
        for body in SPELLINGS:
            theirs = reads(root, body)
            if theirs is None or body in wrong:
                continue
            chord = parse_chord(root + body)
            if body in ELEVENTH[library]:
                theirs -= {(chord.root + 5) % 12}
            assert chord.pitch_classes == theirs, root + body
            agreed += 1
    assert agreed >= 150


@pytest.mark.parametrize("library,reads", [("pychord", by_pychord), ("music21", by_music21)])
def test_what_is_left_out_is_still_read_otherwise_by_the_library(library, reads):
    """A library that has been put right is to be compared again."""
    for bodies in WRONG[library].values():
        for body in bodies:
            theirs = reads("C", body)
            assert theirs is None or theirs != parse_chord("C" + body).pitch_classes, body


def test_at_least_150_spellings_are_confirmed_by_one_library_or_the_other():
    confirmed = {
        root + body
        for root in ROOTS
        for body in SPELLINGS
        if parse_chord(root + body).pitch_classes
        in (by_pychord(root, body), by_music21(root, body))
    }
    assert len(confirmed) >= 150
