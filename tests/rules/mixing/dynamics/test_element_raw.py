"""Elements that jump in level, and the compressor found on them."""

from dataclasses import replace

import pytest

from features.records.base import Span
from features.records.elements import Element
from rules.base import Finding
from rules.mixing.dynamics import element_raw
from rules.remedy import Remedy
from tests import records
from tests.rule_cases import found_all

LIMITS = element_raw.Limits()
SIGNS = ("its hits differ by 5.2 dB", "its phrases differ by 11 dB")


def raw(name: str = "lead", **changes: object) -> Element:
    readings: dict[str, object] = {
        "state": "raw", "signs": SIGNS, "threshold_dbfs": -26.4, "ratio": 2.5, "attack_ms": 12.0, "release_ms": 140.0, "reduction_db": 4.5,
        "where": (Span(40.0, 50.0),),
    }  # fmt: skip
    return records.element(name, dynamics={**readings, **changes})


def fired(element: Element | None = None) -> Finding:
    return found_all(element_raw.check(records.elements(element or raw()), LIMITS))[0]


def test_fires_with_its_signs_and_the_settings_found_on_it() -> None:
    finding = fired()
    assert finding.remedy == Remedy("compressor", "lead", threshold_dbfs=-26.4, ratio=2.5, attack_ms=12.0, release_ms=140.0)
    assert finding.numbers["signs"] == "Its hits differ by 5.2 dB. Its phrases differ by 11 dB"
    assert (finding.stem, finding.cause, finding.where) == ("lead", "unsteady", (Span(40.0, 50.0),))
    assert finding.excess == pytest.approx(1.5)  # (4.5 - 1.5) / 2


def test_fires_on_the_one_with_most_to_do_first() -> None:
    song = records.elements(raw("lead", reduction_db=3.0), raw("bass", reduction_db=6.0))
    assert [finding.stem for finding in found_all(element_raw.check(song, LIMITS))] == ["bass", "lead"]


@pytest.mark.parametrize(("role", "confidence"), [("vocal", "medium"), ("bass", "medium"), ("guitar", "medium"), ("synth", "low")])
def test_fires_more_surely_on_what_is_played_than_on_what_is_programmed(role: str, confidence: str) -> None:
    assert fired(replace(raw(), role=role)).confidence == confidence  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "changes",
    [
        {"state": "finished"},
        {"state": "unclear"},
        {"state": "over-compressed"},
        {"signs": SIGNS[:1]},
        {"reduction_db": 1.5},
        {"threshold_dbfs": None},
        {"ratio": None},
        {"reduction_db": None},
    ],
)
def test_quiet_unless_signs_agree_and_settings_were_found(changes: dict[str, object]) -> None:
    assert element_raw.check(records.elements(raw("lead", **changes)), LIMITS) is None


def test_quiet_where_dynamics_were_not_measured() -> None:
    assert element_raw.check(records.elements(records.element("lead", dynamics=None)), LIMITS) is None
