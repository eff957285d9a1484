"""The listening page without a pointer."""

from __future__ import annotations

import pytest

from tests.browser.pages import opened
from tests.browser.stepping import run_until

pytestmark = pytest.mark.browser


WHERE = "document.getElementById('where').textContent === '{}'"
LIT = "document.querySelector('.spot.sounding')"


def focused(page) -> str:
    return page.evaluate(
        "() => document.activeElement.id || document.activeElement.getAttribute('aria-label')"
        " || document.activeElement.lastChild.textContent"
    )


def pressed(page) -> str:
    return page.inner_text("#versions [aria-pressed=true] span")


def test_tab_reaches_every_control_in_order(browser, built):
    with opened(browser, built) as page:
        first = page.locator("svg.system:visible .spot").first.get_attribute("aria-label")
        page.evaluate("document.getElementById('settings').hidden = false")
        page.evaluate("document.getElementById('keys').open = true")
        wanted = ["play", "plain", "shaped", "straight", "loop", "more"]
        wanted += ["loop-from", "loop-to", "count", "speed", "volume", "link", "copy", first]
        wanted += ["blind-start", "letters"]
        reached = []
        for _ in range(200):
            page.keyboard.press("Tab")
            reached.append(focused(page))
            if reached[-1] == "letters":
                break
        assert [name for name in reached if name in wanted] == wanted
        assert [name for name in reached if name.endswith("plain, then shaped")]


def test_what_is_behind_the_button_opens_and_is_closed_by_a_key(browser, built):
    with opened(browser, built) as page:
        assert not page.is_visible("#settings")
        page.focus("#more")
        page.keyboard.press("Enter")
        assert page.get_attribute("#more", "aria-expanded") == "true"
        assert focused(page) == "loop-from"
        page.keyboard.press("Escape")
        assert not page.is_visible("#settings")
        assert focused(page) == "more"


def test_space_plays_and_pauses_and_arrows_go_by_bar(browser, built):
    with opened(browser, built, stepped=True) as page:
        page.keyboard.press(" ")
        run_until(page, LIT)
        page.keyboard.press(" ")
        assert page.inner_text("#play") == "Play"
        page.keyboard.press("Home")
        numbers = [bar.number for bar in built.lesson.melody.bars]
        for number in numbers[1:4]:
            page.keyboard.press("ArrowRight")
            run_until(page, WHERE.format(f"bar {number}, beat 1"), 0.1)
        page.keyboard.press("ArrowLeft")
        run_until(page, WHERE.format(f"bar {numbers[2]}, beat 1"), 0.1)


def test_at_the_end_it_stops_and_is_back_at_the_start(browser, built):
    bars = built.lesson.melody.bars
    with opened(browser, built, stepped=True) as page:
        for _ in bars:
            page.keyboard.press("ArrowRight")
        run_until(page, WHERE.format(f"bar {bars[-1].number}, beat 1"), 0.1)
        page.keyboard.press(" ")
        run_until(page, WHERE.format("the end"))
        run_until(page, "document.querySelector('#play span').textContent === 'Play'")
        page.keyboard.press(" ")
        run_until(page, f"{LIT}?.dataset.note === '0'", 1.0)


def test_one_key_switches(browser, built):
    with opened(browser, built) as page:
        seen = []
        for _ in range(4):
            seen.append(pressed(page))
            page.keyboard.press("s")
        assert seen == ["shaped", "straight", "plain", "shaped"]
        page.keyboard.press("3")
        assert pressed(page) == "straight"


def test_space_on_a_button_presses_it_and_plays_after_a_click(browser, built):
    with opened(browser, built) as page:
        page.focus("#versions button:nth-child(3)")
        page.keyboard.press(" ")
        assert (pressed(page), page.inner_text("#play")) == ("straight", "Play")
        page.click("#versions button:nth-child(1)")
        page.keyboard.press(" ")
        assert (pressed(page), page.inner_text("#play")) == ("plain", "Pause")


def test_notes_are_chosen_and_left_by_keys(browser, built):
    with opened(browser, built) as page:
        page.keyboard.press("Shift+ArrowRight")
        page.keyboard.press("Shift+ArrowRight")
        heading = page.inner_text("#note-heading")
        assert page.evaluate("() => document.activeElement.getAttribute('data-note')") == "1"
        assert focused(page).startswith(heading)
        page.keyboard.press("Escape")
        assert not page.is_visible("#note")
        assert page.evaluate("() => document.activeElement.getAttribute('data-note')") == "1"


def test_letters_can_be_turned_off(browser, built):
    with opened(browser, built) as page:
        page.locator("#keys > summary").click()
        page.uncheck("#letters")
        for key in ("s", "3", "l"):
            page.keyboard.press(key)
        assert pressed(page) == "shaped"
        assert page.get_attribute("#loop", "aria-pressed") == "false"
        page.locator("#letters").blur()
        page.keyboard.press(" ")
        assert page.inner_text("#play") == "Pause"


def test_bars_are_chosen_by_keys_and_the_other_end_follows(browser, built):
    with opened(browser, built) as page:
        page.click("#more")
        page.select_option("#loop-from", label="7")
        assert page.inner_text("#said") == "Looping bar 7 to bar 8."
        page.select_option("#loop-to", label="4")
        assert page.inner_text("#said") == "Looping bar 4."
        assert page.input_value("#loop-from") == page.input_value("#loop-to")
        assert page.get_attribute("#loop", "aria-pressed") == "true"
        assert page.locator("#loop-from option").first.inner_text() == "pickup"
