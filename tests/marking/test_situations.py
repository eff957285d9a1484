"""Situations as a lead player meets them: what is played, and why.

Each line is read aloud before it stands here. Notes are written in eighths (``C5:1`` an eighth,
``C5:2`` a quarter, ``r:1`` a rest, ``C5:2/3`` one of three in a beat) with the sign of what is
played behind them: ``^`` marcato, ``>`` accent, ``.`` staccato, ``'`` clipped, ``-`` tenuto,
``*`` stress, ``o`` ghost, nothing for a plain note. ``[`` and ``]`` hold the notes that get
softer. ``|`` is a bar line, for the eye alone. Common practice, no source.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from fractions import Fraction

import pytest

from phrasing.marking.precedence import mark
from phrasing.score.melody import ChordSymbol
from phrasing.style import STYLE
from tests.lines import melody
from tests.marking.lines import words_of

SIGNS = {
    "^": "marcato", ">": "accent", ".": "staccato", "'": "clipped",
    "-": "tenuto", "*": "stress", "o": "ghost", "": None,
}  # fmt: skip
NOTE = re.compile(r"(\[?)([A-G][b#]?\d|r):(\d+(?:/\d+)?)([\^>.'\-*o]?)(\]?)")


@dataclass(frozen=True)
class Situation:
    """A short melody of our own as it is played, and the reason in a player's words."""

    name: str
    line: str
    why: str
    style: str = "swing"
    tempo: float = 140.0
    meter: str = "4/4"
    pickup: int = 0
    chords: tuple[tuple[int, str], ...] = ()

    def __str__(self) -> str:
        return f"{self.style}: {self.name}"


