"""The listening page as it opens from disk: whole, silent on the network, safe to send on."""

from __future__ import annotations

from dataclasses import replace

import pytest

from phrasing.page.listening import listening_page
from phrasing.score.marks import MARK_NAMES
from tests.browser.pages import HOSTILE, opened
from tests.browser.stepping import run_until

pytestmark = pytest.mark.browser
WIDTHS = (390, 820, 1440)
CUT = """
() => {
  const wrong = [];
  const seen = (element) => element.getClientRects().length > 0;
  for (const element of document.querySelectorAll("body *:not(svg *)")) {
    const { left, right } = element.getBoundingClientRect();
    if (!seen(element) || right - left <= 1) continue;
    if (left < -0.5 || right > innerWidth + 0.5) wrong.push(`${element.tagName} ${right}`);
    const inside = getComputedStyle(element).overflowX !== "visible";
    if (inside && element.scrollWidth > element.clientWidth + 1) wrong.push(element.outerHTML);
  }
  for (const element of document.querySelectorAll("svg.system :is(use, path, rect, text)")) {
    const { left, right, top, bottom } = element.getBoundingClientRect();
    const around = element.closest("svg").getBoundingClientRect();
    if (!seen(element)) continue;
    if (left < around.left - 1 || right > around.right + 1) wrong.push(element.outerHTML);
    if (top < around.top - 1 || bottom > around.bottom + 1) wrong.push(element.outerHTML);
  }
  if (document.documentElement.scrollWidth > innerWidth) wrong.push("scrolls sideways");
  return wrong;
}
"""


@pytest.mark.parametrize("width", WIDTHS)
def test_nothing_is_cut(browser, built, width):
    with opened(browser, built, viewport={"width": width, "height": 900}) as page:
        assert page.evaluate(CUT) == []
        page.locator("svg.system:visible .spot").nth(3).press("Enter")
        assert page.is_visible("#note")
        assert page.evaluate(CUT) == []


def test_opens_from_disk_and_plays_without_a_complaint_or_a_request(browser, built):
    with opened(browser, built, stepped=True) as page:
        page.click("#play")
        run_until(page, "document.querySelector('.spot.sounding')")
        assert page.inner_text("#play") == "Pause"


def test_a_page_without_sound_can_be_read(browser, built, tmp_path):
    file = tmp_path / "silent.html"
    content = listening_page(built.lesson, built.versions, None)
    file.write_text(content, encoding="utf-8")
    with opened(browser, replace(built, file=file), sounding=False) as page:
        assert page.is_disabled("#play")
        for key in (" ", "s", "ArrowRight", "Shift+ArrowRight"):
            page.keyboard.press(key)
        assert page.is_visible("#note-body table")
        assert not page.get_by_text("Play from here").count()
        page.locator("button[data-light]:visible").first.click()
        assert page.locator(".spot.lit:visible").count()


def test_policy_forbids_every_request_and_foreign_script(browser, built):
    with opened(browser, built, expected="Content Security Policy") as page:
        page.evaluate(
            """async () => {
              document.addEventListener("securitypolicyviolation", ({ effectiveDirective }) =>
                document.body.append(effectiveDirective + " "));
              await fetch("http://127.0.0.1:9/").catch(() => {});
              new Image().src = "http://127.0.0.1:9/x.png";
              const script = document.createElement("script");
              script.textContent = "document.title = 'foreign'";
              document.body.append(script);
            }"""
        )
        page.wait_for_function("() => document.body.innerText.includes('img-src')")
        said = page.inner_text("body")
        assert "connect-src" in said
        assert "script-src" in said
        assert page.title() != "foreign"


def test_signs_of_html_in_titles_names_and_reasons_are_shown_as_text(browser, hostile):
    shown = " ".join(HOSTILE.split())
    with opened(browser, hostile) as page:
        assert page.locator("h1").text_content() == HOSTILE
        assert page.title().startswith("<script>alert")
        assert shown in " ".join(page.locator("#versions").inner_text().split())
        page.locator("#reasons summary").click()
        page.locator(".marks button").first.click()
        assert shown in " ".join(page.inner_text("#note-body").split())
        assert shown in " ".join(page.locator(".marks").inner_text().split())
        assert page.locator("script").count() == 1 + 1 + len(hostile.versions)


def test_what_is_inked_is_the_version_that_is_chosen(browser, built):
    marking = built.versions[1].marking
    marked = sorted({f"{MARK_NAMES[code]}" for code in marking.mark.tolist() if code >= 0})
    with opened(browser, built) as page:
        for key, version in (("1", 0), ("2", 1), ("3", 2)):
            page.keyboard.press(key)
            layers = page.locator(".layer:not(.off)")
            assert {
                layers.nth(k).get_attribute("data-version") for k in range(layers.count())
            } == {str(version)}
            labels = page.evaluate(
                "[...document.querySelectorAll('.spot')].map((s) => s.ariaLabel)"
            )
            named = {word for label in labels for word in label.split(", ") if word in marked}
            assert sorted(named) == (marked if version == 1 else [])
            assert (page.locator(".unshaped").count() == 0) == (version == 1)


