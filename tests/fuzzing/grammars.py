"""Inputs that are right by the grammar of their kind, with odd values here and there."""

from __future__ import annotations

import json
import math
import re
import struct
import zipfile
from collections.abc import Callable, Iterator, Mapping
from dataclasses import fields, is_dataclass
from functools import cache
from io import BytesIO

from phrasing.feel import Feel
from tests.fuzzing.draws import Draws
from tests.reading import scores
from tests.smf import chunk, header, meta, number

ODD = (
    "", " ", "-1", "0", "1", "7", "0.5", "1e9", "nan", "inf", "-inf", "999999999", "1/2",
    "9" * 400, "abc", "yes", "G", "♯", "🎺", "1,2,3-999", "\n", "x", "\u202e", "\x9b", "1e-9",
)  # fmt: skip
STEPS = [step + alter for step in "CDEFGAB" for alter in ("", "b", "#")]
NAMES = [step + octave for step in STEPS for octave in "0345689"]
LENGTHS = (0.25, 1 / 3, 0.5, 0.5, 1, 1, 1, 1.5, 2, 4)


def midi(draw: Draws) -> bytes:
    """A MIDI file of up to three tracks."""
    division = draw.one((480, 480, 960, 96, 24, 1, 0x7FFF, 0xE728, 0))
    tracks = [
        _midi_track(draw, max(division & 0x7FFF, 1)) for _ in range(draw.one((1, 1, 1, 2, 3)))
    ]
    return header(draw.one((0, 1, 1, 1, 1, 1, 1, 2)), len(tracks), division) + b"".join(tracks)


