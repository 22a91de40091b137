"""The report on a finished master."""

from dataclasses import dataclass

from advisor.report_model.findings import FindingCard
from advisor.report_model.measurements import Measurements, MixFile
from advisor.report_model.parts import FailedPart, OpenRule, PassedRule, Tool, UsedSettings, Verdict
from advisor.report_model.plan import PlanStep
from features.records.mastering import Mastered, Release

SCHEMA_VERSION = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class MasterReport:
    """What mastering won and cost, and the finished file."""

    schema_version: int = SCHEMA_VERSION
    tool: Tool
    settings: UsedSettings
    notes: tuple[str, ...] = ()
    verdict: Verdict
    findings: tuple[FindingCard, ...] = ()
    passed: tuple[str, ...] = ()
    passed_cards: tuple[PassedRule, ...] = ()
    not_applicable: tuple[OpenRule, ...] = ()
    failed: tuple[FailedPart, ...] = ()
    master: MixFile
    mix: str | None
    measurements: Measurements
    mastered: Mastered | None
    release: Release | None
    plan: tuple[PlanStep, ...] = ()
