"""Lay readings of the mix on its elements."""

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from features.records.elements import Attribution, ElementShare
from features.shares.about import About
from features.shares.sampled import Mean, Sampled, mean_products, sampled_products
from features.shares.spectral import Asked, Spectral, spectral_products
from features.shares.ways import WAYS
from features.sound.signal import Source

Floats = NDArray[np.float64]

MOST_OF_IT = 0.5  # from here on one element, or what the stems leave, carries it
WORTH_NAMING, TOGETHER = 0.15, 0.75  # the least share of several, and what they have together before no more are named
MOST_NAMED = 3
LEFT_AT_TOPS = 0.03  # of the tops' height: the sum of the stems would have gone on, so it was cut after them


def attribute(parts: Mapping[str, Source], mix: Source, asked: Sequence[About]) -> tuple[Attribution | None, ...]:
    """Lay each reading on the elements that carry it.

    Parameters
    ----------
    parts
        The elements by name, in mix time, at the level they have in the mix.
    mix
        The mix; what the parts leave of it is laid on no element.
    asked
        The readings.

    Returns
    -------
    tuple
        One for each reading; None where the mix itself shows nothing of it.
    """
    ways = [WAYS[about.sharing] for about in asked]
    spectral = [Asked(way, about) for way, about in zip(ways, asked, strict=True) if isinstance(way, Spectral)]
    powers = iter(spectral_products(parts, mix, spectral))
    made = []
    for way, about in zip(ways, asked, strict=True):
        if isinstance(way, Spectral):
            products, own = next(powers)
        elif isinstance(way, Sampled):
            products, own = sampled_products(parts, mix, way, about)
        else:
            assert isinstance(way, Mean)  # noqa: S101 - the last kind of reading there is
            products, own = mean_products(parts, mix)
        made.append(laid(dict(zip(parts, products.tolist(), strict=True)), own, cut=about.sharing == "tops"))
    return tuple(made)


def laid(products: Mapping[str, float], own: float, *, cut: bool = False) -> Attribution | None:
    """Return who carries a reading.

    ``products`` are those of every element with the sum of all, ``own`` the mix's with itself. Shares are of what adds to it: an element
    that takes away from it carries none. With ``cut`` the reading is a height that something after the elements has cut.

    Examples
    --------
    >>> laid({"bass": 0.8, "kick": 0.15, "pad": 0.05}, 1.0)
    Attribution(carrier='element', shares=(ElementShare(name='bass', share=0.8),), left_over=0.0)
    >>> laid({"bass": 0.1, "kick": 0.1}, 1.0).carrier
    'left over'
    """
    if own == 0.0:
        return None
    shares = {name: product / own for name, product in products.items()}
    left = 1.0 - sum(shares.values())
    adding = sum(max(share, 0.0) for share in shares.values()) + max(left, 0.0)
    if adding <= 0.0:
        return None
    order = sorted(((max(share, 0.0) / adding, name) for name, share in shares.items()), key=lambda entry: (-entry[0], entry[1]))
    left = round(max(left, 0.0) / adding, 4)
    named = _named(order)
    if left >= MOST_OF_IT or (cut and 1.0 - sum(shares.values()) <= -LEFT_AT_TOPS):
        return Attribution("left over", named, left)
    if order and order[0][0] >= MOST_OF_IT:
        return Attribution("element", named, left)
    return Attribution("several" if sum(share.share for share in named) >= MOST_OF_IT else "sum", named, left)


def _named(order: Sequence[tuple[float, str]]) -> tuple[ElementShare, ...]:
    named: list[ElementShare] = []
    for share, name in order[:MOST_NAMED]:
        if share < WORTH_NAMING or sum(named_share.share for named_share in named) >= TOGETHER:
            break
        named.append(ElementShare(name, round(share, 4)))
    return tuple(named)
