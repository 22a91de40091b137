"""The document fits its schema; its texts hold every card, and nothing from a file is obeyed."""

import json
from pathlib import Path

import jsonschema
import pytest

import advisor
from advisor.app.errors import RequestError
from advisor.app.settings import Settings
from advisor.app.yardstick import yardstick_of
from advisor.judging.judge import judge
from advisor.judging.verdict import verdict
from advisor.measuring.measured import Measured
from advisor.report import files, html, markdown
from advisor.report_model.report import Report
from features.records.base import Absence
from rules.base import NotApplicable, all_rules
from tests import records
from tests.advisor.samples import all_records, finding, read, report, rule_that, written

SCHEMA = json.loads((Path(str(advisor.__file__)).parents[1] / "docs" / "report.schema.json").read_text(encoding="utf-8"))


def full_report() -> Report:
    return report(
        rule_that(finding(2.0, band=(40.0, 60.0)), "a"), rule_that(finding(1.0, band=(40.0, 60.0)), "b"), rule_that(None, "c"),
        rule_that(NotApplicable("no kick was found"), "d"), rule_that(ValueError("x"), "e"),
    )  # fmt: skip


def test_document_fits_the_published_schema_and_survives_json() -> None:
    document = full_report()
    jsonschema.validate(written(document), SCHEMA)
    assert read(written(document)) == document
    assert markdown.render(read(written(document))) == markdown.render(document)


def test_schema_refuses_a_document_without_a_verdict() -> None:
    document = written(full_report())
    del document["verdict"]
    with pytest.raises(jsonschema.ValidationError, match="verdict"):
        jsonschema.validate(document, SCHEMA)


def test_text_holds_every_card_with_all_its_parts() -> None:
    text = markdown.render(full_report())
    for part in (
        "#### Title of a", "It is 3.2 dB (1:01-1:10).", "**Why:** Why it matters of a.", "Check by ear of a.",
        "Leave it alone when of a; how sure: very likely (it was measured).", "mixing/e: ValueError: x",
        "Looked for and not found: 1 faults. Not judged: 1.",
    ):  # fmt: skip
        assert part in text
    details = markdown.details(full_report())
    for part in ("The same cause also shows here", "Title of d: no kick was found", "**Tone:** title of c", "mixproof explain mixing/a"):
        assert part in details
        assert part not in text, "what is folded away is not on the first page"


def test_numbers_carry_their_definitions_and_absences_their_reasons() -> None:
    song = records.level(loudness_range_lu=None, absent=(Absence("loudness_range_lu", "shorter than 3 s"),))
    text = markdown.details(report(level=song))
    assert "| Loudness range | shorter than 3 s |" in text
    assert "| Integrated loudness | -18.0 LUFS | Loudness of the whole song; silence and much quieter passages are left out. |" in text


def test_ready_needs_the_target_and_nothing_clear_in_the_way() -> None:
    assert report().verdict.ready is True
    assert report(rule_that(finding(2.0))).verdict.ready is False
    assert report(rule_that(finding(2.0, "low"))).verdict.ready is True
    short = records.outlook(clean_lufs=-15.0, margin_lu=-2.0, reaches_target=False, stopped_by="pumping")
    verdict = report(outlook=short).verdict
    assert verdict.ready is False
    assert "-15.0 LUFS" in verdict.sentence
    assert "2.0 LU short" in verdict.sentence


def test_a_silent_file_is_said_to_be_silent() -> None:
    assert "silent" in report(health=records.health(silent=True)).verdict.sentence


def test_names_from_files_are_escaped_in_page_and_text() -> None:
    name = '<img src=x onerror=alert(1)>"&*[a](javascript:b).wav'
    page = html.render(report(file=records.file(name=name)))
    assert "<img" not in page
    assert 'href="javascript' not in page
    assert "&lt;img src=x onerror=alert(1)&gt;" in page


def test_page_stands_alone() -> None:
    page = html.render(full_report())
    assert page.startswith("<!doctype html>")
    assert "http:" not in page
    assert "https:" not in page
    assert "<script" not in page


def test_files_replace_the_old_report_whole(tmp_path: Path) -> None:
    (tmp_path / "report.md").write_text("old", encoding="utf-8")
    (tmp_path / "notes.txt").write_text("mine", encoding="utf-8")
    with files.aside(tmp_path) as place:
        files.write(full_report(), tmp_path, place)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["details.md", "notes.txt", "report.html", "report.json", "report.md"]
    assert (tmp_path / "notes.txt").read_text(encoding="utf-8") == "mine"


def test_a_failure_while_writing_leaves_the_old_report(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "report.md").write_text("old", encoding="utf-8")

    def full(_self: Path, *_arguments: object, **_options: object) -> int:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_text", full)
    with pytest.raises(RequestError, match=r"No space left on device.*--no-audition"), files.aside(tmp_path) as place:
        files.write(full_report(), tmp_path, place)
    monkeypatch.undo()
    assert [path.name for path in tmp_path.iterdir()] == ["report.md"]
    assert (tmp_path / "report.md").read_text(encoding="utf-8") == "old"


def test_a_file_in_the_way_is_named(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("x", encoding="utf-8")
    with pytest.raises(RequestError, match="is a file"):
        files.check_writable(tmp_path / "taken")


def test_the_verdict_counts_what_is_worth_fixing_and_says_no_more() -> None:
    narrow, wide = finding(2.0), finding(1.0, cause="width")
    assert report(rule_that(narrow, "a")).verdict.sentence.endswith("one thing in the mix is worth fixing first.")
    said = report(rule_that(narrow, "a"), rule_that(wide, "b")).verdict.sentence
    assert said.startswith("Loud enough: it can be limited to -13.0 LUFS")
    assert said.endswith("2 things in the mix are worth fixing first.")


@pytest.mark.parametrize(("fast_lufs", "ready"), [(-12.8, True), (-13.4, True), (-13.6, False), (None, False)])
def test_a_mix_is_ready_when_a_plain_limiter_of_any_setting_is_all_it_needs(fast_lufs: float | None, ready: bool) -> None:
    outlook = records.outlook(clean_lufs=-14.6, margin_lu=-1.6, reaches_target=False, fast_clean_lufs=fast_lufs)
    measured = {**all_records(), type(outlook): outlook}
    only = tuple(rule for rule in all_rules() if rule.id == "mixing/short_of_target")
    said = verdict(measured, judge(Measured(measured, ()), yardstick_of(Settings()), only))
    assert said.ready == ready
    assert ("a gentle one is heard past -14.6 LUFS" in said.sentence) == ready
