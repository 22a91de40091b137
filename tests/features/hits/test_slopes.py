"""What sustains rises again after a kick, though drums cover the dip."""

import numpy as np
import pytest

from features.hits.audibility import HitMeter
from features.hits.pumping import measure_pumping
from features.hits.slopes import rise_after
from tests import signals

RATE = 44100
DURATION = 20.0
HOP_S = 256 / 44100


def let_up(depth_db: float, release_s: float = 0.2) -> np.ndarray:
    """Gain that falls at every beat (120 BPM) and comes back exponentially in dB."""
    phase = (np.arange(round(DURATION * RATE)) / RATE) % 0.5
    return np.asarray(10 ** (-depth_db * np.exp(-phase / release_s) / 20))


def rise_of(wave: np.ndarray) -> float | None:
    samples = signals.drums(DURATION, RATE) + signals.stereo(wave)
    meter = HitMeter(RATE, 2)
    meter.push(samples)
    return measure_pumping(meter.finish()).rise_db


@pytest.mark.parametrize("depth_db", [4.0, 8.0])
def test_the_part_of_a_recovery_that_lies_there_is_read_beside_drums(depth_db: float) -> None:
    rise = rise_of(0.2 * signals.chord_wave(DURATION, RATE) * let_up(depth_db))
    assert rise == pytest.approx(depth_db * (np.exp(-0.05 / 0.2) - np.exp(-0.25 / 0.2)), abs=0.2 * depth_db)


def test_a_held_chord_and_one_that_dies_away_do_not_rise() -> None:
    assert rise_of(0.2 * signals.chord_wave(DURATION, RATE)) == pytest.approx(0.0, abs=0.2)
    phase = (np.arange(round(DURATION * RATE)) / RATE) % 0.5
    assert rise_of(0.2 * signals.chord_wave(DURATION, RATE) * np.exp(-3.0 * phase)) == pytest.approx(0.0, abs=0.05)


def test_a_swell_that_goes_on_is_no_recovery() -> None:
    kicks = np.arange(0, 3000, 86)
    assert rise_after(np.full(3000, 20.0, np.float32), kicks, kicks, HOP_S) == pytest.approx(0.0, abs=1e-6)
    falling_late = np.where(np.arange(3000) % 86 < 44, 20.0, -20.0).astype(np.float32)
    assert rise_after(falling_late, kicks, kicks, HOP_S) == pytest.approx(20.0 * 0.2, abs=1e-3)


def test_nothing_is_read_where_strokes_fill_the_time_or_nothing_sounds() -> None:
    kicks = np.arange(0, 3000, 86)
    assert rise_after(np.zeros(3000, np.float32), np.arange(0, 3000, 14), kicks, HOP_S) is None
    assert rise_after(np.full(3000, np.nan, np.float32), kicks, kicks, HOP_S) is None
