"""What the fold to mono costs."""

import pytest

from features.records.base import Absence, Moment, Span
from rules.base import Finding
from rules.mixing.space import mono_loss
from rules.remedy import Remedy
from tests import records
from tests.rule_cases import found, reason

LIMITS = mono_loss.Limits()


def fired(loss_lu: float = 4.5) -> Finding:
    return found(mono_loss.check(records.stereo(mono_loss_db=loss_lu, worst=(Moment(60.0, 63.0, 7.0),)), LIMITS))


@pytest.mark.parametrize(("loss_lu", "excess", "cut_db"), [(4.5, 1.5, 4.5), (9.0, 4.0, 6.0)])
def test_fires_with_the_loss_and_less_side(loss_lu: float, excess: float, cut_db: float) -> None:
    finding = fired(loss_lu)
    assert finding.numbers == {"loss_lu": loss_lu, "cut_db": cut_db}
    assert finding.excess == pytest.approx(excess)
    assert finding.remedy == Remedy(kind="side_gain", part="side", gain_db=-cut_db)
    assert finding.where == (Span(60.0, 63.0),)
    assert finding.confidence == "high"


def test_quiet_about_unrelated_sound_which_is_the_limit() -> None:
    assert mono_loss.check(records.stereo(mono_loss_db=3.0), LIMITS) is None


def test_quiet_about_a_single_bad_moment() -> None:
    assert mono_loss.check(records.stereo(worst=(Moment(60.0, 63.0, 20.0),)), LIMITS) is None


def test_quiet_where_a_channel_is_upside_down_which_another_rule_says() -> None:
    assert mono_loss.check(records.stereo(mono_loss_db=20.0, polarity_inverted=True), LIMITS) is None


def test_not_applicable_to_mono() -> None:
    mono = records.stereo(mono_loss_db=None, absent=(Absence("mono_loss_db", "the file has one channel"),))
    assert reason(mono_loss.check(mono, LIMITS)) == "the file has one channel"
