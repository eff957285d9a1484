"""The practice page: the notes of the step that is played, and what is done stays done."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from phrasing.app.folders import write_practice
from phrasing.files import Plan
from phrasing.lesson.exercises import Ladder, exercises
from phrasing.lesson.lesson import open_lesson
from phrasing.lesson.request import Request, SoundForm
from tests.browser.pages import written_tune

pytestmark = pytest.mark.browser


@dataclass(frozen=True)
class Practice:
    """A practice folder's page, and what its scripts are told."""

    file: Path
    facts: dict[str, Any]


@pytest.fixture(scope="module")
def practice(tmp_path_factory) -> Practice:
    folder = tmp_path_factory.mktemp("practice") / "out"
    tune = written_tune(tmp_path_factory.mktemp("tune"))
    lesson = open_lesson(tune, Request(only="1-4", tempo=180))
    found = exercises(lesson, Ladder(100, 100, 10), keys=("A", "B"))
    write_practice("Late Bus", found, Plan(folder), SoundForm(format="mp3"))
    text = (folder / "practice.html").read_text(encoding="utf-8")
    told = re.search(r'id="facts">(.*?)</script>', text, re.S)
    assert told
    return Practice(folder / "practice.html", json.loads(told[1]))


@pytest.fixture
def page(browser, practice):
    """The page in a tab; whatever it complains about fails the test."""
    context = browser.new_context(viewport={"width": 390, "height": 844})
    tab = context.new_page()
    wrong: list[str] = []
    tab.on("console", lambda message: wrong.append(message.text))
    tab.on("pageerror", lambda error: wrong.append(str(error)))
    tab.goto(practice.file.as_uri())
    tab.wait_for_selector("#play:enabled")
    yield tab
    context.close()
    assert wrong == []


def now(page) -> str:
    return page.inner_text("#now")


def ended(page) -> None:
    """Bring the step that plays to its end."""
    page.evaluate("() => { const tape = document.getElementById('tape');"
                  " tape.currentTime = tape.duration - 0.05; }")  # fmt: skip


def test_shows_the_bars_of_the_step_and_lights_its_notes(page, practice):
    page.locator('#plan [data-step="1"]').click()
    first, last = practice.facts["steps"][1]["bars"]
    shaded = page.locator(".bar.looped:visible")
    shown = sorted(int(shaded.nth(k).get_attribute("data-bar")) for k in range(shaded.count()))
    assert shown == list(range(first, last + 1))
    page.wait_for_selector(".layout.slim .spot.sounding")
    lit = page.evaluate(
        "() => { const spot = document.querySelector('.layout.slim .spot.sounding');"
        " return [Number(spot?.dataset.note), document.getElementById('tape').currentTime]; }"
    )
    step = practice.facts["steps"][1]
    near = {
        max((k for k, onset in enumerate(step["onset"]) if onset <= lit[1] + by), default=0)
        for by in (0.0, -0.1)
    }
    assert lit[0] in {step["notes"][at] for at in near}, "a picture may be a moment late"


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
    page.click("#play")
    page.wait_for_function("() => document.getElementById('tape').currentTime > 0.1")
    ended(page)
    page.wait_for_function("() => document.getElementById('now').textContent.startsWith('2.')")
    assert page.inner_text("#left").startswith("1 of ")
    assert page.inner_text("#play") == "Play"


def test_a_step_can_be_played_again_and_again_at_another_speed(page):
    page.click("#loop")
    assert page.inner_text("#said") == "This step again and again."
    page.click("#more")
    page.fill("#speed", "80")
    page.keyboard.press("Escape")
    page.click("#play")
    page.wait_for_function("() => document.getElementById('tape').currentTime > 0.1")
    assert page.evaluate("() => document.getElementById('tape').playbackRate") == 0.8
    ended(page)
    page.wait_for_function("() => document.getElementById('tape').currentTime < 3")
    assert now(page).startswith("1. ")
    assert page.inner_text("#play") == "Pause"


def test_a_tapped_note_is_played_from(page, practice):
    note = practice.facts["steps"][0]["notes"][3]
    page.locator(f'.layout.slim .spot[data-note="{note}"]:visible').first.press("Enter")
    onset = practice.facts["steps"][0]["onset"][3]
    page.wait_for_function(
        "onset => document.getElementById('tape').currentTime >= onset - 0.1"
        " && document.querySelector('#play span').textContent === 'Pause'",
        arg=onset,
    )


def test_the_lock_screen_has_the_steps_title_and_its_buttons(browser, practice):
    context = browser.new_context()
    page = context.new_page()
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
    page.wait_for_function("() => document.getElementById('tape').currentTime > 0")
    page.evaluate("() => keys.pause()")
    assert page.inner_text("#play") == "Play"
    context.close()


def test_a_file_that_is_not_beside_the_page_is_named(browser, practice, tmp_path):
    lonely = tmp_path / "practice.html"
    lonely.write_bytes(practice.file.read_bytes())
    page = browser.new_page()
    page.goto(lonely.as_uri())
    page.click("#play")
    page.wait_for_function("() => document.getElementById('said').textContent !== ''")
    first = practice.facts["steps"][0]["file"]
    assert page.inner_text("#said").startswith(f"“{first}” is not beside this page.")
    page.close()
