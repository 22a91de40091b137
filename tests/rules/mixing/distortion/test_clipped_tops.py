"""Flat tops, counted per minute, or one long enough."""

import pytest

from features.records.base import Moment, Span
from rules.base import Finding
from rules.mixing.distortion import clipped_tops
from tests import records
from tests.rule_cases import found, reason

LIMITS = clipped_tops.Limits()
MINUTE = records.file(duration_s=60.0)


def fired(runs: int = 36, longest: int = 5) -> Finding:
    health = records.health(clipped_runs=runs, clipped_longest=longest, clipped=(Moment(8.0, 8.1, 5.0),), clip_level_dbfs=-0.1)
    return found(clipped_tops.check(health, MINUTE, records.crest(), LIMITS))


def test_fires_with_level_number_and_longest() -> None:
    finding = fired()
    assert finding.numbers == {"level_dbfs": -0.1, "tops": "36 clipped peaks", "longest": 5.0}
    assert finding.excess == pytest.approx(2.0)
    assert finding.confidence == "high"
    assert finding.where == (Span(8.0, 8.1),)
    assert finding.remedy is None, "no processor gives back what was cut off"


def test_fires_less_surely_on_a_single_long_one() -> None:
    finding = fired(runs=1, longest=24)
    assert (finding.numbers["tops"], finding.confidence) == ("1 clipped peak", "medium")
    assert finding.excess == pytest.approx(2.0)


@pytest.mark.parametrize(("runs", "longest", "level_dbfs"), [(4, 7, -0.1), (0, 0, None)])
def test_quiet_at_both_limits_and_without_clipping(runs: int, longest: int, level_dbfs: float | None) -> None:
    health = records.health(clipped_runs=runs, clipped_longest=longest, clip_level_dbfs=level_dbfs)
    assert clipped_tops.check(health, MINUTE, records.crest(), LIMITS) is None


def test_quiet_on_the_same_number_in_a_longer_song() -> None:
    health = records.health(clipped_runs=36, clipped_longest=5, clip_level_dbfs=-0.1)
    assert clipped_tops.check(health, records.file(duration_s=600.0), records.crest(), LIMITS) is None


def test_not_applicable_to_silence() -> None:
    assert reason(clipped_tops.check(records.health(silent=True), MINUTE, records.crest(), LIMITS)) == "the file is silent"


def test_not_applicable_where_a_conversion_may_have_rounded_them_off() -> None:
    crest = records.crest(peak_cluster_share=0.3)
    said = reason(clipped_tops.check(records.health(clipped_runs=0, clip_level_dbfs=None), MINUTE, crest, LIMITS))
    assert "rounded flat tops off" in said
    assert clipped_tops.check(records.health(), MINUTE, records.crest(peak_cluster_share=0.08), LIMITS) is None
