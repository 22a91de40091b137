"""A lossy bounce."""

from rules.base import Finding
from rules.delivery import lossy_source
from tests import records
from tests.rule_cases import found

LIMITS = lossy_source.Limits()


def fired() -> Finding:
    return found(lossy_source.check(records.file(lossy=True, bits=None, subtype="MPEG_LAYER_III"), LIMITS))


def test_fires_with_the_format_as_the_file_states_it() -> None:
    finding = fired()
    assert finding.numbers == {"subtype": "mpeg layer iii"}
    assert (finding.excess, finding.confidence, finding.remedy) == (1.0, "high", None)


def test_fires_as_heavily_as_the_user_wants() -> None:
    assert found(lossy_source.check(records.file(lossy=True), lossy_source.Limits(excess=0.2))).excess == 0.2


def test_quiet_about_a_file_that_keeps_everything() -> None:
    assert lossy_source.check(records.file(), LIMITS) is None
