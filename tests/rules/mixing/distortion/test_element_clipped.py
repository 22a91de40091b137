"""Elements whose tops are cut."""

import pytest

from features.records.base import Moment, Span
from features.records.file import File
from rules.base import Finding
from rules.mixing.distortion import element_clipped
from rules.remedy import Remedy
from tests import records
from tests.rule_cases import found_all

LIMITS = element_clipped.Limits()
MINUTE: File = records.file(duration_s=60.0)


def fired(runs: int = 400, longest: float = 31.0) -> Finding:
    clipped = (Moment(12.0, 12.3, longest), Moment(40.0, 40.1, 7.0))
    element = records.element("lead", level={"clipped_runs": runs, "clipped": clipped})
    return found_all(element_clipped.check(records.elements(element), MINUTE, LIMITS))[0]


@pytest.mark.parametrize(("runs", "excess", "confidence"), [(400, 4.0, "medium"), (100, 1.0, "medium"), (55, 0.5, "low")])
def test_fires_with_count_and_longest_run(runs: int, excess: float, confidence: str) -> None:
    finding = fired(runs)
    assert finding.numbers == {"name": "'lead'", "tops": f"{runs} flat tops", "longest": 31.0}
    assert finding.excess == pytest.approx(excess)
    assert finding.confidence == confidence
    assert finding.where == (Span(12.0, 12.3), Span(40.0, 40.1))
    assert (finding.stem, finding.remedy) == ("lead", Remedy("none", "lead"))


def test_fires_as_a_hint_where_all_flat_tops_are_short() -> None:
    assert fired(400, 8.0).confidence == "low"


def test_quiet_about_a_few_flat_tops() -> None:
    element = records.element("lead", level={"clipped_runs": 10})
    assert element_clipped.check(records.elements(element), MINUTE, LIMITS) is None
