"""Judging: outcomes are told apart, a crash stays one line, one cause is one card, the heaviest comes first."""

from dataclasses import replace

from advisor.app.settings import Settings
from advisor.app.yardstick import yardstick_of
from advisor.judging.judge import Judged, judge
from advisor.measuring.measured import Failure, Measured
from features.records.file import Health
from rules.base import NotApplicable, Outcome, Rule
from tests.advisor.samples import all_records, finding, rule_that


def judged(*rules: Rule, settings: Settings | None = None) -> Judged:
    return judge(Measured(all_records(), ()), yardstick_of(settings or Settings()), rules)


def test_every_outcome_has_its_place() -> None:
    result = judged(
        rule_that(None, "a"), rule_that(NotApplicable("no kick"), "b"), rule_that(finding(), "c"), rule_that(ValueError("x"), "d")
    )
    assert [rule.id for rule in result.passed] == ["mixing/a"]
    assert [(rule.id, why) for rule, why in result.not_applicable] == [("mixing/b", "no kick")]
    assert [card.rule.id for card in result.cards] == ["mixing/c"]
    assert result.failed == (("mixing/d", "ValueError: x"),)


def test_a_message_whose_number_is_missing_is_that_rules_failure() -> None:
    broken = finding()
    object.__setattr__(broken, "numbers", {})
    result = judged(rule_that(broken, "a"), rule_that(None, "b"))
    assert [name for name, _ in result.failed] == ["mixing/a"]
    assert [rule.id for rule in result.passed] == ["mixing/b"]


def test_a_failed_measurement_leaves_its_rules_unjudged_and_the_rest_standing() -> None:
    records = all_records()
    del records[Health]
    result = judge(Measured(records, (Failure("health", "ZeroDivisionError: x"),)), yardstick_of(Settings()), (rule_that(None),))
    assert result.failed == (("measurement/health", "ZeroDivisionError: x"),)
    assert "Health" in result.not_applicable[0][1]


def test_a_rule_switched_off_is_not_run() -> None:
    result = judged(rule_that(ValueError("x"), "a"), settings=Settings(disabled=frozenset({"mixing/a"})))
    assert (result.cards, result.failed, result.disabled) == ((), (), ("mixing/a",))


def cards(*outcomes: Outcome) -> list[list[str]]:
    result = judged(*(rule_that(outcome, name) for outcome, name in zip(outcomes, "abcdef", strict=False)))
    return [[card.rule.id, *(other.id for other, _ in card.also)] for card in result.cards]


def test_one_cause_in_overlapping_bands_is_one_card_led_by_the_strongest() -> None:
    merged = cards(finding(1.0, band=(40.0, 60.0)), finding(2.0, band=(20.0, 60.0)), finding(1.5, band=(2000.0, 4000.0)))
    assert merged == [["mixing/b", "mixing/a"], ["mixing/c"]]


def test_bands_that_only_touch_or_causes_that_differ_stay_apart() -> None:
    assert len(cards(finding(band=(40.0, 80.0)), finding(band=(80.0, 160.0)))) == 2
    assert len(cards(finding(cause="excess"), finding(cause="lack"))) == 2
    assert len(cards(finding(cause="excess", band=(40.0, 80.0)), finding(cause="excess"))) == 2


def test_faults_of_the_file_are_never_merged() -> None:
    assert len(cards(finding(cause="file"), finding(cause="file"))) == 2


def test_what_a_fault_explains_joins_its_card_and_follows_it() -> None:
    cause = replace(finding(1.0, cause="polarity", band=(30.0, 150.0)), explains=("mixing/b",), stem="bass")
    assert cards(cause, finding(3.0, cause="buried")) == [["mixing/a", "mixing/b"]]
    assert cards(cause, None, finding(3.0, cause="buried")) == [["mixing/c"], ["mixing/a"]]


def test_a_hint_explains_nothing_that_is_surer() -> None:
    hint = replace(finding(1.0, "low", "polarity"), explains=("mixing/b",))
    assert len(cards(hint, finding(1.0, "high", "buried"))) == 2


def test_sure_comes_before_unsure_at_the_same_excess() -> None:
    assert cards(finding(2.0, "low", "peaks"), finding(2.0, "high", "width")) == [["mixing/b"], ["mixing/a"]]


def test_a_reading_barely_past_its_limit_is_as_good_as_at_it() -> None:
    result = judged(rule_that(finding(0.05), "a"), rule_that(finding(0.2), "b"))
    assert [rule.id for rule in result.passed] == ["mixing/a"]
    assert [card.rule.id for card in result.cards] == ["mixing/b"]
