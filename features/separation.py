"""Harmonic-percussive separation: what strikes against what sustains, on logarithmic bands."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class PartCurves:
    """Mean power of both parts of the song over all its frames, in third-octave bands.

    Attributes
    ----------
    band_hz
        Third-octave centres (``features.bands.third_octaves``), shape ``(bands,)``.
    percussive, sustained
        Mean-square power in each band (not per Hz; full scale = 1), shape ``(bands,)``. Divide by the bands' width for
        power per Hz. Zero where the song holds nothing.
    """

    band_hz: Floats
    percussive: Floats
    sustained: Floats
