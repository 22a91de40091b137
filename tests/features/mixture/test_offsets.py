"""Lags planted in noise and in music are found to the sample."""

import numpy as np
import pytest

from features.mixture.offsets import envelope_lags, waveform_lag
from features.sound.signal import Samples
from tests import signals
from tests.sounds import stem_song

RATE_HZ = 44100


@pytest.mark.parametrize("element", ["kick", "snare", "bassline", "pluck", "pad", "vox", "hats"])
@pytest.mark.parametrize("frames", [0, 1, 1234, 40_001])
def test_an_element_is_found_in_the_mix(element: str, frames: int) -> None:
    parts = stem_song.stems(6.0)
    late = np.pad(parts[element], ((0, 0), (frames, 0)))
    others = stem_song.mixed({name: samples for name, samples in parts.items() if name != element})
    reference: Samples = np.pad(0.3 * others, ((0, 0), (0, frames))) + late
    dull = 1 if element == "kick" else 0  # its whitened curve, from little but lows, is flat at the top
    assert abs(waveform_lag(parts[element], reference, 0, 60_000).frames - frames) <= dull


def test_home_and_chance() -> None:
    noise = signals.white(3.0, RATE_HZ, -20.0, 1)
    other = signals.white(3.0, RATE_HZ, -20.0, 40)
    lag = waveform_lag(noise[:, 5000:50_000], noise, 0, 10_000, home=4000)
    assert lag.frames == 5000
    assert lag.clear
    assert lag.height == pytest.approx(1.0, abs=0.6)
    assert not waveform_lag(other[:, :50_000], noise, 0, 10_000).clear
    assert not waveform_lag(noise[:, 5000:50_000], noise, 0, 10_000, home=5000).clear  # where it is expected is no news


def test_of_equal_places_the_nearest_is_taken() -> None:
    bar = signals.white(1.0, RATE_HZ, -20.0, 2)
    reference = signals.white(6.0, RATE_HZ, -60.0, 3)
    for start in (RATE_HZ // 2, 4 * RATE_HZ):
        reference[:, start : start + RATE_HZ] += bar
    assert waveform_lag(bar, reference, 0, 5 * RATE_HZ, home=RATE_HZ).frames == RATE_HZ // 2
    assert waveform_lag(bar, reference, 0, 5 * RATE_HZ, home=3 * RATE_HZ).frames == 4 * RATE_HZ


def test_silence_has_no_place() -> None:
    nothing = np.zeros((2, 1000), np.float32)
    assert waveform_lag(nothing, nothing, 0, 100, home=7).frames == 7
    assert not waveform_lag(nothing, nothing, 0, 100).clear
    assert envelope_lags(np.zeros(0, np.float32), np.ones(5, np.float32)) == []


@pytest.mark.parametrize("steps", [-300, -7, 0, 5, 280])
def test_envelopes_over_any_distance(steps: int) -> None:
    generator = np.random.default_rng(4)
    envelope = np.zeros(1000, np.float32)
    envelope[generator.choice(np.arange(310, 690), 40, replace=False)] = generator.uniform(0.1, 1.0, 40)
    assert envelope_lags(envelope, np.roll(envelope, steps), 1) == [steps]
    assert envelope_lags(envelope, np.roll(envelope, steps)[:900] * 5.0, 1) == [steps]
