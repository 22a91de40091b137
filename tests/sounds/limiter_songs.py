"""Made-up songs for the limiter, and what the outlook needs to read them."""

import numpy as np

from features.limiting.outlook import OutlookGoal, OutlookMeter, OutlookTrace, limiter_outlook
from features.loudness.level import LevelMeter
from features.records.base import Span
from features.records.outlook import Outlook
from features.sound.signal import Samples, Signal
from tests import signals

BEAT_S = 0.5


def song(duration_s: float = 12.0, rate_hz: int = signals.RATE_HZ, kick: float = 1.0, bass_db: float = -12.0) -> Samples:
    """Drums over a bass tone, a chord and air; ``kick`` scales the drums, the bass is a 50 Hz tone of ``bass_db``."""
    chord = 0.15 * signals.chord_wave(duration_s, rate_hz) + signals.sine_wave(50.0, duration_s, rate_hz, bass_db)
    air = signals.pink_wave(duration_s, rate_hz, -34.0)
    return kick * signals.drums(duration_s, rate_hz) + signals.stereo(chord + air, chord - air)


def trace(samples: Samples, rate_hz: int = signals.RATE_HZ, block: int = 1 << 17) -> OutlookTrace:
    meter = OutlookMeter(rate_hz, samples.shape[0])
    for part in Signal(samples, rate_hz).blocks(block):
        meter.push(part)
    return meter.finish()


def outlook(
    samples: Samples, rate_hz: int = signals.RATE_HZ, target_lufs: float = -13.0, ceiling_dbtp: float = -1.0, *, hits: bool = True
) -> Outlook:
    """Return the outlook with the whole sound as its densest stretch and a hit on every beat."""
    level = LevelMeter(rate_hz, samples.shape[0])
    level.push(samples)
    duration_s = samples.shape[1] / rate_hz
    times_s = tuple(float(time) for time in np.arange(0.0, duration_s, BEAT_S)) if hits else ()
    return limiter_outlook(
        Signal(samples, rate_hz),
        trace(samples, rate_hz),
        float(level.finish().true_peak.max(initial=0.0)),
        Span(0.0, duration_s),
        times_s,
        OutlookGoal(target_lufs, ceiling_dbtp),
    )
