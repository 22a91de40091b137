"""Masking: what one sound leaves audible of another.

Power is collected in bands one Cam wide, spread over neighbouring bands as the ear does, and lowered by an offset: below that
threshold the other part is not heard. What has just sounded keeps masking for some 200 ms. Everything here is relative, so
the playback level plays no role; the threshold in quiet is left out for the same reason.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from features.sound.bands import Bands, erb_bands, overlap
from features.sound.compiled import kernel

Singles = NDArray[np.float32]
Floats = NDArray[np.float64]

OFFSET_DB = 4.0  # critical-band noise masks a tone some 4 dB below it (Hellman 1972, value recalled, not confirmed)
FORWARD_DB = 25.0  # decay of the threshold after the masker ends ...
FORWARD_S = 0.2  # ... over this time (gone at about 200 ms: Zwicker and Fastl, value recalled, not confirmed)
SOFT_DB = 3.0  # half width of the step from masked to audible
LOUDNESS_EXPONENT = 0.25  # of power; near Zwicker's 0.23 for specific loudness


def bark(frequency_hz: Floats) -> Floats:
    """Return the critical-band rate in Bark.

    ``26.81 f / (1960 + f) - 0.53`` (Traunmueller 1990).

    Examples
    --------
    >>> float(bark(np.array([1000.0]))[0].round(3))
    8.527
    """
    return 26.81 * frequency_hz / (1960 + frequency_hz) - 0.53


def spreading_db(distance_bark: Floats) -> Floats:
    """Return how far excitation lies below its masker, in dB.

    At ``distance_bark`` above it (negative = below it).
    Schroeder, Atal and Hall, JASA 66 (1979): ``15.81 + 7.5 (d + 0.474) - 17.5 sqrt(1 + (d + 0.474)**2)``.

    Examples
    --------
    >>> spreading_db(np.array([-1.0, 1.0])).round(2).tolist()
    [-7.91, -4.31]
    """
    shifted = distance_bark + 0.474
    spread: Floats = 15.81 + 7.5 * shifted - 17.5 * np.sqrt(1 + shifted**2)
    return spread


@dataclass(frozen=True, slots=True)
class Ear:
    """The bands masking is judged in.

    Their centres, and the matrix from band power to excitation.
    ``excitation = power @ spread``; ``spread`` has the shape ``(bands, ears)`` and leaves a flat spectrum flat.
    """

    centre_hz: Floats
    spread: Singles


def ear(rate_hz: int, bands: Bands) -> Ear:
    """Return excitation in Cam bands of power in ``bands``."""
    cams = erb_bands(rate_hz)
    collected = overlap(bands.low_hz, bands.high_hz, cams)
    place = bark(cams.centre_hz)
    spread = 10 ** (spreading_db(place[None, :] - place[:, None]) / 10)  # from masker (row) to maskee (column)
    spread /= spread.sum(axis=0, keepdims=True)
    return Ear(cams.centre_hz, (collected @ spread).astype(np.float32))


def forward_decay(hop_s: float) -> float:
    """Return the factor a past threshold falls by per frame."""
    return float(10 ** (-FORWARD_DB / 10 * hop_s / FORWARD_S))


@kernel
def audible_parts(
    hit: Singles,
    masker: Singles,
    everything: Singles,
    starts: NDArray[np.int64],
    spans: tuple[int, int, int],
    decay: float,
    audible: Floats,
    weight: Floats,
) -> None:
    """Add up each hit and its audible part.

    Per hit and ear band.
    ``hit``, ``masker`` and ``everything`` are excitations of shape ``(frames, ears)``. ``spans`` gives the frames a hit lasts, how
    many frames before its start the past ends, and how far back it reaches. ``heard`` and ``weight``, shape ``(hits, ears)``,
    are overwritten: the weight is the sum over the hit's frames of ``power ** 0.25``; heard counts each with 1 when it stands
    3 dB or more above the threshold, 0 when 3 dB or more below it, and in a straight line between.
    """
    lasts, gap, back = spans
    offset = 10 ** (-OFFSET_DB / 10)
    for n in range(len(starts)):
        start = starts[n]
        for band in range(hit.shape[1]):
            past = 0.0
            for frame in range(max(start - back, 0), max(start - gap, 0)):
                past = max(past * decay, everything[frame, band])
            past *= decay**gap
            audible[n, band] = 0.0
            weight[n, band] = 0.0
            for frame in range(start, min(start + lasts, hit.shape[0])):
                power = hit[frame, band]
                threshold = offset * max(masker[frame, band], past)
                past *= decay
                if power > 0.0:
                    over_db = 10 * np.log10(power / max(threshold, 1e-30))
                    loud = power**LOUDNESS_EXPONENT
                    weight[n, band] += loud
                    audible[n, band] += loud * min(max(0.5 + 0.5 * over_db / SOFT_DB, 0.0), 1.0)
