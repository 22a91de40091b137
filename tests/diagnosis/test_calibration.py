"""The calibration page says what its numbers say."""

import json
from itertools import product
from pathlib import Path

from tests.benchmarks.tables import make_calibration
from tests.walks import for_every


def test_the_page_is_what_its_numbers_make_it() -> None:
    assert make_calibration.PAGE.read_text() == make_calibration.page()


@for_every(sorted(make_calibration.ROUNDS.glob("*.json")), name=lambda path: path.stem)
def test_what_holds_over_all_is_the_sum_of_its_faults(path: Path) -> None:
    document = json.loads(path.read_text())
    for group, size in product(make_calibration.GROUPS, make_calibration.SIZES):
        numbers = document["diagnosis"][group]
        over_all, by_fault = numbers["over all"]["all"][size], [fault[size] for fault in numbers["faults"].values()]
        for field in ("songs", "found", "right way", "new"):
            assert over_all[field] == sum(fault[field] for fault in by_fault), f"{group}, {size}, {field}"


def test_a_round_is_told_in_shares_of_its_plants() -> None:
    assert make_calibration.percent(3, 4) == "75 %"
    assert make_calibration.percent(0, 0) == "-"
    assert make_calibration.rate(3, 4) == "0.75"
