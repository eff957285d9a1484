"""Words in other scripts: their order, their shapes, and what is said where a fount lacks."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from phrasing.marking.precedence import mark
from phrasing.paper import scripts
from phrasing.paper.drawing import SVG, box_of, drawn, element
from phrasing.paper.fonts import BOLD
from phrasing.paper.lettering import runs, set_words, words_width
from phrasing.paper.scripts import in_visual_order, shaped, unprintable
from phrasing.paper.sheet import sheet_pages
from tests.lines import melody

HEBREW, ARABIC = "לילה גשום", "ليلة ممطرة"


def test_a_line_of_latin_is_one_piece() -> None:
    assert in_visual_order("Late bus 7") == [("Late bus 7", False)]


def test_leftward_words_stand_at_the_right_of_what_follows_them() -> None:
    """Unicode's bidirectional algorithm (UAX 9): the first strong sign sets the direction."""
    assert in_visual_order(f"{HEBREW} Late") == [("Late ", False), (HEBREW, True)]
    assert in_visual_order(f"Late {HEBREW}") == [("Late ", False), (HEBREW, True)]


def test_figures_in_leftward_words_run_rightwards() -> None:
    assert ("12", False) in [
        (text.strip(), leftwards) for text, leftwards in in_visual_order("לילה 12 גשום")
    ]


def test_what_no_fount_has_is_left_out_and_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(scripts, "_listed", lambda _: [])
    monkeypatch.setattr(scripts, "_looked_up", lambda _: [])
    for cached in (scripts.faces_with, scripts.face_for, scripts.shaped):
        cached.cache_clear()
    assert shaped("雨", False, False) is None
    assert unprintable("雨ab雨") == "雨"
    assert unprintable("Łódź ♭") == ""
    for cached in (scripts.faces_with, scripts.face_for, scripts.shaped):
        cached.cache_clear()


def test_drawn_words_are_as_wide_as_is_said() -> None:
    if scripts.face_for("ל", True) is None:
        pytest.skip("no fount with Hebrew")
    group = element("g")
    set_words(group, HEBREW, 100.0, 50.0, 20.0, BOLD)
    box = box_of(drawn(group, {}))
    assert box is not None
    assert box.left >= 100.0
    assert box.right <= 100.0 + words_width(HEBREW, 20.0, BOLD) + 0.5
    assert box.right - box.left > 0.9 * words_width(HEBREW, 20.0, BOLD)


def test_letters_of_one_word_are_joined_as_the_script_wants() -> None:
    """HarfBuzz shapes the word: its letters apart would be wider."""
    if scripts.face_for("ل") is None:
        pytest.skip("no fount with Arabic")
    word = "ممطرة"
    together = shaped(word, False, True)
    apart = [shaped(letter, False, True) for letter in word]
    assert together is not None
    assert together.advance < 0.95 * sum(shape.advance for shape in apart if shape)


def test_no_title_is_printed_as_boxes() -> None:
    line = melody("C5:2 D5:2 E5:4")
    for title in ("雨の夜", ARABIC, HEBREW, "🎷"):
        (page,) = sheet_pages(replace(line, title=title), mark(line))
        assert "□" not in "".join(page.itertext())
        drawn_words = [p.get("data-words") for p in page.iter(f"{{{SVG}}}path")]
        assert bool(unprintable(title)) is (title not in drawn_words)


def test_without_a_list_of_founts_the_folders_are_searched(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    faces = [face for face in scripts.faces_with("é") if face.file]
    if not faces:
        pytest.skip("no founts on this computer")
    shutil.copy(faces[0].file, tmp_path)
    monkeypatch.setattr(scripts, "FOLDERS", (str(tmp_path),))
    scripts._files.cache_clear()
    assert [Path(face.file).parent for face in scripts._looked_up("é")] == [tmp_path]
    scripts._files.cache_clear()


def test_every_sign_of_latin_greek_and_cyrillic_is_in_a_text_fount() -> None:
    assert all(run.shape is None for run in runs("Grüße aus Łódź, Ἀθῆναι, Москва, Hà Nội"))
