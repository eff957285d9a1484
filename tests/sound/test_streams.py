"""The room: heard, quiet, and gone when a short note is."""

import numpy as np
import pytest
from scipy.signal import lfilter

from phrasing.sound.loudness import k_response, k_weighting
from phrasing.sound.streams import BLOCK, HOP, LENGTH, MEMORY, SIZE, Frames, Room, Spectra


def signal(spectra: list[Spectra], response: np.ndarray | float = 1.0) -> np.ndarray:
    """The samples of mid and side that these frames add, one after the other."""
    mids = np.concatenate([each[0] for each in spectra])
    sides = np.concatenate([each[1] if len(each) > 1 else 0 * each[0] for each in spectra])
    frames = np.fft.irfft(np.array([mids, sides]) * response)[..., MEMORY:]
    return frames.reshape(2, -1)


def filtered(sound: np.ndarray, piece: int) -> np.ndarray:
    """Left and right through the K-weighting filter, in pieces."""
    frames, response = Frames(), k_response(44100, SIZE)
    spectra = [frames(sound[:, at : at + piece]) for at in range(0, sound.shape[1], piece)]
    mid, side = signal(spectra, response)
    return np.array([mid + side, mid - side])


@pytest.mark.parametrize("piece", [100, HOP, 10_000, 70_000])
def test_it_is_the_filter_sample_by_sample(piece):
    sound = np.random.default_rng(5).standard_normal((2, 70_000)).astype(np.float32)
    sound[1] = np.sin(np.arange(70_000) * 2 * np.pi * 40 / 44100)
    found = filtered(sound, piece)
    expected = lfilter(*k_weighting(44100), sound.astype(float), axis=1)
    assert found.shape[1] > 70_000 - SIZE
    assert np.abs(found - expected[:, : found.shape[1]]).max() < 0.0003


def test_a_side_that_begins_after_silence_is_filtered_too():
    """Where left is right there is no side; where it is not, it is there from its start."""
    sound = np.zeros((2, 3 * HOP), np.float32)
    sound[:] = np.random.default_rng(6).standard_normal(3 * HOP)
    sound[1, HOP + 50 :] *= -0.5
    found = filtered(sound, HOP)
    expected = lfilter(*k_weighting(44100), sound.astype(float), axis=1)
    assert np.abs(found - expected).max() < 0.0003


def test_nothing_comes_out_before_a_whole_frame_is_in():
    frames = Frames()
    assert [len(each) for each in frames(np.ones((2, 3000), np.float32))] == [0]
    assert frames.pending == 3000
    assert [len(each) for each in frames(np.ones((2, HOP - 3000), np.float32))] == [1]
    assert frames.pending == 0


def click(at: int, length: int = 2 * BLOCK) -> np.ndarray:
    sound = np.zeros((2, length), np.float32)
    sound[:, at] = 1
    return sound


def in_room(dry: np.ndarray, rate: int = 44100) -> np.ndarray:
    room, frames = Room(rate), Frames()
    wet = dry.copy()
    for start in range(0, dry.shape[1], BLOCK):
        block = np.ascontiguousarray(wet[:, start : start + BLOCK])
        wet[:, start : start + BLOCK], _ = room.around(block, frames(block))
    return wet


@pytest.mark.parametrize("at", [LENGTH - 3, BLOCK - 100])
def test_a_sound_at_the_end_of_a_piece_rings_on_in_the_next(at):
    expected = (in_room(click(0)) - click(0))[:, : LENGTH - 10]
    found = (in_room(click(at)) - click(at))[:, at : at + LENGTH - 10]
    assert np.allclose(found, expected, atol=1e-6)


@pytest.mark.parametrize("rate", [44100, 48000])
def test_what_comes_back_is_soft_and_dies_away_within_a_short_note(rate):
    back = (in_room(click(0), rate) - click(0))[0].astype(float) ** 2
    after = [10 * np.log10(back[round(rate * s) :].sum()) for s in (0, 0.04, 0.08)]
    assert -20 < after[0] < -10
    assert after[1] < -25
    assert after[2] < -35


def test_it_is_gone_where_both_channels_are_mixed_to_one():
    sound = np.random.default_rng(3).standard_normal((1, BLOCK)).astype(np.float32)
    sound = np.repeat(sound, 2, axis=0)
    assert np.allclose(in_room(sound).mean(axis=0), sound[0], atol=1e-5)


def test_the_dry_sound_comes_through_unchanged_and_at_once():
    wet = in_room(click(500))
    assert np.abs(wet[:, :500]).max() < 1e-6
    assert wet[:, 500] == pytest.approx([1, 1], abs=1e-6)


def test_the_spectra_are_those_of_the_sound_with_the_room():
    sound = np.random.default_rng(4).standard_normal((2, 2 * BLOCK)).astype(np.float32)
    room, frames = Room(44100), Frames()
    wet, found = sound.copy(), []
    for at in (0, BLOCK):
        block = np.ascontiguousarray(wet[:, at : at + BLOCK])
        wet[:, at : at + BLOCK], spectra = room.around(block, frames(block))
        found.append(spectra)
    mid, side = signal(found)
    assert np.allclose([mid + side, mid - side], wet, atol=1e-4)
