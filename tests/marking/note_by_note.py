"""The rules a second time, note by note as they are read aloud, to check the columns by.

Slow on purpose and without a line of the package's own marking: swing, no chords.
"""

from __future__ import annotations

from itertools import pairwise

from phrasing.score.melody import Melody

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

    def bar(self, i):
        return self.m.bars[self.m.bar_index[i]]

    def beat(self, i):
        """Ticks into the beat, the beat's length, and whether the meter is one of eighths."""
        bar = self.bar(i)
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
        return self.m.pitch[here] if 0 <= here < self.count else None

    def move(self, i):
        """The move behind note ``i``: semitones, 0 for none in its line."""
        if not 0 <= i < self.count or self.pitch(i, 1) is None:
            return 0
        return int(self.m.pitch[i + 1] - self.m.pitch[i])

    def around(self, i, back, on):
        """The pitches from ``back`` before to ``on`` after; None if the line is shorter."""
        found = [self.pitch(i, step) for step in range(-back, on + 1)]
        return None if None in found else [int(p) for p in found]

    # Phrases

    def ends_phrase(self, i):
        if self.rest(i) >= 960:
            return True
        rests_on = self.m.length[i] >= 1920 and self.m.length[i + 1] < self.m.length[i]
        breathes = self.m.length[i] >= 960 and self.rest(i) >= 480 and self.leads_over(i + 1)
        return rests_on or breathes

    def leads_over(self, first):
        bar = self.bar(first)
        line, i = bar.onset + bar.length, first
        if 2 * (self.m.onset[i] - bar.onset + bar.offset) < bar.meter.bar_length:
            return False
        while self.m.onset[i] < line:
            if self.m.onset[i] + self.m.length[i] > line:
                return i != first
            if self.m.length[i] >= 960 or self.rest(i) >= 480:
                return False
            i += 1
        return self.m.onset[i] == line

    def phrase(self, i):
        first = last = i
        while first > 0 and not self.ends_phrase(first - 1):
            first -= 1
        while not self.ends_phrase(last):
            last += 1
        return first, last

    def is_pickup(self, i):
        first, last = self.phrase(i)
        lines = [
            b.onset for b in self.m.bars if not b.offset and b.onset >= self.m.onset[first]
        ]
        if not lines:
            return False
        line, bar = lines[0], self.bar(first)
        if 4 * (line - self.m.onset[first]) > 3 * bar.meter.bar_length:
            return False
        over = [
            k for k in range(first, last + 1)
            if self.m.onset[k] <= line < self.m.onset[k] + self.m.length[k]
        ]  # fmt: skip
        return bool(over) and i < over[0]

    # Value and position

    def quarter_off(self, i):
        return 0 <= i < self.count and self.place(i) == "off" and self.m.length[i] == 960

    def quarter_on(self, i):
        if self.place(i) != "on" or self.m.length[i] != 960:
            return False
        compound = self.beat(i)[1] == 1440
        pair = self.rest(i) == 0 and self.m.length[i + 1] == 480
        return not (compound and pair)

    def runs_into_next(self, i):
        following = i + 1 < self.count and self.place(i + 1) == "off"
        held = following and self.m.length[i + 1] >= 960
        return self.quarter_off(i) and held and self.rest(i) == 0

    def arrival(self, i):
        place, length, ends = self.place(i), self.m.length[i], self.rest(i) >= 480
        return (
            (place == "off" and length >= 960)
            or self.quarter_on(i)
            or (place != "inside" and length == 480 and ends)
        )

    # Where the line goes

    def passed(self, i):
        for period in (1, 2):
            moves = range(i - 2 * period + 1, i + period + 1)
            if all(self.goes_as_before(k, period) for k in moves if k > i - period):
                return True
        return False

    def goes_as_before(self, i, period):
        """Whether the move behind ``i`` goes the way of the one ``period`` moves before."""
        for k in (i, i - period):
            if not (0 <= k < self.count - 1 and self.move(k)):
                return False
            if self.m.length[k] != self.m.length[k + 1]:
                return False
            if period == 1 and abs(self.move(k)) > 2:
                return False
        return (self.move(i) > 0) == (self.move(i - period) > 0)

    def target(self, i):
        longer = i > 0 and self.m.length[i] > self.m.length[i - 1]
        longer = longer and self.place(i) == "on" and not self.passed(i)
        return self.arrival(i) or longer or self.ends_phrase(i)

    def zigzags(self, i):
        """Whether the note lies in five moves or more that go up and down in turn."""
        for first in range(i - 5, i + 1):
            if first < 0 or first + 5 >= self.count:
                continue
            moves = [self.move(k) for k in range(first, first + 5)]
            turns = all(a * b < 0 for a, b in pairwise(moves))
            if turns and len(set(self.m.length[first : first + 6].tolist())) == 1:
                return True
        return False

    # Contour

    def enclosed_by(self, i):
        """How many notes before ``i + 1``, with ``i`` the last, enclose it."""
        target = self.pitch(i, 1)
        if target is None or self.place(i + 1) != "on" or self.m.length[i + 1] < 480:
            return 0
        if not self.target(i + 1):
            return 0
        best, sides = 0, set()
        for back in range(4):
            pitch = self.pitch(i, -back)
            if pitch is None or pitch == target or abs(pitch - target) > 2:
                break
            if self.m.length[i - back] >= 960:
                break
            sides.add(pitch > target)
            if len(sides) == 2:
                best = back + 1
        return best

    def dips(self, i):
        return self.drops(i) or self.is_pedal(i)

    def drops(self, i):
        four = self.around(i, 2, 1)
        if four is None or self.m.length[i] >= 960 or self.zigzags(i):
            return False
        earlier, before, low, later = four
        return before > earlier and before - low >= 3 and later - low >= 3 and later > before

    def is_pedal(self, i):
        return any(
            all(self.low_off(k, i) for k in chain)
            for chain in ((i, i - 2, i - 4), (i - 2, i, i + 2), (i, i + 2, i + 4))
        )

    def low_off(self, k, i):
        if not 0 <= k < self.count or self.m.pitch[k] != self.m.pitch[i]:
            return False
        three = self.around(k, 1, 1)
        low = three is not None and three[0] > three[1] < three[2]
        return low and self.place(k) == "off" and self.m.length[k] < 960

    def turns(self, i):
        three = self.around(i, 1, 1)
        if three is None or not three[0] < three[1] > three[2] or self.dips(i + 1):
            return False
        back, on = self.around(i, 2, 0), self.around(i, 0, 2)
        rose = back is not None and back[0] < back[1]
        return rose or (on is not None and on[1] > on[2])

    def leaps(self, i):
        rise = self.move(i - 1)
        if i and self.dips(i - 1):
            rise += self.move(i - 2)
        return rise >= 5

    def peaks(self, i):
        first, last = self.phrase(i)
        others = [self.m.pitch[k] for k in range(first, last + 1) if k != i]
        return len(others) >= 4 and self.m.pitch[i] > max(others)

    def rules(self, i):
        """All rules that apply to note ``i``, as (rule, mark)."""
        place, length, ends = self.place(i), self.m.length[i], self.rest(i) >= 480
        leads, ended = self.runs_into_next(i), i > 0 and self.runs_into_next(i - 1)
        next_pitch = self.pitch(i, 1)
        stepwise = next_pitch is not None and abs(next_pitch - self.m.pitch[i]) in (1, 2)
        top = "tenuto" if stepwise and self.arrival(i + 1) else "stress"
        quarter = "staccato" if self.is_pickup(i) else "marcato"
        answers = [
            (leads or ended, "syncopated-pair", "marcato" if leads else "accent"),
            (place == "off" and length == 960, "off-beat-quarter", "accent"),
            (place == "off" and length > 960, "off-beat-long", "accent"),
            (self.quarter_on(i), "on-beat-quarter", quarter),
            (place == "off" and length == 480 and ends, "clipped-eighth", "clipped"),
            (place == "on" and length == 480 and ends, "short-eighth", "staccato"),
            (self.enclosed_by(i) > 0, "enclosure", "tenuto"),
            (self.turns(i), "turn", top),
            (self.dips(i), "dip", "ghost"),
            (self.leaps(i), "leap-up", "stress"),
            (self.peaks(i), "phrase-peak", "stress"),
        ]
        return [(rule, mark) for yes, rule, mark in answers if yes]
