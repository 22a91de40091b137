"""A mastering chain as data.

What stands in it, in which order, with which settings; and the sound through it.
"""

from dataclasses import dataclass

import numpy as np

from features.elements.groups.glue import GLUE, KNEE_DB
from features.processors.dynamics.compressor import Curve, Timing, compress
from features.processors.dynamics.limiter import Setting, limit
from features.processors.dynamics.saturation import saturate
from features.processors.dynamics.waveshaper import raise_body
from features.sound.decibels import db_to_amplitude
from features.sound.signal import Samples, Signal

LOOK_AHEAD_S = 0.005


@dataclass(frozen=True, slots=True)
class Glue:
    """Glue compression over the whole mix.

    The threshold is against the mix as it comes in. No make-up: the limiter's gain sees to that.
    """

    threshold_dbfs: float
    ratio: float
    reduction_db: float
    attack_ms: float = GLUE.attack_ms
    release_ms: float = GLUE.release_ms
    knee_db: float = KNEE_DB

    def process(self, signal: Signal) -> Signal:
        """Compress a sound."""
        return compress(signal, Curve(self.threshold_dbfs, self.ratio, self.knee_db), Timing(self.attack_ms, self.release_ms))


@dataclass(frozen=True, slots=True)
class Saturation:
    """A soft curve before the limiter.

    The sound is raised by ``into_db`` first, so that its highest peak meets the curve at full scale.
    """

    drive_db: float
    into_db: float

    def process(self, signal: Signal) -> Signal:
        """Raise and saturate a sound."""
        return saturate(Signal(signal.samples * np.float32(db_to_amplitude(self.into_db)), signal.rate_hz), self.drive_db)


@dataclass(frozen=True, slots=True)
class Chain:
    """Glue, saturation, limiter, waveshaper, in this order.

    What is None or 0 is left out.

    ``gain_db`` goes into the limiter; ``drive_db`` is how far that pushes the highest peak past the ceiling. The waveshaper keeps peaks at
    the ceiling and raises what lies below, at most by ``raise_db``. ``trim_db`` (0 or less) stands last: it takes off by how much the
    waveshaper lifts the true peak between the samples.
    """

    ceiling_dbtp: float
    gain_db: float
    drive_db: float
    release_s: float
    glue: Glue | None = None
    saturation: Saturation | None = None
    raise_db: float = 0.0
    trim_db: float = 0.0

    @property
    def limits(self) -> bool:
        """Whether a limiter is needed.

        It is when anything passes the ceiling.
        """
        return self.drive_db > 0.0

    def front(self, signal: Signal) -> Signal:
        """Return the sound as it meets the limiter's gain."""
        for move in (self.glue, self.saturation):
            signal = signal if move is None else move.process(signal)
        return signal

    def process(self, signal: Signal) -> Signal:
        """Return the sound through the whole chain."""
        ready = self.front(signal)
        limited = limit(ready, self.gain_db, self.ceiling_dbtp, Setting(LOOK_AHEAD_S, self.release_s)).signal
        shaped = raise_body(limited, self.raise_db, self.ceiling_dbtp) if self.raise_db else limited
        return Signal(scaled(shaped.samples, self.trim_db), signal.rate_hz)


def scaled(samples: Samples, gain_db: float) -> Samples:
    """Return the samples times a gain."""
    return samples if gain_db == 0.0 else samples * np.float32(db_to_amplitude(gain_db))
