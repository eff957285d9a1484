"""The listening page against the rules of axe-core.

Source: axe-core (Deque Systems, MPL-2.0), which checks WCAG 2.0 to 2.2, levels A and AA (W3C
Recommendations); the copy in the package axe-playwright-python is used.
"""

from __future__ import annotations

import pytest

from tests.browser.pages import opened

pytestmark = [pytest.mark.outside, pytest.mark.browser]
LEVELS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
OPTIONS = {"runOnly": {"type": "tag", "values": LEVELS}}
SHADES = [("light", 1440), ("dark", 390)]


@pytest.mark.parametrize(("scheme", "width"), SHADES)
def test_axe_finds_nothing(browser, built, scheme, width):
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
    shape = {"width": width, "height": 900}
    with opened(browser, built, color_scheme=scheme, viewport=shape) as page:
        page.locator("svg.system:visible .spot").nth(5).press("Enter")
        page.click("#blind-start")
        page.keyboard.press("l")
        found = axe.run(page, options=OPTIONS).response
    broken = [(v["impact"], v["id"], v["nodes"][0]["html"][:120]) for v in found["violations"]]
    assert broken == []
    assert len(found["passes"]) > 20
