"""Curves run on sound at four times its rate.

So that the harmonics they make do not fold back.

Only the difference ``f(x) - x`` is made at the higher rate and filtered on its way back; the sound itself passes untouched, bit by bit.
Upwards and downwards: Kaiser-windowed sinc, 32 taps per phase. A piece of a longer sound needs `CONTEXT` frames on both sides.
"""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from features.sound.compiled import kernel
from features.sound.interpolation import interpolation_taps
from features.sound.signal import Samples

Singles = NDArray[np.float32]
Curve = Callable[[Singles], Singles]

PHASES = 4
TAPS = 32
BETA = 8.0
HALF = TAPS // 2
CONTEXT = TAPS
CHUNK = 1 << 15


@kernel
def _up(padded: Singles, taps: Singles, out: Singles) -> None:
    """Write the values between samples: ``out[p, n]`` at ``n + (p + 1) / PHASES``."""
    for p in range(taps.shape[0]):
        out[p, :] = 0.0
        for k in range(taps.shape[1]):
            piece = padded[k : k + out.shape[1]]
            tap = taps[p, k]
            for n in range(out.shape[1]):
                out[p, n] += tap * piece[n]


@kernel
def _down(fine: Singles, taps: Singles, out: Singles) -> None:
    """Add what lies between the samples, weighted by the same filter turned round; ``fine[p, n + HALF]`` belongs to ``n``."""
    width = taps.shape[1]
    for p in range(taps.shape[0]):
        for k in range(width):
            piece = fine[p, width - 1 - k : width - 1 - k + out.shape[0]]
            tap = taps[p, k]
            for n in range(out.shape[0]):
                out[n] += tap * piece[n]


def added(wave: Singles, curve: Curve) -> Singles:
    """Return what a curve adds, without what folds back.

    ``f(x) - x``, shape ``(frames,)``; silence is assumed around ``wave``.
    """
    taps = interpolation_taps(PHASES, TAPS, BETA)
    padded = np.pad(wave, 2 * TAPS)
    done = np.empty_like(wave)
    for start in range(0, wave.size, CHUNK):
        count = min(CHUNK, wave.size - start)
        # Fine values are needed for frames start - HALF .. start + count + HALF - 1.
        first = start + 2 * TAPS - HALF
        fine = np.empty((PHASES - 1, count + TAPS - 1), np.float32)
        _up(padded[first - HALF + 1 : first + count + TAPS + HALF], taps, fine)
        fine = curve(fine) - fine
        here = padded[start + 2 * TAPS : start + 2 * TAPS + count]
        total = curve(here) - here
        _down(fine, taps, total)
        done[start : start + count] = total / np.float32(PHASES)
    return done


def shaped(samples: Samples, curve: Curve) -> Samples:
    """Return ``samples`` through ``curve``, shape ``(channels, frames)``."""
    return np.stack([wave + added(wave, curve) for wave in np.ascontiguousarray(samples)]) if samples.size else samples
