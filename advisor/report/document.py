"""The document behind every report: plain numbers, strings and lists, written as report.json (version 1)."""

from collections.abc import Mapping
from dataclasses import asdict
from importlib.metadata import PackageNotFoundError, version
from typing import Any

from advisor.app.settings import Settings
from advisor.audition.document import NOTHING_TO_HEAR, marked_document, with_clips
from advisor.audition.records import Audition
from advisor.judging.judge import Card, Judged
from advisor.judging.verdict import Verdict
from advisor.measuring.measured import Measured
from advisor.planning.plan_document import Tried, band_edges, check_document, gone_with_step, plan_document, remedy_document, trial_document
from advisor.report.elements import mixture_document, stems_document
from features.records.base import Measurement, family_name
from features.records.elements import Elements
from features.records.file import File
from features.records.outlook import Outlook
from rules.base import Finding, Rule

SCHEMA_VERSION = 1
Document = dict[str, Any]


def tool_version() -> str:
    """Return the installed version."""
    try:
        return version("mixproof")
    except PackageNotFoundError:
        return "0 (not installed)"


def build(
    measured: Measured,
    judged: Judged,
    verdict: Verdict,
    settings: Settings,
    notes: tuple[str, ...],
    tried: Tried | None = None,
    audition: Audition = NOTHING_TO_HEAR,
    references: Document | None = None,
) -> Document:
    """Put everything a report needs into one document."""
    records = measured.records
    elements = records.get(Elements)
    return {
        "schema_version": SCHEMA_VERSION,
        "tool": {"name": "mixproof", "version": tool_version()},
        "settings": _settings(settings),
        "mix": _mix(records),
        "notes": [*notes, *audition.notes],
        "verdict": asdict(verdict),
        "outlook": _record(records.get(Outlook)),
        "measurements": _measurements(records),
        "findings": [_finding(rank, card, tried) for rank, card in enumerate(judged.cards, 1)],
        "plan": [] if tried is None else with_clips(plan_document(tried), audition),
        "audition": marked_document(audition),
        "plan_check": None if tried is None else check_document(tried),
        "tried_on": None if tried is None else [asdict(one) for one in tried.spans],
        "band_edges_hz": None if tried is None else band_edges(tried),
        "passed": [one.id for one in judged.passed],
        "passed_cards": [{"rule": one.id, "topic": one.topic, "title": one.title} for one in judged.passed],
        "not_applicable": [{"rule": one.id, "title": one.title, "reason": reason} for one, reason in judged.not_applicable],
        "failed": [{"rule": name, "error": error} for name, error in judged.failed]
        + [{"rule": one.family, "error": one.error} for one in audition.failures],
        "mastering": None,
        "stems": stems_document(elements if isinstance(elements, Elements) else None),
        "references": references,
        "history": None,
    }


def _measurements(records: Mapping[type[Measurement], Measurement]) -> Document:
    """Return one object for each family; the single elements stand under `stems`."""
    return {
        family_name(kind): mixture_document(record) if isinstance(record, Elements) else _record(record)
        for kind, record in records.items()
        if kind not in (Outlook, File)
    }


def _settings(settings: Settings) -> Document:
    return {
        "target_lufs": settings.target_lufs,
        "ceiling_dbtp": settings.ceiling_dbtp,
        "quick": settings.quick,
        "audition": settings.audition,
        "streaming_lufs": list(settings.streaming_lufs),
        "disabled_rules": sorted(settings.disabled),
        "changed_limits": [asdict(one) for one in settings.changes],
    }


def _record(record: Measurement | None) -> Document | None:
    return None if record is None else asdict(record)


def _mix(records: Mapping[type[Measurement], Measurement]) -> Document:
    file = records[File]
    document = asdict(file)
    document.pop("absent")
    return document


def _finding(rank: int, card: Card, tried: Tried | None) -> Document:
    one, finding = card.rule, card.finding
    return {
        "rank": rank,
        **told(one, finding),
        "sure_because": finding.sure_because,
        "cause": finding.cause,
        "why": one.sections["Why it matters"],
        "check_by_ear": one.sections["Check by ear"],
        "fine_if": one.sections["Leave it alone when"],
        "also": [told(other, its) for other, its in card.also],
        "trial": None if tried is None else trial_document(tried.plan.trial_of(card)),
        "gone_with_step": None if tried is None else gone_with_step(card, tried),
    }


def told(one: Rule, finding: Finding) -> Document:
    """Return a finding with its rule's words."""
    return {
        "rule": one.id,
        "stage": one.stage,
        "topic": one.topic,
        "title": finding.title or one.title,
        "stem": finding.stem,
        "message": one.message.format(**finding.numbers),
        "advice": one.advice.format(**finding.numbers),
        "numbers": dict(finding.numbers),
        "confidence": finding.confidence,
        "excess": finding.excess,
        "where": [asdict(where) for where in finding.where],
        "band_hz": None if finding.band_hz is None else list(finding.band_hz),
        "remedy": remedy_document(finding.remedy),
    }
