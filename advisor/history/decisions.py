"""Setting findings aside and taking that back."""

import sqlite3
from collections.abc import Sequence
from datetime import datetime

from advisor.app.errors import RequestError
from advisor.app.finding_key import SetAside
from advisor.app.history_words import shown
from advisor.app.settings import suggestion
from advisor.history import store
from advisor.history.reading import all_findings, asides, past_finding
from advisor.judging.finding_records import PastFinding


def set_aside(write: sqlite3.Connection, project: int, rule: str, stem: str | None, because: str, now: datetime) -> list[SetAside]:
    """Set aside a rule's latest findings. Return the decisions."""
    if not because.strip():
        raise RequestError("A finding is set aside for a reason, so that you know it later. Add --because 'the wide bass is the idea'.")
    bounces = store.bounces(write, project)
    if not bounces:
        raise RequestError("This project holds no bounce yet, so there is nothing to set aside. Critique one with --project first.")
    last = bounces[-1]
    report = store.report_of(write, last)
    findings = [past_finding(finding) for finding in (*all_findings(report), *asides(report))]
    chosen = [finding for finding in findings if finding.key.rule == rule and (stem is None or finding.key.stem == stem)]
    if not chosen:
        raise RequestError(_nothing(last.number, findings, rule, stem))
    because = " ".join(because.split())
    decisions = [SetAside(finding.key, finding.title, finding.excess, because, last.number, store.stamp(now)) for finding in chosen]
    store.set_aside(write, project, decisions)
    return decisions


def _nothing(number: int, findings: Sequence[PastFinding], rule: str, stem: str | None) -> str:
    there = list(dict.fromkeys(finding.key.rule for finding in findings))
    stems = [finding.key.stem for finding in findings if finding.key.rule == rule and finding.key.stem is not None]
    if stems:
        listed = ", ".join(shown(other, 40) for other in stems)
        return f"Bounce {number} has no finding of {rule} about '{shown(stem or '')}'. It has one about: {listed}."
    listed = f" It found: {', '.join(there)}." if there else " It found nothing at all."
    return f"Bounce {number} has no finding of {rule}, so there is nothing to set aside.{suggestion(rule, there)}{listed}"


def take_back(write: sqlite3.Connection, project: int, rule: str, stem: str | None) -> int:
    """Judge a rule's findings again. Return the revoked decisions' count."""
    count = store.take_back(write, project, rule, stem)
    if not count:
        there = list(dict.fromkeys(decision.key.rule for decision in store.set_asides(write, project)))
        listed = f" Set aside are: {', '.join(there)}." if there else " Nothing is set aside in this project."
        raise RequestError(f"No finding of {rule} is set aside here.{suggestion(rule, there)}{listed}")
    return count
