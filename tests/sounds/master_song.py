"""A short song for mastering: drums, bass and chords, none of which repeats."""

from functools import lru_cache

import numpy as np

from features.sound.signal import Signal
from tests.signals import KEPT

RATE = 44100
SECONDS = 12
HITS_S = np.cumsum(np.random.default_rng(3).uniform(0.2, 0.6, 30)) + 0.2


@lru_cache(KEPT)
def song(rate_hz: int = RATE, seconds: int = SECONDS) -> Signal:
    """Return drums, bass and chords that change, since a song that repeats itself hides a gain at its hits as an equaliser."""
    rng = np.random.default_rng(7)
    times_s = np.arange(rate_hz * seconds) / rate_hz
    mono = np.zeros(times_s.size)
    for number, at in enumerate(HITS_S[seconds - 0.3 > HITS_S]):
        here = times_s >= at
        since = times_s[here] - at
        kick = np.sin(2 * np.pi * rng.uniform(50, 90) * since) * np.exp(-since / 0.08)
        snare = rng.normal(size=since.size) * np.exp(-since / 0.05) * 0.4
        mono[here] += (kick if number % 2 else snare) * rng.uniform(0.4, 1.0)
    for start in range(seconds):
        here = (times_s >= start) & (times_s < start + 1)
        notes = 110 * 2 ** (rng.integers(0, 36, 5) / 12)
        mono[here] += sum(np.sin(2 * np.pi * note * times_s[here]) for note in notes) * rng.uniform(0.02, 0.12) * np.hanning(here.sum())
    air = rng.normal(size=(2, times_s.size)) * 0.01
    samples = (mono + air).astype(np.float32)
    samples.setflags(write=False)  # tests share it
    return Signal(samples, rate_hz)
