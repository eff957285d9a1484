"""A page as a text: blanks filled in, nothing in them taken for HTML, a policy that allows only
what is the page's own."""

from __future__ import annotations

import base64
import hashlib
import html
import json
import re
from collections.abc import Mapping
from typing import Any


def filled(template: str, blanks: Mapping[str, str]) -> str:
    """The template with its blanks filled in; what is filled in is not looked at again.

    >>> filled("{{a}} and {{b}}", {"a": "{{b}}", "b": "c"})
    '{{b}} and c'
    """
    return re.sub(r"\{\{(\w+)\}\}", lambda match: blanks[match[1]], template)


def policy(style: str, script: str, *more: str) -> str:
    """A Content-Security-Policy that allows this style and script, and ``more``."""

    def hashed(text: str) -> str:
        digest = hashlib.sha256(text.encode("utf-8")).digest()
        return f"'sha256-{base64.b64encode(digest).decode('ascii')}'"

    rules = [
        "default-src 'none'",
        f"script-src {hashed(script)}",
        f"style-src {hashed(style)}",
        "img-src data:",
        "font-src data:",
        *more,
        "base-uri 'none'",
        "form-action 'none'",
    ]
    return "; ".join(rules)


def text(words: object) -> str:
    """Words for HTML: nothing in them is taken for an element or an entity.

    >>> text("B & <b>")
    'B &amp; &lt;b&gt;'
    """
    return html.escape(str(words), quote=True)


def as_json(value: Any) -> str:
    """JSON that can stand in a script element: nothing in it ends or opens an element."""
    written = json.dumps(value, ensure_ascii=False, separators=(",", ":"))
    for sign in "<>&\u2028\u2029":
        written = written.replace(sign, f"\\u{ord(sign):04x}")
    return written


def key_of(known: Any) -> str:
    """What a page remembers a visitor's settings by: the same for the same page."""
    return hashlib.sha256(as_json(known).encode("utf-8")).hexdigest()[:16]
