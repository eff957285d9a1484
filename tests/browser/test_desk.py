"""The desk in a real browser: drop, change, hear, take back, and nothing is lost or let in."""

from __future__ import annotations

import random
import shutil
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from phrasing.app.folders import examples
from phrasing.desk.keeping import places_of
from phrasing.desk.server import serve
from phrasing.lesson.lesson import open_lesson
from phrasing.lesson.optionsfile import with_options
from phrasing.lesson.request import Request
from phrasing.marking.table import marks_csv
from phrasing.score.marks import MARK_NAMES
from tests.desk.test_band import song
from tests.desk.test_doubts import two_parts

TUNE = "late_bus_home.mid"
PATIENCE = 120_000
"""Milliseconds: the first page waits until a soundfont was measured, on a busy machine long."""
READY = "() => globalThis.desk && !document.querySelector('#play').disabled"


@dataclass
class Served:
    """A desk on a folder of its own, and its address."""

    folder: Path
    address: str


@pytest.fixture
def served(tmp_path: Path) -> Served:
    shutil.copy(examples() / TUNE, tmp_path)
    address: list[str] = []
    wanted = {"ready": address.append}
    threading.Thread(target=serve, args=(tmp_path, TUNE), kwargs=wanted, daemon=True).start()
    while not address:
        time.sleep(0.01)
    return Served(tmp_path, address[0])


@pytest.fixture
def page(browser: Any, served: Served) -> Iterator[Any]:
    context = browser.new_context(bypass_csp=True)
    yield opened(context, served)
    context.close()


def opened(context: Any, served: Served) -> Any:
    page = context.new_page()
    page.faults = []
    page.on("pageerror", lambda error: page.faults.append(str(error)))
    page.set_default_timeout(PATIENCE)
    page.goto(served.address)
    page.wait_for_function(READY)
    return page


def settled(page: Any) -> None:
    page.evaluate("() => globalThis.desk.busy")


def spot(page: Any, note: int) -> Any:
    return page.locator(f'.layout .spot[data-note="{note}"]:visible').first


def choose(page: Any, note: int, mark: str) -> None:
    page.evaluate("(note) => globalThis.desk.card.choose(note)", note)
    page.locator(f'#note-body button[data-mark="{mark}"]').click()
    settled(page)


def tables(served: Served) -> tuple[str, str]:
    """The table that the desk wrote, and the one the command line makes of its files."""
    path = served.folder / TUNE
    places = places_of(path)
    lesson = open_lesson(path, with_options(Request(options=places.options)))
    return places.marks.read_text(encoding="utf-8"), marks_csv(*lesson.table)


def test_the_policy_lets_the_desks_own_scripts_run(browser: Any, served: Served) -> None:
    context = browser.new_context()
    page = context.new_page()
    said: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    page.set_default_timeout(PATIENCE)
    page.goto(served.address)
    page.locator("#play:not([disabled])").wait_for()
    assert "key=" not in page.url
    page.wait_for_function(
        "() => [...document.fonts].some(({ status }) => status === 'loaded')"
    )
    assert said == []
    context.close()


def test_twenty_marks_and_all_taken_back(page: Any, served: Served) -> None:
    before = marks_csv(*open_lesson(served.folder / TUNE, Request()).table)
    chance = random.Random(7)
    for _ in range(20):
        choose(page, chance.randrange(40), chance.choice([*MARK_NAMES, "none"]))
        desk, command_line = tables(served)
        assert desk == command_line
        assert "another window" not in page.inner_text("#said")
    assert page.locator("#steps .stands").count() == 20
    page.locator("#note-close").click()
    for _ in range(20):
        page.keyboard.press("Control+z")
        settled(page)
    assert page.locator("#steps .stands").count() == 0
    assert tables(served) == (before, before)
    assert page.faults == []


def test_a_mark_is_inked_and_heard_where_it_was_changed(page: Any) -> None:
    page.evaluate(
        "() => { globalThis.was = globalThis.desk.sound.tapes[1].channels[0].slice(); }"
    )
    page.evaluate("() => globalThis.desk.sound.open()")
    choose(page, 3, "ghost")
    first = page.evaluate(FIRST_CHANGE)
    onset = page.evaluate("() => globalThis.desk.facts.versions[1].onset[3]")
    assert abs(first / 44100 - 0.1 - onset) < 0.1
    assert spot(page, 3).get_attribute("aria-label").endswith("ghost, your own")
    page.keyboard.down("b")
    assert page.evaluate(FIRST_CHANGE) == -1
    page.keyboard.up("b")
    assert page.evaluate(FIRST_CHANGE) == first


