"""When songs of a shelf count as groups."""

FEWEST_SONGS = 12
SMALLEST_GROUP = 4
LEAST_SILHOUETTE = 0.40
LEAST_STABLE = 0.80  # adjusted Rand index of a split with any one song left out against the whole one, 10th percentile
