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


def turned(**correlations: float) -> tuple[Finding, ...]:
    """Return what is said where all elements are wide but those given."""
    known = dict.fromkeys(records.ORDINARY_ELEMENTS, 0.1) | correlations
    return found_all(
        element_inverted.check(records.elements(*(records.element(n, level={"correlation": c}) for n, c in known.items())), LIMITS)
    )


def test_fires_once_for_the_mix_where_several_are_turned_and_none_stands_in_the_middle() -> None:
    (finding,) = turned(kick=-0.98, snare=-0.9)
    assert (finding.stem, finding.remedy, finding.confidence) == (None, Remedy("polarity", "right"), "high")
    assert "mixing/polarity_fault" in finding.explains


def test_fires_for_each_element_where_another_stands_in_the_middle() -> None:
    assert {finding.stem for finding in turned(kick=-0.98, snare=-0.9, bass=0.95)} == {"kick", "snare"}


@pytest.mark.parametrize("correlation", [0.9, 0.0, -0.25, None])
def test_quiet_about_wide_elements_and_mono_ones(correlation: float | None) -> None:
    element = records.element("pad", level={"correlation": correlation})
    assert element_inverted.check(records.elements(element), LIMITS) is None
