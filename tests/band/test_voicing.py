"""Voicings: which notes, in which register, and that they lead smoothly."""

import random
from itertools import pairwise

import numpy as np
import pytest

from phrasing.band.voicing import led, scale_of, voicings_of
from phrasing.feel import Comping
from phrasing.score.chords import parse_chord
from tests.band.charts import KINDS, ROOTS


def scale(text: str, key: int | None = None, toward: str | None = None) -> list[int]:
    """Semitones above the root."""
    chord = parse_chord(text)
    found = scale_of(chord, key, parse_chord(toward) if toward else None)
    return sorted((pitch - chord.root) % 12 for pitch in found)


@pytest.mark.parametrize(
    "text,semitones",
    [
        ("Cmaj7", [0, 2, 4, 5, 7, 9, 11]),
        ("Cm7", [0, 2, 3, 5, 7, 9, 10]),
        ("C7", [0, 2, 4, 5, 7, 9, 10]),
        ("Cø7", [0, 1, 3, 5, 6, 8, 10]),
        ("C°7", [0, 2, 3, 5, 6, 8, 9, 11]),
        ("Cm(maj7)", [0, 2, 3, 5, 7, 9, 11]),
        ("C7alt", [0, 1, 3, 4, 6, 8, 10]),
        ("Cmaj7#11", [0, 2, 4, 6, 7, 9, 11]),
        ("C7#11", [0, 2, 4, 6, 7, 9, 10]),
    ],
)
def test_the_usual_scale_of_each_kind(text, semitones):
    found = scale(text)
    wanted = [s for s in semitones if text != "C°7" or s != 8]
    assert set(wanted) <= set(found)
    assert set(found) <= set(semitones)


def test_the_third_degree_of_a_major_key_takes_the_keys_notes():
    assert scale("Em7", key=0) == [0, 1, 3, 5, 7, 8, 10]
    assert scale("Em7") == [0, 2, 3, 5, 7, 9, 10]
    assert 6 in scale("Fmaj7", key=0)


def test_a_chord_from_outside_the_key_keeps_the_scale_of_its_kind():
    assert scale("Db7", key=0) == scale("Db7")


def test_a_dominant_darkens_on_its_way_to_a_minor_chord():
    assert {1, 8} <= set(scale("G7", toward="Cm7"))
    assert {2, 9} <= set(scale("G7", toward="Cmaj7"))
    assert {2, 9} <= set(scale("G7", toward="Dm7"))


def test_a_slash_chords_bass_belongs_to_it():
    assert 10 in scale("C/Bb")


COMPING = Comping()
REGISTER = {"piano": (51, 74), "guitar": (47, 72)}


def progression(seed: int, length: int = 16):
    chance = random.Random(seed)
    return [parse_chord(chance.choice(ROOTS) + chance.choice(KINDS)) for _ in range(length)]


def played(seed: int, instrument, comping=COMPING):
    chords = progression(seed)
    choices = [
        voicings_of(chord, comping, instrument, None, toward)
        for chord, toward in zip(chords, [*chords[1:], None], strict=True)
    ]
    return chords, led(choices, comping, np.random.default_rng(seed))


def best(text: str, instrument="piano", **context) -> set[int]:
    """Semitones above the root in the cheapest voicing."""
    chord = parse_chord(text)
    voicing = min(voicings_of(chord, COMPING, instrument, **context), key=lambda v: v.cost)
    return {(pitch - chord.root) % 12 for pitch in voicing.pitches}


@pytest.mark.parametrize(
    "text,semitones",
    [
        ("Cmaj7", {4, 11, 2, 7}),
        ("Cm7", {3, 10, 2, 7}),
        ("C7", {4, 10, 2, 9}),
        ("C13", {4, 10, 2, 9}),
        ("C7alt", {4, 10, 1, 8}),
        ("C7b9", {4, 10, 1, 9}),
        ("C7#9b13", {4, 10, 3, 8}),
        ("C9#11", {4, 10, 2, 6}),
        ("Cø7", {3, 6, 10, 0}),
        ("C°7", {3, 6, 9, 0}),
        ("C6", {4, 9, 2, 7}),
        ("Cm(maj7)", {3, 11, 2, 7}),
        ("C7sus4", {5, 10, 2, 9}),
        ("C11", {5, 10, 2, 9}),
        ("Cm11", {3, 10, 2, 5}),
        ("Cmaj7#11", {4, 11, 2, 6}),
    ],
)
def test_what_a_pianist_would_play(text, semitones):
    assert best(text) == semitones


