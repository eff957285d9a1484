"""The practice page: the notes of the step that is played, and what is done stays done."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from phrasing.app.folders import write_practice
from phrasing.files import Plan
from phrasing.lesson.exercises import Ladder, exercises
from phrasing.lesson.lesson import open_lesson
from phrasing.lesson.request import Request, SoundForm
from tests.browser.pages import written_tune
from tests.browser.stepping import STEPPED, heard, run, run_until

pytestmark = pytest.mark.browser
SILENCE = 0.15
"""Seconds that may be silent at the start of a step, which a take leaves out."""


@dataclass(frozen=True)
class Practice:
    """A practice folder's page, and what its scripts are told."""

    file: Path
    facts: dict[str, Any]


@pytest.fixture(scope="module")
def practice(tmp_path_factory) -> Practice:
    return made(tmp_path_factory.mktemp("practice") / "out", tmp_path_factory.mktemp("tune"))


def made(folder: Path, scratch: Path) -> Practice:
    """A plan of four bars, in two keys more."""
    lesson = open_lesson(written_tune(scratch), Request(only="1-4", tempo=180))
    found = exercises(lesson, Ladder(100, 100, 10), keys=("A", "B"))
    write_practice("Late Bus", found, Plan(folder), SoundForm(format="mp3"))
    text = (folder / "practice.html").read_text(encoding="utf-8")
    told = re.search(r'id="facts">(.*?)</script>', text, re.S)
    assert told
    return Practice(folder / "practice.html", json.loads(told[1]))


@pytest.fixture
def page(browser, practice):
    """The page on a stepped clock; whatever it complains about fails the test."""
    context = browser.new_context(viewport={"width": 390, "height": 844})
    yield from _opened(context, practice.file)


@pytest.fixture
def phone(browser, practice):
    """The page on a phone, in real time."""
    size = {"width": 390, "height": 844}
    context = browser.new_context(viewport=size, has_touch=True, is_mobile=True)
    yield from _opened(context, practice.file, stepped=False)


def _opened(context: Any, file: Path, *, stepped: bool = True) -> Iterator[Any]:
    tab = context.new_page()
    wrong: list[str] = []
    tab.on("console", lambda message: wrong.append(message.text))
    tab.on("pageerror", lambda error: wrong.append(str(error)))
    if stepped:
        tab.add_init_script(STEPPED)
    tab.goto(file.as_uri())
    tab.wait_for_selector("#play:enabled")
    yield tab
    context.close()
    assert wrong == []


PLAYS = "document.querySelector('#play span').textContent === 'Pause'"


def now(page) -> str:
    return page.inner_text("#now")


def play(page) -> None:
    """Press Play, and wait until the step is unpacked."""
    page.click("#play")
    page.wait_for_function(f"() => {PLAYS}", polling=20)


def test_shows_the_bars_of_the_step_and_lights_its_notes(page, practice):
    page.locator('#plan [data-step="1"]').click()
    page.wait_for_function(f"() => {PLAYS}", polling=20)
    step = practice.facts["steps"][1]
    first, last = step["bars"]
    shaded = page.locator(".bar.looped:visible")
    shown = sorted(int(shaded.nth(k).get_attribute("data-bar")) for k in range(shaded.count()))
    assert shown == list(range(first, last + 1))
    run(page, max(step["onset"]) + 0.5)
    take = heard(page)
    seen: set[int] = set()
    for seconds, lit in take.seen:
        place = seconds - (take.first / take.rate)
        begun = [k for k, onset in enumerate(step["onset"]) if onset <= place + SILENCE]
        near = {step["notes"][at] for at in begun[-2:]}
        assert lit in near | {-1}
        seen.add(int(lit))
    assert seen >= set(step["notes"])


def test_every_key_has_its_own_notes(page, practice):
    scores = [step["score"] for step in practice.facts["steps"]]
    assert scores[-1] > scores[-2] >= scores[0] == 0
    page.locator("#plan [data-step]").last.click()
    assert page.is_visible(f"#score-{scores[-1]}")
    assert not page.is_visible("#score-0")


def test_next_and_previous_keep_to_the_plan(page, practice):
    count = len(practice.facts["steps"])
    assert page.is_disabled("#back")
    for number in range(2, count + 1):
        page.click("#on")
        assert now(page).startswith(f"{number}. ")
    assert page.is_disabled("#on")
    page.keyboard.press("ArrowLeft")
    assert now(page).startswith(f"{count - 1}. ")
    assert page.locator("#plan [aria-current=step]").count() == 1


def test_what_is_done_stays_done_and_the_minutes_go_down(page):
    before = page.inner_text("#left")
    assert before.startswith("0 of ")
    page.check("#done")
    page.locator('#plan [data-done="2"]').check()
    page.reload()
    page.wait_for_selector("#play:enabled")
    assert page.inner_text("#left").startswith("2 of ")
    assert page.is_checked("#done")
    page.uncheck("#done")
    assert page.inner_text("#left").startswith("1 of ")


def test_a_step_played_to_its_end_is_done_and_the_next_is_up(page):
    play(page)
    run_until(page, "document.getElementById('now').textContent.startsWith('2.')")
    assert page.inner_text("#left").startswith("1 of ")
    assert page.inner_text("#play") == "Play"


def test_a_step_goes_round_without_a_gap(page, practice):
    """The second time round is the first one, sample for sample."""
    step = practice.facts["steps"][0]
    page.click("#loop")
    assert page.inner_text("#said") == "This step again and again."
    play(page)
    start, end = step["whole"]
    run(page, 2 * (end - start) + 1.0)
    assert now(page).startswith("1. ")
    assert page.inner_text("#play") == "Pause"
    take = heard(page)
    once = round((end - start) * take.rate)
    one, two = (take.samples[at : at + once - 6000] for at in (3000, 3000 + once))
    assert np.abs(one).max() > 0.01
    np.testing.assert_allclose(two, one, atol=1e-5)


