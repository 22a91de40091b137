"""What was put behind and stands in front is reported."""

import pytest

from features.records.elements import Elements
from rules.base import Finding, NotApplicable
from rules.mixing.balance import stated_order_broken
from rules.remedy import Remedy
from tests import records
from tests.rule_cases import found_all

LIMITS = stated_order_broken.Limits()


def song(front: tuple[str, ...] = ("lead", "kick", "pad"), *, pad: float = -9.0, kick: float = -6.0) -> Elements:
    """Return a song with an order stated and three elements at these levels."""
    levels = {"lead": -4.0, "kick": kick, "pad": pad}
    return records.elements(*(records.element(name, level={"while_playing_lu": level}) for name, level in levels.items()), front=front)


def fired() -> Finding:
    return found_all(stated_order_broken.check(song(pad=1.0), LIMITS))[0]


def test_fires_for_the_one_that_stands_in_front_of_what_it_was_put_behind() -> None:
    findings = found_all(stated_order_broken.check(song(pad=-0.5), LIMITS))
    assert [(finding.stem, finding.remedy) for finding in findings] == [("pad", Remedy("gain", "pad", gain_db=-5.5))]
    assert findings[0].numbers["front"] == "'kick'"


def test_fires_with_no_more_than_is_moved_at_once() -> None:
    assert fired().remedy == Remedy("gain", "pad", gain_db=-6.0)
    assert fired().title == "'pad' in front of 'kick'"


def test_fires_for_a_wrong_order_stated() -> None:
    stated = song(("pad", "kick", "lead"))
    assert {finding.stem for finding in found_all(stated_order_broken.check(stated, LIMITS))} == {"lead"}


@pytest.mark.parametrize(("pad", "kick"), [(-9.0, -6.0), (-3.5, -6.0), (-9.0, -1.5)])
def test_quiet_where_the_order_is_kept_or_nearly(pad: float, kick: float) -> None:
    assert stated_order_broken.check(song(pad=pad, kick=kick), LIMITS) is None


def test_quiet_without_an_order() -> None:
    assert isinstance(stated_order_broken.check(song(()), LIMITS), NotApplicable)
