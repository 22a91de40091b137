"""What a worker does with a run's folder."""

from datetime import UTC, datetime
from pathlib import Path

import pytest
import soundfile

from advisor.page import worker
from advisor.page.reports import first_page_of
from advisor.page.runs import NEEDED, REFUSAL, REFUSED, Asked, Kind, Run, Runs
from tests.advisor.cli.test_command_line import RATE_HZ, music

NOON = datetime(2030, 1, 2, 12, tzinfo=UTC)


@pytest.fixture
def runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Runs:
    monkeypatch.setattr(worker, "_end_with_parent", lambda: None)
    return Runs(tmp_path / "critiques")


def filled(runs: Runs, kind: Kind, *slots: str) -> Run:
    """Return a run with a sound in each of its slots."""
    run = runs.make(Asked(kind), NOON)
    for number, slot in enumerate(slots):
        (runs.place(run) / slot).mkdir()
        soundfile.write(runs.place(run) / slot / f"{slot}.wav", music(7.0) * (0.7 - 0.2 * number), RATE_HZ, subtype="PCM_24")
    return run


@pytest.mark.parametrize(
    ("kind", "slots", "page"),
    [
        ("compare", ("earlier", "later"), "compare.html"),
        ("master", ("master", "mix"), "master-report.html"),
        ("master", ("master",), "master-report.html"),
    ],
)
def test_comparisons_and_checks_of_masters_are_written(runs: Runs, kind: Kind, slots: tuple[str, ...], page: str) -> None:
    run = filled(runs, kind, *slots)
    assert set(NEEDED[kind]) <= set(slots)
    assert worker.main(runs.place(run)) == 0
    assert first_page_of(runs.place(run) / "report") == page


def test_a_bounce_of_a_watched_folder_is_read_where_it_lies(runs: Runs, tmp_path: Path) -> None:
    mix = tmp_path / "take.wav"
    soundfile.write(mix, music(3.0), RATE_HZ, subtype="PCM_24")
    run = runs.make(Asked(quick=True), NOON, (mix, None))
    assert worker.main(runs.place(run)) == 0
    assert first_page_of(runs.place(run) / "report") == "report.html"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["critiques", "take.wav"]


def test_a_bounce_that_is_gone_is_refused_in_words(runs: Runs, tmp_path: Path) -> None:
    run = runs.make(Asked(), NOON, (tmp_path / "gone.wav", None))
    assert worker.main(runs.place(run)) == REFUSED
    assert "gone.wav" in (runs.place(run) / REFUSAL).read_text(encoding="utf-8")


def test_a_run_that_was_deleted_is_nothing_to_do(runs: Runs) -> None:
    run = runs.make(Asked(), NOON)
    runs.delete(run)
    assert worker.main(runs.place(run)) == REFUSED
