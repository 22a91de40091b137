"""Ear-sensitive share: by construction, free of level, and harsh only where it turns harsh."""

import numpy as np
import pytest

from features.hearing.equal_loudness import contour
from features.records.ear import Ear
from features.sound.bands import erb_frequency
from features.sound.signal import Samples, Signal
from features.sound.spectrogram import SpectrogramMeter
from features.tone.ear import measure_ear
from tests import signals


def measured(samples: Samples, rate_hz: int = signals.RATE_HZ) -> Ear:
    meter = SpectrogramMeter(rate_hz, samples.shape[0])
    for block in Signal(samples, rate_hz).blocks():
        meter.push(block)
    return measure_ear(meter.finish())


def share(ear: Ear) -> float:
    assert ear.share_2k_5k is not None
    return ear.share_2k_5k


@pytest.mark.parametrize(
    ("low_hz", "high_hz", "least", "most"), [(2200, 4500, 0.97, 1.0), (100, 1000, 0.0, 0.02), (7000, 15000, 0.0, 0.02)]
)
def test_band_noise_lies_where_it_is(low_hz: float, high_hz: float, least: float, most: float) -> None:
    ear = measured(signals.stereo(signals.pink_wave(8.0, low_hz=low_hz, high_hz=high_hz)))
    assert least <= share(ear) <= most
    assert sum(ear.erb_loudness_share) == pytest.approx(1)


def two_tones(rise_db: float) -> float:
    """Return the share of a tone ``rise_db`` above the level at which ISO 226 says it is as loud as another outside 2-5 kHz."""
    low_hz, high_hz = erb_frequency(np.array([11.0, 25.0]))  # in the middle of their bands
    low, high = contour(np.array([low_hz, high_hz]), 60.0)
    high_wave = signals.sine_wave(float(high_hz), 10.0, peak_dbfs=-30.0 + float(high - low) + rise_db)
    wave = signals.fade(signals.sine_wave(float(low_hz), 10.0, peak_dbfs=-30.0) + high_wave, signals.RATE_HZ, 0.5)
    return share(measured(signals.stereo(wave)))


def test_equally_loud_tones_have_half_each() -> None:
    assert two_tones(0.0) == pytest.approx(0.5, abs=0.03)


def test_ten_phon_double_the_loudness() -> None:
    """Stevens 1955: loudness doubles per 10 dB, so that the louder has two thirds."""
    assert two_tones(10.0) == pytest.approx(2 / 3, abs=0.03)


@pytest.mark.parametrize("gain_db", [-20.0, -6.0, 12.0])
def test_level_does_not_matter(gain_db: float) -> None:
    sound = signals.pink(12.0)
    other = sound * np.float32(signals.amplitude(gain_db))
    assert share(measured(other)) == pytest.approx(share(measured(sound)), abs=0.002)
    assert share(measured(sound[::-1])) == pytest.approx(share(measured(sound)), abs=1e-6)


def test_rates_agree() -> None:
    shares = [share(measured(signals.stereo(signals.pink_wave(20.0, rate)), rate)) for rate in signals.RATES_HZ]
    assert max(shares) - min(shares) < 0.005


def test_a_harsh_passage_is_found_where_it_is_and_worst_first() -> None:
    sound = signals.pink(40.0)
    for start_s, level_db in ((10.0, -20.0), (25.0, -14.0)):
        burst = signals.pink_wave(2.0, rms_dbfs=level_db, low_hz=2000, high_hz=5000, seed=9).astype(np.float32)
        start = round(start_s * signals.RATE_HZ)
        sound[:, start : start + burst.size] += burst
    moments = measured(sound).harsh_moments
    assert [moment.start_s for moment in moments] == pytest.approx([25, 10], abs=0.6)
    assert moments[0].end_s == pytest.approx(27, abs=0.6)
    assert moments[0].value > moments[1].value


def test_neither_steady_noise_nor_a_quiet_bright_passage_is_harsh() -> None:
    steady = signals.pink(20.0)
    assert measured(steady).harsh_moments == ()
    faint = signals.stereo(signals.pink_wave(4.0, rms_dbfs=-45.0, low_hz=2000, high_hz=5000))
    assert measured(np.concatenate([steady, faint], axis=1)).harsh_moments == ()


def test_silence_one_sample_and_low_rate() -> None:
    for sound, rate_hz in ((signals.silence(2.0), 48000), (np.zeros((2, 0), np.float32), 48000), (signals.white(3.0, 8000), 8000)):
        ear = measured(sound, rate_hz)
        assert ear.share_2k_5k is None
        assert ear.erb_loudness_share == ()
        assert {absence.field for absence in ear.absent} == {"share_2k_5k", "erb_loudness_share"}
    assert share(measured(np.ones((1, 1), np.float32))) > 0
