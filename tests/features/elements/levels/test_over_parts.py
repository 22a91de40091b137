"""How loud an element is in each part: values by construction."""

import pytest

from features.elements.levels.over_parts import levels_over_parts
from features.elements.meter import trace_of
from features.records.sections import Section
from tests import signals

RATE_HZ = signals.RATE_HZ
PARTS = (Section(0.0, 5.0, -20.0), Section(5.0, 10.0, -20.0), Section(10.0, 20.0, -20.0))


def test_each_part_has_its_own_level_and_rests_have_none() -> None:
    mix, element = signals.pink(20.0, rms_dbfs=-20.0, seed=3), signals.silence(20.0)
    element[:, 5 * RATE_HZ : 10 * RATE_HZ] = 0.5 * mix[:, 5 * RATE_HZ : 10 * RATE_HZ]  # -6.02 dB
    element[:, 10 * RATE_HZ :] = 0.25 * mix[:, 10 * RATE_HZ :]  # -12.04 dB
    levels = levels_over_parts(trace_of(signals.signal(element)), trace_of(signals.signal(mix)), PARTS)
    assert levels[0] is None
    assert levels[1] == pytest.approx(-6.02, abs=0.2)
    assert levels[2] == pytest.approx(-12.04, abs=0.2)


def test_an_element_that_hardly_plays_in_a_part_does_not_belong_to_it() -> None:
    mix, element = signals.pink(20.0, rms_dbfs=-20.0, seed=3), signals.silence(20.0)
    element[:, 10 * RATE_HZ : 10 * RATE_HZ + RATE_HZ // 2] = mix[:, 10 * RATE_HZ : 10 * RATE_HZ + RATE_HZ // 2]
    assert levels_over_parts(trace_of(signals.signal(element)), trace_of(signals.signal(mix)), PARTS) == (None, None, None)


def test_a_part_beyond_the_element_has_no_level() -> None:
    mix = signals.pink(20.0, rms_dbfs=-20.0, seed=3)
    short = mix[:, : 5 * RATE_HZ]
    levels = levels_over_parts(trace_of(signals.signal(short)), trace_of(signals.signal(mix)), PARTS)
    assert levels[0] == pytest.approx(0.0, abs=0.1)
    assert levels[1:] == (None, None)
