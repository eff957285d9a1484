"""The pages that the browser tests open, built once, and the ways to open them."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pytest

from phrasing.app.folders import write_listening_page
from phrasing.files import Plan
from phrasing.lesson.lesson import Lesson, open_lesson
from phrasing.lesson.request import Request, SoundForm
from phrasing.lesson.versions import Version, shaped_version, versions_of
from phrasing.paper.musicxml import new_score
from tests.browser.recorder import RECORDER, warm_up
from tests.browser.stepping import STEPPED
from tests.lines import melody

TUNE = (
    "C4:1 D4:1 "
    "F4:1 A4:1 E4:1 G4:1 C5:1 D5:1 C5:1 A4:1 "
    "G4:2 r:1 Bb4:2 A4:2 r:1 "
    "F4:1 G4:1 A4:1 C5:1 Bb4:1 G#4:1 A4:2 "
    "E5:1 r:1 C5:1 F5:3 r:2 "
    "F5:1 E5:1 D5:1 C5:1 Bb4:1 A4:1 G4:1 E4:1 "
    "F4:2 A4:1 A4:1 C5:1 D5:1 r:2 "
    "G4:1 D5:1 C5:1 A4:2 G4:1 A4:1 Bb4:1 "
    "A4:2 r:1 F4:5"
)
"""Eight bars with a pickup, which have most rules in them (eighths; see ``tests.lines``)."""
HOSTILE = '<script>alert("x")</script> & “Zug” \u2028 🎺 </title></script><!--'


@dataclass(frozen=True)
class Built:
    """A page on disk and what it was made of."""

    file: Path
    lesson: Lesson
    versions: tuple[Version, ...]


def build(file: Path, lesson: Lesson, versions: tuple[Version, ...]) -> Built:
    """Write a page to ``file``."""
    no_sound = write_listening_page(lesson, versions, Plan.of_file(file), SoundForm())
    assert no_sound is None, no_sound
    return Built(file, lesson, versions)


@pytest.fixture(scope="session")
def built(tmp_path_factory: pytest.TempPathFactory) -> Built:
    """The tune's page: plain, shaped, straight."""
    folder = tmp_path_factory.mktemp("page")
    request = Request()
    lesson = open_lesson(written_tune(folder), request)
    versions = versions_of(lesson, request, straight=True)
    return build(folder / "listen.html", lesson, versions)


def written_tune(folder: Path) -> Path:
    """The tune as a score."""
    file = folder / "tune.musicxml"
    tune = replace(melody(TUNE, pickup=2, tempo=152), title="Paper Lift")
    file.write_bytes(new_score(tune, None))
    return file


@pytest.fixture(scope="session")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> Built:
    """A page whose title, reasons and version names are full of signs that HTML minds."""
    file = written_tune(tmp_path_factory.mktemp("hostile-tune"))
    lesson = open_lesson(file, Request(only="1-2"))
    told = tuple(reason and f"{reason} {HOSTILE}" for reason in lesson.written_reasons)
    lesson = replace(lesson, melody=replace(lesson.melody, title=HOSTILE), written_reasons=told)
    versions = (*versions_of(lesson, Request()), shaped_version(lesson, HOSTILE))
    return build(tmp_path_factory.mktemp("hostile") / "listen.html", lesson, versions)


@contextlib.contextmanager
def opened(
    browser: Any,
    built: Built,
    *,
    recording: bool = False,
    stepped: bool = False,
    address: str = "",
    sounding: bool = True,
    expected: str = "nothing",
    **request: Any,
) -> Iterator[Any]:
    """The page in a tab of its own. Whatever it complains about or asks for fails the test.

    ``expected``: words of complaints that the test provokes; ``stepped``: on a stepped clock;
    ``address``: what follows the file in the page's address.

    ``recording``: with a tap on what goes to the loudspeaker. The tap needs what the page's
    own policy forbids, so that here, and only here, the policy is off.
    """
    context = browser.new_context(bypass_csp=recording, **request)
    page = context.new_page()
    wrong: list[str] = []
    asked: list[str] = []
    page.on("console", lambda message: wrong.append(f"{message.type}: {message.text}"))
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.on("dialog", lambda dialog: (wrong.append("dialog"), dialog.dismiss()))
    page.on("request", lambda request: asked.append(request.url))
    if recording:
        page.add_init_script(RECORDER)
    if stepped:
        page.add_init_script(STEPPED)
    page.goto(built.file.as_uri() + address)
    if sounding:
        page.wait_for_selector("#play:enabled")
        count = len(built.versions)
        page.wait_for_selector(f'#versions[data-unpacked="{count}"]', state="attached")
    if recording:
        warm_up(page)
    yield page
    context.close()
    assert [words for words in wrong if expected not in words] == []
    own = (built.file.as_uri(), "data:")
    assert expected != "nothing" or [url for url in asked if not url.startswith(own)] == []
