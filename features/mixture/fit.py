"""How stems sum to a mix.

Gains by least squares, what is left of the mix, which stems double others.

Everything is read off the inner products of the waveforms (`features.mixture.stem_products`), so nothing here listens a second time.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from features.mixture.stem_products import StemProducts
from features.records.base import Span
from features.records.elements import Mixture
from features.sound.clock import clock
from features.sound.windows import shortest_run

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

SILENT_PEAK = 10 ** (-90 / 20)
SAME = 1e-6  # what two sounds differ by, in power, to be called copies: rounding to 16 bits and lossy-free conversion lie below
SUM_OF_OTHERS = 1e-4
AUDIBLE_PART, NEARLY_ALL = 0.01, 0.1
LEAST_COEFFICIENT = 0.1
COEFFICIENT_SPREAD = 0.25
EXACT_DB, BUS_DB = -60.0, -20.0
CLEAR_DB, STEP_DB = 3.0, 1.0
ROUNDING = 1e-4
OWN_GAIN_DB = 0.5
MOST_OWN_GAIN_DB = 40.0
MOST_OF_IT = 0.8
RELATED_SHARE = 0.75
FLOOR_DB = -120.0


@dataclass(frozen=True, slots=True)
class Residual:
    """What a sum leaves of the mix.

    Its level against the mix's, and the band and stretch that hold four fifths of it.
    """

    level_db: float
    band_hz: tuple[float, float] | None
    where: Span | None


@dataclass(frozen=True, slots=True)
class Fit:
    """Gains that fit stems to a mix.

    The common one, and the factor of every stem; negative = polarity reversed.
    """

    common: float
    gains: Floats
    own: tuple[int, ...]
    residual: Residual


def silent_stems(trace: StemProducts, stems: int) -> Flags:
    """Return which stems hold no sound.

    No sample above -90 dBFS.
    """
    return np.array([sketch.peak < SILENT_PEAK for sketch in trace.sketches[:stems]])


def common_gain(total: Floats, used: Flags) -> float:
    """Return the one gain that fits the stems' sum.

    The used stems to the mix, the last sound of ``total``; 1 without anything to fit.

    Least squares: ``g = <s, m> / <s, s>`` with the sum ``s`` and the mix ``m``.
    """
    sides = used.astype(np.float64)
    power = float(sides @ total[:-1, :-1] @ sides)
    product = float(sides @ total[:-1, -1])
    return _settled(product / power) if power > 0.0 and product > 0.0 else 1.0


def _settled(gain: float) -> float:
    """Return 1 for a gain that rounding alone tells from 1."""
    return 1.0 if abs(gain - 1.0) < ROUNDING else gain


def left_over(products: Floats, gains: Floats) -> Floats:
    """Return the power that the stems leave of the mix.

    Times their gains: ``v G v`` with ``v = (g, -1)``, over the leading axes.
    """
    vector = np.append(gains, -1.0)
    left: Floats = np.maximum(np.einsum("...ij,i,j->...", products, vector, vector), 0.0)
    return left


def residual(trace: StemProducts, gains: Floats) -> Residual:
    """Return what is left of the mix, and where."""
    mix = float(trace.total[-1, -1])
    by_band, by_time = left_over(trace.by_band, gains), left_over(trace.by_time, gains)
    left = float(by_time.sum())
    if mix <= 0.0 or left <= mix * 10 ** (FLOOR_DB / 10):
        return Residual(FLOOR_DB, None, None)
    low, high = shortest_run(by_band, MOST_OF_IT)
    first, last = shortest_run(by_time, MOST_OF_IT)
    end = trace.frames / trace.rate_hz
    where = Span(round(first * trace.segment_s, 3), round(min(last * trace.segment_s, end), 3))
    return Residual(10 * float(np.log10(left / mix)), (float(trace.edges_hz[low]), float(trace.edges_hz[high])), where)


def own_gains(total: Floats, free: Flags) -> Floats:
    """Return the gain of every free stem.

    The gains fit them together to the mix; the others get 0.

    The normal equations ``G g = b`` are scaled to unit diagonal, and directions in which the stems hardly differ are left out.
    """
    gains = np.zeros(len(free))
    index = np.flatnonzero(free)
    if index.size:
        scale = 1 / np.sqrt(np.maximum(np.diag(total)[index], 1e-30))
        matrix = total[np.ix_(index, index)] * np.outer(scale, scale)
        solved = np.linalg.lstsq(matrix, total[index, -1] * scale, rcond=1e-7)[0]
        gains[index] = solved * scale
    return gains


def fit(trace: StemProducts, used: Flags, bus_gain: float | None = None) -> Fit:
    """Fit the used stems to the mix.

    One gain for all, and a gain of its own for each stem that needs one.

    Stems are set free one by one, each time the one that lowers what is left most, as long as that is 1 dB or more; the result is
    taken when 3 dB were won in all and the gains differ from the common one by more than half a dB.
    """
    total = trace.total
    common, gains = _with_free(total, used, (), bus_gain)
    first = current = _level(total, gains)
    free: tuple[int, ...] = ()
    tried = (common, gains)
    while current > EXACT_DB and len(free) + 1 < np.count_nonzero(used):
        rivals = [(stem, *_with_free(total, used, (*free, stem), bus_gain)) for stem in map(int, np.flatnonzero(used)) if stem not in free]
        best = min(rivals, key=lambda rival: _level(total, rival[2]))
        level = _level(total, best[2])
        if level > current - STEP_DB:
            break
        free, current, tried = (*free, int(best[0])), level, (best[1], best[2])
    own = tuple(stem for stem in free if abs(gain_db(tried[1][stem] / tried[0])) > OWN_GAIN_DB or tried[1][stem] < 0)
    if own and current <= first - CLEAR_DB:
        common, gains = _with_free(total, used, own, bus_gain)
    else:
        own = ()
    return Fit(common, gains, own, residual(trace, gains))


def unfitted(stems: int) -> Fit:
    """Return the fit of stems that are their own mix.

    Everything as it is.
    """
    return Fit(1.0, np.ones(stems), (), Residual(FLOOR_DB, None, None))


def _with_free(total: Floats, used: Flags, free: tuple[int, ...], bus_gain: float | None) -> tuple[float, Floats]:
    """Solve for the gains of the free stems and the common one of all others together."""
    bound = used.copy()
    bound[list(free)] = False
    sides = bound.astype(np.float64)
    columns = np.zeros((len(total), len(free) + 2))
    columns[list(free), np.arange(len(free))] = 1.0
    columns[:-1, -2] = sides
    columns[-1, -1] = 1.0
    small = columns.T @ total @ columns
    if bus_gain is not None:
        small[:, -1] -= bus_gain * small[:, -2]
        small[-1] -= bus_gain * small[-2]
        solved = own_gains(np.delete(np.delete(small, -2, 0), -2, 1), np.ones(len(free), np.bool_))
        return bus_gain, bus_gain * sides + columns[:-1, : len(free)] @ solved
    solved = own_gains(small, np.ones(len(free) + 1, np.bool_))
    common = _settled(float(solved[-1])) if solved[-1] > 0.0 else 1.0
    return common, common * sides + columns[:-1, : len(free)] @ solved[:-1]


def _level(total: Floats, gains: Floats) -> float:
    return 10 * float(np.log10(max(float(left_over(total, gains)), 1e-30) / max(float(total[-1, -1]), 1e-30)))


def common_residual_db(total: Floats, used: Flags) -> float:
    """Return what the stems leave at one common gain.

    The used ones, in dB against the mix.
    """
    return _level(total, common_gain(total, used) * used.astype(np.float64))


def same_as_last(trace: StemProducts, used: Flags) -> tuple[int, ...]:
    """Return the stems that equal the mix.

    The used ones that are the last sound, up to gain.
    """
    total = trace.total
    return tuple(stem for stem in map(int, np.flatnonzero(used)) if _alike(total, stem, len(total) - 1))


def gain_db(factor: float) -> float:
    """Return a factor in dB, kept within 40 dB.

    Whatever its sign.

    Examples
    --------
    >>> round(gain_db(-0.5), 2)
    -6.02
    """
    return float(np.clip(20 * np.log10(max(abs(factor), 1e-30)), -MOST_OWN_GAIN_DB, MOST_OWN_GAIN_DB))


def related(trace: StemProducts, used: Flags) -> bool:
    """Say whether the stems belong to the mix at all.

    Their sum goes with it, not against it, nearly all the time.

    Unrelated sounds are as often for as against each other.
    """
    sides = used.astype(np.float64)
    product = np.einsum("tij,i->tj", trace.by_time[:, :-1], sides)[:, -1]
    weight = np.abs(product)
    return float(weight.sum()) <= 0.0 or float(product[product > 0].sum()) >= RELATED_SHARE * float(weight.sum())


def copies(trace: StemProducts, names: Sequence[str]) -> tuple[int | None, ...]:
    """Return for every stem whose copy it is.

    The number of the stem that it equals up to gain, or whose mono twin it is.

    Of two that are alike the stereo one is the original, then the one with the shorter name.
    """
    mid = trace.by_channel.mean(axis=(1, 3))
    total = trace.total
    silent = silent_stems(trace, len(names))
    order = sorted(range(len(names)), key=lambda original: (is_mono(trace, original), len(names[original]), original))
    copy_of: list[int | None] = [None] * len(names)
    originals: list[int] = []
    for stem in order:
        if silent[stem]:
            continue
        copy_of[stem] = next(
            (original for original in originals if _alike(total, original, stem) or _twins(trace, mid, original, stem)), None
        )
        if copy_of[stem] is None:
            originals.append(stem)
    return tuple(copy_of)


def _alike(products: Floats, first: int, second: int) -> bool:
    size = products[first, first] * products[second, second]
    return bool(size > 0.0 and products[first, second] > 0.0 and 1.0 - products[first, second] ** 2 / size < SAME)


def _twins(trace: StemProducts, mid: Floats, first: int, second: int) -> bool:
    """Say whether one of the two is mono and the fold-down of the other."""
    mono = [is_mono(trace, number) for number in (first, second)]
    return mono[0] != mono[1] and _alike(mid, first, second)


def is_mono(trace: StemProducts, number: int) -> bool:
    """Tell whether a sound is mono.

    In one channel or in two that are equal.
    """
    own = trace.by_channel[number, :, number, :]
    return own.shape[0] == 1 or bool(own[0, 0] + own[1, 1] - 2 * own[0, 1] <= SAME * (own[0, 0] + own[1, 1]))


def sums_of_others(trace: StemProducts, used: Flags) -> dict[int, tuple[int, ...]]:
    """Return the stems that sum two or more others.

    With those: a sub-mix or the full mix among the stems.
    """
    products = trace.total[: len(used), : len(used)]
    parts_of: dict[int, tuple[int, ...]] = {}
    for stem in np.flatnonzero(used):
        others = used.copy()
        others[[int(stem), *parts_of]] = False
        parts = _parts_of(products, int(stem), others)
        if len(parts) >= 2:
            parts_of[int(stem)] = parts
    return parts_of


def whole_mix(trace: StemProducts, used: Flags) -> tuple[int, ...]:
    """Return the stems that are a processed mix of all.

    Nearly the sum of all others that can be heard beside them.

    Unlike `sums_of_others` this forgives a limiter: 90 % of the energy must be explained, with much the same gain for every part.
    """
    products = trace.total[: len(used), : len(used)]
    mixes: list[int] = []
    for stem in map(int, np.flatnonzero(used)):
        others = used.copy()
        others[[stem, *mixes]] = False
        audible = others & (np.diag(products) > AUDIBLE_PART * products[stem, stem])
        if np.count_nonzero(audible) < 2:
            continue
        joined = np.append(np.arange(len(used)), stem)
        total = products[np.ix_(joined, joined)]
        gains = own_gains(total, others)
        middle = float(np.median(gains[audible]))
        even = middle > 0.0 and bool(np.all(np.abs(gains[audible] / middle - 1.0) < 2 * COEFFICIENT_SPREAD))
        if even and float(left_over(total, gains)) < NEARLY_ALL * products[stem, stem]:
            mixes.append(stem)
    return tuple(mixes)


def _positive_gains(total: Floats, free: Flags) -> Floats:
    """Return gains as `own_gains`, none below 0: the most negative one is taken out until none is left."""
    positive = free.copy()
    gains = own_gains(total, positive)
    while gains.min() < 0.0:
        positive[int(np.argmin(gains))] = False
        gains = own_gains(total, positive)
    return gains


def _parts_of(products: Floats, stem: int, others: Flags) -> tuple[int, ...]:
    joined = np.append(np.arange(len(others)), stem)
    total = products[np.ix_(joined, joined)]
    least_power = np.diag(products) * SUM_OF_OTHERS  # of parts too soft to tell
    coefficients = _positive_gains(total, others)
    parts = [
        int(number) for number in np.flatnonzero(np.abs(coefficients) > LEAST_COEFFICIENT) if products[number, number] > least_power[stem]
    ]
    if len(parts) < 2:
        return ()
    gains = np.zeros(len(others))
    sides = np.zeros(len(others), np.bool_)
    sides[parts] = True
    gains[parts] = common_gain(total, sides)
    middle = float(np.median(coefficients[parts]))
    even = bool(np.all(np.abs(coefficients[parts] / middle - 1.0) < COEFFICIENT_SPREAD)) if middle > 0.0 else False
    whole = float(left_over(total, coefficients)) / max(float(products[stem, stem]), 1e-30)
    return tuple(parts) if even and whole < SUM_OF_OTHERS else ()


def mixture(fitted: Fit, offset_s: float, *, without_mix: bool = False) -> Mixture:
    """Return how well the stems sum to the mix."""
    if without_mix:
        return Mixture(0.0, 0.0, None, None, None, "There is no mix to compare with: the sum of the stems is taken as the mix.")
    left = fitted.residual
    return Mixture(
        gain_db=-gain_db(fitted.common), offset_s=offset_s, residual_db=left.level_db, residual_band_hz=left.band_hz,
        residual_where=left.where, meaning=meaning(left),
    )  # fmt: skip


def meaning(left: Residual) -> str:
    """Return in one sentence what the residual means."""
    if left.level_db <= EXACT_DB or left.band_hz is None or left.where is None:
        return f"The stems sum exactly to your mix (what is left lies {min(left.level_db, -EXACT_DB):.0f} dB below it)."
    low, high = (_hertz(edge) for edge in left.band_hz)
    place = f"from {low} to {high}, most of it between {clock(left.where.start_s)} and {clock(left.where.end_s)}"
    level = round(left.level_db)
    if left.level_db <= BUS_DB:
        return (
            f"The sum differs from your mix by {level} dB: an effect on the mix bus (limiter, compressor, equaliser) is missing in the "
            f"stems; it works {place}."
        )
    return (
        f"The sum differs from your mix by {level} dB: something is missing {place}; that can be an element, an effect return or a strong "
        "effect on the mix bus, or the stems belong to another version."
    )


def _hertz(frequency_hz: float) -> str:
    value = float(f"{frequency_hz:.2g}")
    return f"{value / 1000:g} kHz" if value >= 1000 else f"{value:g} Hz"
