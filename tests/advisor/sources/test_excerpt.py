"""The excerpt holds the densest part and the worst places, costs the same for any length, and joins without clicks."""

import numpy as np
import pytest

from advisor.sources.excerpt import choose, take
from features.records.base import Span
from features.sound.signal import Signal


def total(spans: tuple[Span, ...]) -> float:
    return sum(span.end_s - span.start_s for span in spans)


@pytest.mark.parametrize("duration_s", [180.0, 1800.0, 7200.0])
def test_cost_does_not_grow_with_the_song(duration_s: float) -> None:
    worst = [Span(start, start + 8.0) for start in (5.0, 60.0, 150.0, 170.0)]
    assert total(choose(Span(100.0, 130.0), worst, duration_s)) <= 12.0 + 3 * 4.0 + 1e-6


def test_worst_places_are_inside() -> None:
    spans = choose(Span(100.0, 130.0), [Span(5.0, 8.0), Span(160.0, 160.4)], 180.0)
    for second in (6.5, 160.2, 115.0):
        assert any(span.start_s <= second <= span.end_s for span in spans)


def test_a_place_already_covered_costs_nothing() -> None:
    assert choose(Span(100.0, 130.0), [Span(110.0, 114.0)], 180.0) == choose(Span(100.0, 130.0), [], 180.0)


def test_a_short_song_is_taken_whole() -> None:
    assert choose(Span(0.0, 20.0), [], 20.0) == (Span(0.0, 20.0),)


def test_joins_do_not_click() -> None:
    rate = 8000
    tone = np.sin(2 * np.pi * 100 * np.arange(60 * rate) / rate).astype(np.float32)
    excerpt = take(Signal(tone[None, :], rate), (Span(0.0, 5.0), Span(20.0033, 25.0)))
    steps = np.abs(np.diff(excerpt.signal.samples[0]))
    assert steps.max() < 2.5 * np.abs(np.diff(tone)).max()


def test_one_stretch_is_the_sound_itself() -> None:
    sound = np.random.default_rng(1).normal(size=(2, 8000)).astype(np.float32)
    excerpt = take(Signal(sound, 8000), (Span(0.25, 0.75),))
    assert np.array_equal(excerpt.signal.samples, sound[:, 2000:6000])
