"""Using the page: loops by tapping, links, what is remembered, what is said, what scrolls."""

from __future__ import annotations

import pytest

from tests.browser.pages import opened
from tests.browser.stepping import run, run_until

pytestmark = pytest.mark.browser
PHONE = {"width": 390, "height": 600}
WHERE = "document.getElementById('where').textContent.startsWith('{}')"
TOP = "() => Math.round(scrollY)"


def tap_bar(page, bar: int) -> None:
    box = page.locator(f'.bar[data-bar="{bar}"]:visible').bounding_box()
    page.touchscreen.tap(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)


def loop_of(page) -> list[str]:
    return [page.input_value("#loop-from"), page.input_value("#loop-to")]


def test_a_tap_on_the_first_and_the_last_bar_loops_them(browser, built):
    with opened(browser, built, viewport=PHONE, has_touch=True) as page:
        page.tap("#loop")
        assert page.inner_text("#said") == "Tap the first bar, then the last one."
        tap_bar(page, 3)
        assert page.inner_text("#said") == "Looping bar 3. Now tap the last one."
        tap_bar(page, 4)
        assert page.inner_text("#said") == "Looping bar 3 to bar 4."
        assert loop_of(page) == ["3", "4"]
        tap_bar(page, 1)
        assert loop_of(page) == ["3", "4"]
        assert page.is_visible("#note")
        page.tap("#loop")
        assert page.inner_text("#said") == "The loop is off."
        assert page.get_attribute("#loop", "aria-pressed") == "false"


def test_choosing_bars_can_be_given_up(browser, built):
    with opened(browser, built) as page:
        page.keyboard.press("l")
        page.keyboard.press("Escape")
        assert page.inner_text("#said") == "No bars were chosen."
        assert page.get_attribute("#loop", "aria-pressed") == "false"


def test_a_finger_that_moves_over_the_notes_scrolls_and_loops_nothing(browser, built):
    with opened(browser, built, viewport=PHONE, has_touch=True) as page:
        box = page.locator('.bar[data-bar="1"]:visible').bounding_box()
        touch = {"pointerType": "touch", "bubbles": True, "button": 0}
        page.evaluate(
            """([x, y, touch]) => {
              const at = document.elementFromPoint(x, y);
              const send = (kind, by) => at.dispatchEvent(new PointerEvent(
                kind, { ...touch, clientX: x + by, clientY: y }));
              send("pointerdown", 0);
              send("pointermove", 60);
              send("pointercancel", 60);
            }""",
            [box["x"] + 30, box["y"] + 30, touch],
        )
        assert page.get_attribute("#loop", "aria-pressed") == "false"
        assert page.locator(".bar.looped").count() == 0


def test_a_link_opens_at_its_bars_speed_and_version(browser, built):
    with opened(browser, built, address="#bars=5-8&speed=60&version=plain") as page:
        assert loop_of(page) == ["5", "8"]
        assert page.input_value("#speed") == "60"
        assert page.inner_text("#versions [aria-pressed=true] span") == "plain"
        assert page.input_value("#link").endswith("#bars=5-8&speed=60&version=plain")
        page.evaluate("() => { location.hash = '#bars=pickup-2&version=shaped'; }")
        page.wait_for_function("() => document.getElementById('loop-to').value === '2'")
        assert page.inner_text("#said") == "Looping pickup to bar 2."


def test_what_was_chosen_survives_a_reload(browser, built):
    with opened(browser, built) as page:
        page.click("#more")
        page.select_option("#loop-from", label="2")
        page.select_option("#loop-to", label="3")
        page.select_option("#count", "every")
        page.fill("#speed", "75")
        page.fill("#volume", "55")
        page.keyboard.press("Escape")
        page.keyboard.press("3")
        page.reload()
        page.wait_for_selector("#play:enabled")
        assert loop_of(page) == ["2", "3"]
        assert page.input_value("#count") == "every"
        assert page.input_value("#speed") == "75"
        assert page.input_value("#volume") == "55"
        assert page.inner_text("#versions [aria-pressed=true] span") == "straight"


def test_the_place_survives_a_reload(browser, built):
    with opened(browser, built, stepped=True) as page:
        for _ in range(3):
            page.keyboard.press("ArrowRight")
        page.reload()
        page.wait_for_selector("#play:enabled")
        run_until(page, WHERE.format("bar 3, beat 1"), 1.0)


def test_show_its_notes_scrolls_to_them_and_says_how_many(browser, built):
    with opened(browser, built, viewport=PHONE) as page:
        page.locator(".rules [data-light]").last.scroll_into_view_if_needed()
        page.locator(".rules [data-light]").first.click()
        page.wait_for_function(
            "() => { const { top, bottom } = document.querySelector('.layout.slim .spot.lit')"
            ".getBoundingClientRect(); return top >= 0 && bottom <= innerHeight; }"
        )
        lit = len(
            page.evaluate(
                "[...new Set([...document.querySelectorAll('.spot.lit')]"
                ".map((spot) => spot.dataset.note))]"
            )
        )
        said = page.inner_text("#said")
        assert said.startswith("One note of" if lit == 1 else f"{lit} notes of")


def test_the_music_is_followed_but_reading_ahead_is_not_pulled_back(browser, built):
    """With a window in which one system has room."""
    low = {"width": 390, "height": 330}
    with opened(browser, built, viewport=low, stepped=True, reduced_motion="reduce") as page:
        page.click("#play")
        run_until(page, WHERE.format("bar 3"))
        followed = page.evaluate(TOP)
        assert followed > 0
        page.mouse.move(200, 200)
        page.mouse.wheel(0, 400)
        page.wait_for_function(f"before => ({TOP})() > before", arg=followed, polling=50)
        page.wait_for_timeout(100)
        ahead = page.evaluate(TOP)
        run_until(page, WHERE.format("bar 5"))
        assert page.evaluate(TOP) == ahead


def test_what_happens_is_said_where_a_screen_reader_hears_it(browser, built):
    with opened(browser, built) as page:
        assert page.get_attribute("#said", "role") == "status"
        page.keyboard.press("1")
        assert page.inner_text("#said") == "Now: plain."
        page.locator("#words summary").click()
        words = page.locator(".words li")
        assert words.count() == len(built.lesson.melody.bars)
        assert words.first.inner_text().startswith("pickup: ")
        assert page.get_by_role("button", name="Loop").count() >= 1


def test_during_the_tail_the_place_is_the_end_and_beats_stay_in_the_meter(browser, built):
    with opened(browser, built, stepped=True) as page:
        for _ in built.lesson.melody.bars:
            page.keyboard.press("ArrowRight")
        page.click("#play")
        seen = set()
        for _ in range(40):
            run(page, 0.1)
            seen.add(page.inner_text("#where"))
        assert "the end" in seen
        beats = {int(words.rpartition(" ")[2]) for words in seen if "beat" in words}
        assert max(beats) <= 4
