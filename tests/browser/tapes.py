"""The recordings that a page carries, decoded outside the browser, and their notes' times."""

from __future__ import annotations

import base64
import io
import json
import re
from dataclasses import dataclass
from typing import Any

import numpy as np

from tests.browser.pages import Built
from tests.browser.recorder import Samples


@dataclass(frozen=True)
class Tapes:
    """By version: the samples of its left channel, and its notes' frames on them."""

    samples: list[Samples]
    onsets: list[list[int]]
    releases: list[list[int]]
    starts: float
    rate: int
    bars: list[dict[str, Any]]

    def frame(self, seconds: float) -> int:
        """The frame of a moment of the music."""
        return round((seconds + self.starts) * self.rate)

    def note_at(self, version: int, frame: float, sure: float) -> int | None:
        """The note that sounds at a frame, -1 for none.

        None where a note begins or ends within ``sure`` seconds.
        """
        onsets = np.array(self.onsets[version])
        ends = np.minimum(self.releases[version], np.append(onsets[1:], 10**9))
        if np.abs(np.concatenate([onsets, ends]) - frame).min() < sure * self.rate:
            return None
        sounding = np.flatnonzero((onsets <= frame) & (frame < ends))
        return int(sounding[0]) if len(sounding) else -1


def _joined(coded: list[str], told: dict[str, Any]) -> Samples:
    """The left channel of a recording in pieces, each faded in over the one before."""
    import soundfile

    whole = np.zeros(told["frames"], np.float32)
    for place, (each, piece) in enumerate(zip(coded, told["pieces"], strict=True)):
        sound, _ = soundfile.read(io.BytesIO(base64.b64decode(each)), dtype="float32")
        seam = told["seam"] if place else 0
        share = np.ones(len(sound), np.float32)
        share[:seam] = (np.arange(seam) + 0.5) / seam if seam else []
        span = slice(piece["start"], piece["start"] + len(sound))
        whole[span] += share * (sound[:, 0] - whole[span])
    return whole


def tapes_of(built: Built) -> Tapes:
    """What a page carries; the notes' times come from the performances, not from the page."""
    text = built.file.read_text(encoding="utf-8")
    found = re.search(r'id="facts">(.*?)</script>', text, re.S)
    assert found
    facts = json.loads(found[1])
    starts, rate = facts["sound"]["starts"], facts["sound"]["rate"]
    samples = []
    for number in range(len(built.versions)):
        pieces = re.findall(rf'id="sound-{number}-\d">(.*?)</script>', text, re.S)
        assert pieces
        samples.append(_joined(pieces, facts["sound"]))

    def frames(seconds: Any) -> list[int]:
        return np.rint((np.asarray(seconds) + starts) * rate).astype(int).tolist()

    onsets = [frames(version.onset) for version in built.versions]
    releases = [frames(version.release) for version in built.versions]
    return Tapes(samples, onsets, releases, starts, rate, facts["bars"])
