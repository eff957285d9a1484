"""The engraved score: tidy, complete, and the same every time."""

from __future__ import annotations

import re
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from itertools import pairwise

import pytest
from lxml import etree

from phrasing.errors import PhrasingError
from phrasing.marking.precedence import mark
from phrasing.paper.alike import engrave_alike
from phrasing.paper.drawing import SVG, box_of, definitions, drawn
from phrasing.paper.engraving import POINT, SPACE, Engraving, engrave, opened
from phrasing.paper.musicxml import new_score, note_ids
from phrasing.score.instruments import BY_KEY
from phrasing.score.melody import ChordSymbol, Section
from tests.lines import marking, melody
from tests.reading.scores import notes, part, score

LINE = "C5:1 D5:1 E5:1 F5:1 G5:2 E5:2 Eb5:1 D5:1 C5:2 r:4"
ABOVE_OR_BELOW = {
    "marcato": {"E4AC": 1},
    "accent": {"E4A0": 1},
    "staccato": {"E4A2": 1},
    "clipped": {"E4A0": 1, "E4A2": 1},
    "tenuto": {"E4A4": 1},
    "stress": {},
    "ghost": {"E26A": 1, "E26B": 1},
}
"""Each mark's signs by SMuFL code point (of an articulation, the one for above the staff)."""


def signs(svg: str) -> Counter[str]:
    """How often each sign is used; an articulation below counts as the one above."""
    codes = [int(code, 16) for code in re.findall(r'href="#(E[0-9A-F]{3})-', svg)]
    articulations = range(0xE4A0, 0xE4C0)
    return Counter(f"{code & ~1 if code in articulations else code:04X}" for code in codes)


@pytest.mark.parametrize("name", ABOVE_OR_BELOW)
def test_each_mark_is_printed_as_often_as_it_is_given(name: str) -> None:
    line = melody(LINE)
    plain = signs(engrave(new_score(line)).svg)
    shown = signs(engrave(new_score(line, marking(9, {0: name, 3: name, 8: name}))).svg)
    assert shown - plain == Counter({code: 3 * n for code, n in ABOVE_OR_BELOW[name].items()})
    assert plain - shown == Counter()


def test_each_swell_is_a_wedge() -> None:
    line = melody(LINE)
    svg = engrave(new_score(line, marking(9, swells=((0, 3), (4, 8))))).svg
    assert svg.count('class="hairpin"') == 2


def test_notes_and_bars_have_their_ids_and_places() -> None:
    line = melody(LINE + " G4:7 A4:9", pickup=2)
    made = engrave(new_score(line, mark(line)), bars_per_system=2)
    groups = {g.get("id"): g for g in made.root.iter(f"{{{SVG}}}g") if g.get("id")}
    for name in note_ids(line):
        assert groups[name].get("class") == "note"
        place = made.notes[name]
        system = made.systems[place.system]
        assert system.box.left <= place.left < place.right <= system.box.right
        assert system.box.top <= place.y <= system.box.bottom
    order = [(made.notes[n].system, made.notes[n].left) for n in note_ids(line)]
    assert order == sorted(order)
    bars = [bar.index for system in made.systems for bar in system.bars]
    assert bars == list(range(len(line.bars)))


def test_heads_lie_on_the_staff_by_their_pitch() -> None:
    made = engrave(new_score(melody("F5:2 E4:2 B4:2 C4:2")))
    (system,) = made.systems
    heights = [made.notes[f"n{k}"].y for k in (1, 2, 3, 4)]
    steps = [round((system.staff_bottom - y) / (SPACE / 2)) for y in heights]
    assert steps == [8, 0, 4, -2]


def test_four_bars_in_a_line_and_a_pickup_before_them() -> None:
    line = melody("G4:2 " + "C5:2 D5:2 E5:2 F5:2 " * 10, pickup=2)
    made = engrave(new_score(line), bars_per_system=4)
    assert [len(system.bars) for system in made.systems] == [5, 4, 2]


def test_bars_that_do_not_fit_by_four_stand_by_two() -> None:
    line = melody("C5:0.5 D5:0.5 E5:0.5 F5:0.5 " * 4 * 8)
    made = engrave(new_score(line), width=100, bars_per_system=4)
    assert [len(system.bars) for system in made.systems] == [2] * 4