SITUATIONS = (
    # Swing: value and position
    Situation(
        "quarters on the beat",
        "A4:2^ F4:2^ G4:2^ D4:2^",
        "they are short, with a firm start: that is what makes them bounce",
    ),
    Situation(
        "one quarter off the beat",
        "r:1 A4:2> r:5",
        "it is accented and lasts until the next off-beat",
    ),
    Situation(
        "two quarters off the beat",
        "r:1 D5:2^ B4:2> r:3",
        "short, then long: the first one makes room for the second",
    ),
    Situation(
        "three quarters off the beat",
        "r:1 E4:2^ E4:2^ G4:2> r:1",
        "all short but the last, which they lead to",
    ),
    Situation(
        "a quarter off the beat into a longer note off the beat",
        "r:1 C5:2^ A4:3> r:2",
        "the same: short into the one that is held",
    ),
    Situation(
        "a note that comes early and is held over the bar line",
        "r:7 E5:5> r:4",
        "an anticipated downbeat has the accent that the downbeat would have had",
    ),
    Situation(
        "an eighth off the beat before a rest",
        "r:2 E4:1 G4:1' r:4",
        "the line is stopped there: short and firm",
    ),
    Situation("an eighth on the beat before a rest", "G4:1. r:7", "just short"),
    Situation(
        "a long note on the beat",
        "C5:3 A4:1' r:4",
        "it is sustained, and needs no accent",
    ),
    Situation(
        "one quarter of pickup",
        "D4:2. | G4:4* r:4",
        "it leads, so it is short; the weight is on the downbeat that it leaps to",
        pickup=2,
    ),
    Situation(
        "a waltz",
        "D5:2^ B4:2^ G4:2^ | r:1 E5:2> B4:1' r:2",
        "the same on the beats of three",
        meter="3/4",
    ),
    Situation(
        "the author's half note is nobody's syncopation",
        "G4:4 A4:4 | B4:8",
        "long notes on the beat are played as they stand",
    ),
    # Swing: approaches
    Situation(
        "two notes around a target",
        "r:6 A4:1 F#4:1- | G4:4 r:4",
        "a little weight on the last note before it, then it resolves",
    ),
    Situation(
        "four notes around a target",
        "r:4 Bb4:1 A4:1 F#4:1 G4:1- | Ab4:4 r:4",
        "one weight, on the last of them: the others only lead there",
    ),
    Situation(
        "half steps from one side",
        "r:5 E4:1 F4:1 F#4:1 | G4:4 r:4",
        "nothing is enclosed: the line just goes up to the half note",
    ),
    Situation(
        "an approach to a quarter that is short",
        "r:2 C4:1 A4:1* G4:1 E4:1- F4:2^",
        "the leap stands out, the last note leans into the quarter, G passes",
    ),
    Situation(
        "an approach to a new chord's third, though it is an eighth",
        "r:6 F4:1 D#4:1- | E4:1 F4:1 G4:1* C4:1' r:4",
        "a line of eighths goes to the third of the new chord",
        chords=((0, "G7"), (8, "C6")),
    ),
    Situation(
        "the same without a chord",
        "r:6 F4:1 D#4:1 | E4:1 F4:1 G4:1* C4:1' r:4",
        "nobody can say that the line goes there; it goes on up to its top",
    ),
    Situation(
        "a scale in thirds",
        "C4:1 E4:1 D4:1 F4:1 E4:1 G4:1 F4:1 A4:1- | G4:4 r:4",
        "no weight on the way, though each note has its neighbours; only the last leads",
    ),
    # Swing: contour
    Situation(
        "a top",
        "r:1 D4:1 F4:1 [A4:1* G4:1 F4:1] D4:2^",
        "the top stands out, the fall gets softer, and the quarter is itself again",
    ),
    Situation(
        "a top that steps into a quarter",
        "r:3 E4:1 G4:1 B4:1- A4:2^",
        "weight, not a stress: it prepares the quarter",
    ),
    Situation(
        "the top of an arpeggio in triplets",
        "r:2 C4:2/3 E4:2/3 G4:2/3 B4:1* A4:1 G4:2^",
        "an arpeggio is a rise like another; its top is where it turns",
    ),
    Situation(
        "a dip in a rising line",
        "r:1 F4:1 A4:1 F#4:1o Bb4:1 C5:1 D5:2^",
        "the low note is swallowed, so that the rise is heard",
    ),
    Situation(
        "a leap out of a dip",
        "r:1 E4:1 G4:1 D4:1o A4:1 B4:1 C5:2^",
        "past the dip the line goes on by step: no stress on the A",
    ),
    Situation(
        "a low note that returns",
        "A4:1 E4:1o B4:1 E4:1o C5:1 E4:1o D5:2^",
        "the upper line is the melody, the low note only keeps time",
    ),
    Situation(
        "a leap",
        "C4:1 G4:1* F4:1 E4:1 D4:1 E4:1 F4:1- E4:1' r:8",
        "the leap stands out, and the little top at the end leads into the last note",
    ),
    Situation(
        "the highest note at the start",
        "E5:1* B4:1 C5:1 B4:1 C5:2^ r:2",
        "the line never comes back there, so it is heard as its top",
    ),
    Situation(
        "a long fall",
        "r:2 [E5:1* D5:1 C5:1 B4:1 A4:1 G4:1] | F4:4 r:4",
        "from its top down the line gets softer, to the note before the half note",
    ),
    Situation(
        "a fall with an approach at its end",
        "r:2 [E5:1* D5:1 C5:1 B4:1 A4:1] F#4:1- | G4:4 r:4",
        "the fade ends where the approach has its weight",
    ),
    Situation(
        "a fall stopped by a quarter off the beat",
        "D5:1* C5:1 Bb4:1 A4:2> G4:1 F4:1 E4:1'",
        "the syncopation is loud, so nothing fades through it",
    ),
    Situation(
        "sixteenths",
        "G4:1/2 A4:1/2 B4:1/2* A4:1/2 G4:1. r:5",
        "only the turn is heard among notes so short",
    ),
    # Swing: the phrase
    Situation(
        "one figure twice, with a smaller leap",
        "A4:1 E4:1 A4:1* G4:1' r:4 | A4:1 F4:1 A4:1* G4:1' r:4",
        "what is said twice is said alike, though a third is no leap",
    ),
    Situation(
        "a pattern in fourths",
        "C4:1 F4:1* D4:1 G4:1 E4:1 A4:1* F4:1 Bb4:1* | A4:4 r:4",
        "four leaps a bar would be as good as none: every other one, and the last, which leads",
    ),
    Situation(
        "a leap beside the top",
        "C4:1 G4:1 A4:1* G4:1 F4:4",
        "of two neighbours one stands out, here the higher",
    ),
    Situation(
        "fast, with three places to stand out",
        "G4:1 C4:1 F4:1* D4:1 G4:1 E4:1 A4:1* G4:1 | F4:4 r:4",
        "at such a tempo two in a bar are plenty",
        tempo=240.0,
    ),
    # Ballad
    Situation(
        "quarters",
        "A4:2 F4:2 G4:2 D4:2",
        "they sing: nothing is pecked",
        style="ballad",
        tempo=66.0,
    ),
    Situation(
        "a quarter off the beat",
        "C4:1 E4:2- D4:1 C4:4",
        "a little weight and all of its length, no accent",
        style="ballad",
        tempo=66.0,
    ),
    Situation(
        "two quarters off the beat",
        "r:1 D5:2- B4:2- r:3",
        "both are held",
        style="ballad",
        tempo=66.0,
    ),
    Situation(
        "an eighth before a rest",
        "r:2 E4:1 G4:1 r:4",
        "it fades; it is not stopped",
        style="ballad",
        tempo=66.0,
    ),
    Situation(
        "a leap to a long note",
        "r:2 C4:1 E4:1 | C5:4* r:4",
        "the leap is what the phrase is about",
        style="ballad",
        tempo=66.0,
    ),
    Situation(
        "a fall",
        "r:2 [E5:1* D5:1 C5:1 B4:1 A4:1 G4:1] | F4:4 r:4",
        "it relaxes as in any style",
        style="ballad",
        tempo=66.0,
    ),
    Situation(
        "a quarter of pickup",
        "D4:2 | G4:4* r:4",
        "it is held into the downbeat, which is what it leaps to",
        style="ballad",
        tempo=66.0,
        pickup=2,
    ),
    Situation(
        "an approach",
        "r:6 A4:1 F#4:1- | G4:4 r:4",
        "leaning into the target is as old as melody",
        style="ballad",
        tempo=66.0,
    ),
    # Even eighths
    Situation(
        "quarters before a rest and before none",
        "A4:2 F4:2 G4:2 D4:2^ | r:8",
        "they are held; only the one that is left in the air is short",
        style="even",
    ),
    Situation(
        "a quarter off the beat",
        "C5:1 A4:2> G4:1 E4:4",
        "the syncopation carries the style, so it is accented",
        style="even",
    ),
    Situation(
        "two quarters off the beat",
        "r:1 D5:2^ B4:2> r:3",
        "short and long, as in swing",
        style="even",
    ),
    Situation(
        "a long note off the beat",
        "r:3 E5:5>",
        "accented and held",
        style="even",
    ),
    Situation(
        "an eighth off the beat before a rest",
        "r:2 E4:1 G4:1' r:4",
        "stopped, as in swing",
        style="even",
    ),
    Situation(
        "one quarter of pickup",
        "D4:2 | G4:4* r:4",
        "held into the downbeat",
        style="even",
        pickup=2,
    ),
    Situation(
        "a low note that returns",
        "A4:1 E4:1o B4:1 E4:1o C5:1 E4:1o D5:2* | C5:4 r:4",
        "ghosted, only less than in swing; the top of the phrase stands out, and is held",
        style="even",
    ),
    # Shuffle
    Situation(
        "long and short in 12/8",
        "C5:2 D5:1 E5:2* D5:1 C5:3^ r:3",
        "a quarter and an eighth are the two eighths of this style: not every long is struck",
        style="shuffle",
        meter="12/8",
    ),
    Situation(
        "dotted quarters in 12/8",
        "A4:3^ F4:3^ G4:3^ D4:3^",
        "they are its quarters: short, with a firm start",
        style="shuffle",
        meter="12/8",
    ),
    Situation(
        "a dotted quarter off the beat in 12/8",
        "r:2 A4:3> r:7",
        "it starts with the short note of the beat, so it is the quarter off the beat",
        style="shuffle",
        meter="12/8",
    ),
    Situation(
        "a long note off the beat in 12/8",
        "r:2 D5:4> r:6",
        "accented and held",
        style="shuffle",
        meter="12/8",
    ),
    Situation(
        "the short note before a rest in 12/8",
        "C5:2 D5:1' r:9",
        "stopped, short and firm",
        style="shuffle",
        meter="12/8",
    ),
    Situation(
        "the long note before a rest in 12/8",
        "C5:2. r:10",
        "just short",
        style="shuffle",
        meter="12/8",
    ),
    Situation(
        "long and short written in triplets",
        "C4:4/3 D4:2/3 F4:4/3* E4:2/3 D4:2^ r:2",
        "the same in 4/4: the second of a pair is off the beat, and the top is a turn",
        style="shuffle",
    ),
    Situation(
        "three even notes to a beat",
        "C5:1 D5:1 [E5:1* C5:1 B4:1 A4:1] G4:3^ r:3",
        "a beat of three notes is a triplet: only its top is marked, and the fall fades",
        style="shuffle",
        meter="12/8",
    ),
)


