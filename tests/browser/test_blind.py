"""Blind listening: nothing on the page tells which version is behind a letter."""

from __future__ import annotations

import pytest

from tests.browser.pages import opened
from tests.browser.recorder import found_in
from tests.browser.stepping import heard, run
from tests.browser.tapes import tapes_of

pytestmark = pytest.mark.browser
CHANCE = "() => { crypto.getRandomValues = (values) => values.fill(%d); }"
ORDERS = {5: [0, 1, 2], 1: [0, 2, 1], 0: [1, 2, 0], 3: [2, 1, 0]}
"""What chance draws, and which versions are then behind A, B and C."""


def hidden(page) -> str:
    """The whole page while the names are hidden, after everything was tried."""
    page.click("#blind-start")
    page.keyboard.press("2")
    page.keyboard.press("Shift+ArrowRight")
    page.keyboard.press("3")
    run(page, 0.1)
    return page.evaluate("() => document.documentElement.outerHTML")


def test_the_page_is_the_same_whatever_is_behind_the_letters(browser, hostile):
    names = [" ".join(version.name.split()) for version in hostile.versions]
    pages = {}
    for chance, order in ORDERS.items():
        with opened(browser, hostile, stepped=True) as page:
            page.evaluate(CHANCE % chance)
            pages[chance] = hidden(page)
            assert page.inner_text("#versions").split() == ["1A", "2B", "3C"]
            assert not page.locator("button.example:visible").count()
            page.click("#blind-form button")
            told = " ".join(page.inner_text("#blind-result").split())
            assert (
                told
                == ", ".join(
                    f"{letter} is {names[version]}"
                    for letter, version in zip("ABC", order, strict=True)
                )
                + "."
            )
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
        for _ in range(8):
            page.click("#blind-start")
            page.click("#blind-form button")
            seen.add(page.inner_text("#blind-result"))
        assert len(seen) >= 2


def test_what_lights_up_is_the_same_whatever_is_behind_a_letter(browser, built):
    tapes = tapes_of(built)
    with opened(browser, built, stepped=True) as page:
        page.evaluate(CHANCE % 3)
        page.click("#blind-start")
        page.keyboard.press("1")
        page.keyboard.press(" ")
        run(page, 1.2)
        page.keyboard.press("2")
        run(page, 1.2)
        take = heard(page)
    for version, since in ((2, 0.2), (1, 1.4)):
        at, alike = found_in(tapes.samples[version], take.at(since, 0.9))
        assert alike > 0.99, "A is straight and B is shaped"
    where = round(since * take.rate) - at
    onsets = tapes.onsets[0]
    checked = 0
    for seconds, lit in take.seen:
        frame = seconds * take.rate - take.first - where
        near = min(abs(frame - onset) for onset in onsets)
        if tapes.frame(0.1) < frame < tapes.frame(2.0) and near > 0.03 * take.rate:
            assert lit == sum(onset <= frame for onset in onsets) - 1
            checked += 1
    assert checked > 20
