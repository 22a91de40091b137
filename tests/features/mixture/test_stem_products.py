"""Inner products gathered block by block are those of the waveforms."""

import numpy as np
import pytest

from features.mixture.stem_products import MOST_SEGMENTS, StemProducts, StemProductsMeter
from features.sound.signal import Samples
from tests import signals

RATE_HZ = 44100
SECONDS = 7.0
SOUNDS = (
    signals.white(SECONDS, RATE_HZ, -20.0, 1, 0.3),
    signals.mono(signals.pink_wave(SECONDS, RATE_HZ, -18.0, 5)),
    signals.sine(1000.0, SECONDS, RATE_HZ, -12.0),
)


def gathered(sounds: tuple[Samples, ...], size: int = 1 << 17, rate_hz: int = RATE_HZ) -> StemProducts:
    meter = StemProductsMeter(rate_hz, [sound.shape[0] for sound in sounds])
    for start in range(0, sounds[0].shape[1], size):
        meter.push([sound[:, start : start + size] for sound in sounds])
    return meter.finish()


def test_inner_products_are_those_of_the_waveforms() -> None:
    trace = gathered(SOUNDS)
    wide = [np.broadcast_to(sound, (2, sound.shape[1])).astype(np.float64) for sound in SOUNDS]
    truth = np.array([[np.sum(sound * other) for sound in wide] for other in wide])
    size = np.sqrt(np.outer(np.diag(truth), np.diag(truth)))
    assert np.allclose(trace.total / size, truth / size, atol=1e-6)
    assert np.allclose(trace.by_band.sum(axis=0) / size, truth / size, atol=1e-6)
    between = np.einsum("ct,dt->cd", wide[0], wide[2])
    assert np.allclose(trace.by_channel[0, :, 2, :], between, atol=1e-4 * size[0, 2])


def test_the_cut_into_blocks_does_not_matter() -> None:
    stem_products, other = gathered(SOUNDS), gathered(SOUNDS, 10_007)
    assert np.array_equal(stem_products.by_time, other.by_time)
    assert np.array_equal(stem_products.by_band, other.by_band)
    assert np.array_equal(stem_products.sketches[0].envelope, other.sketches[0].envelope)


def test_a_sum_and_its_parts_leave_next_to_nothing() -> None:
    both = np.asarray(0.5 * SOUNDS[0] + 0.7 * SOUNDS[1], np.float32)
    total = gathered((SOUNDS[0], SOUNDS[1], both)).total
    vector = np.array([0.5, 0.7, -1.0])
    assert 10 * np.log10(abs(vector @ total @ vector) / total[2, 2]) < -110


def test_a_tone_lies_in_its_band_and_its_time() -> None:
    tone = SOUNDS[2].copy()
    tone[:, : tone.shape[1] // 2] = 0.0
    trace = gathered((tone,))
    band = int(np.argmax(trace.by_band[:, 0, 0]))
    assert trace.edges_hz[band] < 1000.0 < trace.edges_hz[band + 1]
    assert trace.by_band[band, 0, 0] > 0.99 * trace.total[0, 0]
    assert trace.by_time[0, 0, 0] == 0.0
    assert trace.by_time[-1, 0, 0] > 0.0


@pytest.mark.parametrize("rate_hz", [8000, 44100, 96000])
def test_sketches_hold_levels(rate_hz: int) -> None:
    tone = signals.sine(500.0, 3.0, rate_hz, -6.0)
    made = gathered((tone, 0.5 * tone[:1]), rate_hz=rate_hz).sketches
    assert made[0].peak == pytest.approx(signals.amplitude(-6.0), rel=1e-3)
    assert 10 * np.log10(made[0].power) == pytest.approx(-9.01, abs=0.02)
    assert 10 * np.log10(made[1].power) == pytest.approx(-15.03, abs=0.02)
    assert made[0].band_hz[int(np.argmax(made[0].band_power))] == pytest.approx(501.19, abs=1.0)
    assert 10 * np.log10(np.median(made[0].envelope)) == pytest.approx(-9.01, abs=0.3)
    assert 0.005 < made[0].step_s < 0.02


def test_long_songs_keep_their_number_of_segments() -> None:
    meter = StemProductsMeter(8000, [1])
    block = np.ones((1, 512 * 32 * 16), np.float32)
    for _ in range(2 * MOST_SEGMENTS // 16 + 3):
        meter.push([block])
    trace = meter.finish()
    assert len(trace.by_time) <= MOST_SEGMENTS
    assert trace.total[0, 0] == pytest.approx(trace.frames, rel=1e-6)


@pytest.mark.parametrize("frames", [0, 1, 100])
def test_next_to_no_sound(frames: int) -> None:
    trace = gathered((np.ones((1, frames), np.float32), np.ones((2, frames), np.float32)))
    assert trace.total[0, 1] == pytest.approx(2.0 * frames)
