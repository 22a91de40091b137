"""Reports of bounces made by hand, without sound: what the history's tests are made from."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from advisor.app.settings import Settings
from advisor.history.recorder import Recorder
from advisor.report_model.findings import ComparedReadings, ReportedFinding
from advisor.report_model.plan import PlanStep
from advisor.report_model.report import Report
from rules.base import Finding, Outcome, Rule
from rules.remedy import Remedy
from tests import records
from tests.advisor.samples import finding, report, rule_that, written

Document = dict[str, Any]

NOON = datetime(2030, 1, 2, 12, 0, 0, tzinfo=UTC)


def found(excess: float = 1.0, band: tuple[float, float] | None = None, remedy: Remedy | None = None, stem: str | None = None) -> Finding:
    """Return a finding with a remedy, of a cause that merges it with no other."""
    return replace(finding(excess, band=band), cause="file", remedy=remedy, stem=stem)


def bounce(take: int, *rules: Rule | tuple[str, Outcome], settings: Settings | None = None, **changed: Any) -> Report:  # noqa: ANN401
    """Return the report of one bounce; ``take`` makes its file differ from the others."""
    made = [rule if isinstance(rule, Rule) else rule_that(rule[1], rule[0]) for rule in rules]
    changed.setdefault("file", records.file(name=f"take-{take}.wav", sha256=f"{take:064x}"))
    return report(*made, settings=settings, **changed)


def planned(report: Report, rule: str, remedy: Remedy, octaves_db: Sequence[float] = (), hits: float | None = None) -> Report:
    """Return the report with one more step, whose trial changed the octaves and the share heard of each hit by so much."""
    levels = (-30.0,) * len(octaves_db)
    after = tuple(old + new for old, new in zip(levels, octaves_db, strict=True))
    step = PlanStep(
        step=len(report.plan) + 1,
        stage="mixing",
        rule=rule,
        stem=None,
        band_hz=None,
        title=f"Title of {rule.split('/')[1]}",
        confidence="high",
        remedy=remedy,
        move="Move it",
        stop="",
        careful=(),
        where=(),
        outlook_after_lufs=None,
        excess_after=0.0,
        before=ComparedReadings(1.0, None, None, None, 0.5, None, levels),
        after=ComparedReadings(1.0, None, None, None, None if hits is None else 0.5 + hits, None, after),
        benefit=1.0,
    )
    return replace(report, plan=(*report.plan, step))


def recorder(folder: Path, name: str = "Harbour", now: datetime = NOON) -> Recorder:
    """Return what records in a project, at noon."""
    return Recorder(name, lambda: now, folder)


def record(folder: Path, report: Report, name: str = "Harbour", now: datetime = NOON, aside: Sequence[ReportedFinding] = ()) -> Document:
    """Record a ready report; return what is written of it, with its history."""
    with recorder(folder, name, now).recording(report, aside) as whole:
        return written(whole)
