"""EBU Tech 3342 (2023): loudness range of stepped tones, 20 s each."""

import pytest

from tests.reference import standard_cases
from tests.reference.standard_cases import Case


@pytest.mark.parametrize("case", standard_cases.ebu_tech_3342(), ids=lambda case: case.name)
def test_case(case: Case) -> None:
    """The standard allows 1 LU; a plain meter of the same definition reads these to 0.01 LU (computed independently)."""
    for expected, measured, agrees in case.readings():
        assert agrees, f"{measured:.3f} {case.unit} instead of {expected}"
        assert measured == pytest.approx(expected, abs=0.02)
