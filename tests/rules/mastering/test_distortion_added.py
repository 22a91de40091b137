"""Distortion that mastering added."""

import pytest

from rules.base import Finding, NotApplicable
from rules.mastering import distortion_added
from tests import mastering_records
from tests.rule_cases import found

LIMITS = distortion_added.Limits()


def fired(nmr_db: float = 4.5, explained: float = 0.95) -> Finding:
    return found(distortion_added.check(mastering_records.mastered(distortion_nmr_db=nmr_db, explained_share=explained), LIMITS))


def test_fires_past_what_the_music_masks() -> None:
    assert fired().excess == pytest.approx(1.0)
    assert fired().confidence == "medium"


def test_fires_with_doubt_where_an_effect_may_have_been_added() -> None:
    assert fired(explained=0.5).confidence == "low"


def test_quiet_up_to_the_limit() -> None:
    assert distortion_added.check(mastering_records.mastered(distortion_nmr_db=1.5), LIMITS) is None


def test_says_when_it_cannot_judge() -> None:
    assert isinstance(distortion_added.check(mastering_records.mastered(distortion_nmr_db=None), LIMITS), NotApplicable)
