"""Elements of which one channel is upside down."""

import pytest

from rules.base import Finding
from rules.mixing.space import element_inverted
from rules.remedy import Remedy
from tests import records
from tests.rule_cases import found_all

LIMITS = element_inverted.Limits()


def fired(correlation: float = -0.9, name: str = "lead") -> Finding:
    element = records.element(name, level={"correlation": correlation})
    return found_all(element_inverted.check(records.elements(element), LIMITS))[0]


@pytest.mark.parametrize(("correlation", "confidence", "loss_db"), [(-0.9, "high", 13.0), (-0.4, "medium", 5.2), (-1.0, "high", 40.0)])
def test_fires_with_what_mono_loses(correlation: float, confidence: str, loss_db: float) -> None:
    finding = fired(correlation)
    assert finding.confidence == confidence
    assert finding.numbers["loss_db"] == pytest.approx(loss_db, abs=0.1)
    assert (finding.stem, finding.remedy) == ("lead", Remedy("none", "lead"))
    assert "mixing/inverted_part" in finding.explains


def test_quiet_where_most_are_turned_since_that_is_told_of_the_mix() -> None:
    turned = [records.element(name, level={"correlation": -0.9}) for name in records.ORDINARY_ELEMENTS]
    assert element_inverted.check(records.elements(*turned), LIMITS) is None


@pytest.mark.parametrize("correlation", [0.9, 0.0, -0.25, None])
def test_quiet_about_wide_elements_and_mono_ones(correlation: float | None) -> None:
    element = records.element("pad", level={"correlation": correlation})
    assert element_inverted.check(records.elements(element), LIMITS) is None
