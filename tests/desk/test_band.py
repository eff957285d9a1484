"""A band under the melody on the desk."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from phrasing.desk.changes import BAND
from phrasing.desk.keeping import keep, opened
from phrasing.desk.player import Heard
from phrasing.desk.told import told, touched
from phrasing.desk.work import changed, taken_back
from phrasing.errors import PhrasingError
from phrasing.lesson.request import Request
from phrasing.marking.precedence import mark
from phrasing.paper.musicxml import new_score
from phrasing.score.melody import ChordSymbol
from tests.lines import melody

EXAMPLES = Path(__file__).parents[2] / "examples"
SONG = "A4:1 B4:1 " + "C5:1 D5:1 E5:1 G5:1 r:1 A4:1 C5:2 " * 4


def song(folder: Path) -> Path:
    """A song with a pickup of a quarter and a chord in each bar."""
    tune = melody(SONG, tempo=150, pickup=1)
    chords = tuple(ChordSymbol(bar.onset, "C6") for bar in tune.bars if bar.number)
    tune = replace(tune, chords=chords)
    place = folder / "song.musicxml"
    place.write_bytes(new_score(tune, mark(tune)))
    return place


@pytest.fixture
def work(tmp_path):
    return opened(song(tmp_path), Request())


def test_a_band_plays_under_every_version_from_the_same_instant(work):
    with_band = changed(work, {BAND: True})
    plain, shaped = with_band.versions
    assert [part.name for part in shaped.performance.parts][-3:] == ["Bass", "Drums", "Piano"]
    assert plain.lead == shaped.lead == 0
    for one, two in zip(plain.performance.parts[1:], shaped.performance.parts[1:], strict=True):
        assert np.array_equal(one.velocity, two.velocity)
        assert np.array_equal(one.onset, two.onset)


def test_the_sentence_has_a_word_for_it_where_there_are_chords(work, tmp_path):
    assert told(work)["band"] == ""
    assert told(changed(work, {BAND: True}))["band"]
    alone = opened(Path(shutil.copy(EXAMPLES / "late_bus_home.mid", tmp_path)), Request())
    assert told(alone)["band"] is None
    assert len(changed(alone, {BAND: True}).versions[1].performance.parts) == 1


def test_with_a_band_all_is_played_anew(work):
    with_band = changed(work, {BAND: True})
    start, end = touched(work, with_band)
    assert start == 0
    assert end == pytest.approx(with_band.versions[1].release.max())


def test_it_is_a_step_that_is_kept_and_taken_back(work):
    with_band = changed(work, {BAND: True})
    assert with_band.last.said == "a band plays along"
    keep(with_band)
    again = opened(work.path, Request())
    assert again.band is not None
    assert told(again)["command"].endswith("--options song.options.toml --backing")
    assert taken_back(again, 1).band is None


def test_it_can_only_be_switched_on(work):
    with pytest.raises(PhrasingError):
        changed(work, {BAND: "loud"})


def test_players_are_put_at_their_levels_only_where_they_all_are_there(work):
    alone = work.versions[1].performance
    band = changed(work, {BAND: True}).versions[1].performance
    count = len(band.parts)
    heard = Heard({}, {}, 0.0, {"shaped": tuple(map(float, range(count)))})
    assert [part.gain for part in heard.placed("shaped", band).parts] == list(range(count))
    assert not heard.fits("shaped", alone)
    assert not Heard({}, {}, 0.0).fits("shaped", band)
