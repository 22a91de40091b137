"""Gated loudness and loudness range from energies.

ITU-R BS.1770-5, EBU Tech 3342; pure functions over short arrays.
An energy here is the mean square of the K-weighted sound, summed over the channels (weight 1 each, as for left and right).
"""

import math

import numpy as np
from numpy.typing import NDArray

from features.sound.decibels import power_to_db

Floats = NDArray[np.float64]

OFFSET_LU = -0.691
ABSOLUTE_GATE_LUFS = -70.0
RELATIVE_GATE_LU = -10.0
BLOCK_STEPS = 40  # 400 ms in steps of 10 ms
HOP_STEPS = 10  # 75 % overlap
SHORT_TERM_STEPS = 300
RANGE_GATE_LU = -20.0
RANGE_TAIL_STEPS = 150  # silence appended to a file before the range is read


def loudness(energy: float) -> float | None:
    """Return ``-0.691 + 10 log10(energy)`` in LUFS.

    ``None`` for silence (BS.1770-5, equation 2).

    Examples
    --------
    >>> loudness(1.0)
    -0.691
    """
    level = power_to_db(energy)
    return None if level is None else OFFSET_LU + level


def energy_at(lufs: float) -> float:
    """Return the energy that has the loudness ``lufs``.

    The inverse of `loudness`.
    """
    return float(10.0 ** ((lufs - OFFSET_LU) / 10.0))


def sliding_means(values: Floats, width: int, hop: int = 1) -> Floats:
    """Return the mean of every ``width`` neighbouring values, every ``hop``.

    Whole windows only, shape ``(windows,)``.

    Examples
    --------
    >>> sliding_means(np.array([1.0, 3.0, 5.0, 7.0]), 2).tolist()
    [2.0, 4.0, 6.0]
    """
    if len(values) < width:
        return np.zeros(0)
    if hop > 1 and width % hop == 0:  # sums of sums: no large running total, so quiet passages keep their precision
        groups = values[: len(values) // hop * hop].reshape(-1, hop).sum(axis=1)
        return sliding_means(groups, width // hop) / hop
    totals = np.concatenate([np.zeros(1), np.cumsum(values)])
    means: Floats = np.maximum(totals[width:] - totals[:-width], 0.0)[::hop] / width
    return means


def gated_energy(block_energy: Floats) -> float | None:
    """Return the mean energy of the blocks above both gates.

    ``None`` when none is above the absolute gate.

    Parameters
    ----------
    block_energy
        Energies of the 400 ms blocks, shape ``(blocks,)``.

    Notes
    -----
    BS.1770-5, Annex 1, equations 3 to 7: blocks above -70 LUFS, then of these the ones above their own mean minus 10 LU.
    """
    loud = block_energy[block_energy > energy_at(ABSOLUTE_GATE_LUFS)]
    if len(loud) == 0:
        return None
    gate = float(np.mean(loud)) * 10.0 ** (RELATIVE_GATE_LU / 10.0)
    return float(np.mean(loud[loud > gate]))


def gated_loudness(block_energy: Floats) -> float | None:
    """Return the gated loudness in LUFS of 400 ms blocks.

    Shape ``(blocks,)``; ``None`` when all are below -70 LUFS.

    Examples
    --------
    >>> gated_loudness(np.array([1.0, 1.0, 0.01]))
    -0.691
    >>> gated_loudness(np.zeros(5)) is None
    True
    """
    energy = gated_energy(block_energy)
    return None if energy is None else loudness(energy)


def integrated_from_steps(k_energy_sum_per_step: Floats) -> float | None:
    """Return integrated loudness in LUFS from step energies.

    Energies of 10 ms steps, shape ``(steps,)``; incomplete last blocks are left out.

    Examples
    --------
    >>> integrated_from_steps(np.full(100, 1.0))
    -0.691
    >>> integrated_from_steps(np.full(39, 1.0)) is None  # shorter than one block
    True
    """
    return gated_loudness(sliding_means(k_energy_sum_per_step, BLOCK_STEPS, HOP_STEPS))


def loudness_range(k_energy_sum_per_step: Floats) -> float | None:
    """Return the loudness range in LU from step energies.

    Energies of 10 ms steps; ``None`` when no 3 s window passes the gates.

    Parameters
    ----------
    k_energy_sum_per_step
        Shape ``(steps,)``.

    Notes
    -----
    EBU Tech 3342 (2023): 3 s windows every 100 ms, 1.5 s of silence appended, gate at -70 LUFS, then at the mean energy of
    what is left minus 20 LU; the distance from the 10th to the 95th percentile, indices rounded, half away from zero.
    """
    if len(k_energy_sum_per_step) < SHORT_TERM_STEPS:
        return None
    padded = np.concatenate([k_energy_sum_per_step, np.zeros(RANGE_TAIL_STEPS)])
    windows = sliding_means(padded, SHORT_TERM_STEPS, HOP_STEPS)
    loud = windows[windows >= energy_at(ABSOLUTE_GATE_LUFS)]
    if len(loud) == 0:
        return None
    gated = np.sort(loud[loud >= np.mean(loud) * 10.0 ** (RANGE_GATE_LU / 10.0)])
    low, high = (gated[math.floor((len(gated) - 1) * share + 0.5)] for share in (0.10, 0.95))
    return float(10.0 * np.log10(high / low))
