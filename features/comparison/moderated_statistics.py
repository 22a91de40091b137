"""Statistics for few songs.

Where one song stands among others when there are three of them as well as fifty.

The spread of a handful of songs is a poor guess of how songs differ, so it is moderated with what is known of songs in general,
as if that were worth eight songs (empirical-Bayes moderation: Smyth 2004, Stat. Appl. Genet. Mol. Biol. 3, 3). Distances in the
sample's own covariance are not used: with five songs they cry wolf in a third of the cases.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import atan2, fsum, pi, sqrt

PRIOR_SONGS = 8  # v0: what the prior spread counts as
FREEDOM = 8  # of t, however many songs: they have heavier tails than a normal distribution (docs/references.md)
FAMILY = 0.05  # nominal chance of any false "clearly outside" in one comparison; docs/references.md has what it comes to
FEWEST_ROBUST = 4
DRAWN_IN, DRAWN_IN_KEEPS = 2.0, 0.92  # robust spreads, and the share of a normal variance that is left
LIKE_T, NOTICEABLE_T = 1.0, 2.0


@dataclass(frozen=True, slots=True)
class Standing:
    """One reading of a song against those of others.

    Attributes
    ----------
    songs
        How many of the others have this reading.
    median, low, high
        Of theirs.
    spread
        Their moderated standard deviation.
    difference
        The song's reading minus the median.
    t_value
        Difference over the spread that a further song of their kind would show.
    chance
        How often one of their kind lies at least as far away, on either side.
    above, below
        How many of the others the song's reading exceeds, and how many exceed it.
    """

    songs: int
    median: float
    low: float
    high: float
    spread: float
    difference: float
    t_value: float
    chance: float
    above: int
    below: int


def median_of(values: Sequence[float]) -> float:
    """Return the middle value, or the mean of both.

    >>> median_of([3.0, 1.0, 2.0]), median_of([1.0, 2.0])
    (2.0, 1.5)
    """
    ordered = sorted(values)
    half = len(ordered) // 2
    return ordered[half] if len(ordered) % 2 else (ordered[half - 1] + ordered[half]) / 2


def sample_variance(values: Sequence[float]) -> float:
    """Return the variance with n - 1 in the denominator.

    0 for a single value.
    """
    if len(values) < 2:
        return 0.0
    mean = fsum(values) / len(values)
    return fsum((value - mean) ** 2 for value in values) / (len(values) - 1)  # exact sums: the order of songs changes nothing


def robust_variance(values: Sequence[float]) -> float:
    """Return the variance with outliers drawn in.

    What lies further than two robust spreads from the median is drawn in to there; from four values on.

    One song unlike the rest must not make a shelf look wide. For normal readings drawing in takes 8 % off, which is put back.

    >>> robust_variance([1.0, 2.0, 3.0, 4.0, 5.0, 100.0]) < 10.0
    True
    """
    if len(values) < FEWEST_ROBUST:
        return sample_variance(values)
    middle = median_of(values)
    reach = DRAWN_IN * 1.4826 * median_of([abs(value - middle) for value in values]) * sqrt(len(values) / (len(values) - 1))
    return sample_variance([min(max(value, middle - reach), middle + reach) for value in values]) / DRAWN_IN_KEEPS


def moderated_spread(values: Sequence[float], prior_spread: float) -> float:
    """Return the spread, moderated by a prior of eight songs.

    ``sqrt((v0 s0^2 + (n - 1) s^2) / (v0 + n - 1))``: the prior with eight songs' weight, the values with their own.

    >>> moderated_spread([5.0], 2.0)
    2.0
    """
    return sqrt(_moderated(sample_variance(values), len(values), prior_spread))


def robust_moderated_spread(values: Sequence[float], prior_spread: float) -> float:
    """Return the moderated spread of `robust_variance`.

    The prior alone without values.
    """
    return sqrt(_moderated(robust_variance(values), len(values), prior_spread))


def _moderated(variance: float, count: int, prior_spread: float) -> float:
    free = max(count - 1, 0)
    return (PRIOR_SONGS * prior_spread**2 + free * variance) / (PRIOR_SONGS + free)


def two_sided_chance(t_value: float, freedom: int) -> float:
    """Return the chance that Student's t lies further out.

    From 0 than ``t_value`` (Abramowitz and Stegun 1964, 26.7.3 and 26.7.4).

    Parameters
    ----------
    t_value
        Any number.
    freedom
        Degrees of freedom, a whole number from 1.

    Examples
    --------
    >>> round(two_sided_chance(2.306, 8), 4)
    0.05
    """
    root = sqrt(freedom + t_value * t_value)
    cosine, sine = sqrt(freedom) / root, abs(t_value) / root
    term = total = cosine if freedom % 2 else 1.0
    if freedom == 1:
        total = 0.0
    for k in range(3 if freedom % 2 else 2, freedom - 1, 2):
        term *= cosine * cosine * (k - 1) / k
        total += term
    inside = (2 / pi) * (atan2(sine, cosine) + sine * total) if freedom % 2 else sine * total
    return min(max(1.0 - inside, 0.0), 1.0)


def standing(value: float, others: Sequence[float], prior_spread: float) -> Standing:
    """Return where a reading stands among those of other songs.

    One or more of them.

    ``t = (x - median) / (s sqrt(1 + 1/n))``. For normal readings it would have ``v0 + n - 1`` degrees of freedom; with those, 10 to 14 %
    of held-out songs were called clearly outside on shelves of 12 and 30, with 8 they are 6 % or less.
    """
    count = len(others)
    median, spread = median_of(others), moderated_spread(others, prior_spread)
    t_value = (value - median) / (spread * sqrt(1 + 1 / count))
    return Standing(
        songs=count,
        median=median,
        low=min(others),
        high=max(others),
        spread=spread,
        difference=value - median,
        t_value=t_value,
        chance=two_sided_chance(t_value, FREEDOM),
        above=sum(value > reference for reference in others),
        below=sum(value < reference for reference in others),
    )


def level_of(standing: Standing, readings: int) -> str:
    """Return in one word how a reading stands.

    Given how many readings are looked at (Bonferroni).

    "like": within one spread; "little": further, as such songs do; "noticeable": further out than nearly all of them; "outside":
    so far out that of a whole comparison hardly one in twenty would call an ordinary song so. What several of the others do is
    at most "little", and only what none of them does is "outside".
    """
    as_far = standing.songs - (standing.above if standing.difference > 0 else standing.below)
    if abs(standing.t_value) < LIKE_T:
        return "like"
    if abs(standing.t_value) < NOTICEABLE_T or as_far > max(1, standing.songs // 10):
        return "little"
    return "outside" if standing.chance * readings < FAMILY and not as_far else "noticeable"


def distance(song: Sequence[float | None], centre: Sequence[float | None], scales: Sequence[float]) -> float:
    """Return the root mean square difference, in scales.

    Over the readings that both have.

    >>> distance([1.0, None, 5.0], [3.0, 2.0, 5.0], [2.0, 1.0, 1.0])
    0.7071067811865476
    """
    squares = [
        ((value - middle) / scale) ** 2
        for value, middle, scale in zip(song, centre, scales, strict=True)
        if value is not None and middle is not None
    ]
    return sqrt(sum(squares) / len(squares)) if squares else 0.0


def centre_of(songs: Sequence[Sequence[float | None]]) -> list[float | None]:
    """Return the median of each reading over the songs.

    Those that have it.
    """
    columns = [[value for value in column if value is not None] for column in zip(*songs, strict=True)]
    return [median_of(column) if column else None for column in columns]


def more_unusual_than(song: Sequence[float | None], others: Sequence[Sequence[float | None]], scales: Sequence[float]) -> int:
    """Return how many songs are less unusual than this one.

    Those that lie closer to the rest of them than the song lies to all of them (leave-one-out).

    Each of the others is held against the median of those left when it is taken out, the song against the median of all.
    ``(1 + others at least as far) / (n + 1)`` is then the chance of being as far out for one of their kind.
    """
    own = distance(song, centre_of(others), scales)
    nearer = 0
    for place, reference in enumerate(others):
        rest = [song for number, song in enumerate(others) if number != place]
        nearer += distance(reference, centre_of(rest), scales) < own
    return nearer
