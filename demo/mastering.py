"""A small mastering chain for the demo's invented records.

Gentle tone, soft clip, and a limiter that looks ahead.
"""

from dataclasses import dataclass

import numpy as np

from demo.filters import cut, filtered, shelf
from demo.tones import RATE_HZ, Curve, amplitude_of, frames_of
from features.sound.signal import Samples

_CEILING_DBTP = -1.3
_SOFT_FROM = 0.80


def loudness_lufs(samples: Samples) -> float:
    """Return the integrated loudness of a whole sound.

    Gated (ITU-R BS.1770).
    """
    import pyloudnorm  # noqa: PLC0415

    return float(pyloudnorm.Meter(RATE_HZ).integrated_loudness(samples.T.astype(np.float64)))


def oversampled_peaks(samples: Samples) -> Curve:
    """Return the oversampled peak of each frame.

    The largest value of either channel on a clock four times as fast, frame centred.
    """
    from scipy.signal import firwin, lfilter  # noqa: PLC0415

    taps = 4.0 * firwin(4 * 10 + 1, 0.235, window=("kaiser", 5.0))
    delay = 5  # frames: the middle tap of the interpolating filter
    padded = np.concatenate([samples, np.zeros((samples.shape[0], delay + 1), dtype=np.float32)], axis=1)
    peaks: Curve = np.abs(samples).max(axis=0)
    for phase in range(1, 4):
        between = np.abs(lfilter(taps[phase::4].astype(np.float32), [1.0], padded)).max(axis=0)
        for shift in (delay, delay - 1):  # a value between two frames belongs to both
            np.maximum(peaks, between[shift : shift + peaks.size], out=peaks)
    return peaks


def _soft_clipped(samples: Samples) -> Samples:
    """Round off what exceeds the knee; nothing passes full scale."""
    size = np.abs(samples)
    room = np.float32(1.0 - _SOFT_FROM)
    rounded = np.float32(_SOFT_FROM) + room * np.tanh((size - np.float32(_SOFT_FROM)) / room)
    return np.where(size > _SOFT_FROM, np.copysign(rounded, samples), samples).astype(np.float32)


def _held_gain(gain: Curve, window_s: float) -> Curve:
    """Return a gain that is never above ``gain``: its least value nearby, smoothed over the same stretch."""
    from scipy.ndimage import minimum_filter1d, uniform_filter1d  # noqa: PLC0415

    width = frames_of(window_s) | 1
    least = minimum_filter1d(gain, 2 * width + 1, mode="nearest")
    once = uniform_filter1d(least.astype(np.float64), width, mode="nearest")
    return np.asarray(uniform_filter1d(once, width, mode="nearest"), dtype=np.float32)


def limited(samples: Samples, ceiling_dbtp: float = _CEILING_DBTP) -> Samples:
    """Limit in two stages.

    A slow one that takes half of the reduction, a quick one that takes the rest by the true peaks.
    """
    ceiling = np.float32(amplitude_of(ceiling_dbtp))
    slow = np.minimum(1.0, ceiling / np.maximum(np.abs(samples).max(axis=0), 1e-9)) ** 0.5
    eased = samples * _held_gain(slow.astype(np.float32), 0.06)
    quick = np.minimum(1.0, ceiling / np.maximum(oversampled_peaks(eased), 1e-9))
    return eased * _held_gain(quick.astype(np.float32), 0.003)


@dataclass(frozen=True, slots=True)
class Finish:
    """How a record is finished.

    Its loudness, and the taste in bass, treble and width of whoever mastered it.
    """

    target_lufs: float
    bass_db: float = 0.0
    treble_db: float = 0.0
    side_db: float = 0.0


def mastered(samples: Samples, finish: Finish) -> Samples:
    """Bring a mix to about the loudness asked for.

    With true peaks below -1 dBTP.
    """
    bass, treble = shelf(110.0, finish.bass_db, low=True), shelf(5000.0, finish.treble_db, low=False)
    toned = filtered(samples, cut(26.0, low=True), bass, treble)
    side = filtered(0.5 * (toned[0] - toned[1]), cut(180.0, low=True)) * np.float32(amplitude_of(finish.side_db) - 1.0)
    toned += np.stack([side, -side])
    driven = toned * np.float32(amplitude_of(finish.target_lufs - loudness_lufs(toned) + 0.4))
    result = limited(_soft_clipped(driven))
    largest = float(oversampled_peaks(result).max())
    return result * np.float32(min(1.0, amplitude_of(_CEILING_DBTP + 0.1) / largest))
