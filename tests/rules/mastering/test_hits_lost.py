"""Hits that mastering took away."""

import pytest

from features.records.base import Moment, Span
from rules.base import Finding, NotApplicable
from rules.mastering import hits_lost
from tests import mastering_records
from tests.rule_cases import found

LIMITS = hits_lost.Limits()


def fired(loss_db: float = 4.5, share: float = 0.5) -> Finding:
    worst = (Moment(31.0, 31.2, 7.0),)
    return found(hits_lost.check(mastering_records.mastered(hit_loss_db=loss_db, hits_lost_share=share, worst_hits=worst), LIMITS))


def test_fires_by_the_median_and_by_the_share() -> None:
    assert fired(share=0.0).excess == pytest.approx(1.0)
    assert fired(loss_db=0.0).excess == pytest.approx(1.0)
    assert fired().where == (Span(31.0, 31.2),)


def test_fires_less_surely_where_little_is_explained() -> None:
    record = mastering_records.mastered(hit_loss_db=5.0, explained_share=0.6)
    assert found(hits_lost.check(record, LIMITS)).confidence == "medium"


def test_quiet_at_the_limits() -> None:
    assert hits_lost.check(mastering_records.mastered(hit_loss_db=3.0, hits_lost_share=0.25), LIMITS) is None


def test_says_when_there_are_no_hits() -> None:
    assert isinstance(hits_lost.check(mastering_records.mastered(hits_lost_share=None), LIMITS), NotApplicable)
