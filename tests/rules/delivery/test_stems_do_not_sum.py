"""What the sum of the stems leaves of the mix."""

import pytest

from features.records.base import Span
from features.records.elements import Elements, Mixture
from rules.base import Finding
from rules.delivery import stems_do_not_sum
from tests import records
from tests.rule_cases import found, reason

LIMITS = stems_do_not_sum.Limits()
MEANING = "The sum differs from your mix by -20 dB: an effect on the mix bus is missing."


def left(residual_db: float | None, meaning: str = MEANING) -> Elements:
    return records.elements(mixture=Mixture(0.0, 0.0, residual_db, (200.0, 5000.0), Span(120.0, 150.0), meaning))


def fired(song: Elements | None = None) -> Finding:
    return found(stems_do_not_sum.check(song or left(-20.0), LIMITS))


@pytest.mark.parametrize("meaning", [MEANING, MEANING.rstrip(".")])
def test_fires_with_what_it_means_as_one_sentence(meaning: str) -> None:
    finding = fired(left(-20.0, meaning))
    assert finding.numbers["meaning"] == MEANING
    assert (finding.stem, finding.cause) == (None, "stems")


def test_fires_where_most_of_it_lies() -> None:
    assert (fired().where, fired().band_hz) == ((Span(120.0, 150.0),), (200.0, 5000.0))


@pytest.mark.parametrize(("residual_db", "excess"), [(-25.0, 0.5), (-20.0, 1.0), (-3.0, 1.5)])
def test_fires_with_a_weight_that_stays_low(residual_db: float, excess: float) -> None:
    assert fired(left(residual_db)).excess == pytest.approx(excess)


def test_quiet_up_to_the_limit() -> None:
    assert stems_do_not_sum.check(left(-30.0), LIMITS) is None


def test_not_applicable_without_a_mix() -> None:
    assert "the sum of the stems is the mix" in reason(stems_do_not_sum.check(left(None), LIMITS))
