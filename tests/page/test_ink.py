"""What is drawn, said in few words: nothing of it may move or look otherwise."""

from __future__ import annotations

import re

from lxml import etree

from phrasing.app.folders import example
from phrasing.lesson.lesson import open_lesson
from phrasing.lesson.request import Request
from phrasing.lesson.versions import plain_version, shaped_version
from phrasing.page.ink import CUTS
from phrasing.page.part import players_part
from phrasing.page.score import LAYOUTS, draw_score
from phrasing.page.scripts import static
from phrasing.paper.alike import engrave_alike
from phrasing.paper.drawing import SVG, box_of, definitions, drawn
from phrasing.paper.fonts import FAMILIES


def test_the_pages_style_knows_every_cut_of_words():
    style = static("page.css").replace('"', "'")
    for name, cut in CUTS.items():
        rules = re.findall(r"\.staff :is\(([^)]*)\) \{([^}]*)\}", style)
        own = " ".join(rule for classes, rule in rules if f".{name}" in classes)
        assert FAMILIES[cut.family] in own
        assert ("bold" in own) is cut.bold
        assert ("font-style: italic" in own) is cut.italic


def test_a_page_has_its_notes_where_the_engraver_put_them():
    """Glyphs brought to their scale by their definition, lines drawn together."""
    lesson = open_lesson(example(), Request(only="1-4"))
    versions = (plain_version(lesson), shaped_version(lesson))
    score = draw_score(lesson, lesson.read, versions, shown=1, only="broad")
    width, bars = LAYOUTS["broad"]
    part = players_part(lesson, versions)
    engraved = engrave_alike(part.scores, width=width, bars_per_system=bars)[1]
    glyphs = "".join(score.glyphs.values())
    defs = etree.fromstring(f'<svg xmlns="{SVG}"><defs>{glyphs}</defs></svg>')
    scale = {g.get("id"): g.get("transform") for g in defs.iter(f"{{{SVG}}}g")}
    assert set(scale.values()) == {"scale(0.72)"}
    paths = {
        name: re.sub(r"\d+\.?\d*", lambda m: f"{float(m[0]) * 0.72:.2f}", path)
        for name, path in definitions(defs).items()
    }
    system = etree.fromstring(score.layouts["broad"][0])
    staff = system.find(f"{{{SVG}}}g[@class='staff']")
    for layer in list(staff.iterfind("*[@data-version]")):
        staff.remove(layer)
    for use in list(staff.iter(f"{{{SVG}}}use")):
        x, y = use.attrib.pop("x", "0"), use.attrib.pop("y", "0")
        use.set("transform", f"translate({x}, {y}) {use.get('transform', '')}".strip())
    box = box_of(drawn(staff, paths))
    own = engraved.systems[0]
    assert box is not None
    assert abs(box.left - own.box.left) < 2
    assert abs(box.right - own.box.right) < 2
    assert abs(box.bottom - (own.box.bottom - own.staff_top)) < 2