def test_a_narrow_screen_has_fewer_bars_in_a_line() -> None:
    score = new_score(melody("C5:1 D5:1 E5:1 F5:1 " * 2 * 8))
    wide, narrow = engrave(score, width=150), engrave(score, width=45)
    assert len(narrow.systems) > 2 * len(wide.systems)
    for made in (wide, narrow):
        assert made.box.right <= (150 if made is wide else 45) * SPACE * 1.01


@pytest.mark.long
def test_a_long_melody_is_one_picture() -> None:
    line = melody("C5:8 " * 800)
    made = engrave(new_score(line), width=60, bars_per_system=2)
    assert len(made.notes) == 800
    tops = [system.box.top for system in made.systems]
    assert tops == sorted(tops)
    for upper, lower in pairwise(made.systems):
        assert upper.staff_bottom < lower.staff_top


def test_words_are_single_runs_and_their_accidentals_paths() -> None:
    line = replace(melody(LINE), chords=(ChordSymbol(0, "B♭7♭9"), ChordSymbol(3840, "F♯m7")))
    root = engrave(new_score(line, swing=(2, 1))).root
    texts = list(root.iter(f"{{{SVG}}}text"))
    assert all(len(text) == 0 and text.text == text.text.strip() for text in texts)
    assert [text.text for text in texts][-5:] == ["B", "7", "9", "F", "m7"]
    labels = [
        path.get("aria-label") for path in root.iter(f"{{{SVG}}}path") if path.get("aria-label")
    ]
    assert labels == ["♭", "♭", "♯"]
    assert "Swing 2 : 1" in [text.text for text in texts]


def test_nothing_is_nested_hidden_or_fetched() -> None:
    svg = engrave(new_score(melody(LINE), swing=(2, 1))).svg
    assert svg.count("<svg") == 1
    for word in ("<style", "tspan", "placeholder", "http://www.w3.org/1999/xlink", "@font"):
        assert word not in svg


def test_the_same_score_gives_the_same_picture() -> None:
    score = new_score(melody(LINE), swing=(2, 1), instrument=BY_KEY["alto-sax"])
    assert engrave(score, bars_per_system=4).svg == engrave(score, bars_per_system=4).svg


@pytest.mark.parametrize(
    "swing,printed",
    [
        ("<first>3</first><second>2</second><swing-type>eighth</swing-type>", "Swing 1.5 : 1"),
        ("<straight/>", "Even eighths"),
        ("<first>2</first><second>1</second><swing-type>16th</swing-type>", ""),
        ("<first>two</first><second>0</second>", ""),
    ],
)
@pytest.mark.parametrize("in_direction", [True, False])
def test_an_authors_swing_without_words_is_printed_with_its_ratio(swing, printed, in_direction):
    score = new_score(melody("C5:2 D5:2 E5:2 F5:2"), swing=None).decode()
    sound = f"<sound><swing>{swing}</swing></sound>"
    if in_direction:
        beat = (
            "<metronome><beat-unit>quarter</beat-unit><per-minute>99</per-minute></metronome>"
        )
        sound = f"<direction><direction-type>{beat}</direction-type>{sound}</direction>"
    svg = engrave(score.replace("<note", f"{sound}<note", 1).encode()).svg
    said = re.findall(r">(Swing[^<]*|Even eighths)<", svg)
    assert said == ([printed] if printed else [])


def test_a_title_with_markup_is_no_markup() -> None:
    line = replace(melody(LINE), title="<script>alert(1)</script>")
    etree.fromstring(engrave(new_score(line)).svg)
    assert "<script" not in engrave(new_score(line)).svg


def test_what_is_no_score_is_refused() -> None:
    with pytest.raises(PhrasingError, match="cannot be engraved"):
        engrave(b"<score-partwise/>")


def test_in_another_thread_the_engraver_found_none_of_its_tables() -> None:
    with ThreadPoolExecutor(1) as other:
        engraving = other.submit(engrave, new_score(melody("C4:2 D4:2 E4:4"))).result()
    assert len(engraving.systems) == 1


