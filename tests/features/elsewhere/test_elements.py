"""What is left of single elements, on sounds of which it is known."""

from dataclasses import replace
from math import inf

import numpy as np
import pytest

from features.elements.meter import trace_of
from features.elsewhere.conditions import CONDITIONS, DESK, FLAT, Condition
from features.elsewhere.elements import Played, stretches, thinned, with_elements
from features.elsewhere.mono import mono_shares
from features.records.ear import ElementElsewhere, Elsewhere
from features.sound.signal import Signal
from tests import records

RATE_HZ = 44100
TIME_S = np.arange(6 * RATE_HZ) / RATE_HZ
NAMES = ("sub", "tone", "wide")
KEYS = ("phone", "laptop", "kitchen")


def sounds() -> dict[str, np.ndarray]:
    sub, tone, wide = (0.2 * np.sin(2 * np.pi * hz * TIME_S).astype(np.float32) for hz in (55.0, 800.0, 3000.0))
    return {"sub": np.stack([sub, sub]), "tone": np.stack([tone, tone]), "wide": np.stack([wide, -wide])}


def heard(*conditions: Condition, parts: dict[str, np.ndarray] | None = None) -> dict[str, dict[str, ElementElsewhere]]:
    parts = parts or sounds()
    traces = {name: trace_of(Signal(samples, RATE_HZ)) for name, samples in parts.items()}
    frames = max(len(trace.left) for trace in traces.values())
    mono = {name: mono_shares([samples], RATE_HZ) for name, samples in parts.items()}
    played = Played(tuple(parts), tuple(thinned(trace, frames) for trace in traces.values()), None, mono)
    empty = tuple(replace(records.song_elsewhere("phone"), condition=condition.key, elements=()) for condition in conditions)
    measured = with_elements(Elsewhere(0, empty), played, conditions, NAMES)
    return {there.condition: {its.name: its for its in there.elements} for there in measured.conditions}


def named(*keys: str) -> tuple[Condition, ...]:
    return tuple(condition for condition in CONDITIONS if condition.key in keys)


def test_a_sub_is_gone_on_a_laptop_and_a_tone_is_not() -> None:
    laptop = heard(*named("laptop"))["laptop"]
    assert laptop["sub"].kept < 0.02
    assert laptop["tone"].kept > 0.9
    assert laptop["sub"].mono_loss_db is None


def test_opposed_channels_are_gone_in_mono() -> None:
    kitchen = heard(*named("kitchen"))["kitchen"]
    assert kitchen["wide"].kept < 0.02
    assert kitchen["wide"].mono_loss_db is not None
    assert kitchen["wide"].mono_loss_db > 20.0
    assert kitchen["tone"].mono_loss_db == pytest.approx(0.0, abs=0.01)


def test_the_low_end_lost_in_mono_is_laid_on_who_loses_it() -> None:
    parts = sounds()
    parts["sub"] = parts["sub"] * np.array([[1.0], [-1.0]], np.float32)
    club = heard(*named("club"), parts=parts)["club"]
    assert club["sub"].low_lost_share == pytest.approx(1.0, abs=0.01)


def test_one_ear_loses_what_is_on_the_other_side() -> None:
    parts = sounds()
    parts["tone"] = parts["tone"] * np.array([[0.0], [1.0]], np.float32)
    assert heard(*named("one-ear"), parts=parts)["one-ear"]["tone"].kept < 0.05


def test_swapped_sides_and_a_desk_keep_everything() -> None:
    both = heard(*named("swapped"), DESK)
    assert all(its.kept == pytest.approx(1.0, abs=0.1) for there in both.values() for its in there.values())


def test_noise_hides_what_lies_under_it() -> None:
    noise = ((20.0, 20.0), (500.0, 20.0), (600.0, 90.0), (1000.0, 90.0), (1200.0, 20.0))
    bar = heard(Condition("bar", "bar", "in a bar", FLAT, 70.0, (), noise=noise))["bar"]
    assert bar["tone"].audible_share < 0.1
    assert bar["wide"].kept > 0.9


def test_the_same_sound_louder_keeps_the_same() -> None:
    softer = {name: samples * np.float32(0.1) for name, samples in sounds().items()}
    loud, soft = heard(*named(*KEYS)), heard(*named(*KEYS), parts=softer)
    for key in KEYS:
        for name in NAMES:
            assert soft[key][name].kept == pytest.approx(loud[key][name].kept, abs=0.02)


def test_silence_is_left_out() -> None:
    parts = {**sounds(), "nothing": np.zeros((2, 6 * RATE_HZ), np.float32)}
    assert "nothing" not in heard(*named("laptop"), parts=parts)["laptop"]


def test_stretches_lie_all_over_a_long_song_and_their_traces_are_as_long() -> None:
    spans = stretches(100_000, 0.02)
    assert len(spans) == 20
    assert spans[0].start_s == 0.0
    assert spans[-1].end_s == pytest.approx(100_000 * 0.02)
    trace = trace_of(Signal(sounds()["wide"], RATE_HZ))
    short = thinned(trace, len(trace.left))
    assert short.left.shape == short.right.shape == trace.left.shape


def test_mono_below_a_frequency_leaves_the_rest_wide() -> None:
    part = heard(Condition("p", "p", "p", FLAT, 80.0, (), mono_below_hz=100.0))["p"]
    whole = heard(Condition("p", "p", "p", FLAT, 80.0, (), mono_below_hz=inf))["p"]
    assert part["wide"].kept > 0.9
    assert whole["wide"].kept < 0.02
