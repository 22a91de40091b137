"""What outcomes are worth: smooth, never less for more, and every source is one that is documented."""

from pathlib import Path

import numpy as np
import pytest

from advisor.outcomes import steps
from advisor.outcomes.steps import Step, distortion_steps

ALL = {name: value for name, value in vars(steps).items() if isinstance(value, Step)}
DOCS = Path(__file__).parents[3] / "docs"


@pytest.mark.parametrize("name", ALL)
def test_more_is_never_worth_less_and_nothing_jumps(name: str) -> None:
    step = ALL[name]
    middle = 0.0 if step.enough is None else step.enough
    values = middle + step.size * np.arange(-6.0, 6.0, 0.01)
    worth = np.array([step.worth(float(value)) for value in values])
    slopes = np.diff(worth) / 0.01
    assert (slopes > 0.0).all()
    assert np.abs(np.diff(slopes)).max() < 0.05
    assert slopes[0] == pytest.approx(1.0)


@pytest.mark.parametrize("name", ALL)
def test_every_source_is_documented(name: str) -> None:
    sources = (DOCS / "sources.md").read_text(encoding="utf-8")
    assert f"### {ALL[name].source}\n" in sources
    assert f"### {ALL[name].enough_source}\n" in sources


@pytest.mark.parametrize("name", ALL)
def test_every_step_stands_in_the_documentation(name: str) -> None:
    page = (DOCS / "outcomes.md").read_text(encoding="utf-8")
    row = next(line for line in page.splitlines() if line.startswith("|") and f"`{name}`" in line)
    assert f" {ALL[name].size:g} " in row
    assert f"`{ALL[name].source}`" in row


def test_more_than_enough_counts_no_more_than_its_fade() -> None:
    assert steps.ROOM_LU.worth(0.0) == 0.0
    assert steps.ROOM_LU.worth(-1.0) == -2.0
    assert steps.ROOM_LU.worth(20.0) == pytest.approx(2.0)


def test_distortion_is_one_step_where_it_is_heard() -> None:
    assert distortion_steps(1.5) == 1.0
    assert distortion_steps(-30.0) < 0.01
    assert distortion_steps(31.5) == pytest.approx(10.0, abs=0.01)
    worths = np.array([distortion_steps(float(ratio_db)) for ratio_db in np.arange(-20.0, 20.0, 0.01)])
    assert (np.diff(worths) > 0.0).all()
    assert np.abs(np.diff(worths, 2)).max() < 1e-4
