"""A start in the middle of a sound."""

import pytest

from features.records.base import Span
from rules.base import Finding
from rules.delivery import cut_head
from tests import records
from tests.rule_cases import found, reason

LIMITS = cut_head.Limits()


def fired(level_dbfs: float = -16.0) -> Finding:
    return found(cut_head.check(records.health(head_cut_dbfs=level_dbfs), LIMITS))


@pytest.mark.parametrize(("level_dbfs", "excess"), [(-16.0, 1.0), (-39.0, 0.25)])
def test_fires_at_the_start_with_its_level(level_dbfs: float, excess: float) -> None:
    finding = fired(level_dbfs)
    assert finding.numbers == {"level_dbfs": level_dbfs}
    assert finding.excess == pytest.approx(excess)
    assert finding.where == (Span(0.0, 0.5),)
    assert (finding.confidence, finding.remedy) == ("medium", None)


@pytest.mark.parametrize("level_dbfs", [None, -40.0])
def test_quiet_about_a_clean_start_and_at_the_limit(level_dbfs: float | None) -> None:
    assert cut_head.check(records.health(head_cut_dbfs=level_dbfs), LIMITS) is None


def test_not_applicable_to_silence() -> None:
    assert reason(cut_head.check(records.health(silent=True), LIMITS)) == "the file is silent"
