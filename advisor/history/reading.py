"""Reads out of a report what bounces are compared by."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TypeVar

from advisor.app.finding_key import SIDES, FindingKey
from advisor.judging.finding_history import distance
from advisor.judging.finding_records import BounceFindings, PastFinding
from advisor.judging.reporting import ComparedReading
from advisor.report_model.findings import AsideFinding, ReportedFinding
from advisor.report_model.report import Report
from features.records.base import Measurement
from rules.base import CONFIDENCE_WEIGHT
from rules.remedy import Remedy

RecordT = TypeVar("RecordT", bound=Measurement)


def all_findings(report: Report) -> Iterator[ReportedFinding]:
    """Yield every finding, also those that share a card."""
    for card in report.findings:
        yield card
        yield from card.also


def side_of(remedy: Remedy | None) -> str | None:
    """Return the side that the remedy of a fault treats."""
    return remedy.part if remedy is not None and remedy.part in SIDES else None


def key_of(finding: ReportedFinding) -> FindingKey:
    """Return what tells a finding from the others.

    A finding about the mix stays that, whichever element carries it.
    """
    stem = None if finding.attribution is not None else finding.stem
    return FindingKey(finding.rule, stem, finding.band_hz, side_of(finding.remedy))


def past_finding(finding: ReportedFinding, *, aside: bool = False) -> PastFinding:
    """Return a finding as its bounce had it."""
    return PastFinding(key_of(finding), finding.title, finding.excess, aside)


def asides(report: Report) -> tuple[AsideFinding, ...]:
    """Return the findings that this report set aside."""
    return () if report.history is None else report.history.set_aside


def bounce_findings(report: Report, number: int, set_aside: Sequence[ReportedFinding] | None = None) -> BounceFindings:
    """Return what a report's critique found and could judge.

    ``set_aside`` stands for what the report says of it, where it says nothing yet.
    """
    findings = tuple(past_finding(finding) for finding in all_findings(report))
    set_aside_findings = tuple(past_finding(finding, aside=True) for finding in (asides(report) if set_aside is None else set_aside))
    rules = {finding.key.rule for finding in (*findings, *set_aside_findings)} | set(report.passed)
    elements = frozenset(stem.name for stem in report.stems or ())
    return BounceFindings(number, (*findings, *set_aside_findings), frozenset(rules), elements)


def total_excess(report: Report, without: Sequence[FindingKey] = ()) -> float:
    """Return how much is in the way in all.

    ``without`` names findings that do not count.

    The sum over the findings of how far each lies past its limit, times how sure it is.
    """
    counted = (finding for finding in all_findings(report) if all(distance(key_of(finding), key) is None for key in without))
    return sum(finding.excess * CONFIDENCE_WEIGHT[finding.confidence] for finding in counted)


def record_of(report: Report, kind: type[RecordT]) -> RecordT | None:
    """Return a family's record. None where it was not measured."""
    return report.outlook if isinstance(report.outlook, kind) else report.measurements.get(kind)


def reading(report: Report, kind: type[RecordT], read: Callable[[RecordT], float | None]) -> float | None:
    """Return one reading of a report. None where absent."""
    record = record_of(report, kind)
    return None if record is None else read(record)


def compared_value(report: Report, compared: ComparedReading) -> float | None:
    """Return a report's value of a compared reading."""
    record = record_of(report, compared.kind)
    value = None if record is None else getattr(record, compared.field)
    return None if value is None else float(value)


@dataclass(frozen=True, slots=True)
class JudgingSettings:
    """The settings that decide what is found."""

    target_lufs: float | None = None
    ceiling_dbtp: float | None = None
    disabled_rules: tuple[str, ...] = ()
    changed_limits: tuple[tuple[str, str, float], ...] = ()
    stems: bool = False
    references: bool = False


def judging_settings(report: Report) -> JudgingSettings:
    """Return the settings that judged a report."""
    settings = report.settings
    return JudgingSettings(
        target_lufs=settings.target_lufs,
        ceiling_dbtp=settings.ceiling_dbtp,
        disabled_rules=tuple(sorted(settings.disabled_rules)),
        changed_limits=tuple(sorted((change.rule, change.limit, change.value) for change in settings.changed_limits)),
        stems=report.stems is not None,
        references=report.references is not None,
    )