def test_bars_of_a_step_are_looped_and_slowed_down(page, practice):
    step = practice.facts["steps"][2]
    page.locator('#plan [data-step="2"]').click()
    page.wait_for_function(f"() => {PLAYS}", polling=20)
    page.click("#more")
    page.select_option("#loop-from", index=1)
    page.select_option("#loop-to", index=1)
    assert page.inner_text("#said") == f"Looping {step['names'][1]}."
    page.fill("#speed", "50")
    assert page.inner_text("#speed-said").startswith("50 %")
    start, end = step["times"][1]
    run(page, 3 * (end - start))
    lit: list[int] = []
    for _ in range(30):
        run(page, (end - start) / 7)
        spot = page.locator(".spot.sounding:visible")
        lit += [int(spot.first.get_attribute("data-note"))] if spot.count() else []
    inside = {
        note
        for note, onset in zip(step["notes"], step["onset"], strict=True)
        if start - 1e-3 <= onset < end
    }
    assert set(lit) <= inside | {min(inside) - 1}
    assert len(set(lit) & inside) > 1
    shaded = page.locator(".bar.looped:visible")
    assert {shaded.nth(k).get_attribute("data-bar") for k in range(shaded.count())} == {
        str(step["first"] + 1)
    }


def test_a_tapped_note_is_played_from(page, practice):
    step = practice.facts["steps"][0]
    note = step["notes"][3]
    spot = page.locator(f'.layout.slim .spot[data-note="{note}"]:visible').first
    spot.press("Enter")
    page.wait_for_function(f"() => {PLAYS}", polling=20)
    run_until(page, "document.querySelector('.spot.sounding')", 1.0)
    lit = page.locator(".spot.sounding:visible").first.get_attribute("data-note")
    assert int(lit) in step["notes"][2:5]


def test_the_lock_screen_has_the_steps_title_and_its_buttons(browser, practice):
    context = browser.new_context()
    page = context.new_page()
    page.add_init_script(STEPPED)
    page.add_init_script(
        "window.keys = {}; navigator.mediaSession.setActionHandler ="
        " (name, action) => { window.keys[name] = action; };"
    )
    page.goto(practice.file.as_uri())
    page.wait_for_selector("#play:enabled")
    titles = [step["title"] for step in practice.facts["steps"]]
    assert page.evaluate("() => navigator.mediaSession.metadata.title") == titles[0]
    page.evaluate("() => keys.nexttrack()")
    assert page.evaluate("() => navigator.mediaSession.metadata.title") == titles[1]
    page.evaluate("() => keys.play()")
    page.wait_for_function(f"() => {PLAYS}", polling=20)
    page.evaluate("() => keys.pause()")
    assert page.inner_text("#play") == "Play"
    context.close()


@pytest.mark.parametrize("width", [390, 820, 1440])
def test_nothing_is_wrong_for_a_screen_reader(browser, practice, width):
    """By the rules of axe-core 4, which stand for WCAG 2.2."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright")
    context = browser.new_context(viewport={"width": width, "height": 900})
    for page in _opened(context, practice.file, stepped=False):
        page.click("#more")
        found = axe.Axe().run(page).response["violations"]
        assert [(each["id"], each["nodes"][0]["html"][:90]) for each in found] == []


OUT_OF_SIGHT = """hidden => {
  Object.defineProperty(document, "hidden", { configurable: true, get: () => hidden });
  document.dispatchEvent(new Event("visibilitychange"));
}"""
TAPE = "document.getElementById('tape')"


def test_what_plays_goes_on_while_a_phones_screen_is_off_and_comes_back(phone):
    phone.tap("#play")
    phone.wait_for_function("() => document.getElementById('where').textContent === '0:01'")
    assert phone.evaluate(f"() => {TAPE}.paused")
    phone.evaluate(OUT_OF_SIGHT, True)
    phone.wait_for_function(f"() => !{TAPE}.paused && {TAPE}.currentTime > 1.2")
    assert phone.inner_text("#play span") == "Pause"
    phone.evaluate(OUT_OF_SIGHT, False)
    phone.wait_for_function(f"() => {TAPE}.paused && {PLAYS}")
    place = phone.evaluate(f"() => {TAPE}.currentTime")
    assert place > 1.2
    phone.wait_for_function("() => document.querySelector('.spot.sounding')")


def test_the_page_alone_plays_without_the_files(browser, practice, tmp_path):
    lonely = tmp_path / "practice.html"
    lonely.write_bytes(practice.file.read_bytes())
    for page in _opened(browser.new_context(), lonely):
        play(page)
        run_until(page, "document.querySelector('.spot.sounding')")


def test_a_plan_too_long_for_a_page_plays_the_files_beside_it(browser, tmp_path, monkeypatch):
    monkeypatch.setattr("phrasing.app.folders.CARRIED", 0.0)
    practice = made(tmp_path / "long", tmp_path)
    page = browser.new_page()
    page.goto(practice.file.as_uri())
    page.click("#play")
    page.wait_for_function(f"() => {TAPE}.currentTime > 0.1")
    lonely = tmp_path / "practice.html"
    lonely.write_bytes(practice.file.read_bytes())
    page.goto(lonely.as_uri())
    page.click("#play")
    page.wait_for_function("() => document.getElementById('said').textContent !== ''")
    first = practice.facts["steps"][0]["file"]
    assert page.inner_text("#said").startswith(f"“{first}” is not beside this page.")
    page.close()
