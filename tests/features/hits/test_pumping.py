"""Ducking after each kick."""

import numpy as np
import pytest

from features.hits.audibility import HitMeter
from features.hits.dips import Curves, half_recovered_ms, typical_dip
from features.hits.pumping import measure_pumping
from features.records.hits import Pumping
from features.sound.signal import Samples
from tests import signals

RATE = 44100
DURATION = 20.0


def pumping_of(samples: Samples, rate_hz: int = RATE, block: int = 1 << 17) -> Pumping:
    meter = HitMeter(rate_hz, samples.shape[0])
    for start in range(0, samples.shape[1], block):
        meter.push(samples[:, start : start + block])
    return measure_pumping(meter.finish())


def ducking(depth_db: float, rate_hz: int = RATE, hold_s: float = 0.1, release_s: float = 0.1) -> np.ndarray:
    """Gain that falls within 5 ms at every beat (120 BPM), holds, and recovers in a straight line of dB."""
    phase = (np.arange(round(DURATION * rate_hz)) / rate_hz) % 0.5
    shape = np.clip(phase / 0.005, 0, 1) * np.clip(1 - (phase - hold_s) / release_s, 0, 1)
    return np.asarray(10 ** (-depth_db * shape / 20))


def pad(kind: str, rate_hz: int = RATE) -> np.ndarray:
    return 0.1 * signals.chord_wave(DURATION, rate_hz) if kind == "chord" else signals.pink_wave(DURATION, rate_hz, -26.0)


def kicks(rate_hz: int = RATE) -> np.ndarray:
    return 0.7 * signals.placed(signals.kick_wave(rate_hz), signals.beat_times(DURATION), DURATION, rate_hz)


@pytest.mark.parametrize("kind", ["chord", "noise"])
@pytest.mark.parametrize("depth_db", [1.5, 3.0, 6.0])
def test_a_planted_dip_is_read_within_half_a_decibel(kind: str, depth_db: float) -> None:
    pumping = pumping_of(signals.stereo(pad(kind) * ducking(depth_db) + kicks()))
    assert pumping.depth_db == pytest.approx(depth_db, abs=0.5)
    assert pumping.share_of_kicks is not None
    assert pumping.share_of_kicks > 0.8
    assert pumping.recovery_ms == pytest.approx(150.0, abs=25.0)  # held for 100 ms, half way back 50 ms later
    assert len(pumping.where) > 0


@pytest.mark.parametrize("kind", ["chord", "noise"])
def test_the_kick_itself_is_no_dip(kind: str) -> None:
    pumping = pumping_of(signals.stereo(pad(kind) + kicks()))
    assert pumping.depth_db == pytest.approx(0.0, abs=0.3)
    assert pumping.share_of_kicks == pytest.approx(0.0, abs=0.05)
    assert pumping.recovery_ms is None
    assert pumping.where == ()
    assert [absence.field for absence in pumping.absent] == ["recovery_ms"]


def test_nor_are_snare_and_hats() -> None:
    assert pumping_of(signals.drums(DURATION, RATE) + signals.stereo(pad("noise"))).depth_db == pytest.approx(0.0, abs=0.5)


@pytest.mark.parametrize("rate_hz", [48000, 96000])
def test_rate_gain_and_blocks_do_not_matter(rate_hz: int) -> None:
    samples = signals.stereo(pad("chord", rate_hz) * ducking(3.0, rate_hz) + kicks(rate_hz))
    whole = pumping_of(samples, rate_hz)
    assert whole.depth_db == pytest.approx(3.0, abs=0.5)
    assert pumping_of(samples, rate_hz, block=9973) == whole
    assert pumping_of(samples * np.float32(0.25), rate_hz).depth_db == pytest.approx(whole.depth_db, abs=0.01)


def test_only_the_second_half_pumps() -> None:
    gain = ducking(4.0)
    gain[: len(gain) // 2] = 1.0
    pumping = pumping_of(signals.stereo(pad("chord") * gain + kicks()))
    assert pumping.share_of_kicks == pytest.approx(0.5, abs=0.1)


def test_what_dies_away_is_no_dip() -> None:
    falling = np.linspace(0.0, -9.0, 96)
    back = np.concatenate([np.zeros(20), np.full(30, -3.0), np.zeros(46)])
    assert typical_dip(Curves(np.tile(falling, (5, 1)), 17, 0.0058))[1] < 0.7
    lowest, depth = typical_dip(Curves(np.tile(back, (5, 1)), 17, 0.0058))
    assert depth == pytest.approx(3.0, abs=0.01)
    assert half_recovered_ms(Curves(np.tile(back, (5, 1)), 17, 0.0058), lowest, depth) == pytest.approx((50 - 17) * 5.8, abs=12.0)


@pytest.mark.parametrize(
    ("samples", "reason"),
    [
        (signals.silence(3.0, RATE), "no kick was found"),
        (signals.pink(5.0, RATE), "no kick was found"),
        (np.zeros((1, 1), np.float32), "no kick was found"),
    ],
)
def test_without_kicks_there_is_nothing_to_read(samples: Samples, reason: str) -> None:
    pumping = pumping_of(samples)
    assert (pumping.depth_db, pumping.recovery_ms, pumping.share_of_kicks, pumping.rise_db, pumping.where) == (None, None, None, None, ())
    assert {absence.reason for absence in pumping.absent} == {reason}
