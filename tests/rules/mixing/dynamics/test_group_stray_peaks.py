"""Rare peaks of a group, and the ceiling that catches only them."""

import pytest

from features.records.base import Moment, Span
from features.records.elements import Elements
from rules.base import Finding
from rules.mixing.dynamics import group_stray_peaks
from rules.remedy import Remedy
from tests import records
from tests.rule_cases import found_all

LIMITS = group_stray_peaks.Limits()
PEAKS = tuple(Moment(10.0 * place, 10.0 * place + 0.25, -2.0 - place) for place in range(1, 6))


def strays(**changes: object) -> dict[str, object]:
    return {"stray_peaks_per_minute": 8.0, "stray_peaks": PEAKS, "ceiling_dbfs": -7.04, "resting_share": 0.994, **changes}


def song(**changes: object) -> Elements:
    return records.elements(groups=(records.group("drums", "kick", "snare", "hats", **strays(**changes)), records.group("bass", "bass")))


def fired(elements: Elements | None = None) -> Finding:
    return found_all(group_stray_peaks.check(elements or song(), LIMITS))[0]


def test_fires_with_how_many_how_high_and_how_much_the_limiter_rests() -> None:
    finding = fired()
    assert finding.numbers["group"] == "the drums group ('kick', 'snare' and 'hats')"
    assert (finding.numbers["per_minute"], finding.numbers["resting"]) == (8.0, 0.994)
    assert finding.numbers["height_db"] == pytest.approx(4.04)
    assert finding.excess == pytest.approx(1.02)  # (4.04 - 2) / 2
    assert finding.where == tuple(Span(moment.start_s, moment.end_s) for moment in PEAKS[:3])


def test_fires_with_a_limiter_on_the_group_at_its_ceiling() -> None:
    assert fired().remedy == Remedy("peak_limiter", "drums", ceiling_dbfs=-7.0)
    assert fired().stem is None


def test_fires_on_the_element_where_it_is_the_whole_group() -> None:
    alone = fired(records.elements(groups=(records.group("bass", "my bass", **strays()),)))
    assert (alone.stem, alone.title) == ("my bass", "Stray peaks in 'my bass'")
    assert alone.remedy == Remedy("peak_limiter", "my bass", ceiling_dbfs=-7.0)


@pytest.mark.parametrize(
    "changes",
    [
        {"stray_peaks_per_minute": 0.0},
        {"stray_peaks_per_minute": 15.1},
        {"resting_share": 0.94},
        {"ceiling_dbfs": -5.0},
        {"ceiling_dbfs": None},
        {"resting_share": None},
        {"stray_peaks_per_minute": None},
        {"stray_peaks": ()},
    ],
)
def test_quiet_where_they_are_low_not_rare_or_not_caught_alone(changes: dict[str, object]) -> None:
    assert group_stray_peaks.check(song(**changes), LIMITS) is None
