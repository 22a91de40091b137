"""Splitting sound into what strikes and what sustains."""

import numpy as np
import pytest
from scipy import ndimage
from scipy import signal as scipy_signal

from features.hits.separation import BandPower, Singles, hop_frames, running_median, separate, sixth_octaves
from features.sound.bands import third_octaves
from features.sound.signal import Samples
from tests import signals

RATE = 44100


def band_power(samples: Samples, rate_hz: int = RATE, block: int = 1 << 17) -> Singles:
    meter = BandPower(rate_hz, samples.shape[0])
    parts = [meter.push(samples[:, start : start + block]) for start in range(0, samples.shape[1], block)]
    return np.concatenate([*parts, meter.finish()])


@pytest.mark.parametrize("half", [1, 7, 25])
def test_running_median_is_scipys(half: int) -> None:
    values = np.random.default_rng(half).random((4, 300)).astype(np.float32)
    values[1, ::3] = 0.5  # ties
    medians = np.empty_like(values)
    running_median(values, half, medians)
    expected = ndimage.median_filter(values, (1, 2 * half + 1))
    assert np.array_equal(medians[:, half:-half], expected[:, half:-half])
    assert medians[2, 0] == np.sort(values[2, : half + 1])[half // 2]


def test_running_median_of_a_row_shorter_than_its_window() -> None:
    values = np.array([[3.0, 1.0, 2.0]], np.float32)
    medians = np.empty_like(values)
    running_median(values, 10, medians)
    assert medians.tolist() == [[2.0, 2.0, 2.0]]


@pytest.mark.parametrize("rate_hz", [8000, 44100, 48000, 96000])
def test_band_power_keeps_the_power_of_noise(rate_hz: int) -> None:
    power = band_power(signals.white(2.0, rate_hz, -20.0), rate_hz)
    top = min(sixth_octaves(rate_hz).high_hz[-1], rate_hz / 2)
    covered = (top - sixth_octaves(rate_hz).low_hz[0]) / (rate_hz / 2)
    assert 10 * np.log10(power[10:-10].sum(axis=1).mean() / covered) == pytest.approx(-20.0, abs=0.1)


def test_band_power_against_scipys_spectrogram() -> None:
    wave = signals.pink_wave(1.0, RATE, -20.0)
    power = band_power(signals.mono(wave))
    size, hop = 2048, hop_frames(RATE)
    at = 60
    start = at * hop + hop // 2 - size // 2
    frequency, density = scipy_signal.periodogram(wave[start : start + size], RATE, window="hann", detrend=False, scaling="density")
    band = 40
    bands = sixth_octaves(RATE)
    inside = (frequency >= bands.low_hz[band]) & (frequency < bands.high_hz[band])
    assert power[at, band] == pytest.approx(density[inside].sum() * (frequency[1] - frequency[0]), rel=0.1)


def test_blocks_do_not_matter_and_every_begun_hop_has_a_frame() -> None:
    samples = signals.drums(1.3, RATE)
    whole = band_power(samples)
    assert len(whole) == -(-samples.shape[1] // hop_frames(RATE))
    assert np.array_equal(whole, band_power(samples, block=777))


def test_two_sixth_octaves_make_a_third() -> None:
    bands, thirds = sixth_octaves(48000), third_octaves(48000)
    assert bands.low_hz[::2] == pytest.approx(thirds.low_hz)
    assert bands.high_hz[1::2] == pytest.approx(thirds.high_hz)


def test_a_chord_sustains_and_drums_strike() -> None:
    chord = 0.2 * signals.chord_wave(4.0, RATE)
    hats = signals.placed(signals.hat_wave(RATE), signals.beat_times(4.0, 240.0), 4.0, RATE)
    parts = separate(band_power(signals.mono(chord)), 256 / RATE)
    struck = separate(band_power(signals.mono(hats)), 256 / RATE)
    inner = slice(60, -60)
    assert parts.percussive[inner].sum() < 0.4 * parts.whole[inner].sum()  # the soft mask leaks where partials lie close ...
    assert parts.strokes()[inner].sum() < 1e-4 * parts.whole[inner].sum()  # ... but nothing of it passes for a stroke
    assert struck.percussive.sum() > 0.9 * struck.whole.sum()


def test_parts_add_up_and_strokes_are_part_of_what_strikes() -> None:
    power = band_power(signals.drums(3.0, RATE) + signals.pink(3.0, RATE, -30.0))
    parts = separate(power, 256 / RATE)
    assert parts.percussive + parts.sustained == pytest.approx(parts.whole, rel=1e-4)
    assert np.all(parts.strokes() <= parts.percussive * 1.0001)
    assert np.all(parts.strokes()[parts.whole < 4 * parts.steady] == 0)


def test_nothing_and_silence() -> None:
    assert len(separate(np.zeros((0, 62), np.float32), 0.0058).whole) == 0
    parts = separate(np.zeros((100, 62), np.float32), 0.0058)
    assert not parts.percussive.any()
    assert not parts.strokes().any()
