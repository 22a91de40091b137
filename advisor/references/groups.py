"""Groups among many songs: scikit-learn finds and judges them.

Songs come on the scale of how songs in general differ (never on that of a few songs), are centred by their medians and squeezed to
two principal components, and split by k-medoids, whose centres are real songs; scikit-learn has no clustering around members, so this
one is our own. A split counts only where the groups stand apart (silhouette), stay the same when any song is left out, and are large
enough. It runs only when a shelf has changed.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.references.group_limits import FEWEST_SONGS, LEAST_SILHOUETTE, LEAST_STABLE, SMALLEST_GROUP

Floats = NDArray[np.float64]
Labels = NDArray[np.int64]

MOST_GROUPS = 4
COMPONENTS = 2


@dataclass(frozen=True, slots=True)
class TriedSplit:
    """One number of groups, and whether it was accepted."""

    count: int
    silhouette: float
    stability: float
    smallest: int
    accepted: bool


@dataclass(frozen=True, slots=True)
class Grouping:
    """The groups of a shelf.

    For each song its group, for each group the place of its middle song, and all splits tried.

    A song's place in the plane that the groups were found in is ``(row - centre) @ axes.T``.
    """

    labels: tuple[int, ...]
    medoids: tuple[int, ...]
    tried: tuple[TriedSplit, ...]
    centre: tuple[float, ...]
    axes: tuple[tuple[float, ...], ...]


def k_medoids(distances: Floats, count: int) -> tuple[Labels, list[int]]:
    """Split songs by distances into ``count`` groups around medoids.

    The result is the same whatever the order of equals. Greedy build (the song that lowers the sum of distances
    most), then swaps while any lowers it (PAM: Kaufman and Rousseeuw 1990).
    """
    medoids: list[int] = []
    nearest = np.full(len(distances), np.inf)
    for _ in range(count):
        costs = np.minimum(distances, nearest[:, None]).sum(axis=0)
        costs[medoids] = np.inf
        medoids.append(int(np.argmin(costs)))
        nearest = np.minimum(nearest, distances[:, medoids[-1]])
    best = float(nearest.sum())
    improved = True
    while improved:
        improved = False
        for place in range(count):
            others = medoids[:place] + medoids[place + 1 :]
            rest = distances[:, others].min(axis=1) if others else np.full(len(distances), np.inf)
            costs = np.minimum(distances, rest[:, None]).sum(axis=0)
            costs[others] = np.inf
            swap = int(np.argmin(costs))
            if costs[swap] < best - 1e-9:
                best, medoids[place], improved = float(costs[swap]), swap, True
    return np.argmin(distances[:, sorted(medoids)], axis=1), sorted(medoids)


def find_groups(rows: Sequence[Sequence[float]]) -> Grouping:
    """Find the groups among songs.

    Rows are readings in units of the prior's spread; one group unless a split holds.

    The rows' order must not depend on names or on the order of adding: shelves give it by content hash.
    """
    values = np.array(rows, np.float64)
    points, centre, axes = _plane(values)
    labels, medoids, tried = np.zeros(len(values), np.int64), k_medoids(distances_between(points), 1)[1], []
    best = 0.0
    for count in range(2, MOST_GROUPS + 1) if len(values) >= FEWEST_SONGS else ():
        candidate, middles = k_medoids(distances_between(points), count)
        split = _judged(values, points, candidate, count)
        tried.append(split)
        if split.accepted and split.silhouette > best:
            best, labels, medoids = split.silhouette, candidate, middles
    return Grouping(
        labels=tuple(int(label) for label in labels),
        medoids=tuple(medoids),
        tried=tuple(tried),
        centre=tuple(float(coordinate) for coordinate in centre),
        axes=tuple(tuple(float(coordinate) for coordinate in axis) for axis in axes),
    )


def distances_between(points: Floats) -> Floats:
    """Return the distance of each point from each, without scikit-learn."""
    from scipy.spatial.distance import pdist, squareform  # noqa: PLC0415 - only for shelves

    distances: Floats = squareform(pdist(points))
    return distances


def _plane(values: Floats) -> tuple[Floats, Floats, Floats]:
    """Return the songs in the plane where they differ most.

    With it stand the plane's centre and its axes.
    """
    from sklearn.decomposition import PCA  # noqa: PLC0415 - slow to import, wanted only when a shelf has changed
    from sklearn.pipeline import make_pipeline  # noqa: PLC0415
    from sklearn.preprocessing import RobustScaler  # noqa: PLC0415

    pipeline = make_pipeline(RobustScaler(with_scaling=False), PCA(min(COMPONENTS, len(values) - 1), svd_solver="full"))
    points: Floats = pipeline.fit_transform(values)
    centring, axes = pipeline[0], pipeline[1]
    return points, centring.center_ + axes.mean_, axes.components_


def _judged(values: Floats, points: Floats, labels: Labels, count: int) -> TriedSplit:
    from sklearn.metrics import silhouette_score  # noqa: PLC0415

    smallest = int(np.bincount(labels, minlength=count).min())
    silhouette = float(silhouette_score(points, labels)) if smallest else -1.0
    apart = silhouette >= LEAST_SILHOUETTE and smallest >= SMALLEST_GROUP
    stable = _stability(values, labels, count) if apart else 0.0
    return TriedSplit(count, silhouette, stable, smallest, apart and stable >= LEAST_STABLE)


def _stability(values: Floats, labels: Labels, count: int) -> float:
    """Return how alike a split stays with songs left out.

    Each song in turn; the 10th percentile of the adjusted Rand index.
    """
    from sklearn.metrics import adjusted_rand_score  # noqa: PLC0415

    agreements = []
    for out in range(len(values)):
        rest = np.arange(len(values)) != out
        again, _ = k_medoids(distances_between(_plane(values[rest])[0]), count)
        agreements.append(float(adjusted_rand_score(labels[rest], again)))
    return float(np.quantile(agreements, 0.10))
