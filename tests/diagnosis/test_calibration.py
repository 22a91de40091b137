"""The calibration page says what its numbers say."""

import json
from pathlib import Path

import pytest

from tests.benchmarks.tables import make_calibration


def test_the_page_is_what_its_numbers_make_it() -> None:
    assert make_calibration.PAGE.read_text() == make_calibration.page()


@pytest.mark.parametrize("path", sorted(make_calibration.ROUNDS.glob("*.json")), ids=lambda path: path.stem)
def test_what_holds_over_all_is_the_sum_of_its_faults(path: Path) -> None:
    one = json.loads(path.read_text())
    for group in make_calibration.GROUPS:
        numbers = one["diagnosis"][group]
        for size in make_calibration.SIZES:
            for field in ("songs", "found", "right way", "new"):
                assert numbers["over all"]["all"][size][field] == sum(each[size][field] for each in numbers["faults"].values())


def test_a_round_is_told_in_shares_of_its_plants() -> None:
    assert make_calibration.percent(3, 4) == "75 %"
    assert make_calibration.percent(0, 0) == "-"
    assert make_calibration.rate(3, 4) == "0.75"
