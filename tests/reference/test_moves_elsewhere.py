"""A move put in place by ffmpeg or sox, at the settings its sentence states, gives the sound that ours gives."""

import shutil

import numpy as np
import pytest

from advisor.remedies.apply import apply
from features.sound.signal import Signal
from rules.remedy import Remedy
from tests import signals
from tests.benchmarks.plans.other_tools import Tool, put_in_place

LINEAR = [
    Remedy("gain", gain_db=-3.0),
    Remedy("gain", part="right", gain_db=2.0),
    Remedy("bell", frequency_hz=251.7, gain_db=-4.0, q=1.41),
    Remedy("bell", part="side", frequency_hz=3000.0, gain_db=5.0, q=4.0),
    Remedy("bell", part="mid", frequency_hz=90.0, gain_db=-5.0),
    Remedy("bell", part="sustained", frequency_hz=120.0, gain_db=-3.0, q=1.4),
    Remedy("low_shelf", frequency_hz=60.0, gain_db=-6.0),
    Remedy("high_shelf", frequency_hz=4000.0, gain_db=3.0, q=0.7),
    *(Remedy("high_pass", frequency_hz=40.0, order=order) for order in (1, 2, 3, 4)),
    Remedy("low_pass", frequency_hz=9000.0, order=2),
    Remedy("mono_below", frequency_hz=120.0),
    Remedy("side_gain", part="side", gain_db=-3.0),
    Remedy("polarity", part="right"),
]
COMPRESSORS = [
    Remedy("compressor", threshold_dbfs=-20.0, ratio=2.0, attack_ms=30.0, release_ms=100.0, knee_db=6.0),
    Remedy("compressor", threshold_dbfs=-16.0, ratio=4.0, attack_ms=10.0, release_ms=150.0, knee_db=6.0, gain_db=2.0),
    Remedy("compressor", threshold_dbfs=-24.0),  # with the usual settings
    Remedy("parallel", threshold_dbfs=-24.0, ratio=4.0, blend_db=-6.0),
]
AS_DIALLED_DB = -50.0  # 251.7 Hz is stated as 252 Hz; without rounding they differ by less than -85 dB
TAKEN_OFF = 0.3  # share: compressors smooth before their curve or after it, linearly or in dB, and take off more or less by that


def level_db(samples: np.ndarray) -> float:
    return float(10 * np.log10(np.mean(np.square(samples, dtype=np.float64)) + 1e-30))


@pytest.fixture(scope="module")
def sound() -> Signal:
    """Return noise that swells and falls by 12 dB four times a second, with peaks near full scale and a part of its own in each channel."""
    samples = signals.pink(4.0, rms_dbfs=-16.0, correlation=0.5)
    swell_db = 6.0 * np.sign(np.sin(2 * np.pi * 4.0 * np.arange(samples.shape[1]) / signals.RATE_HZ))
    return signals.signal(signals.stereo(*(samples * 10 ** (swell_db / 20))))


@pytest.fixture(params=["ffmpeg", "sox"])
def tool(request: pytest.FixtureRequest) -> Tool:
    name: Tool = request.param
    if shutil.which(name) is None:
        pytest.skip(f"{name} is not installed")
    return name


@pytest.mark.parametrize("remedy", LINEAR, ids=lambda move: f"{move.kind} {move.part} {move.order or ''}")
def test_equalisers_and_faders_agree_sample_by_sample(remedy: Remedy, sound: Signal, tool: Tool) -> None:
    ours, theirs = apply(remedy, sound).samples, put_in_place(remedy, sound, tool)
    assert theirs.counts
    assert level_db(theirs.sound.samples - ours) - level_db(ours) < AS_DIALLED_DB
    assert level_db(sound.samples - ours) - level_db(ours) > AS_DIALLED_DB + 10.0  # the move does something


@pytest.mark.parametrize("remedy", COMPRESSORS, ids=lambda move: f"{move.kind} {move.threshold_dbfs}")
def test_compressors_agree_in_what_they_take_off(remedy: Remedy, sound: Signal, tool: Tool) -> None:
    ours, theirs = apply(remedy, sound).samples, put_in_place(remedy, sound, tool).sound.samples
    before = level_db(sound.samples) + (remedy.gain_db or 0.0)
    assert level_db(theirs) - before == pytest.approx(level_db(ours) - before, rel=TAKEN_OFF)
    assert abs(level_db(ours) - before) > 1.0


def test_what_a_tool_cannot_do_is_ours_and_does_not_count(sound: Signal) -> None:
    remedy = Remedy("peak_limiter", ceiling_dbfs=-6.0)
    done = put_in_place(remedy, sound, "ffmpeg")
    assert (done.by_whom, done.counts) == ("ours", False)
    assert np.array_equal(done.sound.samples, apply(remedy, sound).samples)
