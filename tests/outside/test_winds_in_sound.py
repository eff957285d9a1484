"""Winds as they are heard: on time, slurred without a hole, open, and as loud as asked.

A note is there when it is within 6 dB of its level. Published: one tone displaced in an even
series is heard from 6 ms or 2.5 % of the interval (Friberg & Sundberg 1995, JASA
98(5):2524-2531), the order of two onsets from 20 ms (Watson 2004, Seminars in Hearing
25(3):219-227), a level difference from 0.5 to 1 dB (Jesteadt, Wier & Green 1977, JASA
61:169-177, from memory). That a slur has no hole, and that a ghost is darker and an accent
brighter than a plain note, is common practice, no source; the dB asked for are this project's
own. ``python -m tests.winds`` prints all instruments, soundfonts and tempos.
"""

from dataclasses import replace

import numpy as np
import pytest

from phrasing.sound.soundfonts import available, embedded_soundfont
from tests.winds import heard, level_errors, shades

pytestmark = pytest.mark.outside
FONTS = {font.name: font for font in [*available(), embedded_soundfont()]}
SAMPLED = (
    ("trumpet", 320), ("trombone", 240), ("alto-sax", 80), ("clarinet", 120), ("flute", 200),
    ("baritone-sax", 160),
)  # fmt: skip
"""An instrument and a tempo each, of all that could be measured."""

LOOPS = ("TimGM6mb", 66)
"""The small soundfont's alto saxophone."""


@pytest.fixture(scope="module", params=sorted(FONTS))
def font(request):
    return FONTS[request.param]


@pytest.fixture(scope="module", params=SAMPLED, ids=[key for key, _ in SAMPLED])
def versions(request, font):
    key, tempo = request.param
    return heard(key, font, tempo)


def test_notes_are_there_when_they_are_due(versions):
    for version in versions.values():
        late = version.late[~np.isnan(version.late)]
        assert len(late) >= 0.95 * len(version.late)
        assert abs(np.median(late)) <= 5
        assert np.percentile(np.abs(late), 95) <= 12


def test_swing_is_heard_as_asked(versions):
    """On a flute, 1.84 had been heard as 2.18."""
    for version in versions.values():
        swing = version.swing[~np.isnan(version.swing)]
        assert len(swing) >= 10
        assert abs(np.median(swing)) <= 0.06
        assert np.percentile(np.abs(swing), 90) <= 0.2


def test_a_slur_has_no_hole_and_the_tongue_makes_one(versions):
    """Slurred notes had been struck again, 5 to 10 dB down; an alto's tone had sunk by 6 dB."""
    slurs, _ = versions["shaped"].dips
    assert len(slurs) >= 10
    assert slurs.min() >= -3
    for version in versions.values():
        _, tongues = version.dips
        assert len(tongues) >= 10
        assert -20 <= np.median(tongues) <= -12


def test_nothing_clicks(versions, font):
    """No burst above 40 dB under its note, plain or shaped."""
    if (font.name, versions["plain"].played.parts[0].program) == LOOPS:
        pytest.skip("its samples click where they loop, the plain ones too (-30 dB)")
    for version in versions.values():
        assert version.line.clicks().max() <= -40


def test_a_click_would_be_found(versions):
    """A tone that goes on after 20 samples of silence; its place is found, too."""
    line = versions["shaped"].line
    wave, slur = line.take.wave.copy(), int(np.flatnonzero(line.slurred)[1])
    at = round((line.due[slur] + 0.002) * line.take.rate)
    at += int(np.abs(wave[at : at + 400, 0]).argmax())
    wave[at : at + 20] = 0
    clicks = replace(line, take=replace(line.take, wave=wave)).clicks()
    assert clicks.argmax() == slur
    assert clicks[slur] > -40


def test_levels_are_heard_in_the_first_60_ms(versions, font):
    errors = np.abs(level_errors(versions))
    assert np.median(errors) <= 0.5
    unsteady = (font.name, versions["plain"].played.parts[0].program) == LOOPS
    assert np.percentile(errors, 95) <= (1.5 if unsteady else 1.2)


def test_only_ghosts_are_darker_and_only_accents_brighter(versions):
    found = shades(versions)
    ghosts, darker = found["ghost"]
    accents, brighter = found["accent"]
    assert min(len(ghosts), len(accents)) >= 4
    assert np.median(ghosts) <= -3
    assert np.median(accents) >= 2
    assert np.median(darker) < 1 < np.median(brighter)
