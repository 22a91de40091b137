"""Almost mono: high correlation and hardly any side signal together."""

import pytest

from features.records.balance import Usual
from features.records.base import Absence
from rules.base import Finding
from rules.mixing.space import almost_mono
from tests import records
from tests.rule_cases import found, reason

LIMITS = almost_mono.Limits()
HEALTH = records.health()


def fired(side_share: float = 0.003) -> Finding:
    return found(almost_mono.check(records.stereo(correlation=0.99, side_share=side_share), HEALTH, records.target(), LIMITS))


@pytest.mark.parametrize(("side_share", "excess"), [(0.008, 0.587), (0.003, 2.007), (0.0, 4.0)])
def test_fires_with_what_stands_beside_the_centre(side_share: float, excess: float) -> None:
    finding = fired(side_share)
    assert finding.numbers == {"side_share": side_share, "correlation": 0.99}
    assert finding.excess == pytest.approx(excess, abs=0.001)


def test_fires_as_a_matter_of_style_without_a_remedy() -> None:
    assert (fired().confidence, fired().remedy) == ("low", None)


@pytest.mark.parametrize(("correlation", "side_share"), [(0.97, 0.001), (0.99, 0.012), (0.5, 0.2)])
def test_quiet_at_either_limit(correlation: float, side_share: float) -> None:
    assert almost_mono.check(records.stereo(correlation=correlation, side_share=side_share), HEALTH, records.target(), LIMITS) is None


def test_not_applicable_where_the_file_is_to_blame_or_has_one_channel() -> None:
    same = almost_mono.check(
        records.stereo(correlation=1.0, side_share=0.0), records.health(identical_channels=True), records.target(), LIMITS
    )
    assert reason(same) == "left and right are the same, which is said of the file"
    mono = records.stereo(correlation=None, side_share=None, absent=(Absence("correlation", "the file has one channel"),))
    assert reason(almost_mono.check(mono, HEALTH, records.target(), LIMITS)) == "the file has one channel"


@pytest.mark.parametrize(("median_db", "quiet"), [(-22.0, True), (-8.0, False)])
def test_as_narrow_as_five_references_is_let_pass(median_db: float, quiet: bool) -> None:
    narrow = records.stereo(correlation=0.99, side_share=0.003)
    narrow = records.changed(narrow, {"band_side_db": (-25.0,) * len(narrow.band_hz)})
    target = records.target(usual=(Usual("width_db", median_db, 3.0, 5),))
    assert (almost_mono.check(narrow, HEALTH, target, LIMITS) is None) is quiet
