"""The history in a report, through the recorder: states, steps, warnings, what is set aside, and the words for them."""

import json
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import jsonschema
import pytest

from advisor.app.history_words import shown
from advisor.app.settings import Settings
from advisor.app.yardstick import yardstick_of
from advisor.history import decisions, store
from advisor.history.promised import curve_db, promises
from advisor.judging.judge import judge
from advisor.measuring.measured import Measured
from advisor.report import html, markdown
from advisor.report.build import reported_finding
from advisor.report.sections.critique.comparisons.since import since_lines
from advisor.report_model.history import HistorySection
from advisor.store.database import open_database
from rules.base import Outcome
from rules.remedy import Remedy
from tests import records
from tests.advisor.history.bounces import NOON, Document, bounce, found, planned, record, recorder
from tests.advisor.report.test_report import SCHEMA
from tests.advisor.samples import all_records, read, rule_that

LEFT_DOWN = Remedy("gain", part="left", gain_db=-2.0)
RIGHT_DOWN = Remedy("gain", part="right", gain_db=-3.0)


def history_of(document: Document) -> HistorySection:
    history = read(document).history
    assert history is not None
    return history


def states(document: Document) -> dict[str, str]:
    return {finding["rule"].split("/")[1]: finding["state"] for finding in document["history"]["findings"]}


def aside(folder: Path, rule: str, because: str = "it is the idea") -> None:
    with open_database(folder) as opened, opened.writing() as write:
        decisions.set_aside(write, store.find(write, "Harbour"), rule, None, because, NOON)


def test_the_first_bounce_has_no_past(tmp_path: Path) -> None:
    history = record(tmp_path, bounce(1, ("one", found())))["history"]
    assert (history["number"], history["previous"], history["repeat"]) == (1, None, False)
    assert history["steps"] == []
    assert [finding["state"] for finding in history["findings"]] == ["new"]


def test_five_bounces_tell_their_story(tmp_path: Path) -> None:
    takes: list[list[tuple[str, Outcome]]] = [
        [("one", found(2.0)), ("two", found(1.0)), ("three", None)],
        [("one", found(1.0)), ("two", None), ("three", found(1.0))],
        [("one", None), ("two", None), ("three", found(2.0))],
        [("one", None), ("two", found(1.0)), ("three", found(2.1))],
        [("one", None), ("two", None), ("three", None)],
    ]
    stories = [states(record(tmp_path, bounce(number, *take))) for number, take in enumerate(takes, 1)]
    assert stories == [
        {"one": "new", "two": "new"},
        {"one": "better", "two": "solved", "three": "new"},
        {"one": "solved", "three": "worse"},
        {"two": "came back", "three": "still there"},
        {"two": "solved", "three": "solved"},
    ]
    with open_database(tmp_path) as opened, opened.reading() as read:
        counted = store.states(read, store.find(read, "Harbour"))
    assert counted[4] == {"came back": 1, "still there": 1}


def test_a_lean_that_was_turned_too_far_is_overdone_and_warned_of(tmp_path: Path) -> None:
    first = bounce(1, ("one", found(1.0, remedy=LEFT_DOWN)), stereo=records.stereo(balance_db=2.0))
    record(tmp_path, planned(first, "mixing/one", LEFT_DOWN))
    document = record(tmp_path, bounce(2, ("one", found(1.5, remedy=RIGHT_DOWN)), stereo=records.stereo(balance_db=-3.0)))
    history = document["history"]
    assert [(finding["state"], finding["side"]) for finding in history["findings"]] == [("new", "right"), ("solved", "left")]
    assert [step["verdict"] for step in history["steps"]] == ["overdone"]
    assert [warning["kind"] for warning in history["warnings"]] == ["finding"]
    assert "Watch out" in markdown.render(read(document))


def test_a_fix_that_made_something_else_worse_is_warned_of(tmp_path: Path) -> None:
    cut = Remedy("bell", frequency_hz=300.0, gain_db=-6.0, q=1.0)
    first = planned(bounce(1, ("one", found(1.0, band=(200.0, 450.0)))), "mixing/one", cut)
    hole = curve_db(promises(first)[0], records.BANDS_HZ)
    assert hole is not None
    hollow = records.spectrum(third_octave_db=tuple(a + float(b) for a, b in zip(records.CURVE_DB, hole, strict=True)))
    record(tmp_path, first)
    beside, far = found(1.0, band=(250.0, 500.0)), found(1.0, band=(4000.0, 8000.0))
    document = record(tmp_path, bounce(2, ("one", None), ("two", beside), ("three", far), spectrum=hollow))
    assert [(warning["kind"], warning["step"], warning["title"]) for warning in document["history"]["warnings"]] == [
        ("finding", 1, "Title of two")
    ]
    assert "“Title of two” got worse since" in markdown.render(read(document))


