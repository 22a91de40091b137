"""Pan: the level difference asked for, constant power for what is in the middle."""

import numpy as np
import pytest

from features.processors.placement.pan import pan, pan_gains
from tests import signals


@pytest.mark.parametrize("gain_db", [-60.0, -6.0, 3.0, 12.0])
def test_level_difference_and_power(gain_db: float) -> None:
    left, right = pan_gains(gain_db)
    assert 20 * np.log10(right / left) == pytest.approx(gain_db)
    assert left**2 + right**2 == pytest.approx(2.0)  # sine-cosine law, textbook
    assert max(left, right) <= np.sqrt(2.0)


def test_mono_becomes_stereo_and_keeps_its_power() -> None:
    wave = signals.signal(signals.mono(signals.pink_wave(0.5)))
    moved = pan(wave, 6.0).samples
    assert moved.shape[0] == 2
    power = np.mean(np.square(moved, dtype=np.float64), axis=1)
    assert 10 * np.log10(power[1] / power[0]) == pytest.approx(6.0, abs=1e-4)
    assert power.sum() == pytest.approx(2 * np.mean(np.square(wave.samples, dtype=np.float64)), rel=1e-5)


def test_other_way_is_the_mirror_image() -> None:
    sound = signals.signal(signals.pink(0.2, correlation=0.3))
    mirrored = signals.signal(sound.samples[::-1])
    assert np.array_equal(pan(sound, 4.0).samples, pan(mirrored, -4.0).samples[::-1])


def test_zero_returns_the_same_samples() -> None:
    for channels in (1, 2):
        sound = signals.signal(signals.silence(0.1, channels=channels))
        assert pan(sound, 0.0) is sound
