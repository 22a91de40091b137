"""The stretch of the song on which remedies are tried.

Its densest part, and where the findings are worst.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from features.records.base import Span
from features.sound.signal import Signal, Source

DENSE_S = 12.0
WORST_S = 4.0
MOST_WORST = 3
WHOLE_BELOW_S = 30.0
JOIN_S = 0.02


@dataclass(frozen=True, slots=True)
class Excerpt:
    """The stretches taken from a song, joined by crossfades.

    In the song's order.
    """

    signal: Signal
    spans: tuple[Span, ...]


def choose(densest: Span, worst: Sequence[Span], duration_s: float) -> tuple[Span, ...]:
    """Return the stretches to take.

    The middle of the densest part, and up to three places where findings are worst.

    A song shorter than 30 s is taken whole. Each finding's worst place comes first in ``worst``; a place that is
    already covered costs nothing.
    """
    if duration_s <= WHOLE_BELOW_S:
        return (Span(0.0, duration_s),)
    chosen = [_around(densest, DENSE_S, duration_s)]
    taken = 0
    for place in worst:
        if taken == MOST_WORST:
            break
        window = _around(place, WORST_S, duration_s)
        if not any(span.start_s <= place.start_s and place.start_s + 1.0 <= span.end_s for span in chosen):
            chosen.append(window)
            taken += 1
    return tuple(_joined(sorted(chosen, key=lambda span: span.start_s)))


def _around(span: Span, length_s: float, duration_s: float) -> Span:
    middle = 0.5 * (span.start_s + span.end_s)
    start = min(max(middle - 0.5 * length_s, 0.0), max(duration_s - length_s, 0.0))
    return Span(round(start, 3), round(min(start + length_s, duration_s), 3))


def _joined(spans: list[Span]) -> list[Span]:
    joined: list[Span] = []
    for span in spans:
        if joined and span.start_s <= joined[-1].end_s + JOIN_S:
            joined[-1] = Span(joined[-1].start_s, max(joined[-1].end_s, span.end_s))
        else:
            joined.append(span)
    return joined


def take(source: Source, spans: Sequence[Span]) -> Excerpt:
    """Read the stretches and join them.

    By equal-power crossfades of 20 ms.
    """
    rate = source.rate_hz
    pieces = [source.read(round(span.start_s * rate), round((span.end_s - span.start_s) * rate)) for span in spans]
    fade = min([round(JOIN_S * rate), *(piece.shape[1] // 2 for piece in pieces)])
    joined = np.array(pieces[0], dtype=np.float32)
    ramp = np.sin(0.5 * np.pi * (np.arange(fade) + 0.5) / max(fade, 1)).astype(np.float32)
    for piece in pieces[1:]:
        overlap = joined[:, joined.shape[1] - fade :] * ramp[::-1] + piece[:, :fade] * ramp
        joined = np.concatenate((joined[:, : joined.shape[1] - fade], overlap, piece[:, fade:]), axis=1)
    return Excerpt(Signal(joined, rate), tuple(spans))


def read_span(source: Source, span: Span) -> Signal:
    """Read a stretch into memory."""
    start = round(span.start_s * source.rate_hz)
    return Signal(np.array(source.read(start, round(span.end_s * source.rate_hz) - start), np.float32), source.rate_hz)
