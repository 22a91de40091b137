"""A fixed delay between the channels.

From the phase of the long-term cross-spectrum.
"""

import numpy as np
from numpy.typing import NDArray

from features.sound import fourier
from features.sound.spectrogram import Spectrogram

Floats = NDArray[np.float64]

LEAST_MS, MOST_MS = 0.05, 30.0
LOW_HZ, HIGH_HZ = 100.0, 10000.0
LEAST_COHERENCE = 0.5
LEAST_PEAK = 0.8
RIVAL_SHARE = 0.8
LEAST_SPAN = 4.0  # two octaves: a lone tone has a phase, no delay
LEAST_FRAMES = 10
PADDING = 8


def _usable_bins(spectrogram: Spectrogram) -> tuple[NDArray[np.bool_], Floats]:
    """Return bins that carry sound (100 Hz-10 kHz, within 60 dB of the strongest), and every bin's magnitude-squared coherence."""
    product = spectrogram.fine_left * spectrogram.fine_right
    coherence = np.divide(np.abs(spectrogram.fine_cross) ** 2, product, out=np.zeros_like(product), where=product > 0.0)
    both = spectrogram.fine_left + spectrogram.fine_right
    inside = (spectrogram.fine_hz >= LOW_HZ) & (spectrogram.fine_hz <= HIGH_HZ)
    strongest = float(both[inside].max(initial=0.0))
    return inside & (both > strongest * 1e-6), coherence


def fixed_delay_ms(spectrogram: Spectrogram) -> tuple[float | None, str]:
    """Return how many ms the right channel is late.

    Negative: the left; or ``None`` and the reason.

    Notes
    -----
    Generalised cross-correlation with phase transform (Knapp and Carter 1976): bins are weighted by coherence, not by level, so that
    the answer does not hang on one loud note. A fixed delay is claimed only where one channel really is a late copy of the other:
    the long-term coherence is high over the band (unrelated reverb, spaced microphones and chorus lower it), the correlation has one clear
    peak, and that peak is away from zero. A delay shortens the overlap of the two analysis windows, so coherence at long delays is
    compared with what the window leaves of it.
    """
    usable, coherence = _usable_bins(spectrogram)
    used_hz = spectrogram.fine_hz[usable]
    if used_hz.size < 40 or used_hz[-1] < LEAST_SPAN * used_hz[0] or spectrogram.frames < LEAST_FRAMES:
        return None, "too little sound, or too few frequencies, to compare the channels' timing"
    weight = np.where(usable, np.sqrt(np.minimum(coherence, 1.0)), 0.0)
    magnitude = np.abs(spectrogram.fine_cross)
    phase = np.divide(spectrogram.fine_cross, magnitude, out=np.zeros_like(spectrogram.fine_cross), where=magnitude > 0.0)
    bin_hz = float(spectrogram.fine_hz[1])
    size = PADDING * 2 * (usable.size - 1)
    likeness = fourier.irfft(weight * phase, size) * size / (2.0 * float(weight.sum()) + 1e-30)
    lag_ms = (size // 2 - np.arange(size)) / (size * bin_hz) * 1000.0  # L conj(R) turns forward where right is late
    likeness = np.fft.fftshift(likeness)
    searched = np.abs(lag_ms) <= MOST_MS
    lag_ms, height = lag_ms[searched], np.abs(likeness[searched])
    best = int(height.argmax())
    delay_ms = _vertex(lag_ms, height, best)
    overlap = _window_overlap(abs(delay_ms) / 1000.0 * bin_hz)
    typical = float(np.median(coherence[usable])) / overlap**2
    away = height[np.abs(lag_ms - lag_ms[best]) > 1.0]
    if abs(delay_ms) < LEAST_MS:
        return None, "the channels are in time"
    if typical < LEAST_COHERENCE or height[best] < LEAST_PEAK or float(away.max(initial=0.0)) > RIVAL_SHARE * height[best]:
        return None, "the channels are not late copies of one another"
    return delay_ms, ""


def _window_overlap(share: float) -> float:
    """Return the autocorrelation of a Hann window at a lag of ``share`` of its length."""
    return float((1.0 - share) * (2.0 / 3.0 + np.cos(2.0 * np.pi * share) / 3.0) + np.sin(2.0 * np.pi * share) / (2.0 * np.pi))


def _vertex(lag_ms: Floats, height: Floats, at: int) -> float:
    """Return the lag of the parabola's vertex through the three points around ``at``."""
    if at in (0, height.size - 1):
        return float(lag_ms[at])
    before, here, after = height[at - 1 : at + 2]
    bend = before - 2.0 * here + after
    shift = 0.5 * (before - after) / bend if bend < 0.0 else 0.0
    return float(lag_ms[at] + shift * (lag_ms[at + 1] - lag_ms[at]))
