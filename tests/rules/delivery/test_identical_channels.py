"""Two channels that are one."""

from rules.base import Finding
from rules.delivery import identical_channels
from tests import records
from tests.rule_cases import found, reason

LIMITS = identical_channels.Limits()


SAME = records.health(identical_channels=True)


def fired() -> Finding:
    return found(identical_channels.check(SAME, records.file(), LIMITS))


def test_fires_surely_and_as_heavily_as_the_user_wants() -> None:
    assert (fired().excess, fired().confidence, fired().remedy) == (1.0, "high", None)
    assert found(identical_channels.check(SAME, records.file(), identical_channels.Limits(excess=2.0))).excess == 2.0


def test_quiet_about_channels_that_differ() -> None:
    assert identical_channels.check(records.health(), records.file(), LIMITS) is None


def test_not_applicable_to_one_channel() -> None:
    assert reason(identical_channels.check(SAME, records.file(channels=1), LIMITS)) == "the file is mono"


def test_not_applicable_to_silence() -> None:
    assert reason(identical_channels.check(records.health(silent=True), records.file(), LIMITS)) == "the file is silent"
