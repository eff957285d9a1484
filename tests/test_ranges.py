"""Whether a melody lies on an instrument."""

from __future__ import annotations

from phrasing.instruments import BY_KEY, INSTRUMENTS
from phrasing.ranges import fit
from tests.lines import melody


def test_within_the_range_there_is_nothing_to_say() -> None:
    for own in INSTRUMENTS:
        report = fit(melody("C4:2").transposed(own.low - 60), own)
        assert report.fits
        assert (report.octaves, report.message) == (0, "")


def test_each_edge_is_in_and_one_beyond_is_out() -> None:
    for own in INSTRUMENTS:
        for edge, beyond in ((own.low, -1), (own.high, 1)):
            assert fit(melody("C4:2").transposed(edge - 60), own).fits
            assert not fit(melody("C4:2").transposed(edge + beyond - 60), own).fits


def test_notes_out_of_range_are_named_as_they_are_read_with_their_place() -> None:
    report = fit(melody("G4:2 E3:2 F4:2 A3:2 C3:2"), BY_KEY["alto-sax"])
    assert report.outside == (4,)
    assert report.octaves == 1
    assert report.message == (
        "1 note is outside the range of the alto saxophone in E♭ (written B♭3 to F6): "
        "A3 (bar 2, beat 1). --octave +1 would fit."
    )


def test_many_notes_are_counted_and_no_octave_is_promised_that_does_not_fit() -> None:
    report = fit(melody(" ".join(["E2:1", "C6:1"] * 5)), BY_KEY["trumpet"])
    assert len(report.outside) == 10
    assert report.octaves is None
    assert "and 6 more" in report.message
    assert "No octave fits all of it" in report.message


def test_the_high_key_is_mentioned_where_it_is_all_that_lacks() -> None:
    assert "high F♯ key" in fit(melody("A5:2"), BY_KEY["alto-sax"]).message
    assert "high F♯ key" not in fit(melody("C6:2"), BY_KEY["alto-sax"]).message
