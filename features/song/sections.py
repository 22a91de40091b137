"""The song's course.

Its parts, its densest stretch, and the step between quiet and loud.
"""

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from features.loudness.densest import find_densest
from features.loudness.level import LevelTrace, stretch_loudness
from features.records.base import Absence, Span
from features.records.sections import Section, Sections
from features.song.even_steps import measure_even_steps
from features.sound.decibels import powers_to_db
from features.sound.measurement import measurement
from features.sound.spectrogram import Spectrogram

Floats = NDArray[np.float64]

CELL_S = 1.0
SHORTEST_CELLS = 5  # no section is shorter than this many seconds
LONGEST_CELLS = 600  # keeps the search linear for very long sounds
RANGE_DB = 30.0  # what lies further below a band's usual top counts as absent,
ALL_RANGE_DB = 50.0  # and so does what lies further below the strongest band's
LAG_CELLS = 4  # a band's ordinary unrest is read over this distance
LEAST_UNREST_DB = 1.5
PENALTY = 12.0  # price of a boundary, in squared unrests; a change of one unrest must hold for 24 s on both sides
MUSIC_S = 8.0  # a shorter section is a break
INTRO_S = 30.0  # a first or last section up to this length is taken for intro or ending


@measurement
def measure_sections(level: LevelTrace, spectrogram: Spectrogram) -> Sections:
    """Return a song's sections and its densest 30 s.

    Parameters
    ----------
    level
        From `features.loudness.level.LevelMeter`.
    spectrogram
        From `features.sound.spectrogram.SpectrogramMeter`, of the same sound.

    Notes
    -----
    Sections are stretches within which the sound stays alike. Every second gives one level in dB per octave (three
    third-octave bands together) and the K-weighted level, each over its own ordinary unrest (median change within 4 s);
    boundaries are set where they minimise the squared distance of all seconds from the mean of their section, plus a fixed
    price per boundary. The best set is found exactly by dynamic programming (optimal partitioning: Jackson et al. 2005,
    IEEE Signal Processing Letters 12, 105). The price and the shortest length are common practice, no published source.
    """
    densest = find_densest(level)
    edges = _boundaries(_features(level, spectrogram), level.duration_s)
    sections = tuple(Section(start, end, stretch_loudness(level, Span(start, end))) for start, end in pairwise(edges))
    quietest, step_lu = _quiet_to_loud(sections)
    absent = []
    if densest.lufs is None:
        absent.append(Absence("densest_lufs", "nothing is louder than -70 LUFS for 400 ms"))
    if step_lu is None:
        reason = "there are no two sections of 8 s or longer to compare, intro and ending left out"
        absent += [Absence("quiet_to_loud_lu", reason), Absence("quietest", reason)]
    even_steps = measure_even_steps(sections, spectrogram)
    return Sections(sections, densest.span, densest.lufs, step_lu, quietest, even_steps, absent=tuple(absent))


def _features(level: LevelTrace, spectrogram: Spectrogram) -> Floats:
    """Return levels over their unrest, one row per second, shape ``(cells, bands + 1)``."""
    cells = max(round(level.duration_s / CELL_S), 1)
    edges = np.linspace(0.0, level.duration_s, cells + 1)
    frames = np.searchsorted(spectrogram.times_s(), edges)
    bands = spectrogram.both().astype(np.float64)
    octaves = np.add.reduceat(bands, np.arange(0, bands.shape[1], 3), axis=1)
    power = np.column_stack([_cell_means(octaves, frames), _cell_means(level.k_energy.T, np.round(edges * 100).astype(int)).sum(axis=1)])
    levels: Floats = powers_to_db(power)
    tops = np.percentile(levels, 95, axis=0)
    levels[:] = np.maximum(levels, np.maximum(tops - RANGE_DB, tops.max() - ALL_RANGE_DB))
    if cells <= LAG_CELLS:
        return levels
    # The median square of a normal variable is 0.455 of its variance; a difference has twice the variance.
    unrest = np.sqrt(np.median((levels[LAG_CELLS:] - levels[:-LAG_CELLS]) ** 2, axis=0) / (2 * 0.455))
    return levels / np.maximum(unrest, LEAST_UNREST_DB)


def _cell_means(values: Floats, edges: NDArray[np.intp]) -> Floats:
    """Mean of the rows between edges; zero where there are none."""
    totals = np.concatenate([np.zeros((1, values.shape[1])), np.cumsum(values, axis=0)])
    inside = np.minimum(edges, len(values))
    means: Floats = np.diff(totals[inside], axis=0) / np.maximum(np.diff(inside), 1)[:, None]
    return np.maximum(means, 0.0)


def _boundaries(features: Floats, duration_s: float) -> list[float]:
    """Return the times at which sections start, and the end of the last."""
    cells, bands = features.shape
    if cells < 2 * SHORTEST_CELLS:
        return [0.0, duration_s]
    sums = np.concatenate([np.zeros((1, bands)), np.cumsum(features, axis=0)])
    squares = np.concatenate([np.zeros(1), np.cumsum((features**2).sum(axis=1))])
    best = np.full(cells + 1, np.inf)
    best[0] = -PENALTY
    before = np.zeros(cells + 1, dtype=int)
    for end in range(SHORTEST_CELLS, cells + 1):
        starts = np.arange(max(end - LONGEST_CELLS, 0), end - SHORTEST_CELLS + 1)
        spread = squares[end] - squares[starts] - ((sums[end] - sums[starts]) ** 2).sum(axis=1) / (end - starts)
        cost = best[starts] + spread / bands + PENALTY
        choice = int(np.argmin(cost))
        best[end], before[end] = cost[choice], starts[choice]
    edges = [cells]
    while edges[-1] > 0:
        edges.append(int(before[edges[-1]]))
    return [edge * duration_s / cells for edge in reversed(edges)]


def _quiet_to_loud(sections: tuple[Section, ...]) -> tuple[Span | None, float | None]:
    """Return the quietest section that is music, and how far it lies below the loudest one."""
    music = [
        (section.loudness_lufs, Span(section.start_s, section.end_s))
        for place, section in enumerate(sections)
        if section.loudness_lufs is not None
        and section.end_s - section.start_s >= MUSIC_S
        and (0 < place < len(sections) - 1 or section.end_s - section.start_s > INTRO_S)
    ]
    if not music:
        return None, None
    quietest, where = min(music, key=lambda pair: pair[0])
    loudest = max(section.loudness_lufs for section in sections if section.loudness_lufs is not None)
    return (where, loudest - quietest) if loudest > quietest else (None, None)