FIRST_CHANGE = """() => {
  const now = globalThis.desk.sound.tapes[1].channels[0];
  return now.findIndex((sample, at) => sample !== globalThis.was[at]);
}"""


def block(page: Any, note: int) -> Any:
    """The block of a note as it is seen: the version's that is heard."""
    found = page.locator(f'.lane .layer:not(.off) .front rect[data-note="{note}"]')
    return found.locator("visible=true").first


def dragged(
    page: Any, note: int, edge: str, by: float, key: str | None = None
) -> dict[str, Any]:
    """A block's edge moved by so many pixels, outwards; what that sets."""
    where = block(page, note).bounding_box()
    x, y = where["x"] + where["width"] / (1 if edge == "right" else 2), where["y"]
    y += where["height"] / 2 if edge == "right" else 0
    page.mouse.move(x, y)
    if key:
        page.keyboard.down(key)
    page.mouse.down()
    end = (x + by, y) if edge == "right" else (x, y - by)
    page.mouse.move(*end, steps=4)
    page.mouse.up()
    if key:
        page.keyboard.up(key)
    settled(page)
    step = page.evaluate("() => globalThis.desk.told.steps.at(-1)")
    return dict(step["sets"])


def test_a_block_is_a_handle_for_one_note_or_for_every_note_of_its_mark(
    page: Any, served: Served
) -> None:
    note = page.evaluate("() => globalThis.desk.facts.versions[1].mark.indexOf('marcato')")
    top = block(page, note).bounding_box()["y"]
    alone = dragged(page, note, "top", -10)
    assert list(alone) == [f"level:{note}"]
    assert alone[f"level:{note}"] < 4.5
    assert abs(top + 10 - block(page, note).bounding_box()["y"]) < 2
    assert "own" in block(page, note).get_attribute("class")
    short = dragged(page, note, "right", -6)
    assert list(short) == [f"gate:{note}"]
    assert len(set(tables(served))) == 1
    page.locator('.edges [value="mark"]').check()
    other = page.evaluate("() => globalThis.desk.facts.versions[1].mark.lastIndexOf('accent')")
    every = dragged(page, other, "top", -8)
    assert list(every) == ["feel:sounds.accent.level"]
    assert every["feel:sounds.accent.level"] < 5
    assert list(dragged(page, other, "top", -6, key="Shift")) == [f"level:{other}"]


def test_the_lever_moves_picture_and_sound_together(page: Any, served: Served) -> None:
    page.evaluate("() => globalThis.desk.sound.open()")
    page.evaluate("() => globalThis.desk.transport.setLoop({ on: true, count: 'none' })")
    page.evaluate("() => globalThis.desk.transport.play()")
    note = page.evaluate("() => globalThis.desk.facts.versions[1].mark.indexOf('marcato')")
    plain = page.locator(f'.lane .back rect[data-note="{note}"]:visible').first
    page.evaluate(MOVE_LEVER, 0.0)
    tops = [each.bounding_box()["y"] for each in (plain, block(page, note))]
    assert abs(tops[0] - tops[1]) < 1
    page.wait_for_function(MIXED, arg=[1, 0])
    page.evaluate(MOVE_LEVER, 0.25)
    page.wait_for_function(MIXED, arg=[0.75, 0.25])
    page.dispatch_event("#strength", "change")
    settled(page)
    assert page.evaluate("() => globalThis.desk.told.sentence.strength") == 0.25
    page.wait_for_function(MIXED, arg=[0, 1])
    assert len(set(tables(served))) == 1
    page.evaluate(MOVE_LEVER, 1.0)
    page.wait_for_function(MIXED, arg=[0, 0, 1])
    assert page.faults == []


MOVE_LEVER = """(value) => {
  const lever = document.querySelector("#strength");
  lever.value = value;
  lever.dispatchEvent(new Event("input"));
}"""
MIXED = """(wanted) => {
  const gains = globalThis.desk.transport.run?.gains ?? [];
  return gains.length === wanted.length
    && wanted.every((share, k) => Math.abs(gains[k].gain.value - share) < 0.01);
}"""
"""Whether each version has its share in what is heard."""