def test_a_move_that_was_not_made_is_not_blamed(tmp_path: Path) -> None:
    cut = Remedy("bell", frequency_hz=300.0, gain_db=-6.0, q=1.0)
    record(tmp_path, planned(bounce(1, ("one", found(1.0, band=(200.0, 450.0)))), "mixing/one", cut))
    document = record(tmp_path, bounce(2, ("one", found(1.0, band=(200.0, 450.0))), ("two", found(1.0, band=(250.0, 500.0)))))
    assert [step["verdict"] for step in document["history"]["steps"]] == ["not done"]
    assert document["history"]["warnings"] == []


def test_lost_clean_loudness_is_warned_of_and_gained_is_said(tmp_path: Path) -> None:
    for number, level in enumerate((-12.0, -12.2, -13.0, -11.0), 1):
        document = record(tmp_path, bounce(number, outlook=records.outlook(clean_lufs=level)))
        kinds = [warning["kind"] for warning in document["history"]["warnings"]]
        assert kinds == (["loudness"] if number == 3 else [])
    assert "Clean loudness -13.0 to -11.0 LUFS (+2.0 LU)" in markdown.render(read(document))


def test_nothing_measured_nothing_praised(tmp_path: Path) -> None:
    record(tmp_path, bounce(1, ("one", found(1.0))))
    text = markdown.render(read(record(tmp_path, bounce(2, ("one", found(0.9))))))
    section = text.partition("## Since your last bounce")[2].partition("\n## ")[0]
    assert "1 still there" in section
    for word in ("solved", "better", "Clean loudness", "What else changed", "Watch out"):
        assert word not in section


def test_a_finding_that_only_just_was_one_is_not_made_much_of(tmp_path: Path) -> None:
    record(tmp_path, bounce(1, ("one", found(0.15))))
    assert "(was 0.1, only just a finding)" in markdown.whole(read(record(tmp_path, bounce(2, ("one", None)))))


def test_set_aside_leaves_plan_and_verdict_stays_in_a_line_and_comes_back(tmp_path: Path) -> None:
    """Through the judging itself: the yardstick carries what the project has set aside."""

    def critiqued(take: int, excess: float) -> Document:
        project = recorder(tmp_path)
        measured = Measured(all_records(file=records.file(name="a.wav", sha256=f"{take:064x}")), ())
        judged = judge(
            measured, yardstick_of(Settings(), project.set_asides), (rule_that(found(excess), "wide"), rule_that(found(0.5), "other"))
        )
        aside_now = [reported_finding(card.rule, card.finding) for card in judged.set_aside]
        report = bounce(take, *(("wide", found(excess)),) if not aside_now else (), ("other", found(0.5)))
        assert [card.rule.id for card in judged.cards] == [card.rule for card in report.findings]
        return record(tmp_path, report, aside=aside_now)

    critiqued(1, 1.5)
    aside(tmp_path, "mixing/wide")
    second = critiqued(2, 2.4)
    assert states(second) == {"other": "still there", "wide": "set aside"}
    text = markdown.render(read(second))
    assert text.count("because “it is the idea”") == 1
    assert "now 2.4 tolerances past its limit, 1.5 when it was set aside" in text
    third = critiqued(3, 2.6)
    assert states(third) == {"wide": "came back", "other": "still there"}
    assert "set aside before because “it is the idea”, and clearly stronger since" in markdown.whole(read(third))
    assert third["history"]["set_aside"] == []


def test_setting_aside_or_not_looking_is_no_gain(tmp_path: Path) -> None:
    first = bounce(1, ("one", found(2.0)), ("two", found(1.0)))
    record(tmp_path, first)
    aside(tmp_path, "mixing/one")
    cards = [card for card in first.findings if card.rule == "mixing/one"]
    document = record(tmp_path, bounce(2, ("two", found(1.0))), aside=cards)
    assert document["history"]["excess"] == [1.0, 1.0]
    blind = record(tmp_path, bounce(3), aside=cards)
    assert blind["history"]["excess"] == [0.0, 0.0]


