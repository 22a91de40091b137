"""Report ITU-R BS.2217-2 (2016): tones and gate tests, tolerance 0.1 LU."""

import pytest

from tests.reference import standard_cases
from tests.reference.standard_cases import Case


@pytest.mark.parametrize("case", standard_cases.itu_bs_2217(), ids=lambda case: case.name)
def test_case(case: Case) -> None:
    for expected, measured, agrees in case.readings():
        assert agrees, f"{measured:.3f} {case.unit} instead of {expected}"
