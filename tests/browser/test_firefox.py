"""The pages in a second browser, Debian's Firefox: opened, heard, used, practised from.

A machine without a loudspeaker never starts Firefox's audio clock. In its place the page is
given one that goes by the wall clock; that its sound is the recording's is looked at before
the loudspeaker, in what Firefox decodes.
"""

from __future__ import annotations

import base64

import numpy as np
import pytest

from phrasing.app.folders import write_practice
from phrasing.files import Plan
from phrasing.lesson.exercises import Ladder, exercises
from phrasing.lesson.lesson import open_lesson
from phrasing.lesson.request import Request, SoundForm
from tests.browser.pages import written_tune
from tests.browser.recorder import found_in
from tests.browser.tapes import tapes_of
from tests.browser.test_opening import CUT

pytestmark = pytest.mark.browser
READY = "!document.getElementById('play').disabled"
CLOCK = """
(() => {
  const began = performance.now();
  window.AudioContext = class extends OfflineAudioContext {
    constructor({ sampleRate }) { super(2, sampleRate, sampleRate); }
    get currentTime() { return (performance.now() - began) / 1000; }
    get state() { return "running"; }
    resume() { return Promise.resolve(); }
  };
  return true;
})()
"""
DECODED = """
(async () => {
  const coded = document.getElementById("sound-1-0").textContent;
  const bytes = Uint8Array.from(atob(coded), (sign) => sign.charCodeAt(0));
  const told = JSON.parse(document.getElementById("facts").textContent);
  const { rate, pieces: [{ frames, delay }] } = told.sound;
  const whole = await new OfflineAudioContext(2, 1, rate).decodeAudioData(bytes.buffer);
  const skip = whole.length > frames + 200 ? delay : 0;
  const piece = whole.getChannelData(0).slice(skip + rate, skip + 2 * rate);
  const signs = [...new Uint8Array(piece.buffer)].map((byte) => String.fromCharCode(byte));
  return btoa(signs.join(""));
})()
"""
LAYER = "[...document.querySelectorAll('.layer:not(.off)')].map((e) => e.dataset.version)"


@pytest.fixture
def page(firefox, built):
    """The example's page, ready to play; whatever it complains about fails the test."""
    firefox.open(built.file.as_uri())
    firefox.value("(Storage.prototype.setItem = () => {}, localStorage.clear())")
    firefox.reload()
    firefox.wait(READY)
    firefox.value(CLOCK)
    firefox.complaints.clear()
    yield firefox
    assert firefox.complaints == []


@pytest.mark.parametrize("width", [390, 820, 1440])
def test_nothing_is_cut_and_the_first_system_is_on_the_first_screen(firefox, built, width):
    firefox.open(built.file.as_uri(), width, 844)
    firefox.wait(READY)
    assert firefox.value(f"({CUT})()") == []
    bottom = (
        "[...document.querySelectorAll('svg.system')].find((e) => e.getClientRects().length)"
    )
    assert firefox.value(f"{bottom}.getBoundingClientRect().bottom <= innerHeight")


def test_what_it_decodes_is_the_recording_to_the_sample(page, built):
    tapes = tapes_of(built)
    piece = np.frombuffer(base64.b64decode(page.value(DECODED)), np.float32)
    at, alike = found_in(tapes.samples[1], piece)
    assert alike > 0.999
    assert at == tapes.rate


def test_plays_lights_notes_and_inks_what_sounds(page):
    page.click("#play")
    page.wait("document.querySelector('#play span').textContent === 'Pause'")
    page.wait("document.querySelectorAll('.layout .spot.sounding').length > 0")
    assert set(page.value(LAYER)) == {"1"}
    page.press("1")
    assert set(page.value(LAYER)) == {"0"}
    page.wait("document.getElementById('where').textContent.startsWith('bar 1')")
    page.press(" ")
    assert page.text("#play") == "Play"


def test_two_taps_loop_bars_and_the_link_says_so(page):
    page.click("#loop")
    page.click('.bar[data-bar="3"]')
    page.click('.bar[data-bar="4"]')
    assert page.text("#said") == "Looping bar 3 to bar 4."
    link = page.value("document.getElementById('link').value")
    assert link.endswith("#bars=3-4&version=shaped")


def test_a_link_opens_there_and_a_reload_remembers(firefox, built):
    firefox.open(f"{built.file.as_uri()}#bars=5-6&speed=80&version=plain")
    firefox.wait(READY)
    assert firefox.value("document.getElementById('loop-from').value") == "5"
    assert firefox.value("document.getElementById('speed').value") == "80"
    assert set(firefox.value(LAYER)) == {"0"}
    firefox.open(built.file.as_uri())
    firefox.wait(READY)
    assert firefox.value("document.getElementById('loop-to').value") == "6"


def test_show_its_notes_goes_to_them(page):
    page.click("[data-light]")
    assert page.value("document.querySelectorAll('.spot.lit').length") > 0
    assert " of “" in page.text("#said")


def test_a_loudspeaker_that_never_starts_is_told(firefox, built):
    firefox.open(built.file.as_uri())
    firefox.wait(READY)
    firefox.value(CLOCK.replace('"running"', '"suspended"'))
    firefox.click("#play")
    said = firefox.wait("document.getElementById('said').textContent")
    assert said.startswith("The browser holds the sound back.")


def test_a_version_that_does_not_open_is_named_and_the_rest_plays(firefox, built):
    damaged = built.file.with_name("damaged-fox.html")
    text = built.file.read_text(encoding="utf-8")
    start = text.index('id="sound-2-0">') + len('id="sound-2-0">')
    damaged.write_text(text[:start] + "AAAA" + text[text.index("</script>", start) :], "utf-8")
    firefox.open(damaged.as_uri())
    firefox.wait("document.getElementById('said').textContent.includes('straight')")
    assert firefox.value(READY)


def test_the_practice_page_plays_a_step_and_keeps_what_is_done(firefox, tmp_path):
    lesson = open_lesson(written_tune(tmp_path), Request(only="1-4", tempo=180))
    found = exercises(lesson, Ladder(100, 100, 10))
    write_practice("Late Bus", found, Plan(tmp_path / "out"), SoundForm(format="mp3"))
    firefox.open((tmp_path / "out" / "practice.html").as_uri(), 390, 844)
    firefox.wait(READY)
    assert firefox.value(f"({CUT})()") == []
    firefox.click("#on")
    assert firefox.text("#now").startswith("2.")
    firefox.click("#done")
    firefox.reload()
    firefox.wait(READY)
    assert firefox.text("#left").startswith("1 of ")
    assert firefox.text("#now").startswith("2.")
