"""Reports that earlier versions have recorded: they are read, compared and shown, and none is lost."""

import json
import zlib
from collections.abc import Callable
from dataclasses import fields
from pathlib import Path
from typing import Any

import pytest

from advisor.cli.main import main
from advisor.history.reading import all_findings
from advisor.history.stored import NOT_MEASURED, read_report
from advisor.report_model.report import Report
from advisor.store.database import open_database
from advisor.store.home import VARIABLE
from features.records.base import family_name
from features.records.crest import Crest
from features.records.hits import Pumping
from tests.advisor.history.bounces import Document, bounce, found, record
from tests.advisor.samples import written

STORED = Path(__file__).parent / "stored"
ROWS = tuple(path.read_bytes() for path in sorted(STORED.glob("*.json.zlib")))
OLDER = (STORED / "older.json.zlib").read_bytes()
BROKEN = {"no bytes of ours": b"nothing", "no report": zlib.compress(b"{}"), "no JSON": zlib.compress(b"{"), "a list": zlib.compress(b"[]")}

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """Return a function that runs `mixproof history` in a home of its own: status, stdout, stderr."""
    monkeypatch.setenv(VARIABLE, str(tmp_path))

    def history(*arguments: str) -> tuple[int, str, str]:
        status = main(["history", "Harbour", *arguments])
        shown = capsys.readouterr()
        assert "Traceback" not in shown.err
        return status, shown.out, shown.err

    return history


def keep(folder: Path, number: int, row: bytes) -> None:
    """Put a row of an earlier version in the place of a bounce's report."""
    with open_database(folder) as opened, opened.writing() as write:
        assert write.execute("UPDATE bounces SET report = ? WHERE number = ?", (row, number)).rowcount == 1


def stored_report(folder: Path, number: int) -> bytes:
    with open_database(folder) as opened, opened.reading() as read:
        (row,) = read.execute("SELECT report FROM bounces WHERE number = ?", (number,)).fetchone()
    assert isinstance(row, bytes)
    return row


def says(whole: object, part: object) -> bool:
    """Whether a document says all that another one does; floats may have been whole numbers."""
    if isinstance(part, dict):
        return isinstance(whole, dict) and all(says(whole.get(name), value) for name, value in part.items())
    if isinstance(part, list) and not (isinstance(whole, list) and len(whole) > len(part) and whole[: len(part)] == part):
        return isinstance(whole, list) and len(whole) == len(part) and all(says(*pair) for pair in zip(whole, part, strict=True))
    return isinstance(part, list) or whole == part


def without(document: Document, *path: str) -> bytes:
    """Return the report as a version wrote it that did not know of this yet."""
    copy: Document = json.loads(json.dumps(document))
    record: Any = copy
    for step in path[:-1]:
        record = record[step]
    del record[path[-1]]
    return json.dumps(copy).encode()


def test_what_earlier_versions_wrote_is_read_whole() -> None:
    assert len(ROWS) == 3
    for row in ROWS:
        text = zlib.decompress(row)
        assert says(written(read_report(text)), json.loads(text))


def test_what_an_earlier_version_did_not_measure_is_absent_for_that_reason() -> None:
    measurements = read_report(zlib.decompress(OLDER)).measurements
    crest, pumping = measurements.get(Crest), measurements.get(Pumping)
    assert crest is not None
    assert pumping is not None
    assert (crest.stray_win_db, crest.peak_cluster_share, pumping.rise_db) == (None, None, None)
    reasons = {absence.field: absence.reason for absence in (*crest.absent, *pumping.absent)}
    for name in ("stray_win_db", "peak_cluster_share", "rise_db"):
        assert reasons[name] == NOT_MEASURED


