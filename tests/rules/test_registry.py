"""What the documentation promises about every rule, one test per promise."""

import importlib
import math
import re
from dataclasses import fields
from string import Formatter
from types import ModuleType
from typing import Any, get_args

from advisor.remedies.discovery import all_kinds
from rules.base import HEADINGS, Cause, Confidence, Finding, NotApplicable, Rule, all_rules
from tests.rule_cases import ROOT, healthy_song, source_keys
from tests.walks import for_every

RULES = all_rules()
EVERY_RULE = for_every(RULES, name=lambda rule: rule.id)
CONFIRMED = ("read", "second hand", "recalled", "our own measurement", "common practice, no published source",
             "our judgement, no published source")  # fmt: skip


def module_of(rule: Rule) -> ModuleType:
    room, _, name = rule.module.rpartition(".")
    return importlib.import_module(f"tests.{room}.test_{name}")


def fired(rule: Rule) -> Finding:
    finding: Finding = module_of(rule).fired()
    return finding


def limits_of(rule: Rule) -> list[Any]:
    return list(fields(rule.limits))


def test_there_are_rules_and_their_ids_are_unique() -> None:
    assert RULES
    assert len({rule.id for rule in RULES}) == len(RULES)


@EVERY_RULE
def test_the_page_has_all_headings_in_order_and_none_is_empty(rule: Rule) -> None:
    assert tuple(rule.sections) == HEADINGS
    assert all(rule.sections.values())


@EVERY_RULE
def test_the_title_is_short_and_has_no_full_stop(rule: Rule) -> None:
    assert 0 < len(rule.title) <= 60
    assert not rule.title.endswith(".")


@EVERY_RULE
def test_the_rules_own_test_fills_every_placeholder(rule: Rule) -> None:
    finding = fired(rule)
    for text in (rule.message, rule.whole_advice):
        names = {name for _, name, _, _ in Formatter().parse(text) if name is not None}
        assert names <= set(finding.numbers)
        filled = text.format(**finding.numbers)
        assert not re.search(r"[{}]|nan|inf|None", filled)
        assert filled.endswith((".", "?"))


@EVERY_RULE
def test_the_advice_is_one_move_and_its_stop_rule_a_clause(rule: Rule) -> None:
    assert rule.advice.endswith(".")
    assert "stop" not in rule.advice.lower()
    assert rule.stop
    assert rule.stop[0].islower()
    assert not rule.stop.endswith(".")


@EVERY_RULE
def test_the_finding_is_well_formed(rule: Rule) -> None:
    finding = fired(rule)
    assert 0.0 < finding.excess <= 4.0
    assert finding.confidence in get_args(Confidence)
    assert finding.cause in get_args(Cause)
    assert finding.sure_because
    assert finding.title is None or (len(finding.title) <= 60 and not finding.title.endswith("."))
    assert all(isinstance(value, str) or math.isfinite(value) for value in finding.numbers.values())
    assert all(span.start_s < span.end_s for span in finding.where)
    assert finding.band_hz is None or 0.0 <= finding.band_hz[0] < finding.band_hz[1]
    assert finding.remedy is None or finding.remedy.kind in all_kinds()


@EVERY_RULE
def test_every_limit_has_a_unit_a_range_a_reason_and_a_known_source(rule: Rule) -> None:
    assert limits_of(rule), "a rule without limits cannot be adjusted"
    for limit in limits_of(rule):
        assert limit.metadata["unit"], limit.name
        assert limit.metadata["says"], limit.name
        assert limit.metadata["low"] <= limit.default <= limit.metadata["high"], limit.name
        assert limit.metadata["source"] in source_keys(), limit.name


@EVERY_RULE
def test_the_page_names_the_sources_of_the_limits_and_only_known_ones(rule: Rule) -> None:
    named = {word.strip() for word in re.split(r"[,\n]", rule.sections["Sources"]) if word.strip()}
    assert named <= set(source_keys())
    assert {limit.metadata["source"] for limit in limits_of(rule)} <= named


@EVERY_RULE
def test_the_rule_has_tests_that_make_it_fire_and_keep_it_quiet(rule: Rule) -> None:
    tests = [name for name in vars(module_of(rule)) if name.startswith("test_")]
    assert any(name.startswith("test_fires") for name in tests)
    assert any(name.startswith("test_quiet") for name in tests)


@EVERY_RULE
def test_the_ordinary_song_is_left_alone(rule: Rule) -> None:
    outcome = rule.judge(healthy_song(), rule.limits())
    assert outcome is None or isinstance(outcome, NotApplicable)


def test_sources_are_sorted_unique_and_say_how_they_were_confirmed() -> None:
    text = (ROOT / "docs" / "sources.md").read_text(encoding="utf-8")
    keys = source_keys()
    assert keys == sorted(set(keys))
    stated = re.findall(r"^Confirmed: (.+)$", text, flags=re.MULTILINE)
    assert len(stated) == len(keys)
    assert set(stated) <= set(CONFIRMED)
