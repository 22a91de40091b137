"""A measured song and its judgement, without any sound: what report tests are made from."""

import json
from dataclasses import dataclass
from typing import Any

from advisor.app.settings import Settings
from advisor.app.yardstick import yardstick_of
from advisor.judging.judge import judge
from advisor.judging.verdict import verdict
from advisor.measuring.measured import Failure, Measured
from advisor.report.build import build
from advisor.report_model.codec import from_json, to_json
from advisor.report_model.report import Report
from features.records.base import Measurement, Span
from features.records.file import Health
from rules.base import HEADINGS, Cause, Confidence, Finding, NotApplicable, Outcome, Rule, Stage
from tests import records


@dataclass(frozen=True, slots=True)
class NoLimits:
    """A rule without limits."""


def all_records(**changed: Measurement) -> dict[type[Measurement], Measurement]:
    """Return every family of the healthy song, some replaced by name."""
    names = (
        "file", "level", "spectrum", "target", "balance", "ear", "crest", "pumping", "hits", "low_end", "stereo", "health",
        "sections", "outlook",
    )  # fmt: skip
    made = [changed.get(name) or getattr(records, name)() for name in names]
    return {type(record): record for record in made}


def finding(
    excess: float = 1.0, confidence: Confidence = "high", cause: Cause = "excess", band: tuple[float, float] | None = None
) -> Finding:
    """Return a finding with one number."""
    return Finding(excess, confidence, "it was measured", {"amount": 3.25}, cause, (Span(61.0, 70.0),), band)


def rule_that(outcome: Outcome | Exception, name: str = "one", stage: Stage = "mixing") -> Rule:
    """Return a rule that looks at Health and answers with ``outcome``, or crashes with it."""

    def check(_health: Health, _limits: NoLimits) -> Outcome:
        if isinstance(outcome, Exception):
            raise outcome
        return outcome

    sections = {heading: f"{heading} of {name}." for heading in HEADINGS}
    return Rule(
        f"{stage}/{name}",
        stage,
        "tone",
        f"Title of {name}",
        "It is {amount:.1f} dB",
        "Move it.",
        "when it is right",
        sections,
        (Health,),
        NoLimits,
        check,
        __name__,
    )


def report(*rules: Rule, failures: tuple[Failure, ...] = (), settings: Settings | None = None, **changed: Measurement) -> Report:
    """Return the report on a song on which these rules are run."""
    settings = settings or Settings()
    measured = Measured(all_records(**changed), failures)
    judged = judge(measured, yardstick_of(settings), rules)
    return build(measured, judged, verdict(dict(measured.records), judged), settings, notes=())


def written(report: object) -> dict[str, Any]:
    """Return a report as it stands in its file."""
    document: dict[str, Any] = json.loads(to_json(report))
    return document


def read(document: object) -> Report:
    """Return the report that a document holds."""
    return from_json(Report, json.dumps(document))


__all__ = ["NotApplicable", "all_records", "finding", "read", "report", "rule_that", "written"]
