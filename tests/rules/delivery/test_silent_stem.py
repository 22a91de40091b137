"""Stems without sound."""

import pytest

from features.records.elements import Element
from rules.base import Finding
from rules.delivery import silent_stem
from tests import records
from tests.rule_cases import found_all

LIMITS = silent_stem.Limits()


def fired() -> Finding:
    return found_all(silent_stem.check(records.elements(records.element("pad", silent=True)), LIMITS))[0]


def test_fires_with_its_name_and_little_weight() -> None:
    finding = fired()
    assert (finding.title, finding.stem, finding.cause) == ("The stem 'pad' is silent", "pad", "stems")
    assert (finding.excess, finding.confidence, finding.remedy) == (0.5, "high", None)


@pytest.mark.parametrize("peak_dbfs", [-80.1, -120.0])
def test_fires_on_one_below_the_limit(peak_dbfs: float) -> None:
    song = records.elements(records.element("hats", level={"sample_peak_dbfs": peak_dbfs}))
    assert found_all(silent_stem.check(song, LIMITS))[0].stem == "hats"


@pytest.mark.parametrize(
    "element", [records.element("hats", level={"sample_peak_dbfs": -80.0}), records.element("hats", level={"sample_peak_dbfs": None})]
)
def test_quiet_from_the_limit_on(element: Element) -> None:
    assert silent_stem.check(records.elements(element), LIMITS) is None
