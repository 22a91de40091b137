"""A kick without anything above its lows."""

import pytest

from features.records.ear import Elsewhere
from rules.base import Finding
from rules.mixing.translation import kick_only_sub
from tests import records
from tests.rule_cases import found_all, reason

LIMITS = kick_only_sub.Limits()


def left(share: float, condition: str = "laptop") -> Elsewhere:
    return records.elsewhere(records.song_elsewhere(condition, records.element_elsewhere("kick", audible_share=0.8 * share)))


def fired(share: float = 0.01) -> Finding:
    return found_all(kick_only_sub.check(left(share), records.elements(), LIMITS))[0]


def test_fires_with_the_kick_and_the_place() -> None:
    finding = fired()
    assert (finding.stem, finding.title) == ("kick", "'kick' is only sub")
    assert finding.numbers["place_start"] == "On a laptop"
    assert finding.excess == pytest.approx(2.0)  # (0.07 - 0.01) / 0.03
    assert finding.remedy is not None
    assert (finding.remedy.kind, finding.remedy.part) == ("bell", "kick")


def test_quiet_about_the_usual_kick() -> None:
    assert kick_only_sub.check(left(0.2), records.elements(), LIMITS) is None


def test_quiet_where_only_a_phone_loses_it() -> None:
    assert kick_only_sub.check(left(0.0, "phone"), records.elements(), LIMITS) is None


def test_not_applicable_without_a_kick() -> None:
    none = records.elements(records.element("kick", role="percussion"))
    assert reason(kick_only_sub.check(left(0.0), none, LIMITS)) == "no element plays the kick"
