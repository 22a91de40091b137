"""Tempo: the period at which the onset strength repeats itself."""

import numpy as np
from numpy.typing import NDArray

from features.sound import fourier

SLOWEST_BPM = 50.0
FASTEST_BPM = 220.0
USUAL_BPM = 120.0
STEP_BPM = 0.05
OCTAVES_WIDE = 1.0  # standard deviation of the preference for usual tempi (Ellis 2007; value common practice)
LEAST_S = 8.0
LEAST_PEAK = 0.1
PIECE_S = 60.0


def _autocorrelation(strength: NDArray[np.float32], lags: int) -> NDArray[np.float64]:
    """Return the autocorrelation up to ``lags``, normalised to 1 at lag 0 and freed of the shorter overlap."""
    size = fourier.next_fast_len(len(strength) + lags, real=True)
    centred = strength.astype(np.float64) - float(np.mean(strength, dtype=np.float64))
    spectrum = fourier.rfft(centred, size)
    raw = fourier.irfft(np.abs(spectrum) ** 2, size)[:lags]
    free = raw * len(strength) / (len(strength) - np.arange(lags))
    scaled: NDArray[np.float64] = free / max(float(raw[0]), 1e-30)
    return scaled


def tempo_bpm(strength_db: NDArray[np.float32], hop_s: float) -> float | None:
    """Return the tempo in beats per minute.

    ``None`` without a steady beat, or for less than 8 s.

    Parameters
    ----------
    strength_db
        Onset strength per frame, shape ``(frames,)``.
    hop_s
        Time from frame to frame in seconds.

    Notes
    -----
    The strength is cut at its 99th percentile, smoothed over some 35 ms, and its autocorrelation averaged over pieces of
    60 s. The beat is the lag between 50 and 220 BPM with the highest product of mean correlation at one, two and four times the
    lag and a log-Gaussian preference around 120 BPM (Ellis, "Beat tracking by dynamic programming", 2007). A beat whose correlation
    stays under 0.1 counts as none.

    Examples
    --------
    >>> strength = np.zeros(4000, np.float32)
    >>> strength[::100] = 10.0
    >>> tempo_bpm(strength, 0.005)
    120.0
    """
    lags = int(4 * 60 / SLOWEST_BPM / hop_s) + 3
    if len(strength_db) * hop_s < LEAST_S or not np.any(strength_db > 0):
        return None
    cut = np.minimum(strength_db, max(float(np.quantile(strength_db, 0.99)), float(strength_db.max()) * 0.1))
    smooth = np.convolve(cut, np.array([1, 2, 3, 2, 1], np.float32) / 9, mode="same")
    pieces = max(round(len(smooth) * hop_s / PIECE_S), 1)
    parts = [part for part in np.array_split(smooth, pieces) if np.any(part > 0)]
    lags = min(lags, min(len(part) for part in parts) // 2)
    correlation = np.mean([_autocorrelation(part, lags) for part in parts], axis=0)
    return _best(correlation, hop_s)


def _best(correlation: NDArray[np.float64], hop_s: float) -> float | None:
    index = np.arange(len(correlation), dtype=np.float64)
    tempi = np.arange(round((FASTEST_BPM - SLOWEST_BPM) / STEP_BPM) + 1) * STEP_BPM + SLOWEST_BPM
    periods = 60 / tempi / hop_s
    multiples = np.array([1.0, 2.0, 4.0])
    at = np.outer(periods, multiples)
    read = np.interp(at, index, correlation)
    read[at > len(correlation) - 1] = np.nan
    strength = np.nanmean(read, axis=1)
    preference = np.exp(-0.5 * (np.log2(tempi / USUAL_BPM) / OCTAVES_WIDE) ** 2)
    best = int(np.argmax(strength * preference))
    if not strength[best] > LEAST_PEAK:
        return None
    return float(np.round(tempi[best], 2))
