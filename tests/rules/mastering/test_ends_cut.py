"""Music that the master leaves out."""

import pytest

from rules.base import Finding
from rules.mastering import ends_cut
from tests import mastering_records
from tests.rule_cases import found

LIMITS = ends_cut.Limits()


def fired(head_s: float = 0.22, tail_s: float = 0.0) -> Finding:
    return found(ends_cut.check(mastering_records.mastered(head_cut_s=head_s, tail_cut_s=tail_s), LIMITS))


def test_fires_at_the_start_the_end_and_both() -> None:
    assert fired().excess == pytest.approx(1.0)
    assert fired(0.0, 1.0).numbers == {"what": "the last 1.00 s of music are"}
    assert fired(0.5, 1.0).numbers == {"what": "the first 0.50 s and the last 1.00 s of music are"}


def test_quiet_when_only_silence_is_missing() -> None:
    assert ends_cut.check(mastering_records.mastered(head_cut_s=0.01, tail_cut_s=0.1), LIMITS) is None
