"""What the desk makes is what the command line makes."""

from __future__ import annotations

import io
import shutil
import time
import wave
from pathlib import Path

import numpy as np
import pytest

from phrasing.desk.keeping import keep, opened
from phrasing.desk.making import Making, Makings
from phrasing.desk.player import wav
from phrasing.desk.things import THINGS, jobs, thing_named
from phrasing.desk.told import words_of
from phrasing.desk.work import changed
from phrasing.errors import PhrasingError
from phrasing.lesson.request import Request

EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.fixture(scope="module")
def work(tmp_path_factory):
    folder = tmp_path_factory.mktemp("making")
    tune = Path(shutil.copy(EXAMPLES / "caretakers_keys.musicxml", folder))
    found = changed(
        opened(tune, Request()), {"mark:3": "ghost", "ask:tempo": 120, "rule:dip": False}
    )
    keep(found)
    return found


def made(work, what, chosen=None) -> Making:
    making = Makings().start(work.path, what, chosen, words_of(work))
    while not making.ended:
        time.sleep(0.05)
    return making


@pytest.mark.long
@pytest.mark.parametrize("what", [t.key for t in THINGS if t.key not in ("practice", "shape")])
def test_a_thing_is_made_and_made_again(work, what):
    for _ in range(2):
        making = made(work, what)
        assert making.error is None
    assert [place.exists() for place in making.places.values()] == [True] * making.of
    links = [link for each in making.told()["made"] for link in each["links"]]
    assert all(link["href"].startswith(f"/made/{making.key}/") for link in links)
    assert links


@pytest.mark.long
def test_choices_are_options(work):
    making = made(work, "parts", {"parts": ["c", "e-flat"], "paper": "letter", "key": "B♭"})
    assert making.error is None
    assert list(making.places) == ["caretakers_keys in C.pdf", "caretakers_keys in E♭.pdf"]
    text = (work.path.parent / "caretakers_keys in C.pdf").read_bytes()
    assert b"612" in text
    assert b"792" in text


@pytest.mark.long
def test_what_cannot_be_made_is_told_in_the_commands_own_sentence(tmp_path):
    tune = Path(shutil.copy(EXAMPLES / "late_bus_home.mid", tmp_path))
    assert "no chord symbols" in str(made(opened(tune, Request()), "backing").error)


def test_what_nobody_makes_is_refused(work):
    with pytest.raises(PhrasingError, match="out of date"):
        Makings().start(work.path, "coffee")


@pytest.mark.parametrize(
    "chosen",
    [{"paper": "napkin"}, {"paper": ["a4", "letter"]}, {"parts": []}, {"parts": ["c", "kazoo"]},
     {"paper": "--output=/etc/passwd"}],
)  # fmt: skip
def test_what_is_no_answer_is_refused(chosen):
    with pytest.raises(PhrasingError, match="choose from what there is"):
        jobs(thing_named("parts"), chosen, "tune")


def test_every_answer_makes_words_of_the_command_line():
    """Each choice is an option that the command has: its parser takes them."""
    from typer.main import get_command

    from phrasing.app.commands import app

    commands = get_command(app).commands
    for thing in THINGS:
        for choice in thing.choices:
            for answer in choice.answers:
                ((_, words), *_) = jobs(
                    thing, {choice.key: [answer.key] if choice.each else answer.key}, "tune"
                )
                name, *rest = words
                commands[name].make_context(name, ["tune.mid", *rest])


def test_files_are_opened_by_their_place_in_what_was_made_alone(tmp_path):
    folder = tmp_path / "made"
    (folder / "deep").mkdir(parents=True)
    for name in ("page.html", "deep/one.mid", "marks.csv"):
        (folder / name).write_text("x")
    (tmp_path / "secret.mid").write_text("x")
    (folder / "link.mid").symlink_to(tmp_path / "secret.mid")
    making = Making("key", 1, places={"made": folder})
    assert making.file("made/page.html") == (folder / "page.html").resolve()
    assert making.file("made/deep/one.mid") is not None
    for name in ("made", "made/marks.csv", "made/../secret.mid", "secret.mid", "made/link.mid",
                 "", "made/deep", "/etc/passwd"):  # fmt: skip
        assert making.file(name) is None
    (told,) = making.told()["made"]
    assert [link["name"] for link in told["links"]] == ["page.html", "deep/one.mid"]


def test_a_stretch_is_sent_as_loud_as_it_is():
    half, over = np.full((2, 4), 0.5, np.float32), np.full((2, 4), 1.5, np.float32)
    for sound, number in ((half, 16384), (-half, -16384), (over, 32767), (-over, -32768)):
        with wave.open(io.BytesIO(wav(sound))) as file:
            assert (file.getnchannels(), file.getsampwidth(), file.getnframes()) == (2, 2, 4)
            assert set(np.frombuffer(file.readframes(4), "<i2").tolist()) == {number}
