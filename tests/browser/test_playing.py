"""What the listening page plays, measured on what it sends to the loudspeaker."""

from __future__ import annotations

import base64
import re
from dataclasses import replace

import numpy as np
import pytest

from phrasing.page.facts import example, rule_uses
from tests.browser.pages import Built, opened
from tests.browser.recorder import Heard, found_in
from tests.browser.recorder import heard as heard_now
from tests.browser.stepping import heard, run, run_until
from tests.browser.tapes import Tapes, tapes_of

pytestmark = pytest.mark.browser
PLAIN, SHAPED, STRAIGHT = 0, 1, 2
EACH = 2.0
"""Seconds for which each version is played."""
SURE = 0.015
"""Seconds: a picture is drawn every 10 ms of the stepped clock, after the sound."""
PLACE = 0.005
"""Seconds within which the place is kept."""


STARTS = "document.getElementById('where').textContent.startsWith('{}')"
STILL = "document.querySelector('#play span').textContent === 'Play'"


@pytest.fixture(scope="module")
def tapes(built) -> Tapes:
    return tapes_of(built)


@pytest.fixture(scope="module")
def tour(browser, built) -> Heard:
    """Plain, shaped and straight, switched while they play."""
    with opened(browser, built, stepped=True) as page:
        page.keyboard.press("1")
        page.click("#play")
        for key in ("s", "3", " "):
            run(page, EACH)
            page.keyboard.press(key)
        run(page, 0.1)
        return heard(page)


def offset(tapes: Tapes, version: int, take: Heard, seconds: float, length: float = 0.5):
    """Samples of the recording minus frames of the tape, and how alike the two are."""
    at, alike = found_in(tapes.samples[version], take.at(seconds, length))
    return round(seconds * take.rate) - at, alike


@pytest.mark.parametrize("version", [PLAIN, SHAPED, STRAIGHT])
def test_plays_the_recording_sample_for_sample(tour, tapes, version):
    seconds, length = version * EACH + 0.6, 1.2
    where, _ = offset(tapes, version, tour, seconds, length)
    piece = tour.at(seconds, length)
    start = round(seconds * tour.rate) - where
    tape = tapes.samples[version][start : start + len(piece)]
    gain = float(np.dot(piece, tape) / np.dot(tape, tape))
    rest = np.sqrt(np.mean((piece - gain * tape) ** 2) / np.mean(piece**2))
    assert 20 * np.log10(rest) < -60


def test_volume_starts_low(tour, tapes):
    where, _ = offset(tapes, PLAIN, tour, 0.5)
    tape = tapes.samples[PLAIN][round(0.5 * tour.rate) - where :][: round(0.5 * tour.rate)]
    level = 20 * np.log10(np.std(tour.at(0.5, 0.5)) / np.std(tape))
    assert level < -18


def test_switching_keeps_the_place(tour, tapes):
    places = []
    for version in (PLAIN, SHAPED, STRAIGHT):
        where, alike = offset(tapes, version, tour, version * EACH + 0.9)
        assert alike > 0.99
        places.append(where)
    assert np.ptp(places) <= PLACE * tour.rate
    assert np.ptp(places) == 0, "to the sample"


def test_switching_changes_what_is_heard(tour, tapes):
    for version, other in ((PLAIN, SHAPED), (SHAPED, PLAIN), (STRAIGHT, PLAIN)):
        assert offset(tapes, other, tour, version * EACH + 0.9)[1] < 0.98


@pytest.mark.parametrize("version", [PLAIN, SHAPED, STRAIGHT])
def test_lit_note_is_the_one_that_sounds(tour, tapes, version):
    where, _ = offset(tapes, version, tour, version * EACH + 0.9)
    right, moments = set(), 0
    for seconds, lit in tour.seen:
        frame = seconds * tour.rate - tour.first
        if not version * EACH + 0.3 < frame / tour.rate < (version + 1) * EACH - 0.1:
            continue
        expected = tapes.note_at(version, frame - where, SURE)
        if expected is not None:
            assert lit == expected, f"at {(frame - where) / tour.rate:.3f} s of the tape"
            right.add(expected)
            moments += 1
    assert moments >= 5
    assert len(right - {-1}) >= 4


def test_a_decoder_that_leaves_the_encoders_delay_in_is_seen_through(browser, built, tapes):
    """The first frame of an MP3, silent, tells a decoder what to trim; here it is taken out."""
    text = re.sub(
        r'(id="sound-\d-\d">)(.*?)(</script>)',
        lambda found: found[1] + without_first_frame(found[2]) + found[3],
        built.file.read_text(encoding="utf-8"),
    )
    file = built.file.with_name("untrimmed.html")
    file.write_text(text, encoding="utf-8")
    with opened(browser, replace(built, file=file), stepped=True) as page:
        page.keyboard.press("1")
        page.keyboard.press("ArrowRight")
        page.keyboard.press(" ")
        run(page, 1.2)
        take = heard(page)
    at, alike = found_in(tapes.samples[PLAIN], take.at(0.4, 0.5))
    assert alike > 0.99
    started = at - round(0.4 * take.rate) - tapes.frame(tapes.bars[1]["from"])
    assert abs(started) <= PLACE * take.rate


