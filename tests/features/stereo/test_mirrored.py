"""How much of each band is mirrored: by construction."""

import numpy as np

from features.sound.signal import Samples
from tests import signals
from tests.sounds.meters import stereo_of


def shares(samples: Samples) -> dict[int, float]:
    record = stereo_of(samples)
    return {round(hz): share for hz, share in zip(record.band_hz, record.band_mirrored_share, strict=True)}


def in_band(wave: np.ndarray, low_hz: float, high_hz: float) -> np.ndarray:
    spectrum = np.fft.rfft(wave)
    hz = np.fft.rfftfreq(len(wave), 1 / signals.RATE_HZ)
    return np.asarray(np.fft.irfft(np.where((hz > low_hz) & (hz < high_hz), spectrum, 0.0), len(wave)))


def test_a_band_with_one_channel_turned_over_is_mirrored_and_no_other() -> None:
    wave = signals.pink_wave(12.0)
    over = in_band(wave, 500.0, 2000.0)
    by_band = shares(signals.stereo(wave, wave - 2.0 * over))
    assert by_band[1000] > 0.99
    assert by_band[126] < 0.01
    assert by_band[5012] < 0.01


def test_it_counts_the_time_it_lasts() -> None:
    wave = signals.pink_wave(12.0)
    other = wave.copy()
    other[: len(wave) // 4] *= -1.0
    assert abs(shares(signals.stereo(wave, other))[1000] - 0.25) < 0.05


def test_unrelated_channels_are_not_mirrored() -> None:
    assert max(share for hz, share in shares(signals.pink(12.0, correlation=0.0)).items() if hz > 100) < 0.05


def test_a_short_sound_and_silence_have_none() -> None:
    assert set(shares(signals.silence(2.0)).values()) <= {0.0}
