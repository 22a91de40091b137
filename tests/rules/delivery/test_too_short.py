"""Files too short to judge."""

import pytest

from rules.base import Finding
from rules.delivery import too_short
from tests import records
from tests.rule_cases import found

LIMITS = too_short.Limits()


def fired(duration_s: float = 15.0) -> Finding:
    return found(too_short.check(records.file(duration_s=duration_s), LIMITS))


@pytest.mark.parametrize(
    ("duration_s", "excess", "word"),
    [(15.0, 1.5, "Loudness range"), (3.0, 2.7, "Loudness range"), (2.9, 2.71, "Hardly anything"), (0.0, 3.0, "Hardly")],
)
def test_fires_with_the_length_and_which_readings_suffer(duration_s: float, excess: float, word: str) -> None:
    finding = fired(duration_s)
    assert finding.numbers["length_s"] == duration_s
    assert word in str(finding.numbers["what"])
    assert finding.excess == pytest.approx(excess)
    assert (finding.confidence, finding.remedy) == ("high", None)


@pytest.mark.parametrize("duration_s", [30.0, 7200.0])
def test_quiet_from_the_limit_on(duration_s: float) -> None:
    assert too_short.check(records.file(duration_s=duration_s), LIMITS) is None
