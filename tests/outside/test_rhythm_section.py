"""The rhythm section in notes and in sound, against what has been published.

Ride cymbal by tempo: Friberg & Sundstrom 2002, Music Perception 19(3):333-349 (up to 3.5 : 1
at slow tempos, about 2 : 1 near 200, the short note about 100 ms); Dittmar, Pfleiderer &
Mueller, ISMIR 2015 (about 1.15 : 1 at 280); Honing & de Haas 2008, Music Perception
25(5):471-476 (a plateau near 2.2 : 1 at slow tempos). Soloists come about 30 ms late on the
beat and together with the cymbal off it: Nelias et al. 2022, Communications Physics 5:237,
and the first. Hi-hat on 2 and 4, and where the parts lie in the mix: common practice, no
source; their bounds are ours. Onsets are found by librosa in sound files, loudness by
pyloudnorm (ITU-R BS.1770).
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import pairwise

import numpy as np
import pytest

from phrasing.band.band import accompany
from phrasing.band.drums import PEDAL, RIDE
from phrasing.band.voicing import led, voicings_of
from phrasing.feel import Comping, Feel, Swing
from phrasing.marking.precedence import mark
from phrasing.performing.performance import Part, perform
from phrasing.score.instruments import BY_KEY
from phrasing.score.melody import Melody
from phrasing.score.meters import TICKS
from phrasing.sound.soundfonts import available, embedded_soundfont
from tests.band.charts import chart
from tests.band.test_voicing import progression
from tests.band.tunes import CHARTS
from tests.outside.hearing import Take, decibels, recorded

pytestmark = pytest.mark.outside

BARS = "| C7 | F7 | C7 | G7 " * 3 + "|"
RIDE_BANDS = {
    120: (2.2, 3.5),
    150: (2.2, 3.5),
    200: (1.8, 2.2),
    250: (1.2, 1.6),
    280: (1.0, 1.3),
}
"""Quarter notes a minute, and the ratios between the published values there."""
STEPS = 2 / 2**15
"""What rounding and dither add to a sample of sixteen bits."""
FONTS = {font.name: font for font in [*available(), embedded_soundfont()]}
PLACES = {"Bass": -3.0, "Drums": -4.0, "Piano": -4.0, "Guitar": -5.0}
"""LU against a plain melody at which each part of the band is meant to lie."""
BRUSHES = 4.0
"""LU by which brushes lie lower than sticks."""
STYLES = {name: (text, "piano") for name, text in CHARTS.items()} | {
    "guitar": (
        "tempo: 120\nkey: F\n| F7 | Bb9 | F7 | Cm7 F13 | Bb9 | B°7 | F7 | D7 |",
        "guitar",
    ),
}


@cache
def drums(tempo: int):
    """Twelve bars of drums: the performance and the drum part."""
    song = chart(f"tempo: {tempo}\n{BARS}")
    backing = accompany(song, count_in=0, ending="none", parts=["drums"], seed=1)
    return backing.performance("Drums"), backing.parts[0]


def only(part: Part, key: int) -> Part:
    """One drum of the kit."""
    keep = part.pitch == key
    columns = ("onset", "release", "pitch", "velocity", "level", "brightness", "source")
    return replace(part, **{name: getattr(part, name)[keep] for name in columns})


def heard(take: Take, low: float = 2000.0) -> np.ndarray:
    """Seconds from tick 0 at which something starts (librosa)."""
    import librosa

    mono = take.wave.mean(axis=1).astype(np.float32)
    strength = librosa.onset.onset_strength(
        y=mono, sr=take.rate, hop_length=64, n_fft=512, n_mels=40, fmin=low
    )
    found = librosa.onset.onset_detect(
        onset_envelope=strength,
        sr=take.rate,
        hop_length=64,
        units="time",
        delta=0.05,
        wait=30,
        pre_max=20,
        post_max=20,
        pre_avg=200,
        post_avg=200,
    )
    return np.asarray(found) - take.start


def ratio_of(seconds: np.ndarray, tempo: float) -> float:
    """The median long-short ratio of the pairs in which something lies between two beats."""
    inside = (seconds * tempo / 60) % 1.0
    off = inside[(inside > 0.3) & (inside < 0.92)]
    return float(np.median(off / (1.0 - off)))


@pytest.mark.parametrize("tempo", RIDE_BANDS)
def test_the_ride_swings_within_the_published_band_in_notes(tempo):
    low, high = RIDE_BANDS[tempo]
    performance, part = drums(tempo)
    onsets = performance.tempos.seconds(only(part, RIDE).onset)
    assert low <= ratio_of(onsets, tempo) <= high


@pytest.mark.parametrize("font", sorted(FONTS))
@pytest.mark.parametrize("tempo", [120, 200, 280])
def test_the_ride_swings_within_the_published_band_in_the_sound(tempo, font, tmp_path):
    low, high = RIDE_BANDS[tempo]
    performance, part = drums(tempo)
    ride = only(part, RIDE)
    alone = replace(performance, parts=(ride,))
    take = recorded({"ride": alone}, tmp_path, soundfont=FONTS[font], room=False)["ride"]
    onsets = heard(take)
    assert len(onsets) == len(ride.onset)
    late = np.median(onsets - performance.tempos.seconds(np.sort(ride.onset)))
    assert abs(late) < 0.010
    ratio = ratio_of(onsets - late, tempo)
    assert low <= ratio <= high
    short = 60 / tempo / (1 + ratio)
    assert short == pytest.approx(0.100, abs=0.008) or tempo == 120


@pytest.mark.parametrize("font", sorted(FONTS))
def test_the_hi_hat_is_heard_on_two_and_four(font, tmp_path):
    performance, part = drums(150)
    alone = replace(performance, parts=(only(part, PEDAL),))
    take = recorded({"hat": alone}, tmp_path, soundfont=FONTS[font], room=False)["hat"]
    beats = heard(take) * 150 / 60
    assert [round(beat) % 4 for beat in beats] == [1, 3] * 12
    assert np.abs(beats - np.rint(beats)).max() * 60 / 150 <= 0.020


MASKED = 5.5
"""dB below a band of noise at which a sound in that band is masked (psychoacoustic model 2 of
ISO/IEC 11172-3, from memory)."""


def in_bands(take: Take, seconds: float) -> np.ndarray:
    """dB of the first 60 ms after a moment in third octaves from 1 to 16 kHz (IEC 61260)."""
    start = round(seconds * take.rate)
    wave = take.wave[start : start + round(0.060 * take.rate)].mean(axis=1)
    power = np.abs(np.fft.rfft(wave * np.hanning(len(wave)))) ** 2
    hertz = np.fft.rfftfreq(len(wave), 1 / take.rate)
    edges = 1000 * 2 ** ((np.arange(14) - 0.5) / 3)
    bands = [power[(low <= hertz) & (hertz < high)].sum() for low, high in pairwise(edges)]
    return np.asarray(10 * np.log10(np.array(bands) + 1e-12))


@pytest.mark.parametrize("font", sorted(FONTS))
def test_the_hi_hat_is_heard_through_the_rest_of_the_kit(font, tmp_path):
    """34 dB softer it was still there by itself, and nobody heard it."""
    performance, part = drums(150)
    others = [only(part, key) for key in np.unique(part.pitch).tolist() if key != PEDAL]
    versions = {
        "kit": performance,
        "hat": replace(performance, parts=(only(part, PEDAL),)),
        "rest": replace(performance, parts=tuple(others)),
    }
    takes = recorded(versions, tmp_path, soundfont=FONTS[font], room=False, lead="kit")
    strokes = performance.tempos.seconds(only(part, PEDAL).onset) + takes["hat"].start
    over = [in_bands(takes["hat"], at) - in_bands(takes["rest"], at) for at in strokes]
    heard_at = [bool((bands > -MASKED).any()) for bands in over]
    assert np.mean(heard_at) >= 0.9


def with_eighths(song: Melody, first: int, count: int) -> Melody:
    """The chart with eighths up and down over it, from its eighth number ``first`` on."""
    onset = np.arange(first, first + count) * TICKS // 2
    pitch = np.resize([60, 62, 64, 65, 67, 69, 70, 69, 67, 65, 64, 62], count)
    return replace(song, onset=onset, length=np.full(count, TICKS // 2), pitch=pitch)


def test_at_150_the_melody_is_heard_late_on_the_beat_and_with_the_ride_off_it(tmp_path):
    """Against the same melody exactly on the ride's beat and off-beat."""
    melody = with_eighths(chart(f"tempo: 150\n{BARS}"), 8, 80)
    backing = accompany(melody, count_in=0, ending="none", parts=["drums"])
    on_ride = Feel(swing=Swing(by_tempo=((150.0, backing.ratio),)))
    versions = {
        "late": perform(melody, None, lay_back=True, instrument=BY_KEY["vibraphone"]),
        "exact": perform(melody, None, on_ride, instrument=BY_KEY["vibraphone"]),
    }
    takes = recorded(versions, tmp_path, room=False)
    late, exact = (heard(takes[name], low=300.0) for name in ("late", "exact"))
    assert len(late) == len(exact) == len(melody)
    delay = (late - exact) * 1000
    assert (delay[::2] >= 20).all()
    assert (delay[::2] <= 40).all()
    assert np.abs(delay[1::2]).max() <= 5


