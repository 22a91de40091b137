"""A hard-clipped sine against its closed form: the share of samples at the rail is 1 - 2 asin(c) / pi."""

import numpy as np
import pytest

from tests import signals
from tests.sounds.meters import health_of


# Drive in dB and rail c of a sine of amplitude 1 (closed form; the same table as the harmonics of clipping).
@pytest.mark.parametrize(
    ("drive_db", "rail"), [(0.45, 0.95), (0.92, 0.90), (1.0, 0.89125), (2.0, 0.79433), (3.0, 0.70795), (6.02, 0.5), (10.0, 0.31623)]
)
@pytest.mark.parametrize("frequency_hz", [100.0, 375.0])
def test_each_half_wave_has_one_run_of_the_expected_length(drive_db: float, rail: float, frequency_hz: float) -> None:
    assert signals.amplitude(-drive_db) == pytest.approx(rail, rel=2e-3)
    seconds, rate_hz = 4, 48000
    wave = np.clip(signals.sine_wave(frequency_hz, seconds, rate_hz), -rail, rail)
    health = health_of(signals.mono(wave), rate_hz)
    half_waves = round(2 * frequency_hz * seconds)
    share = 1.0 - 2.0 * np.arcsin(rail) / np.pi
    assert health.clipped_runs == pytest.approx(half_waves, abs=1)
    assert health.clipped_longest == pytest.approx(share * rate_hz / (2.0 * frequency_hz), abs=1.01)
    assert health.clip_level_dbfs == pytest.approx(20.0 * np.log10(rail), abs=0.001)
