"""The rules a second time, note by note as they are read aloud, to check the columns by.

Slow on purpose and without a line of the package's own marking.
"""

from __future__ import annotations

from phrasing.score.melody import Melody

ORDER = [
    "syncopated-pair", "off-beat-quarter", "off-beat-long", "on-beat-quarter",
    "clipped-eighth", "short-eighth", "enclosure", "turn", "dip", "leap-up", "phrase-peak",
]  # fmt: skip
FOREVER = 10**9


class Line:
    """Questions about note ``i``, answered one at a time; None is beyond the line."""

    def __init__(self, melody: Melody) -> None:
        self.m = melody
        self.count = len(melody)

    def rest(self, i):
        if i == self.count - 1:
            return FOREVER
        return self.m.onset[i + 1] - self.m.onset[i] - self.m.length[i]

    def beat(self, i):
        """Ticks into the beat, the beat's length, and whether the meter is one of eighths."""
        bar = self.m.bars[self.m.bar_index[i]]
        into = (self.m.onset[i] - bar.onset + bar.offset) % bar.meter.bar_length
        lengths = list(bar.meter.beat_lengths)
        while into >= lengths[0]:
            into -= lengths.pop(0)
        return into, lengths[0], bar.meter.unit >= 8

    def place(self, i):
        into, length, eighths = self.beat(i)
        if into == 0:
            return "on"
        return "off" if into * 2 == length and not eighths else "inside"

    def pitch(self, i, steps):
        """The pitch of the note so many steps on (or back) in the same line."""
        here = i
        while steps:
            way = 1 if steps > 0 else -1
            gap = here if way > 0 else here - 1
            if not 0 <= here + way < self.count or self.rest(gap) >= 480:
                return None
            here, steps = here + way, steps - way
        return self.m.pitch[here]

    def around(self, i, back, on):
        """The pitches from ``back`` before to ``on`` after; None if the line is shorter."""
        found = [self.pitch(i, step) for step in range(-back, on + 1)]
        return None if None in found else [int(p) for p in found]

    def quarter_off(self, i):
        return 0 <= i < self.count and self.place(i) == "off" and self.m.length[i] == 960

    def quarter_on(self, i):
        if self.place(i) != "on" or self.m.length[i] != 960:
            return False
        compound = self.beat(i)[1] == 1440
        pair = self.rest(i) == 0 and self.m.length[i + 1] == 480
        return not (compound and pair)

    def pairs_with_next(self, i):
        return self.quarter_off(i) and self.quarter_off(i + 1) and self.rest(i) == 0

    def arrival(self, i):
        place, length, ends = self.place(i), self.m.length[i], self.rest(i) >= 480
        return (
            (place == "off" and length >= 960)
            or self.quarter_on(i)
            or (place != "inside" and length == 480 and ends)
        )

    def encloses(self, i):
        three = self.around(i, 1, 1)
        if three is None or self.place(i + 1) != "on" or self.m.length[i + 1] < 480:
            return False
        first, second, target = three
        near = abs(first - target) in (1, 2) and abs(second - target) in (1, 2)
        return near and (first < target < second or second < target < first)

    def dips(self, i):
        four = self.around(i, 2, 1)
        if four is None or self.m.length[i] >= 960:
            return False
        earlier, before, low, later = four
        return before > earlier and before - low >= 3 and later > before

    def turns(self, i):
        three = self.around(i, 1, 1)
        if three is None or not three[0] < three[1] > three[2] or self.dips(i + 1):
            return False
        back, on = self.around(i, 2, 0), self.around(i, 0, 2)
        rose = back is not None and back[0] < back[1]
        return rose or (on is not None and on[1] > on[2])

    def peaks(self, i):
        first = last = i
        while first > 0 and self.rest(first - 1) < 960:
            first -= 1
        while self.rest(last) < 960:
            last += 1
        others = [self.m.pitch[k] for k in range(first, last + 1) if k != i]
        return len(others) >= 4 and self.m.pitch[i] > max(others)

    def rules(self, i):
        """All rules that apply to note ``i``, as (rule, mark)."""
        place, length, ends = self.place(i), self.m.length[i], self.rest(i) >= 480
        leads, ended = self.pairs_with_next(i), i > 0 and self.pairs_with_next(i - 1)
        reached = self.around(i, 1, 0)
        next_pitch = self.pitch(i, 1)
        stepwise = next_pitch is not None and abs(next_pitch - self.m.pitch[i]) in (1, 2)
        top = "tenuto" if stepwise and self.arrival(i + 1) else "stress"
        answers = [
            (leads or ended, "syncopated-pair", "marcato" if leads else "accent"),
            (place == "off" and length == 960, "off-beat-quarter", "accent"),
            (place == "off" and length > 960, "off-beat-long", "accent"),
            (self.quarter_on(i), "on-beat-quarter", "marcato"),
            (place == "off" and length == 480 and ends, "clipped-eighth", "clipped"),
            (place == "on" and length == 480 and ends, "short-eighth", "staccato"),
            (self.encloses(i), "enclosure", "tenuto"),
            (self.turns(i), "turn", top),
            (self.dips(i), "dip", "ghost"),
            (reached is not None and reached[1] - reached[0] >= 5, "leap-up", "stress"),
            (self.peaks(i), "phrase-peak", "stress"),
        ]
        return [(rule, mark) for yes, rule, mark in answers if yes]


def marks(melody: Melody) -> list[tuple[str, str] | None]:
    """(rule, mark) or None for each note, before neighbours yield to each other."""
    line = Line(melody)
    return [(line.rules(i) or [None])[0] for i in range(len(melody))]