def _midi_track(draw: Draws, division: int) -> bytes:
    data = bytearray()
    for _ in draw.some(3):
        data += number(0) + _midi_meta(draw)
    channel, pitch = draw.one((0, 0, 0, 1, 9)), draw.number(40, 90)
    for _ in range(draw.one((1, 2, 3, 5, 8, 8, 16, 40))):
        wait = draw.one((0, 0, 0, 0, division // 2, division // 3, division, 4 * division))
        wait += draw.number(0, 8) if draw.chance(3) else 0
        length = draw.one(
            (division // 2, division // 3, division, division // 4, 0, 9 * division)
        )
        pitch = (
            (pitch + draw.number(-5, 5)) % 128 if draw.number(0, 30) else draw.number(0, 127)
        )
        data += number(wait) + bytes([0x90 | channel, pitch, draw.number(1, 127)])
        data += number(length) + bytes([0x80 | channel, pitch, 64])
        if draw.chance(12):
            data += number(0) + _midi_meta(draw)
        if draw.chance(30):
            data += number(draw.one((0, 2**28 - 1, 90_000))) + draw.bytes(4)
    if draw.number(0, 5):
        data += number(0) + meta(0x2F, b"")
    return chunk(bytes(data))


def _midi_meta(draw: Draws) -> bytes:
    kind = draw.number(0, 4)
    if kind == 0:
        micros = draw.one((500_000, 300_000, 1_000_000, 1, 2**24 - 1, 0))
        return meta(0x51, micros.to_bytes(3, "big"))
    if kind == 1:
        meter = draw.one(
            ((4, 2), (3, 2), (6, 3), (5, 3), (7, 3), (1, 2), (2, 1), (255, 0), (1, 9))
        )
        return meta(0x58, bytes([*meter, 24, 8]))
    if kind == 2:
        return meta(0x59, bytes([draw.one((0, 1, 7, 249, 248, 8)), draw.number(0, 2)]))
    if kind == 3:
        return bytes([0xC0, draw.number(0, 127)])
    return meta(draw.one((1, 3, 3, 4, 5, 6, 0x7F)), draw.bytes(20))


def score(draw: Draws) -> bytes:
    """A MusicXML score of one or two parts."""
    parts = [_part(draw) for _ in range(1 + draw.chance(6))]
    return scores.score(*parts, names=(draw.one(("Trumpet", "Alto Sax", "", "Bass")),))


def _part(draw: Draws) -> str:
    key = f"<key><fifths>{draw.one((0, 0, -3, 4, 7, -7))}</fifths></key>"
    beats, unit = draw.one(((4, 4), (2, 4), (2, 4), (3, 4), (6, 8), (5, 4), (12, 8)))
    time = f"<time><beats>{beats}</beats><beat-type>{unit}</beat-type></time>"
    bars = [_bar(draw, 4 * beats / unit) for _ in range(draw.one((1, 1, 1, 2, 2, 3, 8)))]
    return scores.part(
        *bars, attributes=key + time + (_transpose(draw) if draw.chance(4) else "")
    )


def _transpose(draw: Draws) -> str:
    octave = draw.one(
        ("", "", "<octave-change>-1</octave-change>", "<octave-change>x</octave-change>")
    )
    shift = draw.one(("-2", "-9", "0", "12", "-1", draw.one(ODD[2:15])))
    return (
        f"<transpose><diatonic>0</diatonic><chromatic>{shift}</chromatic>{octave}</transpose>"
    )


def _bar(draw: Draws, quarters: float) -> str:
    content, left = "", quarters if draw.number(0, 9) else draw.one((0, 1, 9))
    while left > 0:
        length = min(draw.one(LENGTHS), left)
        content += _note(draw, length)
        left -= length
    for _ in draw.some(2):
        content += _extra(draw)
    if draw.chance(6):
        content = scores.START + content
    if draw.chance(6):
        content += scores.END if draw.number(0, 2) else scores.end(draw.number(0, 9))
    if draw.chance(10):
        content = scores.ending(
            draw.one(("1", "2", "1, 2", "3", "")), content, back=draw.chance(2)
        )
    return content


def _note(draw: Draws, length: float) -> str:
    if draw.chance(7):
        return scores.note("r", length)
    graces = "".join(scores.note(draw.one(NAMES), grace=True) for _ in range(draw.chance(9)))
    tie = draw.one(("", "", "", "", "start", "stop", "start stop"))
    signs = draw.one(("", "", "", "accent", "staccato", "tenuto", "strong-accent staccato"))
    whole = scores.note(draw.one(NAMES), length, tie=tie, articulations=signs)
    if draw.chance(12):
        whole += scores.note(draw.one(NAMES), length, chord=True)
    return graces + whole


def _extra(draw: Draws) -> str:
    kind = draw.number(0, 6)
    if kind == 0:
        root = draw.one(("C", "F#", "Bb", "E"))
        return scores.harmony(root, draw.one(("dominant", "minor-seventh", "odd", "none", "")))
    if kind == 1:
        return scores.words(
            draw.one(("Swing", "D.C. al Fine", "Fine", "To Coda", "Ballad", "🎺"))
        )
    if kind == 2:
        tempo = draw.one(("120", "20", "400", "0", "nan", draw.one(ODD[:15]).strip() or "1"))
        return scores.direction("<coda/>", f'coda="c" tempo="{tempo}"')
    if kind == 3:
        return scores.direction("<segno/>", 'segno="s"')
    if kind == 4:
        return scores.backup(draw.one((1, 2, 4, 99)))
    if kind == 5:
        return scores.note(draw.one(NAMES), grace=True) + scores.note("C4", 1, chord=True)
    return scores.slur("start") * 0 + scores.note(
        "D5", draw.one((1, 0.5)), notations=scores.slur("start")
    )


ROOTS = ("C", "D", "E", "F", "G", "A", "B", "Bb", "Eb", "F#", "C♯", "A♭")
KINDS = (
    "", "m7", "7", "maj7", "-7", "6", "m7b5", "°7", "7b9", "7#9", "13", "7alt", "sus4", "6/9",
    "Δ", "+7", "/G", "b" * 40,
)  # fmt: skip

GOOD_KINDS = KINDS[:-3]
SETTINGS = {
    "title": "Rain", "tempo": "140", "meter": "3/4", "key": "Bb", "swing": "2",
    "style": "ballad",
}  # fmt: skip


def chart(draw: Draws) -> bytes:
    """A chord chart of some lines."""
    lines = []
    for _ in draw.some(4):
        name = draw.one(tuple(SETTINGS))
        usual = SETTINGS[name]
        lines.append(f"{name}: {usual if draw.number(0, 9) else draw.one(ODD)}")
    for _ in range(draw.number(1, 5)):
        if draw.chance(4):
            lines.append(draw.one(("A:", "B:", "Intro:", "# a remark", "")))
        lines.append(_chart_line(draw))
    return "\n".join(lines).encode(
        draw.one(("utf-8", "utf-8", "utf-8-sig", "utf-16")), "replace"
    )


def _chart_line(draw: Draws) -> str:
    cells = []
    for _ in range(draw.one((1, 1, 2, 2, 4, 8))):
        cell = " ".join(_symbol(draw) for _ in range(draw.one((1, 1, 1, 2, 2, 4))))
        if draw.chance(30):
            cell = draw.one(("", "1. " + cell, "2. " + cell, "1,2. " + cell, "1-9. " + cell))
        cells.append(cell)
    if draw.chance(8):
        cells[-1] = f"1. {cells[-1]} :| 2. {_symbol(draw)}"
    line = "|: " if draw.chance(4) else "| "
    line += " | ".join(cells) + (" :|" if draw.chance(4) else " |")
    return line + (draw.one((" x3", " x0", " x100", " x")) if draw.chance(30) else "")


def _symbol(draw: Draws) -> str:
    if draw.chance(20):
        return draw.one(("%", "/", "N.C.", "N.C.", draw.one(ODD)))
    return draw.one(ROOTS) + draw.one(KINDS if draw.chance(30) else GOOD_KINDS)


CELLS = (
    "1", "2", "3", "0", "1.5", "60", "72", "marcato", "accent", "ghost", "-", "author", "loud",
    "=1+1", "1,5", "²",
)  # fmt: skip


def table_of(real: bytes) -> Callable[[Draws], bytes]:
    """Marks tables as a spreadsheet may have left this one."""
    columns, *rows = (line.split(",") for line in real.decode().splitlines())
    at = columns.index("mark")

    def table(draw: Draws) -> bytes:
        separator = draw.one((",", ",", ";", "\t"))
        kept = [row.copy() for row in rows if draw.number(0, 5)]
        for _ in draw.some(6):
            if kept:
                draw.one(kept)[at] = draw.one(CELLS)
        for _ in draw.some(2):
            if kept:
                row = draw.one(kept)
                row[draw.number(0, len(row) - 1)] = draw.one(ODD)
        text = "\r\n".join(separator.join(row) for row in [columns, *kept])
        return text.encode(draw.one(("utf-8", "utf-8-sig", "cp1252", "utf-16")), "replace")

    return table


ENTRIES = (
    "strength", "swing.by_tempo", "swing.ride_by_tempo", "sounds.ghost.level", "sounds.ghost",
    "sounds.odd", "line.arch", "life.vibrato_depth", "band.bass", "band.bass.low",
    "band.drums.skip", "swing", "x",
)  # fmt: skip
VALUES = (
    "0.5", "1", "-7", "true", "nan", "inf", "-inf", "[[120, 2.0], [200, 1.5]]", "[]", "[[1]]",
    '"a"', "2020-01-01", "{}", "{level = -3}", "1e300", "9" * 400, "9" * 5000,
    "[" * 200 + "]" * 200, "0x10", "1_000",
)  # fmt: skip


@cache
def _entries() -> tuple[tuple[str, str], ...]:
    """Every entry of a feel with its default."""

    def walk(part: object, where: str) -> Iterator[tuple[str, str]]:
        if is_dataclass(part):
            part = {each.name: getattr(part, each.name) for each in fields(part)}
        if isinstance(part, Mapping):
            for name, value in part.items():
                yield from walk(value, f"{where}.{name}" if where else name)
        elif part is not None:
            yield where, json.dumps(part)

    return tuple(walk(Feel(), ""))


def feel(draw: Draws) -> bytes:
    """A feel of the teacher's own."""
    lines = []
    for _ in range(draw.number(1, 5)):
        name, usual = draw.one(_entries())
        if draw.chance(15):
            name = draw.one(ENTRIES)
        lines.append(f"{name} = {draw.one(VALUES) if draw.chance(8) else usual}")
    if draw.chance(9):
        lines.insert(
            draw.number(0, len(lines)),
            draw.one(("[swing]", "[sounds.ghost]", "[band.drums]", "[x]")),
        )
    return "\n".join(lines).encode(
        draw.one(("utf-8", "utf-8", "utf-8-sig", "cp1252")), "replace"
    )


OPTIONS = {
    "marks": '"a.csv"', "feel": '"light"', "tempo": "140.5", "strength": "0.5", "pickup": "1.0",
    "octave": "-1", "as-written": "true", "slurs": "false", "style": '"ballad"',
    "swing": '"2:1"', "instrument": '"alto-sax"', "transpose": '"Bb"', "only": '"1-2"',
    "track": '"1"', "meter": '"3/4"', "except": '["dip"]',
}  # fmt: skip


def options(draw: Draws) -> bytes:
    """A file of options."""
    lines = []
    for name in {draw.one(tuple(OPTIONS)): None for _ in range(draw.number(1, 5))}:
        value = draw.one(VALUES) if draw.chance(12) else OPTIONS[name]
        lines.append(f"{'x' if draw.chance(30) else name} = {value}")
    return "\n".join(lines).encode(
        draw.one(("utf-8", "utf-8", "utf-8-sig", "cp1252")), "replace"
    )


KEYS: tuple[tuple[str, tuple[object, ...]], ...] = (
    ("mark:3", ("ghost", "marcato", "none")), ("line:slur:1:4", (True,)),
    ("line:end:5:5", (True,)), ("level:2", (-3.5, 2)), ("gate:2", (0.5,)),
    ("ask:tempo", (96, 150.0)), ("ask:style", ("ballad", "even")), ("ask:meter", ("3/4",)),
    ("ask:instrument", ("alto-sax",)), ("ask:octave", (1,)), ("ask:band", (True,)),
    ("ask:transpose", ("Bb",)), ("ask:track", ("1",)), ("ask:pickup", (0.5,)),
    ("rule:dip", (False,)), ("feel:strength", (0.5,)), ("feel:sounds.ghost.level", (-6,)),
    ("feel:swing.by_tempo", ([[120, 2.0]],)),
)  # fmt: skip
ODD_VALUES: tuple[object, ...] = (
    None, True, False, 0, -1, 10**400, 1e308, math.nan, math.inf, "", "x", "\u202e", [], {},
    [[]], [[1, "x"]], [None], {"a": 1}, "9" * 5000,
)  # fmt: skip


def asked(draw: Draws) -> bytes:
    """What a page asks of the desk."""
    kind = draw.number(0, 12)
    odd = draw.one(ODD_VALUES)
    if kind < 3:
        wish: object = {draw.one(("back", "again")): odd if draw.chance(4) else 1}
    elif kind == 3 and draw.chance(4):
        wish = {draw.one(("keep", "drop", "answer", "x")): odd}
    else:
        wish = {"set": dict(_decision(draw) for _ in range(draw.one((1, 1, 1, 2, 5))))}
    return json.dumps(wish).encode()


def _decision(draw: Draws) -> tuple[str, object]:
    key, values = draw.one(KEYS)
    if draw.chance(6):
        key = re.sub(r"\d+", lambda _: draw.one((*ODD, "9" * 5000)), key)
    return key, draw.one(ODD_VALUES) if draw.chance(8) else draw.one(values)


LENGTHS_KEPT = {"levels": 21, "highs": 21, "edged": 5, "edged_highs": 5, "rises": 4}


def answers(draw: Draws) -> bytes:
    """What is remembered of a soundfont."""
    odd = (0, -3.5, 1e9, None, "x", [], float("nan"), float("inf"), True, "60", {})

    def value() -> object:
        return draw.number(0, 40) / 4 if draw.number(0, 3) else draw.one(odd)

    keys = [str(draw.number(-1, 130)) for _ in draw.some(3)]
    content = {
        "notes": {
            f"{key}/{draw.one(('80', 'x', '127'))}": {
                name: [value() for _ in range(size if draw.number(0, 5) else 1)]
                for name, size in LENGTHS_KEPT.items()
            }
            for key in keys
        },
        "keys": {key: {draw.one(("fall", "rise", "x")): value()} for key in keys},
    }
    return json.dumps(content).encode()


CONTAINER = "META-INF/container.xml"
NAMED_THERE = b'<container><rootfiles><rootfile full-path="a.xml"/></rootfiles></container>'


def zipped(content: bytes) -> bytes:
    """The score as a compressed MusicXML file."""
    packed = BytesIO()
    with zipfile.ZipFile(packed, "w") as file:
        for name, held in ((CONTAINER, NAMED_THERE), ("a.xml", content)):
            file.writestr(zipfile.ZipInfo(name), held, zipfile.ZIP_DEFLATED)
    return packed.getvalue()


def zipped_score(draw: Draws) -> bytes:
    """A score as a compressed file."""
    return zipped(score(draw))


def soundfont(draw: Draws) -> bytes:
    """A soundfont of one preset, with odd values in it."""
    return font(draw)


def compressed(draw: Draws) -> bytes:
    """A soundfont whose one sample is compressed, perhaps damaged."""
    return font(draw, compressed=True)


SAMPLES = 200
NO_LOOP, COMPRESSED = 1, 16
SAMPLE_ID, INSTRUMENT = 53, 41
"""Generators that choose a sample, an instrument."""


def font(draw: Draws | None = None, *, compressed: bool = False) -> bytes:
    """A soundfont of one preset, one instrument and one sample (SoundFont 2.01, sections 4 to
    8; from version 3 on a sample may be an Ogg Vorbis stream), right where nothing is drawn."""

    def odd(usual: int, most: int = 65_535) -> int:
        if draw is None or draw.number(0, 30):
            return usual
        return draw.one((0, 1, 2, 127, 128, most, draw.number(0, most)))

    def piece(name: bytes, content: bytes) -> bytes:
        size = odd(len(content), 2**32 - 1)
        return name + size.to_bytes(4, "little") + content + bytes(len(content) % 2)

    def named(name: bytes, form: str, *values: int) -> bytes:
        most = (2**8 if c in "Bb" else 2**16 if c == "H" else 2**32 for c in form)
        put = (odd(v, m - 1) % m for v, m in zip(values, most, strict=True))
        return name + struct.pack("<" + form.replace("b", "B"), *put)

    def moved(last: int) -> bytes:
        some = draw.some(6) if draw else ()
        rows = [(draw.number(0, 60), draw.number(0, 65_535)) for _ in some] if draw else []
        return b"".join(named(b"", "HH", *row) for row in [*rows, (last, 0)])

    sound = _vorbis() if compressed else _wave() + bytes(92)
    if draw and draw.chance(2):
        sound = damaged_by(draw, sound)
    start, end = (0, len(sound)) if compressed else (0, SAMPLES)
    sample = named(bytes(20), "IIIIIBbHH", start, end, 8, SAMPLES - 8, 44_100, 60, 0, 0,
                   NO_LOOP | (COMPRESSED if compressed else 0))  # fmt: skip
    ends, parts, ending = moved(SAMPLE_ID), moved(INSTRUMENT), bytes(4)
    bags = (
        named(b"", "HHHH", 0, 0, len(parts) // 4, 0),
        named(b"", "HHHH", 0, 0, len(ends) // 4, 0),
    )
    presets = (
        (b"phdr", named(bytes(20), "HHHIII", 56, 0, 0, 0, 0, 0)
         + named(bytes(20), "HHHIII", 0, 0, 1, 0, 0, 0)),
        (b"pbag", bags[0]), (b"pmod", bytes(10)), (b"pgen", parts + ending),
        (b"inst", named(bytes(20), "H", 0) + named(bytes(20), "H", 1)),
        (b"ibag", bags[1]), (b"imod", bytes(10)), (b"igen", ends + ending),
        (b"shdr", sample + bytes(46)),
    )  # fmt: skip
    info = piece(b"ifil", struct.pack("<HH", 3 if compressed else 2, 1))
    lists = (
        (b"INFO" + info + piece(b"INAM", b"small\0")),
        (b"sdta" + piece(b"smpl", sound)),
        (b"pdta" + b"".join(piece(name, content) for name, content in presets)),
    )
    return piece(b"RIFF", b"sfbk" + b"".join(piece(b"LIST", content) for content in lists))


def damaged_by(draw: Draws, content: bytes) -> bytes:
    """The content with a few bytes changed."""
    data = bytearray(content)
    for _ in range(draw.number(1, 4)):
        data[draw.number(0, len(data) - 1)] = draw.number(0, 255)
    return bytes(data)


@cache
def _wave() -> bytes:
    return b"".join(struct.pack("<h", round(9000 * math.sin(i / 10))) for i in range(SAMPLES))


@cache
def _vorbis() -> bytes:
    import numpy as np
    import soundfile

    packed = BytesIO()
    wave = np.frombuffer(_wave(), "<i2").astype(np.float32) / 32768
    soundfile.write(packed, wave, 44_100, format="OGG", subtype="VORBIS")
    return packed.getvalue()
