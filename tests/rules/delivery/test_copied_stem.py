"""Stems that hold what another one holds."""

import pytest

from features.records.elements import Element
from rules.base import Finding
from rules.delivery import copied_stem
from tests import records
from tests.rule_cases import found_all

LIMITS = copied_stem.Limits()


def fired() -> Finding:
    return found_all(copied_stem.check(records.elements(records.element("pad 2", copy_of="pad")), LIMITS))[0]


def test_fires_with_both_names_and_little_weight() -> None:
    finding = fired()
    assert (finding.title, finding.stem) == ("'pad 2' duplicates 'pad'", "pad 2")
    assert finding.numbers == {"name": "'pad 2'", "other": "'pad'"}
    assert (finding.excess, finding.confidence, finding.cause) == (0.5, "high", "stems")


@pytest.mark.parametrize("element", [records.element("pad 2"), records.element("pad 2", copy_of="pad", silent=True)])
def test_quiet_about_sounds_of_their_own_and_about_silence(element: Element) -> None:
    assert copied_stem.check(records.elements(element), LIMITS) is None


def test_quiet_about_a_copy_that_hardly_plays_when_asked_to_be() -> None:
    song = records.elements(records.element("pad 2", copy_of="pad", level={"plays_share": 0.05}))
    assert copied_stem.check(song, copied_stem.Limits(least_playing=0.1)) is None
    assert copied_stem.check(song, copied_stem.Limits(least_playing=0.05)) is not None
