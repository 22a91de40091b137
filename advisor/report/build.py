"""Puts everything that a critique found into one report."""

from dataclasses import dataclass, replace

from advisor.app.settings import Settings
from advisor.app.version import tool_version
from advisor.audition.records import Audition
from advisor.audition.section import NOTHING_TO_HEAR, marked_mix, with_clips
from advisor.judging.judge import Card, Judged
from advisor.mastering.critiqued import NO_MASTERING, MasteringPart
from advisor.measuring.measured import Measured
from advisor.planning.plan_outcome import PlanOutcome
from advisor.planning.plan_section import band_edges, gone_with_step, plan_check, plan_steps, remedy_trial
from advisor.report_model.findings import FindingCard, ReportedFinding
from advisor.report_model.measurements import Measurements
from advisor.report_model.parts import FailedPart, OpenRule, PassedRule, Tool, UsedSettings, Verdict
from advisor.report_model.references import ReferencesSection
from advisor.report_model.report import Report
from features.records.elements import Elements
from features.records.file import File
from features.records.outlook import Outlook
from rules.base import Finding, Rule


@dataclass(frozen=True, slots=True)
class Tries:
    """What was tried and made beyond measuring and judging.

    Nothing of it with --quick.
    """

    plan: PlanOutcome | None = None
    audition: Audition = NOTHING_TO_HEAR
    mastering: MasteringPart = NO_MASTERING


NOTHING_TRIED = Tries()


def build(
    measured: Measured,
    judged: Judged,
    verdict: Verdict,
    settings: Settings,
    notes: tuple[str, ...],
    tries: Tries = NOTHING_TRIED,
    references: ReferencesSection | None = None,
) -> Report:
    """Return the report.

    The history of its project is added by whoever records it.
    """
    records, plan, audition = measured.records, tries.plan, tries.audition
    file, outlook, elements = records[File], records.get(Outlook), records.get(Elements)
    assert isinstance(file, File)  # noqa: S101 - every song comes from a file
    return Report(
        tool=Tool("mixproof", tool_version()),
        settings=used_settings(settings),
        mix=file,
        notes=(*notes, *audition.notes, *tries.mastering.notes),
        verdict=verdict,
        outlook=outlook if isinstance(outlook, Outlook) else None,
        measurements=Measurements.of_records(records.values()),
        findings=tuple(_card(rank, card, plan) for rank, card in enumerate(judged.cards, 1)),
        plan=() if plan is None else with_clips(plan_steps(plan), audition),
        audition=marked_mix(audition),
        plan_check=None if plan is None else plan_check(plan),
        tried_on=None if plan is None else plan.spans,
        band_edges_hz=None if plan is None else band_edges(plan),
        passed=tuple(rule.id for rule in judged.passed),
        passed_cards=tuple(PassedRule(rule.id, rule.topic, rule.title) for rule in judged.passed),
        not_applicable=tuple(OpenRule(rule.id, rule.title, reason) for rule, reason in judged.not_applicable),
        failed=_failed(judged, tries),
        mastering=tries.mastering.section,
        stems=elements.elements if isinstance(elements, Elements) else None,
        references=references,
    )


def _failed(judged: Judged, tries: Tries) -> tuple[FailedPart, ...]:
    crashed = (*tries.audition.failures, *tries.mastering.failures)
    return (*(FailedPart(*failure) for failure in judged.failed), *(FailedPart(failure.family, failure.error) for failure in crashed))


def used_settings(settings: Settings) -> UsedSettings:
    """Return the settings as the report states them."""
    return UsedSettings(
        target_lufs=settings.target_lufs,
        ceiling_dbtp=settings.ceiling_dbtp,
        quick=settings.quick,
        audition=settings.audition,
        streaming_lufs=tuple(settings.streaming_lufs),
        disabled_rules=tuple(sorted(settings.disabled)),
        changed_limits=settings.changes,
    )


def reported_finding(rule: Rule, finding: Finding) -> ReportedFinding:
    """Return a finding with its rule's words."""
    return ReportedFinding(
        rule=rule.id,
        stage=rule.stage,
        topic=rule.topic,
        title=finding.title or rule.title,
        stem=finding.stem,
        message=rule.message.format(**finding.numbers),
        advice=rule.whole_advice.format(**finding.numbers),
        stop=rule.stop_clause.format(**finding.numbers),
        numbers=dict(finding.numbers),
        confidence=finding.confidence,
        probability=finding.probability,
        excess=finding.excess,
        where=finding.where,
        band_hz=finding.band_hz,
        remedy=finding.remedy,
    )


def _card(rank: int, card: Card, plan: PlanOutcome | None) -> FindingCard:
    rule, finding = card.rule, card.finding
    own = replace(reported_finding(rule, finding), stem=card.stem, attribution=card.attribution)
    return FindingCard(
        **{name: getattr(own, name) for name in ReportedFinding.__slots__},
        rank=rank,
        sure_because=finding.sure_because,
        cause=finding.cause,
        why=rule.sections["Why it matters"],
        check_by_ear=rule.sections["Check by ear"],
        fine_if=rule.sections["Leave it alone when"],
        also=tuple(reported_finding(*other) for other in card.also),
        trial=None if plan is None else remedy_trial(plan.plan.trial_of(card)),
        gone_with_step=None if plan is None else gone_with_step(card, plan),
    )
