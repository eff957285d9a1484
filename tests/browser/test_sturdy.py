"""What the page does where a browser, another page or a damaged file gets in its way."""

from __future__ import annotations

import base64
import re
from dataclasses import replace

import pytest

from tests.browser.pages import opened
from tests.browser.stepping import run, run_until

pytestmark = pytest.mark.browser
LIT = "document.querySelector('.spot.sounding')"
NO_CONTEXT = "() => { delete window.AudioContext; window.AudioContext = undefined; }"


def wait_for(page, condition: str) -> None:
    """Wait, by a timer of the real clock, until a condition (JavaScript) holds."""
    page.wait_for_function(f"() => {condition}", polling=50)


def with_sound(built, number: int, content: bytes):
    """The page with another file in place of a version's recording."""
    coded = base64.b64encode(content).decode("ascii")
    text = re.sub(
        rf'(id="sound-{number}-0">)(.*?)(</script>)',
        lambda found: found[1] + coded + found[3],
        built.file.read_text(encoding="utf-8"),
    )
    file = built.file.with_name(f"damaged-{number}.html")
    file.write_text(text, encoding="utf-8")
    return replace(built, file=file)


def test_a_browser_without_sound_says_so_and_shows_everything(browser, built):
    with opened(browser, built) as page:
        page.evaluate(NO_CONTEXT)
        page.click("#play")
        assert page.inner_text("#said").startswith("This browser cannot play sound")
        assert page.inner_text("#play") == "Play"
        page.keyboard.press("1")
        assert page.locator(".unshaped").count() == 1


def test_a_sound_held_back_is_told_and_comes_with_the_next_press(browser, built):
    with opened(browser, built, stepped=True) as page:
        page.evaluate(
            "() => { stepped.lost = true; AudioContext.prototype.resume = () => "
            "Promise.resolve(); }"
        )
        page.click("#play")
        wait_for(page, "document.getElementById('said').textContent !== ''")
        assert page.inner_text("#said").startswith("The browser holds the sound back.")
        page.evaluate("() => { stepped.lost = false; }")
        page.click("#play")
        run_until(page, LIT)


def test_a_sound_that_is_taken_away_pauses_the_page_and_it_goes_on_from_there(browser, built):
    with opened(browser, built, stepped=True) as page:
        page.click("#play")
        run(page, 1.5)
        page.evaluate("() => stepped.context.lose()")
        assert page.inner_text("#play") == "Play"
        assert page.inner_text("#said").startswith("The sound was interrupted.")
        page.evaluate("() => { stepped.lost = false; }")
        page.click("#play")
        run_until(page, f"Number({LIT}?.dataset.note) > 2", 1.0)


def test_one_damaged_recording_is_named_and_the_others_play(browser, built):
    with opened(browser, with_sound(built, 2, b"no sound at all"), stepped=True) as page:
        page.wait_for_function(
            "document.getElementById('said').textContent.includes('straight')"
        )
        assert page.inner_text("#said").startswith("“straight” cannot be played")
        page.click("#play")
        run_until(page, LIT)
        page.keyboard.press("3")
        wait_for(page, "document.getElementById('said').textContent.includes('cannot')")
        run(page, 0.3)
        assert page.inner_text("#play") == "Pause"
        layer = page.locator(".staff .layer:not(.off)").first
        assert layer.get_attribute("data-version") == "1", "what still sounds is inked"


def test_of_two_damaged_recordings_the_third_still_plays(browser, built):
    damaged = with_sound(with_sound(built, 0, b"nothing"), 1, b"nothing")
    with opened(browser, damaged, stepped=True) as page:
        page.keyboard.press("3")
        page.click("#play")
        run_until(page, LIT)


def test_another_page_that_plays_pauses_this_one(browser, built):
    with opened(browser, built, stepped=True) as page:
        page.click("#play")
        run(page, 0.5)
        other = page.context.new_page()
        other.goto(built.file.as_uri())
        other.wait_for_selector("#play:enabled")
        other.click("#play")
        wait_for(page, "document.querySelector('#play span').textContent === 'Play'")
        assert page.inner_text("#said").startswith("Another page began to play")
        assert other.inner_text("#play") == "Pause"


def test_the_page_plays_before_the_later_versions_are_unpacked(browser, built):
    slow = """() => {
      const decode = OfflineAudioContext.prototype.decodeAudioData;
      let count = 0;
      OfflineAudioContext.prototype.decodeAudioData = function (...words) {
        return (count += 1) > 2 ? new Promise(() => {}) : decode.apply(this, words);
      };
    }"""
    context = browser.new_context()
    page = context.new_page()
    page.add_init_script(f"({slow})()")
    page.goto(built.file.as_uri())
    page.wait_for_selector("#play:enabled")
    assert page.inner_text("#said") == ""
    context.close()