def loudness(take: Take) -> float:
    """LUFS by pyloudnorm."""
    from pyloudnorm import Meter

    return float(Meter(take.rate).integrated_loudness(take.wave))


@pytest.mark.parametrize("font", sorted(FONTS))
@pytest.mark.parametrize("style", STYLES)
def test_the_band_is_balanced_and_nothing_clips(style, font, tmp_path):
    text, comping = STYLES[style]
    song = chart(text)
    backing = accompany(song, count_in=0, comping=comping, seed=3)
    band = backing.performance(style)
    plain = perform(with_eighths(song, 0, 40), None, lay_back=True)
    tune = replace(plain.parts[0], place=0.0)
    versions = {"band": band, "melody": replace(plain, parts=(tune,))}
    versions |= {part.name: replace(band, parts=(part,)) for part in backing.parts}
    takes = recorded(versions, tmp_path, soundfont=FONTS[font], lead="band")
    levels = {name: loudness(take) for name, take in takes.items()}
    assert abs(levels["melody"] - levels["band"]) <= 3.0
    for part in backing.parts:
        lower = BRUSHES if (part.name, style) == ("Drums", "ballad") else 0.0
        place = levels["melody"] + PLACES[part.name] - lower
        assert abs(levels[part.name] - place) <= 1.0, part.name
    for take in takes.values():
        assert np.abs(take.wave).max() <= 10 ** (-1 / 20) + STEPS
        assert decibels(take.wave) > -60