def test_the_same_file_is_no_new_bounce_and_more_settings_are(tmp_path: Path) -> None:
    record(tmp_path, bounce(1, ("one", found(1.0))))
    record(tmp_path, bounce(2, ("one", None)))
    again = record(tmp_path, bounce(2, ("one", None)))["history"]
    assert (again["number"], again["repeat"], again["replaces"], again["previous"]["number"]) == (2, True, False, 1)
    assert [finding["state"] for finding in again["findings"]] == ["solved"]
    old = record(tmp_path, bounce(1, ("one", found(1.0))))["history"]
    assert (old["number"], old["repeat"], old["previous"]) == (1, True, None)
    other = record(tmp_path, bounce(2, ("one", None), settings=Settings(target_lufs=-11.0)))["history"]
    assert (other["number"], other["repeat"], other["same_file_as"]) == (3, False, 2)
    assert other["settings_changed"] == ["the target is -11 LUFS instead of -13"]
    with open_database(tmp_path) as opened, opened.reading() as read:
        assert [(stored.number, stored.repeats) for stored in store.bounces(read, store.find(read, "Harbour"))] == [(1, 1), (2, 1), (3, 0)]


def test_a_repeat_that_tried_more_takes_the_place_of_the_quick_one(tmp_path: Path) -> None:
    quick = bounce(1, ("one", found(1.0)))
    record(tmp_path, quick)
    full = planned(replace(bounce(1, ("one", found(1.0))), tried_on=()), "mixing/one", LEFT_DOWN)
    assert record(tmp_path, full)["history"]["replaces"] is True
    document = record(tmp_path, bounce(2, ("one", None), stereo=records.stereo(balance_db=-2.0)))
    assert [step["step"] for step in document["history"]["steps"]] == [1]


def test_report_fits_the_schema_and_its_page_is_made_from_the_document_alone(tmp_path: Path) -> None:
    first = bounce(1, ("one", found(1.0, remedy=LEFT_DOWN)), stereo=records.stereo(balance_db=2.0))
    record(tmp_path, planned(first, "mixing/one", LEFT_DOWN), name="<b>a|b`*_</b>\x1b[2J")
    second = bounce(2, stereo=records.stereo(balance_db=0.0))
    document = json.loads(json.dumps(record(tmp_path, second, name="<b>a|b`*_</b>\x1b[2J"), allow_nan=False))
    jsonschema.validate(document, SCHEMA)
    page = html.render(read(document))
    assert "<b>a" not in page
    assert "\x1b" not in page
    assert "&lt;b&gt;a" in page
    assert "\x1b" not in "".join(since_lines(history_of(document)))


def test_deleted_projects_come_back_until_the_clean_up_after_thirty_days(tmp_path: Path) -> None:
    record(tmp_path, bounce(1))
    with open_database(tmp_path) as opened:
        with opened.writing() as write:
            store.delete(write, store.find(write, "Harbour"), NOON)
        with opened.reading() as read:
            assert store.projects(read) == []
        with opened.writing() as write:
            assert store.restore(write, "Harbour") == 1
            store.delete(write, store.find(write, "Harbour"), NOON)
    almost, after = NOON + timedelta(days=29), NOON + timedelta(days=31)
    assert record(tmp_path, bounce(1), name="Other", now=almost)["notes"] == []
    assert "removed for good: 'Harbour'" in record(tmp_path, bounce(2), name="Other", now=after)["notes"][0]
    with open_database(tmp_path) as opened, opened.reading() as read:
        assert read.execute("SELECT count(*) FROM bounces").fetchone() == (2,)
        assert read.execute("SELECT count(*) FROM projects").fetchone() == (1,)


def test_a_new_project_with_a_near_name_is_pointed_out(tmp_path: Path) -> None:
    record(tmp_path, bounce(1), name="Harbour")
    assert recorder(tmp_path, "Harbor").notes == ["This starts a new project, 'Harbor'; there is also one called 'Harbour'"]
    assert recorder(tmp_path, "Something else").notes == []
    assert recorder(tmp_path, "Harbour").notes == []


@pytest.mark.parametrize(
    ("text", "safe"), [("a\x1b[31mb", "a?[31mb"), ("a\u202eb", "a?b"), ("a\r\nb\t", "a??b?"), ("👩\u200d🎤 ok", "👩\u200d🎤 ok")]
)
def test_names_are_shown_safely(text: str, safe: str) -> None:
    assert shown(text) == safe
