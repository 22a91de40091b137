"""Damage at the target: read where the target lies, nothing where no limiting is needed."""

from dataclasses import replace

import numpy as np
import pytest

from features.limiting.outlook import OutlookGoal, OutlookMeter, OutlookTrace, limiter_outlook
from features.outcomes.damage import point_at_target, point_on_curve
from features.records.base import Span
from features.records.outlook import Outlook
from features.sound.signal import Signal
from tests import records, signals

SECONDS = 8.0


def song() -> Signal:
    chord = 0.1 * signals.chord_wave(SECONDS)
    return signals.signal(0.4 * signals.drums(SECONDS) + signals.stereo(chord, np.roll(chord, 300)))


def driven(sound: Signal, target_lufs: float) -> tuple[OutlookTrace, float, Outlook]:
    meter = OutlookMeter(sound.rate_hz, sound.channels)
    for block in sound.blocks():
        meter.push(block)
    trace, peak = meter.finish(), float(np.abs(sound.samples).max())
    span = Span(0.0, SECONDS)
    return trace, peak, limiter_outlook(sound, trace, peak, span, signals.beat_times(SECONDS), OutlookGoal(target_lufs, -1.0))


def test_the_point_at_the_target_has_the_targets_loudness_and_agrees_with_the_curve() -> None:
    sound = song()
    trace, peak, outlook = driven(sound, -13.0)
    exact, read = point_at_target(sound, trace, peak, signals.beat_times(SECONDS), outlook), point_on_curve(outlook)
    assert exact is not None
    assert read is not None
    assert exact.lufs == pytest.approx(-13.0, abs=0.05)
    assert read.lufs == pytest.approx(-13.0, abs=0.2)
    assert read.pumping_db == pytest.approx(exact.pumping_db, abs=0.15)
    assert read.distortion_nmr_db == pytest.approx(exact.distortion_nmr_db, abs=2.0)


def test_a_louder_target_does_more_damage() -> None:
    sound = song()
    nmr_db = []
    for target_lufs in (-16.0, -13.0, -10.0):
        trace, peak, outlook = driven(sound, target_lufs)
        point = point_at_target(sound, trace, peak, signals.beat_times(SECONDS), outlook)
        assert point is not None
        nmr_db.append((point.pumping_db, point.distortion_nmr_db))
    assert nmr_db == sorted(nmr_db)
    assert nmr_db[0][0] < nmr_db[-1][0]


def test_a_song_past_its_target_is_not_limited() -> None:
    sound = song()
    trace, peak, outlook = driven(sound, -30.0)
    point = point_at_target(sound, trace, peak, signals.beat_times(SECONDS), outlook)
    assert point is not None
    assert point.drive_db == 0.0
    assert point.gain_reduction_p95_db == pytest.approx(0.0, abs=1e-6)


def test_out_of_reach_is_read_at_the_end_and_silence_not_at_all() -> None:
    outlook = records.outlook()
    last = point_on_curve(replace(outlook, drive_to_target_db=None))
    assert last is not None
    assert last.drive_db == outlook.curve[-1].drive_db
    assert point_on_curve(replace(outlook, curve=())) is None