@pytest.mark.parametrize("instrument", ["piano", "guitar"])
def test_over_200_progressions_the_top_voice_moves_less_than_three_semitones(instrument):
    comping, moved = Comping(), []
    low = {"piano": comping.piano_low, "guitar": comping.guitar_low}[instrument]
    high = {"piano": comping.piano_high, "guitar": comping.guitar_high}[instrument]
    for seed in range(200):
        chords = progression(seed)
        choices = [voicings_of(chord, comping, instrument) for chord in chords]
        line = led(choices, comping, np.random.default_rng(seed))
        assert all(low <= v.pitches[0] and v.pitches[-1] <= high for v in line)
        moved += [abs(a.pitches[-1] - b.pitches[-1]) for a, b in pairwise(line)]
    assert np.mean(moved) < 3.0


@pytest.mark.parametrize("font", sorted(FONTS))
def test_under_plain_and_shaped_the_band_is_equally_loud(font, tmp_path):
    """It dropped by 1.4 dB, and the melody over the bass rose from 1.9 to 5.0 LU."""
    song = with_eighths(chart(f"tempo: 150\n{BARS}"), 8, 80)
    backing = accompany(song, count_in=0, ending="none", seed=3)
    levels = {}
    for name, marking in {"plain": None, "shaped": mark(song)}.items():
        tune = perform(song, marking, lay_back=True).parts[0]
        whole = backing.performance(name, [replace(tune, place=0.0)])
        versions = {"plain": whole} | {p.name: replace(whole, parts=(p,)) for p in whole.parts}
        takes = recorded(versions, tmp_path, soundfont=FONTS[font], lead="plain")
        levels[name] = {part: loudness(take) for part, take in takes.items()}
        for part in backing.parts:
            over = levels[name]["Melody"] - levels[name][part.name]
            assert over == pytest.approx(-PLACES[part.name], abs=1.0)
            levels[name][part.name] = over
    for part in backing.parts:
        assert levels["plain"][part.name] == pytest.approx(levels["shaped"][part.name], abs=0.2)
