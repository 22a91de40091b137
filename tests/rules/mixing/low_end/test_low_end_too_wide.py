"""Side against mid below 120 Hz."""

import pytest

from features.records.balance import Usual
from features.records.base import Absence
from rules.base import Finding
from rules.mixing.low_end import low_end_too_wide
from rules.remedy import Remedy
from tests import records
from tests.rule_cases import found, reason

LIMITS = low_end_too_wide.Limits()


def fired(side_level_db: float = -1.5, mono_loss_db: float = 1.2) -> Finding:
    return found(
        low_end_too_wide.check(
            records.low_end(side_level_db=side_level_db, mono_loss_db=mono_loss_db), records.stereo(), records.target(), LIMITS
        )
    )


def test_fires_with_the_level_of_the_sides_and_what_mono_loses() -> None:
    finding = fired()
    assert (finding.numbers["side_db"], finding.numbers["loss_db"], finding.excess) == (-1.5, 1.2, 1.0)
    assert finding.remedy == Remedy(kind="mono_below", part="side", frequency_hz=120.0)
    assert finding.cause == "width"


@pytest.mark.parametrize(("loss_db", "confidence"), [(3.0, "high"), (2.0, "medium"), (1.9, "low")])
def test_fires_more_surely_when_mono_loses_something(loss_db: float, confidence: str) -> None:
    assert fired(mono_loss_db=loss_db).confidence == confidence


@pytest.mark.parametrize("side_level_db", [-4.5, -40.0])
def test_quiet_at_the_limit_and_when_narrow(side_level_db: float) -> None:
    assert low_end_too_wide.check(records.low_end(side_level_db=side_level_db), records.stereo(), records.target(), LIMITS) is None


@pytest.mark.parametrize("field", ["side_level_db", "mono_loss_db"])
def test_not_applicable_to_mono(field: str) -> None:
    mono = records.low_end(**{field: None, "absent": (Absence(field, "the file is mono"),)})
    assert reason(low_end_too_wide.check(mono, records.stereo(), records.target(), LIMITS)) == "the file is mono"


def test_not_applicable_when_a_channel_is_upside_down() -> None:
    turned = records.stereo(polarity_inverted=True)
    assert "inverted polarity" in reason(low_end_too_wide.check(records.low_end(side_level_db=20.0), turned, records.target(), LIMITS))


def test_what_five_references_do_is_let_pass_and_less_wide_ones_change_nothing() -> None:
    wide, narrow = (records.target(usual=(Usual("low_width_db", median, 2.0, 5),)) for median in (-4.0, -20.0))
    low_end = records.low_end(side_level_db=-1.5, mono_loss_db=1.2)
    assert low_end_too_wide.check(low_end, records.stereo(), wide, LIMITS) is None
    assert found(low_end_too_wide.check(low_end, records.stereo(), narrow, LIMITS)).excess == 1.0
    four = records.target(usual=(Usual("low_width_db", -4.0, 2.0, 4),))
    assert found(low_end_too_wide.check(low_end, records.stereo(), four, LIMITS)).excess == 1.0


@pytest.mark.parametrize(
    ("median_db", "side_db", "loss_db", "fires"),
    [(-10.0, -2.4, 1.9, False), (-10.0, 0.0, 3.0, True), (-1.0, -1.1, 2.6, False), (-1.0, 0.0, 3.0, True)],
)
def test_references_that_differ_much_excuse_no_loss_in_mono_that_most_of_them_have_not(
    median_db: float, side_db: float, loss_db: float, *, fires: bool
) -> None:
    target = records.target(usual=(Usual("low_width_db", median_db, 7.0, 8),))
    outcome = low_end_too_wide.check(records.low_end(side_level_db=side_db, mono_loss_db=loss_db), records.stereo(), target, LIMITS)
    assert (outcome is not None) is fires
