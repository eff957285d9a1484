"""Small MusicXML scores for tests, put together from a few words each."""

from __future__ import annotations

from pathlib import Path

from phrasing.reading.musicxml.melody import read_musicxml
from phrasing.score.melody import Melody
from tests.schema import faults

DIVISIONS = 24
"""Divisions of a quarter: enough for triplets and sixteenths."""
FOUR = "<time><beats>4</beats><beat-type>4</beat-type></time>"
QUARTER = 960


def pitch(name: str) -> str:
    """``Bb4`` as a pitch element."""
    alter = name[1:-1].count("#") - name[1:-1].count("b")
    altered = f"<alter>{alter}</alter>" if alter else ""
    return f"<pitch><step>{name[0]}</step>{altered}<octave>{name[-1]}</octave></pitch>"


def note(
    name: str,
    quarters: float = 1,
    *,
    tie: str = "",
    notations: str = "",
    articulations: str = "",
    chord: bool = False,
    voice: int | None = None,
    staff: int | None = None,
    head: str = "",
    grace: bool = False,
    cue: bool = False,
    id: str = "",
) -> str:
    """A note, or a rest ("r"); ``tie``: "start", "stop" or both; ``articulations``: words."""
    parts = ["<grace/>" if grace else "", "<cue/>" if cue else "", "<chord/>" if chord else ""]
    parts.append("<rest/>" if name == "r" else pitch(name))
    if not grace:
        parts.append(f"<duration>{round(quarters * DIVISIONS)}</duration>")
    parts += [f'<tie type="{side}"/>' for side in tie.split()]
    parts.append(f"<voice>{voice}</voice>" if voice else "")
    parts.append("<type>eighth</type>" if grace else "")
    parts.append(head)
    parts.append(f"<staff>{staff}</staff>" if staff else "")
    if articulations:
        signs = "".join(f"<{sign}/>" for sign in articulations.split())
        notations += f"<articulations>{signs}</articulations>"
    parts.append(f"<notations>{notations}</notations>" if notations else "")
    return f"<note{f' id={chr(34)}{id}{chr(34)}' if id else ''}>{''.join(parts)}</note>"


def notes(words: str) -> str:
    """``"C5:1 r:0.5"``: names and quarters."""
    return "".join(note(w.split(":")[0], float(w.split(":")[1])) for w in words.split())


def slur(kind: str, number: int = 1) -> str:
    """One end of a slur."""
    return f'<slur type="{kind}" number="{number}"/>'


def backup(quarters: float) -> str:
    """Back in time."""
    return f"<backup><duration>{round(quarters * DIVISIONS)}</duration></backup>"


def direction(kind: str, sound: str = "", offset: float = 0) -> str:
    """A direction with its kind and the attributes or content of its sound."""
    shift = f"<offset>{round(offset * DIVISIONS)}</offset>" if offset else ""
    said = ""
    if sound.startswith("<"):
        said = f"<sound>{sound}</sound>"
    elif sound:
        said = f"<sound {sound}/>"
    return f"<direction><direction-type>{kind}</direction-type>{shift}{said}</direction>"


def words(text: str) -> str:
    """Words above the staff."""
    return direction(f"<words>{text}</words>")


def barline(side: str, content: str) -> str:
    """A barline at the left or right of its bar."""
    return f'<barline location="{side}">{content}</barline>'


START = barline("left", '<repeat direction="forward"/>')
END = barline("right", '<repeat direction="backward"/>')


def end(times: int) -> str:
    """A repeat sign that says how often."""
    return barline("right", f'<repeat direction="backward" times="{times}"/>')


def ending(number: str, content: str, *, back: bool) -> str:
    """A bar's content under an ending of its own."""
    repeat = '<repeat direction="backward"/>' if back else ""
    kind = "stop" if back else "discontinue"
    opened = barline("left", f'<ending number="{number}" type="start"/>')
    return (
        opened
        + content
        + barline("right", f'<ending number="{number}" type="{kind}"/>{repeat}')
    )


def harmony(root: str, kind: str, *, text: str | None = None, extra: str = "") -> str:
    """A chord symbol; ``extra``: bass, degrees, offset."""
    step, alter = root[0], root.count("#") - root.count("b")
    altered = f"<root-alter>{alter}</root-alter>" if alter else ""
    shown = f' text="{text}"' if text is not None else ""
    return (
        f"<harmony><root><root-step>{step}</root-step>{altered}</root>"
        f"<kind{shown}>{kind}</kind>{extra}</harmony>"
    )


def degree(value: int, alter: int, how: str) -> str:
    """A degree of a chord symbol."""
    return (
        f"<degree><degree-value>{value}</degree-value><degree-alter>{alter}</degree-alter>"
        f"<degree-type>{how}</degree-type></degree>"
    )


def bar(content: str, *, attributes: str = "", **of_measure: str) -> str:
    """A bar without its number; ``of_measure``: its attributes, such as ``implicit="yes"``."""
    given = "".join(f' {name}="{value}"' for name, value in of_measure.items())
    before = f"<attributes>{attributes}</attributes>" if attributes else ""
    return f"<measure{given}>{before}{content}</measure>"


def part(*bars: str, attributes: str = FOUR, first: int = 1) -> str:
    """The measures of a part, numbered from ``first`` where they have no number yet."""
    opening = f"<attributes><divisions>{DIVISIONS}</divisions>{attributes}</attributes>"
    numbered = []
    for index, one in enumerate(bars):
        text = one if "<measure" in one else bar(one)
        head, rest = text.split(">", 1)
        head += "" if "number=" in head else f' number="{first + index}"'
        numbered.append(f"{head}>{opening if index == 0 else ''}{rest}")
    return "".join(numbered)


def score(
    *parts: str,
    names: tuple[str, ...] = (),
    headers: tuple[str, ...] = (),
    top: str = "",
    defaults: str = "",
) -> bytes:
    """A partwise score; ``top`` comes before the part list, ``headers`` inside its entries."""
    listed, music = [], []
    for index, content in enumerate(parts):
        name = names[index] if index < len(names) else "Trumpet"
        header = headers[index] if index < len(headers) else ""
        listed.append(
            f'<score-part id="P{index + 1}"><part-name>{name}</part-name>{header}</score-part>'
        )
        music.append(f'<part id="P{index + 1}">{content}</part>')
    return (
        '<?xml version="1.0" encoding="UTF-8"?><score-partwise version="4.0">'
        f"{top}{defaults}<part-list>{''.join(listed)}</part-list>{''.join(music)}"
        "</score-partwise>"
    ).encode()


def saved(path: Path, content: bytes) -> Path:
    """The score in a file; it must be valid."""
    assert faults(content) == []
    file = path / "score.musicxml"
    file.write_bytes(content)
    return file


def read(path: Path, *bars: str, as_written: bool = False, **of_part: str) -> Melody:
    """The melody of one part with these bars."""
    return read_musicxml(saved(path, score(part(*bars, **of_part))), as_written=as_written)


def rows(melody: Melody) -> list[tuple[float, float, int]]:
    """Onset and length in quarters and pitch of each note."""
    return [(n.onset / QUARTER, n.length / QUARTER, n.pitch) for n in melody.notes]
