"""Blind listening: nothing on the page tells which version is behind a letter."""

from __future__ import annotations

import pytest

from tests.browser.pages import opened
from tests.browser.recorder import found_in, heard
from tests.browser.tapes import tapes_of

pytestmark = pytest.mark.browser
CHANCE = "() => { crypto.getRandomValues = (values) => values.fill(%d); }"
ORDERS = {
    5: ["plain", "shaped", "straight"],
    1: ["plain", "straight", "shaped"],
    0: ["shaped", "straight", "plain"],
}
"""What chance draws, and which versions are then behind A, B and C."""


def hidden(page) -> str:
    """The whole page while the names are hidden, after everything was tried."""
    page.click("#blind-start")
    page.keyboard.press("2")
    page.keyboard.press("Shift+ArrowRight")
    page.keyboard.press("3")
    page.wait_for_timeout(100)
    return page.evaluate("() => document.documentElement.outerHTML")


def test_the_page_is_the_same_whatever_is_behind_the_letters(browser, built):
    pages = {}
    for chance, order in ORDERS.items():
        with opened(browser, built) as page:
            page.evaluate(CHANCE % chance)
            pages[chance] = hidden(page)
            assert page.inner_text("#versions").split() == ["1A", "2B", "3C"]
            assert not page.locator("button.example:visible").count()
            page.click("#blind-form button")
            for letter, name in zip("ABC", order, strict=True):
                assert f"{letter} is {name}" in page.inner_text("#blind-result")
    assert len(set(pages.values())) == 1


def test_the_answer_is_told_and_counted(browser, built):
    with opened(browser, built) as page:
        for chance, choice, words in (
            (0, "A", "right. A is shaped, B is straight, C is plain. 1 of 1"),
            (5, "C", "not this time. A is plain, B is shaped, C is straight. 1 of 2"),
        ):
            page.evaluate(CHANCE % chance)
            page.click("#blind-start")
            page.get_by_label(choice, exact=True).check()
            page.click("#blind-form button")
            said = f"You chose {choice}: {words} right so far."
            assert page.inner_text("#blind-result") == said
        assert page.inner_text("#versions").split() == ["1plain", "2shaped", "3straight"]


def test_orders_are_drawn_anew(browser, built):
    with opened(browser, built) as page:
        seen = set()
        for _ in range(20):
            page.click("#blind-start")
            page.click("#blind-form button")
            seen.add(page.inner_text("#blind-result"))
        assert len(seen) >= 3


def test_what_lights_up_does_not_show_how_long_the_hidden_version_holds_its_notes(
    browser, built
):
    tapes = tapes_of(built)
    with opened(browser, built, recording=True) as page:
        page.evaluate(CHANCE % 0)
        page.click("#blind-start")
        page.keyboard.press("1")
        page.keyboard.press(" ")
        page.wait_for_timeout(2600)
        take = heard(page)
    at, alike = found_in(tapes.samples[1], take.at(0.5, 0.5))
    assert alike > 0.99, "A is the shaped version"
    where = round(0.5 * take.rate) - at
    onsets = tapes.onsets[0]
    checked = 0
    for seconds, lit in take.seen:
        frame = seconds * take.rate - take.first - where
        near = min(abs(frame - onset) for onset in onsets)
        if tapes.frame(0.1) < frame < tapes.frame(2.2) and near > 0.035 * take.rate:
            assert lit == sum(onset <= frame for onset in onsets) - 1
            checked += 1
    assert checked > 20
