"""A limiter for peaks alone, without make-up.

It catches peaks above a ceiling and leaves the level of everything else as it is.
"""

from features.processors.dynamics.limiter import Setting, limit
from features.sound.signal import Signal

CATCHING = Setting(look_ahead_s=0.002, release_s=0.040)  # short enough to leave the sound around a stray peak alone; common practice


def peak_limiter(signal: Signal, ceiling_dbfs: float, setting: Setting = CATCHING) -> Signal:
    """Hold the true peak at or below ``ceiling_dbfs``.

    Where nothing is above it, the same samples come back.

    The kernel is that of `features.processors.dynamics.limiter`. It looks ahead by ``setting.look_ahead_s``, without delay: for pieces of a
    longer sound read that much more on the right, and some ten release times on the left.
    """
    return limit(signal, 0.0, ceiling_dbfs, setting).signal
