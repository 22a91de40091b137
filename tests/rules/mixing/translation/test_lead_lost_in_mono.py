"""A lead that lies in the sides."""

from features.records.ear import Elsewhere
from rules.base import Finding
from rules.mixing.translation import lead_lost_in_mono
from tests import records
from tests.rule_cases import found, reason

LIMITS = lead_lost_in_mono.Limits()


def lost(loss_db: float, name: str = "lead") -> Elsewhere:
    wide = records.element_elsewhere(name, mono_loss_db=loss_db)
    return records.elsewhere(*(records.song_elsewhere(key, wide) for key in ("phone", "kitchen")))


def fired(loss_db: float = 9.0) -> Finding:
    return found(lead_lost_in_mono.check(lost(loss_db), records.elements(), LIMITS))


def test_fires_with_the_lead_its_loss_and_every_place() -> None:
    finding = fired()
    assert (finding.stem, finding.title) == ("lead", "'lead' sinks away in mono")
    assert finding.numbers == {"name": "'lead'", "loss_db": 9.0, "places": "on a phone and on a kitchen radio in mono"}
    assert finding.excess == 1.5
    assert finding.confidence == "medium"


def test_quiet_about_a_lead_with_ordinary_width() -> None:
    assert lead_lost_in_mono.check(lost(3.5), records.elements(), LIMITS) is None


def test_quiet_about_another_wide_element() -> None:
    assert lead_lost_in_mono.check(lost(20.0, "pad"), records.elements(), LIMITS) is None


def test_not_applicable_where_no_place_in_mono_was_chosen() -> None:
    laptop = Elsewhere(0, (records.song_elsewhere("laptop"),))
    assert "mono" in reason(lead_lost_in_mono.check(laptop, records.elements(), LIMITS))
