"""The dynamic bell: nothing below its threshold, the static bell at its deepest."""

import numpy as np
import pytest

from features.processors.dynamics.compressor import Curve
from features.processors.dynamics.dynamic_band import DynamicBell, dynamic_bell
from features.processors.equalisers.eq import bell
from tests import signals

RATE = signals.RATE_HZ


def test_below_the_threshold_nothing_changes() -> None:
    noise = signals.signal(signals.pink(0.5, rms_dbfs=-40.0))
    assert np.array_equal(dynamic_bell(noise, 300.0, -6.0, 1.0, threshold_dbfs=0.0).samples, noise.samples)


def test_zero_gain_returns_the_same_samples() -> None:
    noise = signals.signal(signals.pink(0.2))
    assert dynamic_bell(noise, 300.0, 0.0, 1.0, threshold_dbfs=-90.0) is noise


@pytest.mark.parametrize("q", [0.7, 2.0])
def test_far_above_the_threshold_it_is_the_static_bell(q: float) -> None:
    noise = signals.signal(signals.pink(2.0))
    moved = dynamic_bell(noise, 300.0, -6.0, q, threshold_dbfs=-120.0).samples
    assert np.allclose(moved[:, RATE:], bell(noise, 300.0, -6.0, q).samples[:, RATE:], rtol=0.0, atol=1e-4)


def test_tone_in_the_band_is_cut_and_tone_outside_is_not() -> None:
    def cut_db(frequency_hz: float, level_db: float) -> float:
        tone = signals.signal(signals.sine(frequency_hz, 2.0, peak_dbfs=level_db))
        done = dynamic_bell(tone, 300.0, -8.0, 4.0, threshold_dbfs=-20.0).samples[:, RATE:]
        return float(20 * np.log10(np.abs(done).max()) - level_db)

    assert cut_db(300.0, -3.0) == pytest.approx(-8.0, abs=0.1)
    assert -8.0 < cut_db(300.0, -16.0) < -1.0  # 4 dB over at 4:1 asks for 3 dB
    assert cut_db(300.0, -30.0) == pytest.approx(0.0, abs=1e-4)
    assert abs(cut_db(5000.0, -3.0)) < 0.1


@pytest.mark.parametrize("block", [97, 5000])
def test_blocks_give_what_one_piece_gives(block: int) -> None:
    samples = signals.drums(1.0)
    whole, in_blocks = (DynamicBell(RATE, 2, (80.0, -6.0, 1.0), Curve(-20.0, 4.0)) for _ in range(2))
    parts = [in_blocks.process(samples[:, at : at + block]) for at in range(0, samples.shape[1], block)]
    assert np.allclose(np.concatenate(parts, axis=1), whole.process(samples), rtol=0.0, atol=1e-7)


def test_only_cuts() -> None:
    with pytest.raises(ValueError, match="only cuts"):
        dynamic_bell(signals.signal(signals.silence(0.1)), 300.0, 3.0, 1.0, threshold_dbfs=-20.0)