def test_nothing_moves_when_the_version_changes(browser, built):
    places = "[...document.querySelectorAll('svg.system .spot')].map((s) => " + (
        "JSON.stringify(s.getBoundingClientRect()))"
    )
    with opened(browser, built, viewport={"width": 390, "height": 844}) as page:
        page.keyboard.press("1")
        before = page.evaluate(places)
        page.keyboard.press("2")
        assert page.evaluate(places) == before


@pytest.mark.parametrize("width,height", [(390, 844), (390, 660), (844, 390), (320, 480)])
def test_the_first_system_is_on_the_first_screen(browser, built, width, height):
    with opened(browser, built, viewport={"width": width, "height": height}) as page:
        box = page.locator("svg.system:visible").first.bounding_box()
        assert box["y"] + box["height"] <= height


@pytest.mark.parametrize("width,bars", [(390, 2), (820, 3), (1440, 4)])
def test_two_to_four_bars_stand_in_a_line(browser, built, width, bars):
    with opened(browser, built, viewport={"width": width, "height": 900}) as page:
        second = page.locator("svg.system:visible").nth(1)
        assert second.locator(".bar").count() == bars


def test_prints_the_notes_their_shape_and_every_reason(browser, built):
    with opened(browser, built) as page:
        page.emulate_media(media="print")
        for hidden in (
            "#stand",
            "#words",
            ".layout.slim",
            "#blind-start",
            "button.example",
        ):
            assert not page.locator(hidden).first.is_visible()
        reasons = [reason for reason in built.lesson.written_reasons if reason]
        told = page.locator(".marks p")
        assert [told.nth(k).inner_text() for k in range(len(reasons))] == [
            f"{reason}." for reason in reasons
        ]
        assert page.locator(".layout.broad .lane").first.is_visible()


def test_dragging_over_notes_loops_their_bars_and_a_tap_chooses_a_note(browser, built):
    with opened(browser, built, viewport={"width": 1440, "height": 900}) as page:
        bars = page.locator("svg.system:visible .bar")
        page.keyboard.press("1")
        first, last = (bars.nth(k).bounding_box() for k in (1, 2))
        page.mouse.move(first["x"] + 40, first["y"] + 30)
        page.mouse.down()
        page.mouse.move(last["x"] + 40, last["y"] + 30, steps=5)
        page.mouse.up()
        assert [page.input_value("#loop-from"), page.input_value("#loop-to")] == ["1", "2"]
        assert page.inner_text("#said") == "Looping bar 1 to bar 2."
        assert page.get_attribute("#loop", "aria-pressed") == "true"
        spot = page.locator("svg.system:visible .spot").nth(4)
        box = spot.bounding_box()
        page.mouse.click(box["x"] + box["width"] / 2, box["y"] + 10)
        label = spot.get_attribute("aria-label")
        assert label.startswith(page.inner_text("#note-heading"))
        assert spot.get_attribute("aria-pressed") == "true"


def test_a_tapped_note_lights_the_other_notes_of_its_rule(browser, built):
    marking = built.lesson.marking
    note = int((marking.rule >= 0).argmax())
    others = set((marking.rule == marking.rule[note]).nonzero()[0].tolist())
    with opened(browser, built) as page:
        page.locator(f'svg.system:visible .spot[data-note="{note}"]').press("Enter")
        lit = page.locator("svg.system:visible .spot.lit")
        assert {
            int(lit.nth(k).get_attribute("data-note")) for k in range(lit.count())
        } == others
        shaped = built.versions[1]
        sounds = round(1000 * float(shaped.release[note] - shaped.onset[note]))
        assert f"{sounds} ms" in page.inner_text("#note-body")
        level = f"{shaped.shape.level[note]:+.1f} dB".replace("-", "−")
        assert level in page.inner_text("#note-body")
        assert built.lesson.written_reasons[note] in page.inner_text("#note-body")


def test_a_printed_page_has_the_last_reason_too(browser, built, tmp_path):
    """The list is folded on the screen, and was cut where it was unfolded too late."""
    pdf = pytest.importorskip("pypdfium2")
    with opened(browser, built) as page:
        page.pdf(path=tmp_path / "page.pdf", format="A4")
        assert not page.evaluate("() => document.getElementById('reasons').open")
    sheets = pdf.PdfDocument(tmp_path / "page.pdf")
    printed = " ".join(
        " ".join(sheets[k].get_textpage().get_text_range().split()) for k in range(len(sheets))
    )
    reasons = [reason for reason in built.lesson.written_reasons if reason]
    assert " ".join(reasons[-1].split()) in printed


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", WIDTHS)
def test_nothing_is_wrong_for_a_screen_reader(browser, built, width, scheme):
    """By the rules of axe-core 4, which stand for WCAG 2.2, with all that folds unfolded."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright")
    size = {"width": width, "height": 900}
    with opened(browser, built, viewport=size, color_scheme=scheme) as page:
        page.click("#more")
        page.locator("svg.system:visible .spot").first.press("Enter")
        page.evaluate("document.querySelectorAll('details').forEach((d) => { d.open = true; })")
        found = axe.Axe().run(page).response["violations"]
        assert [(each["id"], each["nodes"][0]["html"][:90]) for each in found] == []