def read_aloud(line: str) -> tuple[str, list[str | None], list[tuple[int, int]]]:
    """The words for ``tests.lines.melody``, the marks, and the wedges (first, last note)."""
    words, marks, opens, wedges = [], [], [], []
    for word in line.replace("|", " ").split():
        match = NOTE.fullmatch(word)
        assert match, word
        opening, name, eighths, sign, closing = match.groups()
        words.append(f"{name}:{float(Fraction(eighths)):.7f}")
        if name == "r":
            continue
        if opening:
            opens.append(len(marks))
        if closing:
            wedges.append((opens.pop(), len(marks)))
        marks.append(SIGNS[sign])
    return " ".join(words), marks, wedges


def played(situation: Situation, words: str):
    tune = melody(words, situation.meter, situation.tempo, situation.pickup)
    chords = tuple(ChordSymbol(480 * at, text) for at, text in situation.chords)
    return mark(replace(tune, chords=chords), style=STYLE[situation.style])


@pytest.mark.parametrize("situation", SITUATIONS, ids=str)
def test_what_a_lead_player_does(situation):
    words, marks, wedges = read_aloud(situation.line)
    marking = played(situation, words)
    assert words_of(marking) == marks, situation.why
    assert [(swell.first, swell.last) for swell in marking.swells] == wedges, situation.why


def test_there_are_enough_of_them_from_all_styles():
    assert len(SITUATIONS) >= 40
    assert {situation.style for situation in SITUATIONS} == set(STYLE)
    assert len({str(situation) for situation in SITUATIONS}) == len(SITUATIONS)
