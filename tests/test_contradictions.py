"""Contradictions are found where they stand, and reports of ours hold none."""

from dataclasses import replace
from pathlib import Path

import pytest

from advisor.report_model.codec import to_json
from advisor.report_model.report import Report
from features.records.elements import Elements
from rules.remedy import Remedy
from tests import contradictions as found
from tests import records
from tests.advisor.report.test_plan_text import card_of, report_with, step_of
from tests.advisor.samples import finding, report, rule_that


def test_a_report_of_ours_does_not_contradict_itself() -> None:
    for written in (report(), report(rule_that(finding(1.0), "a")), report(rule_that(finding(1.0), "b", stage="delivery"))):
        assert found.contradictions(written) == []


@pytest.mark.parametrize(
    ("text", "count"),
    [
        ("It can be limited to -13.0 LUFS, and up to -12.5 LUFS before the limiter is heard; a gentle one is heard past -12.4 LUFS", 1),
        ("up to -12.5 LUFS before the limiter is heard. The finished plan, run over the whole song: clean loudness -12.5 to -12.1 LUFS", 0),
        ("drum hits come through (93% of each is audible). | Audible share of each drum hit | 93% |", 0),
        ("drum hits come through (93% of each is audible). | Audible share of each drum hit | 91% |", 1),
        ("Your main elements span 17 dB, from a down to b. Your main elements (a, b) lie within 17.4 dB of one another", 0),
        ("Your main elements span 17 dB, from a down to b. Your main elements (a, b) lie within 19 dB of one another", 1),
        ("kick and bass add up (+0.6 dB); kick and bass together come out 0.6 dB", 0),
        ("kick and bass add up (+0.6 dB); kick and bass together come out -0.6 dB", 1),
    ],
)
def test_a_quantity_is_told_with_one_value(text: str, count: int) -> None:
    assert len(list(found.told_twice(text))) == count


def test_praise_that_the_findings_deny_is_found() -> None:
    mixing = report_with(card_of("mixing/a", "Cut it"))
    assert list(found.good_yet_outside("No fault was found.", mixing))
    assert not list(found.good_yet_outside("No fault was found.", report()))
    assert list(found.good_yet_outside("Nothing is wrong with it.", report_with(card_of("delivery/a", "Cut it", stage="delivery"))))
    assert list(found.good_yet_outside("Leave the mix as it is.", report_with(plan=(step_of(1, "mixing/a"),))))
    lead = "'lead', the lead, stands at -13.3 LU against the whole mix while it plays; -4.5 to -1.5 LU is ordinary"
    assert list(found.good_yet_outside(lead, replace(report(), passed=("mixing/lead_level",))))
    assert not list(found.good_yet_outside(lead, report()))


def test_an_advice_for_a_bus_without_effects_is_found() -> None:
    words = "- **Do:** Raise the threshold of the bus compressor."
    stems = records.elements()
    exact = replace(stems, mixture=replace(stems.mixture, residual_db=-120.0))
    loose = replace(stems, mixture=replace(stems.mixture, residual_db=-30.0))
    assert list(found.without_cause(words, with_elements(exact)))
    assert not list(found.without_cause(words, with_elements(loose)))
    assert not list(found.without_cause(words, report()))


def with_elements(elements: Elements) -> Report:
    """Return a report on a song with stems."""
    whole = report()
    return replace(whole, measurements=type(whole.measurements)({**whole.measurements.records, Elements: elements}))


def test_steps_that_undo_each_other_and_findings_that_exclude_each_other_are_found() -> None:
    up, down = (replace(step_of(place, "mixing/a"), remedy=Remedy("gain", "lead", gain_db=gain)) for place, gain in ((1, 2.0), (2, -2.0)))
    assert list(found.undone(report_with(plan=(up, down))))
    assert not list(found.undone(report_with(plan=(up, replace(down, remedy=Remedy("gain", "kick", gain_db=-2.0))))))
    both = (card_of("mixing/too_bright", "Cut"), card_of("mixing/too_dark", "Boost"))
    assert list(found.at_odds(report_with(*both)))
    assert not list(found.at_odds(report_with(both[0])))


def test_an_element_is_told_with_one_level() -> None:
    card = "'snare' seems about 9 dB too loud. It plays at -3 LU against the mix. 80% of it is audible."
    text = card + "\n| snare | snare | drums | {} LU | 80% | - |"
    song = replace(report(), stems=(records.element("snare"),))
    assert list(found.elements_told_twice(text.format("-0.4"), song)) == ["the level of 'snare' is told as -0.4 and -3"]
    assert list(found.elements_told_twice(text.format("-2.9"), song)) == []


def test_reports_are_read_from_files(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    both = report_with(card_of("mixing/too_bright", "Cut"), card_of("mixing/too_dark", "Boost", rank=2))
    for name, written in (("good.json", report()), ("bad.json", both)):
        (tmp_path / name).write_text(to_json(written), encoding="utf-8")
    assert found.main([str(tmp_path / "good.json")]) == 0
    assert found.main([str(tmp_path / "good.json"), str(tmp_path / "bad.json")]) == 1
    assert "mixing/too_bright and mixing/too_dark are both told" in capsys.readouterr().out
