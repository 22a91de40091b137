"""Elements whose dynamics are gone."""

from dataclasses import replace

import pytest

from features.records.elements import Element
from rules.base import Finding
from rules.mixing.dynamics import element_over_compressed
from rules.remedy import Remedy
from tests import records
from tests.rule_cases import found_all

LIMITS = element_over_compressed.Limits()
SIGNS = ("its peaks stand 5 dB above its body", "its hits differ by 0.3 dB", "its phrases differ by 1 dB")


def flat(**changes: object) -> Element:
    return records.element("snare", dynamics={"state": "over-compressed", "signs": SIGNS, **changes})


def fired(element: Element | None = None) -> Finding:
    return found_all(element_over_compressed.check(records.elements(element or flat()), LIMITS))[0]


def test_fires_with_its_signs_and_no_processor() -> None:
    finding = fired()
    assert (finding.stem, finding.title) == ("snare", "'snare' is over-compressed")
    assert finding.remedy == Remedy("none", "snare")
    assert "5 dB above its body" in str(finding.numbers["signs"])


@pytest.mark.parametrize(("signs", "excess"), [(2, 0.5), (3, 1.0)])
def test_fires_harder_the_more_signs_agree(signs: int, excess: float) -> None:
    assert fired(flat(signs=SIGNS[:signs])).excess == pytest.approx(excess)


@pytest.mark.parametrize(("role", "confidence"), [("vocal", "medium"), ("snare", "medium"), ("bass", "low"), ("pad", "low")])
def test_fires_less_surely_on_what_is_level_by_nature(role: str, confidence: str) -> None:
    assert fired(replace(flat(), role=role)).confidence == confidence  # type: ignore[arg-type]


@pytest.mark.parametrize("changes", [{"signs": SIGNS[:1]}, {"state": "raw"}, {"state": "finished"}, {"state": "unclear"}])
def test_quiet_on_one_sign_or_another_state(changes: dict[str, object]) -> None:
    assert element_over_compressed.check(records.elements(flat(**changes)), LIMITS) is None
    assert element_over_compressed.check(records.elements(records.element("snare", dynamics=None)), LIMITS) is None
