"""Mirrored sound: one channel is the other's mirror image.

As when one channel of a track is inverted.
"""

import numpy as np
from numpy.typing import NDArray

from features.sound.spectrogram import Spectrogram
from features.sound.windows import moving_mean

Floats = NDArray[np.float64]

SMOOTH_S = 0.45
MIRRORED = -0.65
GATE_DB = 25.0  # a band plays while it is within this of its own loud moments
SILENT = 1e-14


def mirrored_shares(spectrogram: Spectrogram) -> Floats:
    """Return the share of each band that is mirrored.

    Of its energy; shape ``(bands,)``; 0 where a band is silent.

    Notes
    -----
    Energies and products of the channels over half a second, band by band: correlation ``LR / sqrt(LL RR)`` below -0.65. Rooms, choruses
    and unrelated sounds scatter around 0 and hardly ever come there; a track with one channel inverted does where it is the strongest.
    """
    width = max(round(SMOOTH_S / spectrogram.hop_s), 1)
    if spectrogram.frames < width:
        return np.zeros(len(spectrogram.band_hz))
    parts = (spectrogram.left, spectrogram.right, spectrogram.cross)
    left, right, cross = (moving_mean(np.asarray(part, np.float64), width) for part in parts)
    both = left + right
    plays = both > np.maximum(np.quantile(both, 0.95, axis=0) * 10 ** (-GATE_DB / 10), SILENT)
    mirrored = cross < MIRRORED * np.sqrt(np.maximum(left * right, 0.0))
    energy = np.where(plays, both, 0.0)
    total = energy.sum(axis=0)
    return np.asarray(np.divide((energy * mirrored).sum(axis=0), total, out=np.zeros_like(total), where=total > 0.0))
