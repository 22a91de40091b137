"""Names who masks an element.

Who covers an element, in which band and where, and when least of it is heard.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from features.elements.masking.masking import Masked
from features.records.base import Moment, Span
from features.records.elements import Cover, ElementMasking
from features.sound.bands import erb_frequency, erb_number
from features.sound.windows import shortest_run

Floats = NDArray[np.float64]

MOST_COVERS = 4
LEAST_SHARE = 0.02  # of an element's loudness: who hides less is not named
BAND_SHARE = 0.7  # of what is hidden, in the narrowest run of bands
ESSENTIAL_SHARE = 0.5  # of the cover's own loudness, in its strongest bands
WINDOW_BLOCKS = 4  # 6 s
BURIED = 0.5
LOWEST_HZ = 20.0
PLAYING = 0.3  # of its usual loudness there must be in a window for it to count
MOST_MOMENTS = 5


def strongest(values: Floats, share: float) -> NDArray[np.bool_]:
    """Tell the largest values that hold a share.

    As many as together hold ``share``.

    Examples
    --------
    >>> strongest(np.array([1.0, 5.0, 3.0, 1.0]), 0.6).tolist()
    [False, True, True, False]
    """
    order = np.argsort(-values, kind="stable")
    before = np.cumsum(values[order]) - values[order]
    chosen = np.zeros(len(values), np.bool_)
    chosen[order[before < share * values.sum()]] = True
    return chosen


def _edges_hz(band_hz: Floats, first: int, last: int) -> tuple[float, float]:
    """Return the outer edges of a run of bands one Cam wide."""
    numbers = erb_number(band_hz[[first, last - 1]]) + np.array([-0.5, 0.5])
    low, high = erb_frequency(numbers)
    return float(max(low, LOWEST_HZ)), float(high)


def _windows(values: Floats) -> Floats:
    """Return the sum of every `WINDOW_BLOCKS` neighbouring blocks (all of them, when there are fewer), first axis."""
    width = min(WINDOW_BLOCKS, len(values))
    total = np.concatenate([np.zeros((1, *values.shape[1:])), np.cumsum(values, axis=0, dtype=np.float64)])
    sums: Floats = total[width:] - total[:-width]
    return sums


def _span(masked: Masked, window: int) -> Span:
    blocks = min(WINDOW_BLOCKS, len(masked.loudness))
    return Span(window * masked.block_s, min((window + blocks) * masked.block_s, masked.duration_s))


def _buried(masked: Masked, number: int) -> tuple[Moment, ...]:
    loudness, audible = _windows(masked.loudness[:, number]), _windows(masked.audible_loudness[:, number])
    some = loudness > 0
    usual = float(np.median(loudness[some]))
    share = np.where(some, audible / np.where(some, loudness, 1.0), 1.0)
    chosen: list[int] = []
    for window in np.argsort(share, kind="stable"):
        if share[window] >= BURIED or len(chosen) == MOST_MOMENTS:
            break
        if loudness[window] >= PLAYING * usual and all(abs(int(window) - chosen_window) >= WINDOW_BLOCKS for chosen_window in chosen):
            chosen.append(int(window))
    spans = [(_span(masked, window), float(share[window])) for window in chosen]
    return tuple(Moment(span.start_s, span.end_s, max(value, 0.0)) for span, value in spans)


def _cover(masked: Masked, covered: int, by: int, names: Sequence[str]) -> Cover:
    hidden = masked.hidden[covered, by]
    total = float(hidden.sum())
    first, last = shortest_run(hidden, BAND_SHARE)
    run = slice(first, last)
    essential = strongest(masked.band_loudness[by], ESSENTIAL_SHARE)[run]
    over, under = masked.over[covered, by, run].sum(), masked.under[covered, by, run].sum()
    window = int(np.argmax(_windows(masked.hidden_when[:, covered, by].astype(np.float64))))
    return Cover(
        by=names[by],
        share=total / float(masked.loudness[:, covered].sum()),
        band_hz=_edges_hz(masked.band_hz, first, last),
        band_share=float(hidden[run].sum()) / total,
        excess_db=float(10 * np.log10(max(over, 1e-300) / max(under, 1e-300))),
        essential=bool(hidden[run][essential].sum() > 0.5 * hidden[run].sum()),
        where=_span(masked, window),
    )


def measure_masking(masked: Masked, names: Sequence[str]) -> tuple[ElementMasking, ...]:
    """Measure how audible each element is, and who masks it.

    Also when least of it is heard.

    Parameters
    ----------
    masked
        From `features.elements.masking.masking.mask`.
    names
        Of the elements, in the same order.

    Notes
    -----
    A cover's band is the narrowest run of bands that holds 70 % of what it hides. It is essential to the cover when most of that
    lies in the cover's strongest bands, those that together carry half of its own loudness: there a cut would thin the cover
    (the idea, though not the ranking, is that of Hafezi and Reiss, JAES 63, 2015). Buried moments are stretches of 6 s
    in which less than half is heard, none overlapping. A silent element has no share.
    """
    element_maskings: list[ElementMasking] = []
    for number, share in enumerate(masked.shares()):
        if share is None:
            element_maskings.append(ElementMasking(None, (), ()))
            continue
        hidden = masked.hidden[number, : len(names)].sum(axis=1) / masked.loudness[:, number].sum()
        most = [int(by) for by in np.argsort(-hidden, kind="stable")[:MOST_COVERS] if hidden[by] >= LEAST_SHARE]
        covers = tuple(_cover(masked, number, by, names) for by in most)
        element_maskings.append(ElementMasking(share, _buried(masked, number), covers))
    return tuple(element_maskings)