def test_one_notes_level_and_length_by_keyboard_and_given_back(
    page: Any, served: Served
) -> None:
    page.evaluate("() => globalThis.desk.card.choose(3)")
    level = page.get_by_label("level, dB").first
    level.focus()
    page.keyboard.press("ArrowLeft")
    settled(page)
    assert list(page.evaluate("() => globalThis.desk.told.alone.level.own")) == ["3"]
    assert len(set(tables(served))) == 1
    page.locator('#note-body button[data-mark="rules"]').click()
    settled(page)
    assert page.evaluate("() => globalThis.desk.told.own") == []
    assert len(set(tables(served))) == 1


def test_a_line_is_drawn_from_one_note_to_another(page: Any, served: Served) -> None:
    page.evaluate("() => globalThis.desk.card.choose(3)")
    page.locator("#note-body button", has_text="Softer from here").click()
    page.evaluate("() => globalThis.desk.card.choose(7)")
    settled(page)
    lines = page.evaluate("() => globalThis.desk.told.lines")
    assert lines == [{"kind": "softer", "first": 3, "last": 7}]
    desk, command_line = tables(served)
    assert desk == command_line
    assert "softer to 8" in desk
    page.locator("#note-body button", has_text="Take away the decrescendo").click()
    settled(page)
    assert page.evaluate("() => globalThis.desk.told.lines") == []


def test_a_rule_rests_a_reading_is_kept_and_another_window_follows(
    page: Any, served: Served
) -> None:
    other = opened(page.context, served)
    page.locator("#rules-list input").nth(3).uncheck()
    settled(page)
    page.fill("#reading-name", "no short quarters")
    page.click("#keep button")
    settled(page)
    names = ["plain", "shaped", "no short quarters"]
    assert page.locator("#versions button span").all_inner_texts() == names
    other.wait_for_function("() => globalThis.desk.facts.versions.length === 3")
    assert other.locator("#steps .stands").count() == 1
    assert page.faults == other.faults == []


def test_a_band_plays_along_and_a_mark_is_changed_over_it(page: Any, served: Served) -> None:
    assert page.get_by_label("Band", exact=True).count() == 0
    song(served.folder)
    page.goto(f"{page.url.partition('#')[0]}#song.musicxml")
    page.reload()
    page.wait_for_function(READY)
    page.evaluate("() => globalThis.desk.sound.open()")
    alone = page.evaluate(LEVEL_OF_THE_LAST_BARS)
    page.get_by_label("Band", exact=True).select_option("a band")
    settled(page)
    page.wait_for_function("() => globalThis.desk.sound.tapes.every((tape) => tape)")
    over_band = page.evaluate(LEVEL_OF_THE_LAST_BARS)
    choose(page, 20, "ghost")
    changed = page.evaluate(LEVEL_OF_THE_LAST_BARS)
    assert abs(over_band - alone) < 4  # dB: all of it comes to one loudness
    assert over_band - 2 < changed < over_band + 1
    assert page.locator("#steps .stands").all_inner_texts()[-2:] != []
    assert page.faults == []


LEVEL_OF_THE_LAST_BARS = """() => {
  const samples = globalThis.desk.sound.tapes[1].channels[0].slice(44100 * 4, 44100 * 6);
  return 10 * Math.log10(samples.reduce((sum, each) => sum + each * each, 0) / samples.length);
}"""


def test_a_file_is_dropped_and_one_that_cannot_be_read_is_told(
    page: Any, served: Served
) -> None:
    page.click("#other")
    damaged = {"name": "torn.mid", "mimeType": "audio/midi", "buffer": b"MThd torn"}
    page.set_input_files("#choose", files=damaged)
    page.locator("#problem:visible").wait_for()
    assert "torn.mid" in page.inner_text("#problem")
    assert not (served.folder / "torn.mid").exists()
    page.set_input_files("#choose", str(examples() / "folding_chairs_waltz.mid"))
    page.wait_for_function(
        "() => globalThis.desk?.name === 'folding_chairs_waltz.mid'"
        " && !document.querySelector('#play').disabled"
    )


def test_what_a_file_leaves_open_is_asked_and_enter_goes_on(page: Any, served: Served) -> None:
    assert page.locator("#asking:visible").count() == 0
    two_parts(served.folder)
    page.goto(f"{page.url.partition('#')[0]}#two.mid")
    page.reload()
    page.wait_for_function(READY)
    assert page.locator("#asking input:checked").count() == 1
    assert page.evaluate("() => document.activeElement.type") == "radio"
    page.keyboard.press("Enter")
    page.locator("#asking").wait_for(state="hidden")
    settled(page)
    assert page.locator("#steps .stands").count() == 1
    page.click("#undo")
    page.locator("#asking").wait_for(state="visible")
    page.locator("#asking input").nth(1).check()
    page.locator("#asking button").click()
    settled(page)
    assert page.evaluate("() => globalThis.desk.facts.notes.length") == 24
    assert page.faults == []


