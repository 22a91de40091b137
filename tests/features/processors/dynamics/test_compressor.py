"""The compressor against the published curve and time constants."""

import numpy as np
import pytest

from features.processors.dynamics.compressor import (
    Curve,
    GainReduction,
    Timing,
    alpha,
    compress,
    parallel,
    reduction_db,
    static_output_db,
    threshold_for,
)
from features.sound.signal import Signal
from tests import signals

RATE = signals.RATE_HZ
# Giannoulis, Massberg and Reiss 2012, equation 4, T = -20, R = 4, W = 10; computed from the formula.
SOFT_KNEE = [(-40, -40), (-25, -25), (-22.5, -22.7344), (-20, -20.9375), (-17.5, -19.6094), (-15, -18.75), (-10, -17.5), (0, -15)]


@pytest.mark.parametrize(("level", "out"), SOFT_KNEE)
def test_soft_knee(level: float, out: float) -> None:
    assert static_output_db(level, Curve(-20.0, 4.0, 10.0)) == pytest.approx(out, abs=1e-4)


def test_limiter_and_hard_knee() -> None:
    assert static_output_db(-20.0, Curve(-20.0, float("inf"), 10.0)) == pytest.approx(-21.25)  # same source
    assert static_output_db(-15.0, Curve(-20.0, float("inf"), 10.0)) == pytest.approx(-20.0)
    assert static_output_db(-10.0, Curve(-20.0, 4.0, 0.0)) == pytest.approx(-17.5)


@pytest.mark.parametrize(("level", "out"), SOFT_KNEE)
def test_kernel_settles_on_the_static_curve(level: float, out: float) -> None:
    steady = np.full(48000, 10 ** (level / 20), np.float32)
    taken = GainReduction(Curve(-20.0, 4.0, 10.0), Timing(5.0, 50.0), RATE).follow(steady)
    assert taken[-1] == pytest.approx(level - out, abs=1e-3)


@pytest.mark.parametrize(("time_ms", "value"), [(1, 0.979382), (5, 0.995842), (10, 0.997919), (50, 0.999583), (100, 0.999792)])
def test_coefficients_at_48_khz(time_ms: float, value: float) -> None:
    assert alpha(time_ms, 48000) == pytest.approx(value, abs=1e-6)


def test_attack_and_release_reach_63_percent_in_their_time() -> None:
    level = np.concatenate((np.full(4800, 1.0), np.full(9600, 1e-4))).astype(np.float32)
    taken = GainReduction(Curve(-20.0, 2.0, 0.0), Timing(10.0, 50.0), RATE).follow(level)
    full = 10.0  # 20 dB over, 2:1
    assert taken[480 - 1] == pytest.approx(full * (1 - np.exp(-1)), rel=0.01)
    assert taken[4800 + 2400 - 1] == pytest.approx(taken[4799] * np.exp(-1), rel=0.01)


def test_both_channels_get_one_gain() -> None:
    loud, soft = signals.sine_wave(100.0, 0.5), signals.sine_wave(700.0, 0.5, peak_dbfs=-30.0)
    song = signals.signal(signals.stereo(loud, soft))
    done = compress(song, Curve(-20.0, 4.0), Timing(5.0, 50.0))
    expected = 10 ** (-reduction_db(song, Curve(-20.0, 4.0), Timing(5.0, 50.0)) / 20)
    assert np.allclose(done.samples[1], song.samples[1] * expected, rtol=0.0, atol=1e-6)


@pytest.mark.parametrize("block", [1, 333])
def test_blocks_give_what_one_piece_gives(block: int) -> None:
    level = np.abs(signals.pink(0.1)[0])
    tool = GainReduction(Curve(-30.0, 3.0), Timing(3.0, 80.0), RATE)
    parts = [tool.follow(level[at : at + block]) for at in range(0, level.size, block)]
    assert np.array_equal(np.concatenate(parts), GainReduction(Curve(-30.0, 3.0), Timing(3.0, 80.0), RATE).follow(level))


def test_neutral_settings_return_the_same_samples() -> None:
    noise = signals.signal(signals.pink(0.2))
    assert np.array_equal(compress(noise, Curve(-40.0, 1.0), Timing(5.0, 50.0)).samples, noise.samples)
    assert np.array_equal(compress(noise, Curve(20.0, 4.0), Timing(5.0, 50.0)).samples, noise.samples)
    assert np.array_equal(parallel(noise, Curve(-40.0, 4.0), Timing(5.0, 50.0), float("-inf")).samples, noise.samples)


def test_make_up() -> None:
    noise = signals.signal(signals.pink(0.2))
    assert np.allclose(compress(noise, Curve(20.0, 1.0), Timing(5.0, 50.0), 6.0).samples, noise.samples * 10**0.3, rtol=1e-5, atol=0.0)


def test_parallel_raises_soft_moments_more_than_loud_ones() -> None:
    def grown_db(level_db: float) -> float:
        tone = signals.signal(signals.sine(500.0, 1.0, peak_dbfs=level_db))
        done = parallel(tone, Curve(-40.0, 10.0), Timing(1.0, 100.0), -3.0)
        return float(20 * np.log10(np.abs(done.samples[:, RATE // 2 :]).max() / np.abs(tone.samples).max()))

    assert grown_db(-60.0) == pytest.approx(20 * np.log10(1 + 10 ** (-3 / 20)), abs=0.05)  # untouched by the compressor: x (1 + blend)
    assert grown_db(-3.0) < 0.5


@pytest.mark.parametrize("wanted_db", [1.0, 2.0, 4.0])
def test_threshold_for_takes_off_what_was_asked(wanted_db: float) -> None:
    song, timing = signals.signal(signals.drums(4.0)), Timing(30.0, 100.0)
    threshold = threshold_for(song, wanted_db, 2.0, timing)
    assert threshold is not None
    assert np.quantile(reduction_db(song, Curve(threshold, 2.0), timing), 0.95) == pytest.approx(wanted_db, abs=0.1)


def test_silence_and_short() -> None:
    assert threshold_for(signals.signal(signals.silence(0.5)), 2.0, 2.0, Timing(5.0, 50.0)) is None
    assert threshold_for(Signal(np.zeros((2, 0), np.float32), RATE), 2.0, 2.0, Timing(5.0, 50.0)) is None
    assert not compress(signals.signal(signals.silence(0.1)), Curve(-40.0, 4.0), Timing(5.0, 50.0)).samples.any()
    assert compress(Signal(np.ones((1, 1), np.float32), RATE), Curve(-40.0, 4.0), Timing(0.0, 0.0)).samples[0, 0] < 0.1
