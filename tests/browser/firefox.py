"""Debian's own Firefox, driven over its standard protocol (W3C WebDriver BiDi), for the tests
that look at a page in a second browser; without it they are skipped, and say so loudly."""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import subprocess
import time
from collections.abc import Iterator
from itertools import count
from pathlib import Path
from typing import Any

import pytest

NAMES = ("firefox-esr", "firefox")
MISSING = (
    "NOT TESTED: the pages in Firefox. There is none here; on Debian, “apt-get install "
    "firefox-esr” brings it."
)
PATIENCE = 60
"""Seconds that anything may take before a test fails."""
PREFERENCES = {
    "browser.shell.checkDefaultBrowser": False,
    "datareporting.policy.dataSubmissionEnabled": False,
    "toolkit.telemetry.reportingpolicy.firstRun": False,
    "app.update.enabled": False,
    "network.proxy.type": 1,
    "network.proxy.socks": "127.0.0.1",
    "network.proxy.socks_port": 9,
    "network.proxy.allow_hijacking_localhost": False,
}
"""Nothing is fetched, and nothing asked."""
KEYS = {"Escape": "\ue00c", "Enter": "\ue007", "ArrowRight": "\ue014", "ArrowLeft": "\ue012"}


class Firefox:
    """A running Firefox with one tab."""

    def __init__(self, program: str, profile: Path) -> None:
        prefs = [
            f"user_pref({json.dumps(k)}, {json.dumps(v)});" for k, v in PREFERENCES.items()
        ]
        (profile / "user.js").write_text("\n".join(prefs), encoding="utf-8")
        self.log = profile / "log.txt"
        command = [program, "--headless", "--no-remote", "--profile", str(profile)]
        with self.log.open("w") as log:
            self.process = subprocess.Popen(
                [*command, "--remote-debugging-port", "0", "about:blank"],
                stdout=log,
                stderr=log,
                start_new_session=True,
                env={**os.environ, "HOME": str(profile), "MOZ_CRASHREPORTER_DISABLE": "1"},
            )
        self.numbers = count(1)
        self.complaints: list[str] = []
        self._connect()

    def _connect(self) -> None:
        from websocket import create_connection

        address = self._address()
        self.socket = create_connection(
            f"{address}/session", timeout=PATIENCE, suppress_origin=True
        )
        self.ask("session.new", capabilities={})
        self.ask("session.subscribe", events=["log.entryAdded"])
        self.tab = self.ask("browsingContext.getTree")["contexts"][0]["context"]

    def _address(self) -> str:
        until = time.monotonic() + PATIENCE
        while time.monotonic() < until:
            found = re.search(r"ws://[\w.:\[\]]+", self.log.read_text(errors="replace"))
            if found:
                return found[0]
            time.sleep(0.1)
        raise TimeoutError(f"Firefox does not answer: {self.log.read_text()}")

    def ask(self, method: str, **words: Any) -> Any:
        """A command of the protocol and its answer; what the page complains of is noted."""
        number = next(self.numbers)
        self.socket.send(json.dumps({"id": number, "method": method, "params": words}))
        while True:
            told = json.loads(self.socket.recv())
            if told.get("method") == "log.entryAdded":
                self.complaints.append(str(told["params"].get("text")))
            elif told.get("id") == number:
                if told["type"] == "error":
                    raise RuntimeError(f"{method}: {told['message']}")
                return told["result"]

    def open(self, address: str, width: int = 1440, height: int = 900) -> None:
        """Open a page in a window of this size."""
        size = {"width": width, "height": height}
        self.ask("browsingContext.setViewport", context=self.tab, viewport=size)
        self.ask(
            "browsingContext.navigate", context=self.tab, url="about:blank", wait="complete"
        )
        self.ask("browsingContext.navigate", context=self.tab, url=address, wait="complete")

    def reload(self) -> None:
        """Load the page once more."""
        self.ask("browsingContext.reload", context=self.tab, wait="complete")

    def value(self, expression: str) -> Any:
        """The value of a JavaScript expression on the page, through JSON."""
        answer = self.ask(
            "script.evaluate",
            expression=f"(async () => JSON.stringify((await ({expression})) ?? null))()",
            target={"context": self.tab},
            awaitPromise=True,
        )
        if answer["type"] == "exception":
            raise RuntimeError(answer["exceptionDetails"]["text"])
        return json.loads(answer["result"]["value"])

    def wait(self, expression: str) -> Any:
        """Wait until an expression is true; its value."""
        until = time.monotonic() + PATIENCE
        while time.monotonic() < until:
            value = self.value(expression)
            if value:
                return value
            time.sleep(0.05)
        raise TimeoutError(expression)

    def text(self, selector: str) -> str:
        """What an element says."""
        return str(
            self.value(f"document.querySelector({json.dumps(selector)}).innerText.trim()")
        )

    def click(self, selector: str) -> None:
        """Press the pointer on the middle of an element that can be seen."""
        x, y = self.value(
            f"(() => {{ const e = [...document.querySelectorAll({json.dumps(selector)})]"
            ".find((e) => e.getClientRects().length); e.scrollIntoView({ block: 'center' });"
            " const r = e.getBoundingClientRect();"
            " return [Math.round(r.x + r.width / 2), Math.round(r.y + r.height / 2)]; })()"
        )
        steps = [
            {"type": "pointerMove", "x": x, "y": y},
            {"type": "pointerDown", "button": 0},
            {"type": "pointerUp", "button": 0},
        ]
        mouse = {"type": "pointer", "id": "mouse", "actions": steps}
        self.ask("input.performActions", context=self.tab, actions=[mouse])

    def press(self, key: str) -> None:
        """Press a key and let it go."""
        value = KEYS.get(key, key)
        steps = [{"type": "keyDown", "value": value}, {"type": "keyUp", "value": value}]
        keyboard = {"type": "key", "id": "keys", "actions": steps}
        self.ask("input.performActions", context=self.tab, actions=[keyboard])

    def picture(self) -> str:
        """The window as a PNG, base64."""
        return str(self.ask("browsingContext.captureScreenshot", context=self.tab)["data"])

    def close(self) -> None:
        """End the Firefox that was started here, and what it started."""
        self.socket.close()
        os.killpg(self.process.pid, signal.SIGTERM)
        try:
            self.process.wait(10)
        except subprocess.TimeoutExpired:
            os.killpg(self.process.pid, signal.SIGKILL)


@pytest.fixture(scope="session")
def firefox(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Firefox]:
    """A running Firefox; skips the test where there is none."""
    program = next(filter(None, map(shutil.which, NAMES)), None)
    if program is None:
        pytest.skip(MISSING)
    pytest.importorskip("websocket")
    running = Firefox(program, tmp_path_factory.mktemp("firefox"))
    yield running
    running.close()
