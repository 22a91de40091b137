"""Effective bit depth.

The finest grid that a file's samples lie on.
"""

import numpy as np
from numpy.typing import NDArray

MOST_BITS = 24  # samples are scanned as whole steps of 2**-23
COARSEST_STEP = 16
MISFIT_STEPS = 2.0
LEAST_VALUES = 50


def _scaled_grid_bits(small: NDArray[np.bool_]) -> int | None:
    """Return the bits of a grid whose step is no power of two: coarse samples that went through a gain afterwards.

    The smallest size that occurs is taken as the step, made exact from ever larger sizes; all sizes must then be whole multiples of
    it, to within rounding and dither (2 steps of 2**-23).
    """
    sizes = np.flatnonzero(small[1:]) + 1.0
    if sizes.size < LEAST_VALUES or sizes[0] < COARSEST_STEP - MISFIT_STEPS:
        return None
    clusters = sizes[np.concatenate([[True], np.diff(sizes) > 2 * MISFIT_STEPS + 1])]
    step = float(clusters[0])
    for size in clusters[:2000].tolist():
        step = size / round(size / step) if abs(size - round(size / step) * step) <= 2 * MISFIT_STEPS + 1 else step
    misfit = np.abs(sizes - np.round(sizes / step) * step)
    return int(np.floor(MOST_BITS - np.log2(step))) if step >= COARSEST_STEP and misfit.max() <= 2 * MISFIT_STEPS else None


def effective_bits(used: int, finer: int, small: NDArray[np.bool_], bits: int | None, *, floating: bool) -> tuple[int | None, str]:
    """Return the number of bits that change.

    ``None`` and the reason where there is none.

    Parameters
    ----------
    used
        Bitwise OR of all sample sizes, in steps of 2**-23.
    finer
        How many samples are no whole number of such steps.
    small
        Which sizes below 65536 steps occur.
    bits, floating
        Bits the format can hold, and whether it is a floating-point format.

    Notes
    -----
    Dithered 16-bit sound is 16-bit. A plain 24-bit or float file whose samples sit on a coarser grid times some gain is given that
    grid's bits, rounded down.
    """
    if used == 0:
        return None, "the file is silent"
    scaled = _scaled_grid_bits(small)
    if finer > 0:
        if scaled is not None:
            return scaled, ""
        return (None, "floating-point samples without a fixed grid") if floating else (bits, "")
    plain = MOST_BITS - ((used & -used).bit_length() - 1)
    grid_bits = plain if scaled is None else min(plain, scaled)
    return (grid_bits if bits is None else min(grid_bits, bits)), ""
