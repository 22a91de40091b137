"""The keyed dip: the static bell while the key sounds, nothing otherwise, and no clicks."""

import numpy as np
import pytest

from features.processors.dynamics.compressor import Timing
from features.processors.dynamics.duck import Duck, duck
from features.processors.equalisers.eq import bell
from tests import signals

RATE = signals.RATE_HZ


def test_zero_depth_and_silent_key_change_nothing() -> None:
    noise = signals.signal(signals.pink(0.3))
    assert duck(noise, noise, 60.0, 1.0, 0.0, 5.0, 100.0) is noise
    silent = signals.signal(signals.silence(0.3))
    assert np.array_equal(duck(noise, silent, 60.0, 1.0, -6.0, 5.0, 100.0).samples, noise.samples)


@pytest.mark.parametrize("q", [0.7, 2.0])
def test_under_a_steady_key_it_is_the_static_bell(q: float) -> None:
    noise = signals.signal(signals.pink(2.0))
    key = signals.signal(np.ones((1, noise.frames), np.float32))
    done = duck(noise, key, 80.0, q, -6.0, 5.0, 100.0).samples
    assert np.allclose(done[:, RATE:], bell(noise, 80.0, -6.0, q).samples[:, RATE:], rtol=0.0, atol=1e-4)


def test_dip_comes_and_goes_with_the_key() -> None:
    tone = signals.signal(signals.sine(60.0, 3.0, peak_dbfs=-6.0))
    gate = signals.tone_steps([(1.0, None), (1.0, -3.0), (1.0, None)], frequency_hz=50.0)
    done = duck(tone, signals.signal(gate), 60.0, 1.0, -9.0, 5.0, 100.0).samples[0]

    def level_db(start_s: float, end_s: float) -> float:
        return float(20 * np.log10(np.abs(done[round(start_s * RATE) : round(end_s * RATE)]).max()) + 6.0)

    assert level_db(0.5, 1.0) == pytest.approx(0.0, abs=1e-3)
    assert level_db(1.5, 2.0) == pytest.approx(-9.0, abs=0.6)  # the key crosses zero 100 times a second: not quite all of it
    dip_db = 9.0 * np.exp(-1.0)  # one release later 1/e of the dip is left
    assert level_db(2.09, 2.11) == pytest.approx(-dip_db, abs=0.6)
    assert level_db(2.9, 3.0) == pytest.approx(0.0, abs=0.05)


def test_key_below_the_threshold_and_sound_in_another_band_are_left_alone() -> None:
    tone = signals.signal(signals.sine(60.0, 1.0))
    soft = signals.signal(signals.sine(50.0, 1.0, peak_dbfs=-40.5))
    assert np.array_equal(duck(tone, soft, 60.0, 1.0, -9.0, 5.0, 100.0).samples, tone.samples)
    high = signals.signal(signals.sine(5000.0, 1.0))
    loud = signals.signal(signals.sine(50.0, 1.0, peak_dbfs=-3.0))
    assert np.abs(duck(high, loud, 60.0, 1.0, -9.0, 5.0, 100.0).samples - high.samples).max() < 0.02


def test_no_clicks() -> None:
    """A click would stand in the highest octaves of a low tone."""
    tone = signals.signal(signals.sine(60.0, 2.0, peak_dbfs=-6.0))
    key = signals.signal(signals.clicks([0.5, 1.0, 1.5], 2.0, height=1.0))
    gate = signals.signal(np.repeat(signals.tone_steps([(0.5, None), (0.5, -3.0), (1.0, None)], channels=1), 1, axis=0))
    for sound in (key, gate):
        done = duck(tone, sound, 60.0, 1.0, -12.0, 5.0, 100.0).samples[0].astype(np.float64)
        spectrum = np.abs(np.fft.rfft(done * np.hanning(len(done)))) / len(done)
        assert spectrum[8000:].max() < 1e-6  # above 4 kHz


def test_both_channels_dip_alike_whatever_the_key_has() -> None:
    noise = signals.signal(signals.pink(0.5, correlation=1.0))
    key = signals.stereo(signals.sine_wave(50.0, 0.5, peak_dbfs=-3.0), np.zeros(RATE // 2))
    one_sided = duck(noise, signals.signal(key), 60.0, 1.0, -9.0, 5.0, 100.0).samples
    assert np.array_equal(one_sided[0], one_sided[1])
    assert np.array_equal(one_sided, duck(noise, signals.signal(key[:1]), 60.0, 1.0, -9.0, 5.0, 100.0).samples)


@pytest.mark.parametrize("block", [97, 5000])
def test_blocks_give_what_one_piece_gives(block: int) -> None:
    samples, key = signals.pink(1.0), signals.drums(1.0)
    whole, in_blocks = (Duck(RATE, 2, (80.0, -6.0, 1.0), Timing(5.0, 100.0)) for _ in range(2))
    parts = [in_blocks.process(samples[:, at : at + block], key[:, at : at + block]) for at in range(0, samples.shape[1], block)]
    assert np.allclose(np.concatenate(parts, axis=1), whole.process(samples, key), rtol=0.0, atol=1e-7)


def test_a_key_that_ends_early_is_silence_from_there() -> None:
    samples, key = signals.pink(1.0), signals.drums(1.0)[:, : RATE // 2]
    padded = np.pad(key, ((0, 0), (0, RATE - key.shape[1])))
    done = [duck(signals.signal(samples), signals.signal(trigger), 80.0, 1.0, -6.0, 5.0, 100.0).samples for trigger in (key, padded)]
    assert np.array_equal(done[0], done[1])


def test_what_cannot_be_done_is_said() -> None:
    noise = signals.signal(signals.silence(0.1))
    with pytest.raises(ValueError, match="goes down"):
        duck(noise, noise, 60.0, 1.0, 3.0, 5.0, 100.0)
    with pytest.raises(ValueError, match="one rate"):
        duck(noise, signals.signal(noise.samples, 44100), 60.0, 1.0, -3.0, 5.0, 100.0)
