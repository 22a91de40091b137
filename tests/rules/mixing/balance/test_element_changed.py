"""Levels against an earlier bounce."""

import pytest

from features.records.elements import Elements
from rules.base import Finding
from rules.mixing.balance import element_changed
from rules.remedy import Remedy
from tests import records
from tests.rule_cases import found_all, reason

LIMITS = element_changed.Limits()


def since(common_db: float | None = 0.0, **changes_db: float) -> Elements:
    return records.elements(
        *(
            records.element(name, level_plan={"since_earlier_db": None if common_db is None else common_db + changes_db.get(name, 0.0)})
            for name in records.ORDINARY_ELEMENTS
        )
    )


def fired(song: Elements | None = None) -> Finding:
    return found_all(element_changed.check(song or since(snare=4.5), LIMITS))[0]


def test_fires_with_the_element_the_amount_and_the_direction() -> None:
    finding = fired()
    assert finding.title == "'snare' is 4.5 dB louder"
    assert finding.numbers == {"name": "'snare'", "change_db": 4.5, "direction": "louder", "beside": ", relative to most of the others"}
    assert (finding.stem, finding.confidence, finding.cause) == ("snare", "high", "level")
    assert finding.excess == pytest.approx(1.0)  # (4.5 - 1.5) / 3: it may well be meant


@pytest.mark.parametrize("change_db", [3.0, -3.0])
def test_fires_with_the_way_back(change_db: float) -> None:
    finding = fired(since(bass=change_db))
    assert finding.remedy == Remedy("gain", "bass", gain_db=-change_db)
    assert finding.numbers["direction"] == ("louder" if change_db > 0.0 else "quieter")


@pytest.mark.parametrize("common_db", [-6.0, 0.0, 3.0])
def test_fires_alike_whatever_all_others_did_together(common_db: float) -> None:
    findings = found_all(element_changed.check(since(common_db, snare=2.0), LIMITS))
    assert [(finding.stem, round(float(finding.numbers["change_db"]), 6)) for finding in findings] == [("snare", 2.0)]


def test_fires_with_how_many_changed_where_not_all_can_be_named() -> None:
    names = [f"part {number}" for number in range(5)]
    song = records.elements(*(records.element(name, level_plan={"since_earlier_db": 3.2 + number}) for number, name in enumerate(names)))
    findings = found_all(element_changed.check(song, LIMITS))
    assert [finding.stem for finding in findings] == ["part 4", "part 3", "part 2", "part 1"]
    assert findings[0].numbers["beside"] == ", relative to most of the others. 5 elements changed in all"


def test_fires_with_two_elements_as_they_are() -> None:
    pair = tuple(records.element(name, level_plan={"since_earlier_db": change}) for name, change in (("kick", 4.0), ("bass", 0.0)))
    song = records.elements(elements=pair)
    assert (fired(song).numbers["change_db"], fired(song).numbers["beside"]) == (4.0, "")


@pytest.mark.parametrize("change_db", [-1.5, 0.0, 1.5])
def test_quiet_up_to_the_limit(change_db: float) -> None:
    assert element_changed.check(since(snare=change_db), LIMITS) is None


def test_not_applicable_without_an_earlier_bounce() -> None:
    assert "no earlier bounce" in reason(element_changed.check(since(None), LIMITS))