def without_first_frame(coded: str) -> str:
    """An MP3 (base64) without its first frame; a frame begins with eleven set bits."""
    content = base64.b64decode(coded)
    second = re.compile(b"\xff[\xfa\xfb]").search(content, 100)
    assert second
    return base64.b64encode(content[second.start() :]).decode("ascii")


def test_loop_is_counted_in_and_returns_to_its_start(browser, built, tapes):
    with opened(browser, built, stepped=True) as page:
        page.keyboard.press("1")
        page.click("#more")
        page.select_option("#loop-from", label="3")
        page.select_option("#loop-to", label="3")
        page.click("#more")
        page.keyboard.press(" ")
        run(page, 3.9)
        take = heard(page)
    bar = next(bar for bar in tapes.bars if bar["number"] == 3)
    beat = round(bar["beat"] * take.rate)
    for click in range(4):
        clicks = np.abs(take.samples[click * beat : (click + 1) * beat])
        assert clicks[: round(0.01 * take.rate)].max() > 0.01
        assert clicks[round(0.05 * take.rate) :].max() == 0.0
    loop = tapes.frame(bar["to"]) - tapes.frame(bar["from"])
    for turn in (0, 1):
        start = 4 * beat + turn * loop
        at, alike = found_in(tapes.samples[PLAIN], take.samples[start + 2000 : start + 20000])
        assert alike > 0.99
        assert abs(at - 2000 - tapes.frame(bar["from"])) <= PLACE * take.rate


@pytest.mark.parametrize("percent", [70, 120])
def test_slower_and_faster_every_onset_keeps_its_place_in_every_version(
    browser, built, tapes, percent
):
    with opened(browser, built, stepped=True) as page:
        page.keyboard.press("1")
        page.click("#more")
        page.fill("#speed", str(percent))
        page.click("#more")
        page.keyboard.press(" ")
        run(page, EACH)
        page.keyboard.press("2")
        run(page, EACH)
        take = heard(page)
    for version in (PLAIN, SHAPED):
        checked = 0
        for onset in tapes.onsets[version]:
            expected = round((onset - tapes.frame(0)) / (percent / 100))
            inside = expected / take.rate - version * EACH
            if not 0.2 < inside < EACH - 0.2:
                continue
            attack = tapes.samples[version][onset + 200 : onset + 1000]
            near = take.samples[expected - 100 : expected + len(attack) + 500]
            at, alike = found_in(near, attack)
            assert alike > 0.95
            assert abs(at - 300) <= PLACE * take.rate
            checked += 1
        assert checked >= 3


def test_a_rule_plays_its_first_instance_plain_then_shaped(browser, built, tapes):
    ranges = [example(built.lesson.melody, *use.runs[0]) for use in rule_uses_of(built)]
    shortest = min(range(len(ranges)), key=lambda k: ranges[k][1] - ranges[k][0])
    begins, ends = (tapes.frame(seconds) for seconds in ranges[shortest])
    with opened(browser, built, stepped=True) as page:
        page.locator("button[data-rule]").nth(shortest).click()
        for words in ("plain: ", "shaped: "):
            run_until(page, STARTS.format(words))
            inked = page.locator(".staff .layer:not(.off)").first
            assert inked.get_attribute("data-version") == "01"[words.startswith("shaped")]
        run_until(page, STILL)
        take = heard(page)
    second = ends - begins + round(0.6 * take.rate)
    piece = min(20000, ends - begins - 3000)
    for version, start in ((PLAIN, 0), (SHAPED, second)):
        at, alike = found_in(tapes.samples[version], take.samples[start + 2000 :][:piece])
        assert alike > 0.99
        assert abs(at - 2000 - begins) <= PLACE * take.rate


def test_in_real_time_it_sounds_and_the_lit_note_moves(browser, built, tapes):
    with opened(browser, built, recording=True) as page:
        page.keyboard.press("1")
        page.click("#play")
        page.wait_for_function("() => tap.seen.some(([, note]) => note > 2)")
        page.click("#play")
        take = heard_now(page)
    piece = take.samples[: round(0.5 * take.rate)]
    assert found_in(tapes.samples[PLAIN], piece)[1] > 0.99


def rule_uses_of(built: Built):
    return rule_uses(built.lesson, built.lesson.melody)
