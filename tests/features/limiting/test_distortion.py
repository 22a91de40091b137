"""The gain split, and noise weighed against the mask."""

import numpy as np
import pytest

from features.limiting.distortion import FLOOR_DB, MaskedMusic, band_powers, bark, make_ear, slow_gain
from features.processors.dynamics.limiter import GENTLE, gain_curve, true_peak_envelope
from features.sound.signal import Samples
from tests import signals

RATE = signals.RATE_HZ


def moving(frequency_hz: float, rate_hz: int = 1000) -> np.ndarray:
    return (1 + 0.1 * np.sin(2 * np.pi * frequency_hz * np.arange(4 * rate_hz) / rate_hz)).astype(np.float32)


def test_split_keeps_slow_movement_and_drops_fast() -> None:
    def swing_share(frequency_hz: float) -> float:
        return float(np.ptp(slow_gain(moving(frequency_hz), 1000)[1000:3000]) / 0.2)

    assert swing_share(2.0) == pytest.approx(1.0, abs=0.01)
    assert swing_share(20.0) == pytest.approx(
        0.5, abs=0.01
    )  # Butterworth forwards and backwards: half amplitude at the corner, by definition
    assert swing_share(100.0) < 0.01


def test_split_has_no_delay() -> None:
    step = np.ones(2000, np.float32)
    step[950:1050] = 0.5
    slow = slow_gain(step, 1000)
    assert slow[900:1100] == pytest.approx(slow[900:1100][::-1], abs=1e-3)


def test_split_does_not_depend_on_the_rate() -> None:
    fine, coarse = slow_gain(moving(15.0, 48000), 48000)[::48], slow_gain(moving(15.0), 1000)
    assert np.allclose(fine[100:-100], coarse[100:-100], rtol=0.0, atol=2e-3)


def pinkish() -> Samples:
    return signals.pink(3.0, rms_dbfs=-20.0)


def music(samples: Samples, rate_hz: int = RATE) -> MaskedMusic:
    return MaskedMusic(samples, rate_hz, float(np.square(samples.astype(float)).mean()) * samples.shape[0])


def test_noise_of_the_music_s_own_spectrum_reads_as_its_level_plus_the_offset() -> None:
    """A copy 30 dB down: the excitation lies 3 dB (low bands) to 0.25 z = 5.9 dB (top band) above the threshold; BS.1387."""
    samples = pinkish()
    ratios = music(samples).noise_to_mask_db(samples * np.float32(signals.amplitude(-30.0)), np.ones(samples.shape[1], np.float32))
    assert -28.0 < np.median(ratios) < -22.0


def test_noise_to_mask_moves_with_noise_and_gain() -> None:
    samples = pinkish()
    masked_music, noise = music(samples), signals.white(3.0, rms_dbfs=-50.0, seed=9)
    flat = np.ones(samples.shape[1], np.float32)
    plain = masked_music.noise_to_mask_db(noise, flat)
    assert masked_music.noise_to_mask_db(noise * np.float32(2.0), flat) - plain == pytest.approx(6.02, abs=0.01)
    assert masked_music.noise_to_mask_db(noise, flat * np.float32(0.5)) - plain == pytest.approx(6.02, abs=0.01)


def test_noise_beside_a_tone_is_heard_more_than_noise_under_it() -> None:
    samples = signals.sine(1000.0, 2.0, peak_dbfs=-12.0)
    masked_music, flat = music(samples), np.ones(2 * RATE, np.float32)

    def ratio(frequency_hz: float) -> float:
        return float(np.median(masked_music.noise_to_mask_db(signals.sine(frequency_hz, 2.0, peak_dbfs=-52.0), flat)))

    assert -34.0 < ratio(1000.0) < -22.0  # a tone's own threshold lies some 12 dB below it: 3 dB, and what spreads to other bands
    assert ratio(500.0) > ratio(1000.0) + 15.0  # masking falls 27 dB/Bark downwards
    assert ratio(500.0) > ratio(2000.0) + 3.0  # and spreads further upwards


def test_noise_far_below_hearing_reads_low_in_silence() -> None:
    """Against silence the ear's own noise is the mask: a signal 30 dB under it is not heard."""
    samples = signals.silence(1.0)
    masked_music = MaskedMusic(samples, RATE, 0.01)
    under = signals.sine(1000.0, 1.0, peak_dbfs=-95.0 - 30.0)
    assert np.median(masked_music.noise_to_mask_db(under, np.ones(RATE, np.float32))) < 0.0


def test_a_gain_that_does_not_move_makes_no_distortion() -> None:
    samples = pinkish()
    assert music(samples).distortion_db(np.full(samples.shape[1], 0.5, np.float32)) < -90.0
    assert music(samples).distortion_db(np.ones(samples.shape[1], np.float32)) == FLOOR_DB


def test_slow_riding_is_not_distortion_and_fast_riding_is() -> None:
    samples = pinkish()
    time = np.arange(samples.shape[1]) / RATE

    def ridden(frequency_hz: float) -> float:
        return music(samples).distortion_db((0.8 + 0.2 * np.sin(2 * np.pi * frequency_hz * time)).astype(np.float32))

    assert ridden(2.0) < -35.0
    assert ridden(200.0) > ridden(2.0) + 20.0


def test_error_of_a_clipper_counts() -> None:
    samples = pinkish()
    flat = np.ones(samples.shape[1], np.float32)
    mild, hard = (music(samples).distortion_db(flat, np.clip(samples, -top, top) - samples) for top in (0.25, 0.1))
    assert FLOOR_DB < mild < hard


@pytest.mark.parametrize("rate_hz", [8000, 44100, 96000, 192000])
def test_rates_agree(rate_hz: int) -> None:
    def read(rate: int) -> float:
        samples = signals.drums(4.0, rate) + signals.stereo(signals.chord_wave(4.0, rate) * 0.2)
        envelope = true_peak_envelope(samples)
        gain = gain_curve(envelope, float(envelope.max()) * 0.4, rate, GENTLE)
        return MaskedMusic(samples, rate, 0.01).distortion_db(gain)

    assert read(rate_hz) == pytest.approx(read(48000), abs=6.0 if rate_hz == 8000 else 2.0)  # 8 kHz holds none of the bands above 4 kHz


def test_channels_may_be_swapped() -> None:
    samples = pinkish()
    samples[1] *= np.float32(0.3)
    gain = gain_curve(true_peak_envelope(samples), 0.1, RATE, GENTLE)
    assert music(samples).distortion_db(gain) == pytest.approx(music(samples[::-1].copy()).distortion_db(gain), abs=1e-3)


@pytest.mark.parametrize("frames", [1, 100, 3000])
def test_short_sounds(frames: int) -> None:
    samples = pinkish()[:, :frames]
    assert np.isfinite(MaskedMusic(samples, RATE, 0.01).distortion_db(np.linspace(1, 0.5, frames, dtype=np.float32)))


def test_band_powers_add_up_to_the_weighted_power_of_a_tone() -> None:
    ear = make_ear(RATE)
    powers = band_powers(ear, signals.sine(1000.0, 1.0, peak_dbfs=0.0, channels=1))
    weight_db = -2.184 + 6.5 * np.exp(-0.6 * 2.3**2) - 0.001
    assert 10 * np.log10(powers.sum(axis=1).mean()) == pytest.approx(-3.01 + weight_db, abs=0.1)
    assert abs(float(bark(ear.bands.centre_hz[[powers[5].argmax()]])[0] - bark(np.array([1000.0]))[0])) < 0.25
