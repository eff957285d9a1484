"""Places, notes and intervals in a musician's words."""

from __future__ import annotations

from fractions import Fraction

from phrasing.score.keys import places_in
from phrasing.score.melody import Melody
from phrasing.score.meters import TICKS, Bar
from phrasing.score.pitches import name_of, octave_of

INTERVALS = (
    "no distance", "a half step", "a whole step", "a minor third", "a major third",
    "a fourth", "a tritone", "a fifth", "a minor sixth", "a major sixth", "a minor seventh",
    "a major seventh", "an octave", "a minor ninth", "a major ninth", "a minor tenth",
    "a major tenth", "an eleventh", "an octave and a tritone", "a twelfth",
)  # fmt: skip
NUMBERS = (
    "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
    "eleven", "twelve",
)  # fmt: skip
ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth")
LENGTHS = {
    Fraction(1, 4): "a sixteenth", Fraction(1, 3): "a triplet eighth",
    Fraction(1, 2): "an eighth", Fraction(2, 3): "a triplet quarter",
    Fraction(3, 4): "a dotted eighth", Fraction(1): "a quarter",
    Fraction(3, 2): "a dotted quarter", Fraction(2): "a half note",
    Fraction(3): "a dotted half note", Fraction(4): "a whole note",
}  # fmt: skip
PARTS = {
    Fraction(0): "beat {}", Fraction(1, 2): "and of {}",
    Fraction(1, 3): "the second triplet of {}", Fraction(2, 3): "the third triplet of {}",
    Fraction(1, 4): "the “e” of {}", Fraction(3, 4): "the “a” of {}",
}  # fmt: skip
FINER = {5: "quintuplet", 6: "sextuplet", 7: "septuplet", 8: "thirty-second"}
COMPOUND_PARTS = {3: "eighth", 6: "sixteenth"}
TIMES = ("", "the first time", "the second time", "the third time", "the fourth time")


def interval(semitones: int) -> str:
    """An interval up or down by its name, with its article: "a fourth".

    >>> interval(7), interval(-1)
    ('a fifth', 'a half step')
    """
    size = abs(semitones)
    if size < len(INTERVALS):
        return INTERVALS[size]
    return "two octaves" if size == 24 else f"{size} half steps"


def number(count: int) -> str:
    """A count as a word, up to twelve.

    >>> number(3), number(20)
    ('three', '20')
    """
    return NUMBERS[count] if count < len(NUMBERS) else str(count)


def length_name(ticks: int) -> str:
    """A written length, with its article: "a dotted quarter"; beats are quarters.

    >>> length_name(TICKS * 3 // 2)
    'a dotted quarter'
    """
    quarters = Fraction(ticks, TICKS)
    return LENGTHS.get(quarters) or f"a note of {float(quarters):.3g} beats"


def name_at(melody: Melody, i: int) -> str:
    """The name of note ``i`` as it is spelled on paper.

    >>> name_at(melody("Bb4:2"), 0)
    'B♭4'
    """
    pitch, place = int(melody.pitch[i]), places_in(melody)[i]
    return f"{name_of(place)}{octave_of(pitch, place)}"


def bar_name(bar: Bar) -> str:
    """ "bar 3", "bar 3 the second time", or "pickup".

    >>> bar_name(melody("C5:8").bars[0])
    'bar 1'
    """
    name = f"bar {bar.number}" if bar.number else "pickup"
    if bar.passing == 1:
        return name
    again = TIMES[bar.passing] if bar.passing < len(TIMES) else f"time {bar.passing}"
    return f"{name} {again}"


def beat_name(melody: Melody, i: int) -> str:
    """Where in its bar note ``i`` starts: "beat 2", "and of 2", "the “e” of 2".

    >>> beat_name(melody("C5:1 D5:1"), 1)
    'and of 1'
    """
    beat, into = int(melody.beat_number[i]), int(melody.into_beat[i])
    part = Fraction(into, int(melody.beat_length[i]))
    kinds = FINER
    unit = melody.bars[int(melody.bar_index[i])].meter.unit
    if part and unit >= 8 and int(melody.beat_length[i]) * unit == 12 * TICKS:
        kinds = COMPOUND_PARTS
    elif part in PARTS:
        return PARTS[part].format(beat + 1)
    for count, kind in kinds.items():
        if (part * count).denominator == 1:
            return f"the {ORDINALS[int(part * count)]} {kind} of {beat + 1}"
    return f"beat {beat + 1 + float(part):.2f}"


def where(melody: Melody, i: int) -> str:
    """Where note ``i`` is and what it is: "bar 3, and of 2, D5".

    >>> where(melody("C5:1 D5:1"), 1)
    'bar 1, and of 1, D5'
    """
    bar = melody.bars[int(melody.bar_index[i])]
    return f"{bar_name(bar)}, {beat_name(melody, i)}, {name_at(melody, i)}"


def ratio_name(ratio: float) -> str:
    """A long-short ratio as it is said and printed everywhere: to a tenth.

    >>> ratio_name(1.7368), ratio_name(2.0)
    ('1.7 : 1', '2 : 1')
    """
    return f"{round(float(ratio), 1):g} : 1"


def where_read(read: Melody, melody: Melody, i: int) -> str:
    """Where note ``i`` is, named as its player reads it; its concert name where that differs.

    ``read`` is the melody as it is written for the player: "bar 3, and of 2, E5 (concert D5)".

    >>> where_read(melody("D5:2"), melody("C5:2"), 0)
    'bar 1, beat 1, D5 (concert C5)'
    """
    concert = name_at(melody, i)
    place = where(read, i)
    return place if name_at(read, i) == concert else f"{place} (concert {concert})"


def on_place(melody: Melody, i: int, seen_from: int) -> str:
    """Where note ``i`` starts, said at another note: "on the and of 1 of the next bar".

    >>> on_place(melody("C5:1 D5:1"), 1, 0)
    'on the and of 1'
    """
    beat = beat_name(melody, i)
    beat = f"the {beat}" if beat.startswith("and") else beat
    bars_on = int(melody.bar_index[i] - melody.bar_index[seen_from])
    bar = {0: "", 1: " of the next bar", -1: " of the bar before"}.get(
        bars_on, f" of {bar_name(melody.bars[int(melody.bar_index[i])])}"
    )
    return f"on {beat}{bar}"
