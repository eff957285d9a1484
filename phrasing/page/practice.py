"""The page to practise from, and a playlist of the same files (M3U8: UTF-8 M3U)."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from itertools import groupby

CAUTION = (
    "Start with the volume low. Rest as long as you play, and stop where anything hurts: lip, "
    "jaw, hands or ears. What your teacher or doctor says goes before this plan."
)

STYLE = """
:root { color-scheme: light dark; --ink: #1d1d1f; --paper: #fffdf8; --line: #8a8578; }
@media (prefers-color-scheme: dark) {
  :root { --ink: #f2efe8; --paper: #1b1a18; --line: #8f8a7e; }
}
body { margin: 0 auto; max-width: 46rem; padding: 1rem; color: var(--ink);
  background: var(--paper); font: 1.05rem/1.5 Georgia, "Times New Roman", serif; }
h1 { font-size: 1.6rem; margin: 0.5rem 0; }
h2 { font-size: 1.15rem; margin: 1.6rem 0 0.2rem; border-bottom: 1px solid var(--line); }
ol { list-style: none; margin: 0; padding: 0; }
li { display: flex; flex-wrap: wrap; gap: 0.3rem 1rem; align-items: center;
  justify-content: space-between; padding: 0.5rem 0; border-bottom: 1px solid #8a857844; }
li span { flex: 1 1 14rem; }
audio { flex: 0 1 20rem; width: 100%; max-width: 20rem; height: 2.4rem; }
@media print { audio { display: none; } }
"""

SCRIPT = """
const players = [...document.querySelectorAll("audio")];
for (const player of players) {
  player.volume = 0.3;
  player.addEventListener("play", () => {
    for (const other of players) if (other !== player) other.pause();
  });
}
"""


@dataclass(frozen=True)
class Entry:
    """One sound file: the heading it stands under, its title, its name, how long it lasts."""

    group: str
    title: str
    file: str
    seconds: float


def playlist(title: str, entries: Sequence[Entry]) -> str:
    """The entries as an M3U8 playlist, in their order."""
    lines = ["#EXTM3U", f"#PLAYLIST:{_one_line(title)}"]
    for entry in entries:
        lines += [f"#EXTINF:{round(entry.seconds)},{_one_line(entry.title)}", entry.file]
    return "\n".join(lines) + "\n"


def practice_page(title: str, entries: Sequence[Entry]) -> str:
    """A page that plays the files beside it; it asks for nothing else."""
    groups = "".join(
        _group(heading, list(of_group))
        for heading, of_group in groupby(entries, key=lambda entry: entry.group)
    )
    minutes = duration(sum(entry.seconds for entry in entries))
    heading = escape(f"{title}: practice")
    return f"""<!doctype html>
<html lang="en">
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; \
media-src 'self' file:; style-src '{_digest(STYLE)}'; script-src '{_digest(SCRIPT)}'">
<title>{heading}</title>
<style>{STYLE}</style>
<h1>{heading}</h1>
<p>{minutes} of playing, once each. {escape(CAUTION)}</p>
{groups}<script>{SCRIPT}</script>
</html>
"""


def _group(heading: str, entries: Sequence[Entry]) -> str:
    rows = "".join(_row(entry) for entry in entries)
    minutes = duration(sum(entry.seconds for entry in entries))
    return f"<h2>{escape(heading)} ({minutes})</h2>\n<ol>\n{rows}</ol>\n"


def _row(entry: Entry) -> str:
    title, file = escape(entry.title), escape(entry.file, quote=True)
    return (
        f"<li><span>{title}</span>"
        f'<audio controls preload="none" src="{file}" aria-label="{escape(entry.title)}">'
        "</audio></li>\n"
    )


def duration(seconds: float) -> str:
    """A length of time as people say it: "45 seconds", "12 minutes"."""
    if seconds < 90:
        return f"{round(seconds)} seconds"
    return f"{round(seconds / 60)} minutes"


def _digest(text: str) -> str:
    digest = hashlib.sha256(text.encode("utf-8")).digest()
    return f"sha256-{base64.b64encode(digest).decode()}"


def _one_line(text: str) -> str:
    return " ".join(text.split())
