"""The listening page without a pointer."""

from __future__ import annotations

import pytest

from tests.browser.pages import opened

pytestmark = pytest.mark.browser


WHERE = "words => document.getElementById('where').textContent === words"


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
        wanted = ["play", "plain", "shaped", "straight"]
        wanted += ["loop-from", "loop-to", "loop", "count", "speed", "volume", first]
        wanted += ["blind-start", "letters"]
        reached = []
        for _ in range(200):
            page.keyboard.press("Tab")
            reached.append(focused(page))
            if reached[-1] == "letters":
                break
        assert [name for name in reached if name in wanted] == wanted
        assert [name for name in reached if name.endswith("plain, then shaped")]


def test_space_plays_and_pauses_and_arrows_go_by_bar(browser, built):
    with opened(browser, built) as page:
        page.keyboard.press(" ")
        page.wait_for_selector(".spot.sounding")
        page.keyboard.press(" ")
        assert page.inner_text("#play") == "Play"
        page.keyboard.press("Home")
        numbers = [bar.number for bar in built.lesson.melody.bars]
        for number in numbers[1:4]:
            page.keyboard.press("ArrowRight")
            page.wait_for_function(WHERE, arg=f"bar {number}, beat 1")
        page.keyboard.press("ArrowLeft")
        page.wait_for_function(WHERE, arg=f"bar {numbers[2]}, beat 1")


def test_at_the_end_it_stops_and_is_back_at_the_start(browser, built):
    bars = built.lesson.melody.bars
    with opened(browser, built) as page:
        for _ in bars:
            page.keyboard.press("ArrowRight")
        page.wait_for_function(WHERE, arg=f"bar {bars[-1].number}, beat 1")
        page.keyboard.press(" ")
        page.wait_for_function("() => document.getElementById('play').textContent === 'Play'")
        page.keyboard.press(" ")
        page.wait_for_selector('.spot.sounding[data-note="0"]')


def test_one_key_switches(browser, built):
    with opened(browser, built) as page:
        seen = []
        for _ in range(4):
            seen.append(pressed(page))
            page.keyboard.press("s")
        assert seen == ["plain", "shaped", "straight", "plain"]
        page.keyboard.press("3")
        assert pressed(page) == "straight"


def test_space_on_a_button_presses_it_and_plays_after_a_click(browser, built):
    with opened(browser, built) as page:
        page.focus("#versions button:nth-child(2)")
        page.keyboard.press(" ")
        assert (pressed(page), page.inner_text("#play")) == ("shaped", "Play")
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
        page.uncheck("#letters")
        for key in ("s", "3", "l"):
            page.keyboard.press(key)
        assert pressed(page) == "plain"
        assert page.get_attribute("#loop", "aria-pressed") == "false"
        page.locator("#letters").blur()
        page.keyboard.press(" ")
        assert page.inner_text("#play") == "Pause"


def test_bars_are_typed_and_those_that_are_not_there_refused_in_words(browser, built):
    with opened(browser, built) as page:
        page.fill("#loop-from", "7")
        page.fill("#loop-to", "99")
        page.keyboard.press("Tab")
        assert page.inner_text("#said") == "There is no bar 99 in this piece."
        page.fill("#loop-to", "4")
        page.keyboard.press("Enter")
        assert page.inner_text("#said") == "Looping bar 4."
        assert page.input_value("#loop-from") == "4"
        assert page.get_attribute("#loop", "aria-pressed") == "true"
