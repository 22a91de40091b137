"""Levels of all elements together: one fader is found, the others are not blamed, and the common level is free."""

from dataclasses import replace

import numpy as np
import pytest

from features.outcomes.level_faults import Faders, faders_of, level_faults, levels_nats
from features.records.elements import Element
from tests import records


def usual(**moved_db: float) -> Faders:
    """Return the ordinary song's elements where their roles usually lie, some of them moved."""
    return usual_from([at_usual(name, moved_db.get(name, 0.0)) for name in records.ORDINARY_ELEMENTS])


def at_usual(name: str, moved_db: float) -> Element:
    element = records.element(name)
    assert element.level_plan.usual_lu is not None
    return replace(element, level=replace(element.level, in_mix_lu=element.level_plan.usual_lu + moved_db))


def usual_from(elements: list[Element]) -> Faders:
    faders = faders_of(elements)
    assert faders is not None
    return faders


def test_levels_as_usual_are_likeliest_and_a_fader_on_all_changes_nothing() -> None:
    assert levels_nats(usual()) == pytest.approx(0.0)
    raised = usual(**dict.fromkeys(records.ORDINARY_ELEMENTS, 4.0))
    assert levels_nats(raised) == pytest.approx(0.0, abs=1e-12)
    assert np.abs(level_faults(raised).expected_db).max() < 1e-12


@pytest.mark.parametrize("name", ["kick", "bass", "snare"])
@pytest.mark.parametrize("moved_db", [8.0, -10.0])
def test_a_single_fader_is_named_with_less_than_it_was_moved(name: str, moved_db: float) -> None:
    said = level_faults(usual(**{name: moved_db}))
    first = said.likeliest[0]
    assert first.names == (name,)
    assert 0.4 < first.off_db / moved_db < 1.0
    assert said.none < level_faults(usual()).none
    expected = dict(zip(said.names, said.expected_db, strict=True))
    assert max(expected, key=lambda element_name: abs(expected[element_name])) == name
    assert expected[name] * moved_db > 0.0


def test_a_group_is_named_as_one() -> None:
    said = level_faults(usual(kick=-10.0, snare=-10.0, hats=-10.0))
    assert said.likeliest[0].names == ("kick", "snare", "hats")
    assert said.likeliest[0].off_db < -5.0


def test_more_is_less_likely_and_never_by_a_jump() -> None:
    nats = np.array([levels_nats(usual(kick=moved)) for moved in np.arange(0.0, 20.0, 0.1)])
    assert (np.diff(nats) > 0.0).all()
    assert np.abs(np.diff(nats, 2)).max() < 0.01


def test_copies_and_the_silent_are_left_out_and_two_say_nothing() -> None:
    copy = records.element("pad", copy_of="lead")
    silent = records.element("snare", level={"in_mix_lu": None})
    elements = [records.element(name) for name in ("kick", "bass", "lead")]
    assert usual_from([*elements, copy, silent]).names == ("kick", "bass", "lead")
    assert faders_of([*elements[:2], copy, silent]) is None
