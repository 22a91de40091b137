"""What trials compare: levels of octave bands are those of the sound itself."""

from itertools import pairwise

import numpy as np
import pytest
from scipy.signal import butter, sosfilt

from advisor.judging.judge import Judged
from advisor.planning.trial_readings import octaves, trial_readings
from features.records.spectrum import Spectrum
from features.sound.signal import Signal
from features.sound.spectrogram import SpectrogramMeter
from features.tone.spectrum import measure_spectrum
from tests import records, signals

NOTHING = Judged((), (), (), ())


def spectrum_of(signal: Signal) -> Spectrum:
    meter = SpectrogramMeter(signal.rate_hz, signal.channels)
    for block in signal.blocks():
        meter.push(block)
    return measure_spectrum(meter.finish())


@pytest.mark.parametrize("rate_hz", [44100, 48000])
def test_white_noise_has_in_each_octave_its_share_of_the_bandwidth(rate_hz: int) -> None:
    """Constant power per Hz: -20 dBFS RMS over half the rate."""
    edges, levels = octaves(spectrum_of(signals.signal(signals.white(20.0, rms_dbfs=-20.0, rate_hz=rate_hz), rate_hz)))
    wanted = [-20.0 + 10 * np.log10((high - low) / (rate_hz / 2)) for low, high in pairwise(edges)]
    assert len(levels) == len(edges) - 1 == 10
    assert levels[2:9] == pytest.approx(wanted[2:9], abs=0.3)
    assert levels[:2] == pytest.approx(wanted[:2], abs=1.0)  # few cycles in the lowest bands: chance


def test_levels_follow_the_fader_and_an_equaliser_made_elsewhere() -> None:
    sound = signals.signal(signals.pink(10.0, rms_dbfs=-20.0))
    _, before = octaves(spectrum_of(sound))
    _, softer = octaves(spectrum_of(Signal(sound.samples * np.float32(0.5), sound.rate_hz)))
    assert np.subtract(softer, before) == pytest.approx(-6.02, abs=0.01)
    without = sosfilt(butter(4, 1000.0, "highpass", fs=sound.rate_hz, output="sos"), sound.samples).astype(np.float32)
    edges, thin = octaves(spectrum_of(Signal(without, sound.rate_hz)))
    change = dict(zip(edges, np.subtract(thin, before), strict=False))
    assert all(abs(change_db) < 0.1 for low, change_db in change.items() if low > 2000.0)
    assert all(change_db < -20.0 for low, change_db in change.items() if low < 300.0)


def test_low_rates_have_fewer_bands_and_silence_has_no_levels() -> None:
    edges, levels = octaves(spectrum_of(signals.signal(signals.white(5.0, rms_dbfs=-20.0, rate_hz=8000), 8000)))
    assert len(levels) == len(edges) - 1 == 7
    edges, levels = octaves(spectrum_of(Signal(np.zeros((2, 96000), np.float32), 48000)))
    assert (len(edges), levels) == (11, ())


def test_heard_takes_what_is_there_and_leaves_out_what_is_not() -> None:
    readings = trial_readings({Spectrum: records.spectrum()}, NOTHING)
    assert readings.clean_lufs is None
    assert len(readings.bands_db) == len(readings.band_edges_hz) - 1 == 10
    assert trial_readings({}, NOTHING).bands_db == ()
