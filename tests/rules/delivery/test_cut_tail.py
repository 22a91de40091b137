"""An end before the sound has died away."""

import pytest

from features.records.base import Span
from rules.base import Finding
from rules.delivery import cut_tail
from tests import records
from tests.rule_cases import found, reason

LIMITS = cut_tail.Limits()


def fired(level_dbfs: float = -26.0, duration_s: float = 200.0) -> Finding:
    return found(cut_tail.check(records.health(tail_cut_dbfs=level_dbfs), records.file(duration_s=duration_s), LIMITS))


@pytest.mark.parametrize(("level_dbfs", "excess"), [(-31.0, 1.0), (-54.0, 0.25)])
def test_fires_at_the_end_with_its_level(level_dbfs: float, excess: float) -> None:
    finding = fired(level_dbfs)
    assert finding.numbers == {"level_dbfs": level_dbfs}
    assert finding.excess == pytest.approx(excess)
    assert finding.where == (Span(198.0, 200.0),)
    assert (finding.confidence, finding.remedy) == ("medium", None)


def test_fires_within_a_file_shorter_than_two_seconds() -> None:
    assert fired(duration_s=0.5).where == (Span(0.0, 0.5),)


@pytest.mark.parametrize("level_dbfs", [None, -55.0])
def test_quiet_about_a_clean_end_and_at_the_limit(level_dbfs: float | None) -> None:
    assert cut_tail.check(records.health(tail_cut_dbfs=level_dbfs), records.file(), LIMITS) is None


def test_not_applicable_to_silence() -> None:
    assert reason(cut_tail.check(records.health(silent=True), records.file(), LIMITS)) == "the file is silent"