def test_any_field_may_have_been_added_later() -> None:
    """A reading then is absent; a family that cannot do without is; nothing else changes."""
    report = bounce(1, ("one", found(1.0)))
    document = written(report)
    for kind, measured in report.measurements.records.items():
        family = family_name(kind)
        for name in document["measurements"][family]:
            read = read_report(without(document, "measurements", family, name))
            assert read.measurements.without(kind) == report.measurements.without(kind), (family, name)
            assert (read.findings, read.mix, read.outlook) == (report.findings, report.mix, report.outlook)
            now = read.measurements.get(kind)
            if now is not None and name != "absent":
                assert not getattr(now, name), (family, name)
                unchanged = {field.name for field in fields(measured)} - {name, "absent"}
                assert all(getattr(now, other) == getattr(measured, other) for other in unchanged), (family, name)


def test_any_section_may_have_been_added_later() -> None:
    document = written(bounce(1, ("one", found(1.0))))
    for section in set(document) - {"tool", "settings", "mix", "verdict", "measurements"}:
        rest = {name: value for name, value in document.items() if name != section}
        assert says(written(read_report(without(document, section))), rest), section


def test_a_section_that_cannot_be_read_is_left_out_alone() -> None:
    document = written(bounce(1, ("one", found(1.0))))
    for section in ("mastering", "references", "plan_check", "audition", "outlook", "history"):
        read = written(read_report(json.dumps({**document, section: {"shape": "another"}}).encode()))
        assert read == {**document, section: None}
    assert written(read_report(json.dumps({**document, "plan": [{"step": 1}], "stems": [{"name": "pad"}]}).encode())) == {
        **document,
        "stems": [],
    }


def test_a_project_of_an_earlier_version_goes_on(run: Run, tmp_path: Path) -> None:
    for number in (1, 2):
        record(tmp_path, bounce(number, ("one", found(1.0))))
        keep(tmp_path, number, OLDER)
    then: Report = read_report(zlib.decompress(OLDER))
    for arguments in (
        (),
        ("--bounce", "1"),
        ("--export", "md"),
        ("--export", "json"),
        ("--set-aside", next(all_findings(then)).rule, "--because", "x"),
    ):
        assert run(*arguments)[0] == 0
    assert then.plan[0].title in run("--bounce", "1")[1]
    exported = json.loads(run("--export", "json")[1])
    assert exported["bounces"][0]["report"] == json.loads(zlib.decompress(OLDER))
    document = record(tmp_path, bounce(3, ("one", found(1.0))))
    assert document["notes"] == []
    assert [step["title"] for step in document["history"]["steps"]] == [step.title for step in then.plan]
    assert {finding["title"] for finding in document["history"]["findings"]} >= {finding.title for finding in all_findings(then)}
    assert [stored_report(tmp_path, number) for number in (1, 2)] == [OLDER, OLDER]


@pytest.mark.parametrize("row", BROKEN.values(), ids=BROKEN)
def test_a_report_that_cannot_be_read_is_one_sentence_and_stays(run: Run, tmp_path: Path, row: bytes) -> None:
    for number in (1, 2, 3):
        record(tmp_path, bounce(number, ("one", found(1.0))))
    keep(tmp_path, 2, row)
    assert run()[0] == 0
    assert run("--bounce", "3")[0] == 0
    status, _, err = run("--bounce", "2")
    assert status == 2
    assert len(err.strip().splitlines()) == 1
    assert "bounce 2, take-2.wav, cannot be read" in err
    status, text, _ = run("--export", "md")
    assert status == 0
    assert text.count("cannot be read") == 1
    for take, number in ((4, 4), (2, 2)):  # a new bounce, and the file of the row itself again
        document = record(tmp_path, bounce(take, ("one", found(1.0))))
        assert document["history"]["number"] == number
        assert [note.count("cannot be read") for note in document["notes"]] == [1]
    assert stored_report(tmp_path, 2) == row


def test_the_last_readable_bounce_is_compared_with(tmp_path: Path) -> None:
    for number in (1, 2):
        record(tmp_path, bounce(number, ("one", found(1.0))))
    keep(tmp_path, 2, BROKEN["no report"])
    history = record(tmp_path, bounce(3, ("one", found(1.0))))["history"]
    assert history["previous"]["number"] == 1
    assert [finding["state"] for finding in history["findings"]] == ["still there"]