def test_the_key_and_the_next_chord_decide_what_the_symbol_leaves_open():
    assert 2 not in best("Em7", fifths=0)
    assert {1, 8} <= best("G7", toward=parse_chord("Cm7"))
    assert {2, 9} <= best("G7", toward=parse_chord("Cmaj7"))


def test_a_guitar_plays_the_guide_notes_and_one_more():
    assert {4, 10} < best("C7", "guitar")
    assert len(best("C7", "guitar")) == 3


@pytest.mark.parametrize("instrument", ["piano", "guitar"])
@pytest.mark.parametrize("kind", KINDS)
def test_every_chord_has_voicings_in_the_register_on_every_root(kind, instrument):
    low, high = REGISTER[instrument]
    for root in ROOTS:
        found = voicings_of(parse_chord(root + kind), COMPING, instrument)
        assert found
        for voicing in found:
            assert low <= voicing.pitches[0] < voicing.pitches[-1] <= high
            assert list(voicing.pitches) == sorted(set(voicing.pitches))


@pytest.mark.parametrize("instrument", ["piano", "guitar"])
@pytest.mark.parametrize("kind", ["7", "maj7", "m7", "13", "7alt", "m7b5", "6", "7sus4", "m6"])
def test_third_or_seventh_lies_lowest_and_the_root_is_left_to_the_bass(kind, instrument):
    chord = parse_chord("F" + kind)
    guides = {(chord.root + i) % 12 for i in (chord.third, chord.seventh) if i is not None}
    for voicing in voicings_of(chord, COMPING, instrument):
        assert voicing.pitches[0] % 12 in guides


def test_chord_symbols_are_not_contradicted():
    for seed in range(50):
        for chord, voicing in zip(*played(seed, "piano"), strict=True):
            notes = {(pitch - chord.root) % 12 for pitch in voicing.pitches}
            assert not (chord.third == 3 and 4 in notes), chord.text
            assert not (chord.intervals(7) == (10,) and 11 in notes), chord.text
            assert not (chord.intervals(7) == (11,) and 10 in notes), chord.text
            sharp = 3 in notes and chord.third == 4
            assert not sharp or 15 in chord.intervals(9), chord.text


def test_common_notes_are_kept():
    kept = 0
    for seed in range(30):
        chords, voicings = played(seed, "piano")
        for (a, b), (first, second) in zip(pairwise(voicings), pairwise(chords), strict=True):
            shared = first.pitch_classes & second.pitch_classes
            kept += bool(set(a.pitches) & set(b.pitches)) if shared else 0
    assert kept > 200


def test_the_smoothest_line_is_smoother_than_the_surprising_one():
    def moved(surprise):
        comping = Comping(surprise=surprise)
        lines = [played(seed, "piano", comping)[1] for seed in range(10)]
        return np.mean(
            [abs(a.pitches[-1] - b.pitches[-1]) for line in lines for a, b in pairwise(line)]
        )

    assert moved(0.0) < moved(3.0)


@pytest.mark.parametrize("text,has_ninth", [("C", True), ("Cm", False), ("Csus4", False)])
def test_a_major_triad_takes_a_ninth_and_plainer_ones_stay_as_they_are(text, has_ninth):
    """Common practice, no source: a plain C is coloured, a plain Cm is left to the soloist."""
    chosen = voicings_of(parse_chord(text), Comping(), "piano")
    assert any((pitch - 2) % 12 == 0 for v in chosen for pitch in v.pitches) == has_ninth