def test_a_page_is_made_with_a_choice_opened_and_played(browser: Any, served: Served) -> None:
    context = browser.new_context()
    page = context.new_page()
    page.set_default_timeout(PATIENCE)
    page.goto(served.address)
    form = page.locator('form[aria-label="A page to listen on"]')
    form.get_by_label("Even eighths").select_option("as one more version")
    form.get_by_role("button").click()
    link = form.get_by_role("link")
    link.wait_for(timeout=120_000)
    assert (served.folder / "late_bus_home page.html").exists()
    with page.context.expect_page() as opening:
        link.click()
    made = opening.value
    made.locator("#play:not([disabled])").wait_for()
    names = ["plain", "shaped", "straight"]
    assert made.locator("#versions button span").all_inner_texts() == names
    refused = "async () => (await fetch('/melodies').then((a) => a.status, () => 'nothing'))"
    assert made.evaluate(refused) == "nothing"
    assert made.evaluate("() => origin") == "null"
    context.close()


def test_another_width_has_its_own_lines(page: Any) -> None:
    assert page.locator(".layout").count() == 1
    choose(page, 3, "ghost")
    page.set_viewport_size({"width": 390, "height": 900})
    page.locator('.layout.slim .spot[data-note="3"]').wait_for()
    assert spot(page, 3).get_attribute("aria-label").endswith("ghost, your own")
    assert page.faults == []


def test_a_chart_has_a_backing_and_nothing_else(page: Any, served: Served) -> None:
    page.click("#other")
    page.set_input_files("#choose", str(examples() / "kettle_blues.chart"))
    page.locator("#chart:visible").wait_for()
    assert page.inner_text("#chart-heading") == "kettle_blues.chart"
    assert page.locator("#chart form").count() == 1
    assert page.locator("#work:visible, #problem:visible").count() == 0
    assert page.faults == []


def test_a_recording_is_told_what_becomes_of_it(page: Any, served: Served) -> None:
    page.click("#other")
    take = {"name": "take.wav", "mimeType": "audio/wav", "buffer": b"RIFF"}
    page.set_input_files("#choose", files=take)
    assert "is a recording" in page.inner_text("#problem")
    assert not (served.folder / "take.wav").exists()


def test_by_keyboard_alone(page: Any) -> None:
    page.keyboard.press("Shift+ArrowRight")
    page.keyboard.press("Shift+ArrowRight")
    page.locator('#note-body button[data-mark="ghost"]').focus()
    page.keyboard.press("Enter")
    settled(page)
    assert page.evaluate("() => document.activeElement.dataset.mark") == "ghost"
    assert page.evaluate("() => globalThis.desk.told.own.length") == 1
    page.keyboard.press("Escape")
    assert page.locator("#note:visible").count() == 0


@pytest.mark.parametrize("width", [390, 820, 1440])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_nothing_is_wrong_for_a_screen_reader_or_sticks_out(
    browser: Any, served: Served, width: int, scheme: Any
) -> None:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright")
    context = browser.new_context(
        bypass_csp=True, viewport={"width": width, "height": 900}, color_scheme=scheme
    )
    page = opened(context, served)
    page.evaluate("() => globalThis.desk.card.choose(3)")
    found = axe.Axe().run(page).response["violations"]
    assert [each["id"] for each in found] == []
    inside = "() => document.documentElement.scrollWidth <= innerWidth"
    assert page.evaluate(inside)
    context.close()


def test_in_a_second_browser_a_mark_is_changed_and_taken_back(
    firefox: Any, served: Served
) -> None:
    firefox.open(served.address)
    firefox.wait("globalThis.desk && !document.getElementById('play').disabled")
    firefox.value("(globalThis.desk.card.choose(3), true)")
    firefox.click('#note-body button[data-mark="ghost"]')
    firefox.wait("globalThis.desk.told.own.includes(3)")
    assert firefox.text("#steps .stands span").endswith("became ghost.")
    assert len(set(tables(served))) == 1
    firefox.click("#undo")
    firefox.wait("globalThis.desk.told.own.length === 0")
