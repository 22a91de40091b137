"""What is left in mono."""

import numpy as np
import pytest

from features.elsewhere.mono import mono_shares

RATE_HZ = 44100
NOISE = np.random.default_rng(1).standard_normal((2, 4 * RATE_HZ)).astype(np.float32)


@pytest.mark.parametrize(("right", "share"), [(NOISE[0], 1.0), (NOISE[1], 0.5), (-NOISE[0], 0.0), (0 * NOISE[0], 0.5)])
def test_equal_unrelated_opposed_and_missing_channels(right: np.ndarray, share: float) -> None:
    shares = mono_shares([np.stack([NOISE[0], right])], RATE_HZ)
    assert np.mean(shares) == pytest.approx(share, abs=0.02)


def test_a_mono_block_and_silence_lose_nothing() -> None:
    assert mono_shares([NOISE[:1]], RATE_HZ) == pytest.approx(1.0)
    assert mono_shares([np.zeros((2, RATE_HZ), np.float32)], RATE_HZ) == pytest.approx(1.0)


def test_how_the_sound_is_cut_hardly_matters() -> None:
    whole, parts = mono_shares([NOISE], RATE_HZ), mono_shares(np.array_split(NOISE, 3, axis=1), RATE_HZ)
    assert parts == pytest.approx(whole, abs=0.1)
