"""A silent file, or a silent channel."""

import pytest

from rules.base import Finding
from rules.delivery import silence
from tests import records
from tests.rule_cases import found

LIMITS = silence.Limits()


def fired(**changes: object) -> Finding:
    return found(silence.check(records.health(**(changes or {"silent_channels": ("left",)})), LIMITS))


@pytest.mark.parametrize(
    ("changes", "what"),
    [
        ({"silent": True, "silent_channels": ("left", "right")}, "The whole file"),
        ({"silent_channels": ("left",)}, "The left channel"),
        ({"silent_channels": ("right",)}, "The right channel"),
    ],
)
def test_fires_with_what_is_silent(changes: dict[str, object], what: str) -> None:
    finding = fired(**changes)
    assert finding.numbers == {"what": what}
    assert (finding.excess, finding.confidence, finding.remedy) == (4.0, "high", None)


def test_quiet_where_everything_sounds() -> None:
    assert silence.check(records.health(), LIMITS) is None