def test_versions_share_lines_and_what_belongs_to_none_of_them() -> None:
    """Chord symbols stood higher in the version with marks, and so seemed to be its own."""
    line = melody("C5:1 E5:1 G5:1 B5:1 C6:2 E6:2 " * 8)
    line = replace(line, chords=tuple(ChordSymbol(bar.onset, "C♯m7♭5") for bar in line.bars))
    made = marking(len(line), dict.fromkeys(range(len(line)), "marcato"))
    scores = [new_score(line), new_score(line, made)]
    plain, marked = engrave_alike(scores, width=90.0, bars_per_system=4)
    assert [s.bars for s in plain.systems] == [s.bars for s in marked.systems]
    for name in ("harm", "mNum"):
        one, other = (_heights(engraving, name) for engraving in (plain, marked))
        assert one == other
        assert one


def _heights(engraving: Engraving, name: str) -> list[float]:
    """How far over its staff each group of a class reaches."""
    paths = definitions(engraving.root)
    found = []
    for system, group in zip(engraving.systems, engraving.groups, strict=True):
        top = float(group.get("transform", "").partition(",")[2].rstrip(" )"))
        for inside in group.iter(f"{{{SVG}}}g"):
            if name in inside.get("class", "").split():
                box = box_of(drawn(inside, paths))
                found.append(round(system.staff_top - top - box.top))
    return found


def test_a_last_line_as_full_as_the_others_is_drawn_out_like_them() -> None:
    """Two bars at the end of lines of two stood pressed together at the left."""
    score = opened(new_score(melody("C5:4 E5:4 " * 6)))
    made = score.engraved([2, 2, 2], 120.0)
    ends = [system.bars[-1].right for system in made.systems]
    assert max(ends) - min(ends) < SPACE / 4
    short = opened(new_score(melody("C5:4 E5:4 " * 5))).engraved([4, 1], 120.0)
    assert short.systems[1].bars[-1].right < 0.6 * short.systems[0].bars[-1].right


def test_a_line_that_begins_with_a_letter_has_its_number_too() -> None:
    """The engraver gives the letter the number's place."""
    line = melody("C5:2 E5:2 G5:2 C6:2 " * 12)
    letters = tuple(Section(line.bars[bar].onset, name) for bar, name in ((4, "B"), (8, "C")))
    (engraving,) = engrave_alike(
        [new_score(replace(line, sections=letters))], width=90.0, bars_per_system=4
    )
    said = [
        ["".join(map(str, part.itertext())) for part in group.iter(f"{{{SVG}}}g")
         if part.get("class") == "mNum"]
        for group in engraving.groups
    ]  # fmt: skip
    assert said == [[], ["5"], ["9"]]


def test_notes_without_a_written_value_have_stems_and_beams() -> None:
    """Such a score was engraved as heads alone."""
    bars = [notes("C5:1 D5:0.5 E5:0.5 F5:1.5 G5:0.5"), notes("A5:4"), notes("r:4")]
    engraving = engrave(score(part(*bars)), width=80.0)
    classes = [g.get("class", "") for g in engraving.root.iter(f"{{{SVG}}}g")]
    assert classes.count("stem") == 5
    assert classes.count("beam") >= 1
    assert classes.count("dots") == 1


def test_some_systems_are_engraved_as_in_the_whole() -> None:
    score = new_score(melody(f"{LINE} " * 3))
    whole = opened(score).stacked([2, 2, 2], 60.0, POINT, ())
    some = opened(score).some_stacked([2, 2, 2], range(1, 2), 60.0, ())
    assert len(whole) == 3
    assert len(some) == 1


@pytest.mark.parametrize("width,is_drawn_out", [(40.0, True), (52.0, False)])
def test_a_short_last_line_is_drawn_out_where_it_fills_half_by_itself(width, is_drawn_out):
    """Two lines of three bars, and one of one, which ends where they do or with its bar."""
    bars = " ".join(["C5:2 D5:2 E5:2 F5:2"] * 7)
    systems = opened(new_score(melody(bars))).engraved([3, 3, 1], width).systems
    right = [system.bars[-1].right for system in systems]
    assert right[0] == pytest.approx(right[1], rel=0.02)
    assert (right[2] > 0.98 * right[0]) == is_drawn_out
