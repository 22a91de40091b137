"""Readings of single places.

What each part adds to the very samples that stand out in the mix.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from features.records.base import Span
from features.shares.about import About
from features.sound.signal import Samples, Source

Floats = NDArray[np.float64]
ONE_PLACE_S = 0.1
Places = tuple[NDArray[np.intp], NDArray[np.intp]]  # channels and samples


@dataclass(frozen=True, slots=True)
class Sampled:
    """A reading of single places.

    Attributes
    ----------
    windows
        Where to look, from what the reading is about and the song's length in s.
    seen
        What is looked at in a stretch of sound, as long as that; linear, so that parts add up.
    places
        The samples that count, from what is seen in the mix.
    """

    windows: Callable[[About, float], tuple[Span, ...]]
    seen: Callable[[Floats], Floats]
    places: Callable[[Floats], Places]


@dataclass(frozen=True, slots=True)
class Mean:
    """The mean of all samples: a constant offset."""


def sampled_products(parts: Mapping[str, Source], mix: Source, reading: Sampled, about: About) -> tuple[Floats, float]:
    """Return the parts' products with their sum at the places.

    And the mix's with itself.
    """
    products, own = np.zeros(len(parts)), 0.0
    for span in reading.windows(about, mix.frames / mix.rate_hz):
        whole = reading.seen(_stretch(mix, span, mix.channels))
        if not whole.size:
            continue
        at = reading.places(whole)
        values = whole[at]
        own += float(values @ values)
        pieces = np.array([reading.seen(_stretch(part, span, mix.channels))[at] for part in parts.values()])
        products += pieces @ pieces.sum(axis=0)
    return products, own


def mean_products(parts: Mapping[str, Source], mix: Source) -> tuple[Floats, float]:
    """Return the products of the parts' means with their sum.

    And the mix's with itself.
    """
    whole = _mean(mix, mix.channels)
    pieces = np.array([_mean(part, mix.channels) for part in parts.values()])
    return pieces @ pieces.sum(axis=0), float(whole @ whole)


def _mean(source: Source, channels: int) -> Floats:
    total = np.zeros(source.channels)
    for block in source.blocks():
        total += block.sum(axis=1, dtype=np.float64)
    mean = total / max(source.frames, 1)
    return np.broadcast_to(mean, (channels,)) if len(mean) < channels else mean


def _stretch(source: Source, span: Span, channels: int) -> Floats:
    first = max(round(span.start_s * source.rate_hz), 0)
    count = max(round(span.end_s * source.rate_hz) - first, 0)
    sound: Samples = source.read(first, count)
    whole = np.zeros((channels, min(count, max(source.frames - first, 0))))
    whole[:, : sound.shape[1]] = sound[:, : whole.shape[1]]
    return whole


def as_it_is(sound: Floats) -> Floats:
    """Return the samples themselves."""
    return sound


def second_difference(sound: Floats) -> Floats:
    """Return how far each sample lies off its neighbours' line."""
    bent = np.zeros_like(sound)
    if sound.shape[1] > 2:
        bent[:, 1:-1] = sound[:, 1:-1] - 0.5 * (sound[:, :-2] + sound[:, 2:])
    return bent


def highest(seen: Floats) -> Places:
    """Return the highest sample of all channels."""
    channel, sample = np.unravel_index(int(np.argmax(np.abs(seen))), seen.shape)
    return np.array([channel], np.intp), np.array([sample], np.intp)


def everything(seen: Floats) -> Places:
    """Return every sample."""
    channels, samples = np.indices(seen.shape)
    return channels.ravel(), samples.ravel()


def inside(margin_s: float) -> Callable[[About, float], tuple[Span, ...]]:
    """Look into the finding's times and a margin."""

    def windows(about: About, duration_s: float) -> tuple[Span, ...]:
        return tuple(Span(max(span.start_s - margin_s, 0.0), min(span.end_s + margin_s, duration_s)) for span in about.where)

    return windows


def both_ends(margin_s: float) -> Callable[[About, float], tuple[Span, ...]]:
    """Look around both ends of the finding's times.

    What is short is one place.
    """

    def windows(about: About, duration_s: float) -> tuple[Span, ...]:
        made: list[Span] = []
        for span in about.where:
            near = span.end_s - span.start_s <= ONE_PLACE_S
            edges = ((span.start_s, span.end_s),) if near else ((span.start_s, span.start_s), (span.end_s, span.end_s))
            made.extend(Span(max(low - margin_s, 0.0), min(high + margin_s, duration_s)) for low, high in edges)
        return tuple(made)

    return windows


def first_of(length_s: float) -> Callable[[About, float], tuple[Span, ...]]:
    """Look at the song's first moments."""
    return lambda _about, duration_s: (Span(0.0, min(length_s, duration_s)),)


def last_of(length_s: float) -> Callable[[About, float], tuple[Span, ...]]:
    """Look at the song's last moments."""
    return lambda _about, duration_s: (Span(max(duration_s - length_s, 0.0), duration_s),)
