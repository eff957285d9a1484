"""Who may ask the desk's server anything: the pages of its own browser, nobody else.

Host is looked at before anything else, since a page elsewhere whose name was made to point
here sends no Origin when it reads; then the key in a strict same-site cookie; then, for every
change, Origin and the kind of content, and its size while it comes in.
"""

from __future__ import annotations

import hmac
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from starlette.requests import cookie_parser
from starlette.responses import PlainTextResponse, RedirectResponse, Response

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

LARGEST_CHANGE = 1_000_000
LARGEST_FILE = 64_000_000
"""Bytes at most of a change, and of a file that is dropped on the desk."""
READING = ("GET", "HEAD")
ENTRANCE = "/enter"
HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
        "font-src data:; "
        "connect-src 'self'; media-src 'self' blob:; base-uri 'none'; form-action 'none'; "
        "frame-ancestors 'none'"
    ),
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
    "Cache-Control": "no-store",
}
"""Sent with every answer."""
MADE = "/made/"
"""Where files that were made are: a secret in the path opens them, since a page among them is
let have nothing of the desk's, not even its name."""
HEADERS_MADE = {
    **HEADERS,
    "Content-Security-Policy": (
        "sandbox allow-scripts allow-downloads allow-modals; connect-src 'none'; "
        "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    ),
    "Cross-Origin-Resource-Policy": "cross-origin",
}
"""Sent with those: a page plays its own sound, and can ask the desk for nothing."""


class TooLargeError(Exception):
    """More came in than is taken."""


@dataclass(frozen=True)
class Gate:
    """The desk behind its gate.

    ``key``: what a page shows to be let in; ``port``: the one that is served.
    """

    app: ASGIApp
    key: str
    port: int

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, or hand on to the desk."""
        if scope["type"] != "http":
            return await self._other(scope, receive, send)
        headers = {name.decode("latin-1"): value for name, value in scope["headers"]}
        said = {name: value.decode("latin-1") for name, value in headers.items()}
        refused = self._refusal(scope, said)
        made = scope["path"].startswith(MADE)
        answered = _with_headers(send, HEADERS_MADE if made else HEADERS)
        if refused is not None:
            return await refused(scope, receive, answered)
        limit = LARGEST_FILE if scope["path"].startswith("/drop") else LARGEST_CHANGE
        try:
            await self.app(scope, _limited(receive, limit), answered)
        except TooLargeError:
            await PlainTextResponse("That is too large.", 413)(scope, receive, answered)

    async def _other(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Starting and stopping are the app's; a web socket is nobody's."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
        else:
            await send({"type": "websocket.close", "code": 1008})

    @property
    def cookie(self) -> str:
        """The cookie's name: a browser keeps cookies by host, whatever the port."""
        return f"desk-{self.port}"

    @property
    def hosts(self) -> tuple[str, ...]:
        """What the address bar may say."""
        return tuple(f"{name}:{self.port}" for name in ("127.0.0.1", "localhost", "[::1]"))

    def _refusal(self, scope: Scope, said: Mapping[str, str]) -> Response | None:
        """The answer where the question is not taken, None where it is."""
        if said.get("host", "").lower() not in self.hosts:
            return PlainTextResponse("The desk answers to its own address alone.", 421)
        if scope["path"] == ENTRANCE and scope["method"] == "GET":
            return self._let_in(scope)
        if scope["path"].startswith(MADE) and scope["method"] in READING:
            return None
        shown = cookie_parser(said.get("cookie", "")).get(self.cookie, "")
        if not hmac.compare_digest(shown.encode("utf-8"), self.key.encode("utf-8")):
            return PlainTextResponse(
                "This page has no key to the desk; open the address that “phrasing desk” "
                "prints.",
                403,
            )
        return None if scope["method"] in READING else _refused_change(scope, said)

    def _let_in(self, scope: Scope) -> Response:
        """Take the key out of the address, into a cookie."""
        shown = scope["query_string"]
        if not hmac.compare_digest(shown, f"key={self.key}".encode()):
            return PlainTextResponse("This is not the key to the desk.", 403)
        response = RedirectResponse("/", 303)
        response.set_cookie(self.cookie, self.key, httponly=True, samesite="strict", path="/")
        return response


def _refused_change(scope: Scope, said: Mapping[str, str]) -> Response | None:
    if said.get("origin", "").lower() != f"http://{said['host'].lower()}":
        return PlainTextResponse("A change comes from the desk's own page alone.", 403)
    kind = said.get("content-type", "").partition(";")[0].strip().lower()
    dropped = scope["path"].startswith("/drop")
    if kind != ("application/octet-stream" if dropped else "application/json"):
        return PlainTextResponse("A change is written as JSON.", 415)
    limit = LARGEST_FILE if dropped else LARGEST_CHANGE
    length = said.get("content-length", "0")
    if not length.isdecimal() or int(length) > limit:
        return PlainTextResponse("That is too large.", 413)
    return None


def _limited(receive: Receive, limit: int) -> Receive:
    """What comes in, up to so many bytes, whatever its header says."""
    taken = 0

    async def counted() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        if taken > limit:
            raise TooLargeError
        return message

    return counted


def _with_headers(send: Send, headers: Mapping[str, str]) -> Send:
    async def added(message: Message) -> None:
        if message["type"] == "http.response.start":
            more = [(n.lower().encode(), v.encode()) for n, v in headers.items()]
            message = {**message, "headers": [*message["headers"], *more]}
        await send(message)

    return added
