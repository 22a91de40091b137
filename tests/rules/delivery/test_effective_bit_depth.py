"""Bits in use."""

import pytest

from rules.base import Finding
from rules.delivery import effective_bit_depth
from tests import records
from tests.rule_cases import found, reason

LIMITS = effective_bit_depth.Limits()


def fired(used: int = 16, container: int | None = 24) -> Finding:
    return found(effective_bit_depth.check(records.health(effective_bits=used), records.file(bits=container), LIMITS))


@pytest.mark.parametrize(
    ("used", "container", "excess", "what"),
    [
        (16, 24, 0.5, "The file can hold 24 bits per sample, but uses only 16 of them"),
        (16, 32, 0.5, "The file can hold 32 bits per sample, but uses only 16 of them"),
        (16, 16, 0.5, "The file holds 16 bits per sample"),
        (8, 8, 1.5, "The file holds 8 bits per sample"),
    ],
)
def test_fires_with_what_is_odd(used: int, container: int, excess: float, what: str) -> None:
    finding = fired(used, container)
    assert finding.numbers == {"what": what, "used": float(used)}
    assert finding.excess == pytest.approx(excess)
    assert (finding.confidence, finding.remedy) == ("high", None)


@pytest.mark.parametrize("used", [20, 24])
def test_quiet_from_the_limit_on(used: int) -> None:
    assert effective_bit_depth.check(records.health(effective_bits=used), records.file(), LIMITS) is None


def test_not_applicable_to_lossy_silent_and_float_files() -> None:
    none = records.health(effective_bits=None)
    assert "lossy" in reason(effective_bit_depth.check(none, records.file(lossy=True), LIMITS))
    assert "silent" in reason(effective_bit_depth.check(records.health(silent=True), records.file(), LIMITS))
    assert "float" in reason(effective_bit_depth.check(none, records.file(subtype="FLOAT", bits=32), LIMITS))
