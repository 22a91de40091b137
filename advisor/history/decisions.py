"""Setting findings aside and taking that back."""

import sqlite3
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from advisor.app.errors import RequestError
from advisor.app.finding_key import SetAside
from advisor.app.history_words import shown
from advisor.app.settings import suggestion
from advisor.history import store
from advisor.history.reading import all_findings, asides, past_finding
from advisor.judging.finding_records import PastFinding

Document = dict[str, Any]


def set_aside(write: sqlite3.Connection, project: int, rule: str, stem: str | None, because: str, now: datetime) -> list[SetAside]:
    """Set aside what the latest bounce has of a rule; return the decisions."""
    if not because.strip():
        raise RequestError("A finding is set aside for a reason, so that you know it later. Add --because 'the wide bass is the idea'.")
    bounces = store.bounces(write, project)
    if not bounces:
        raise RequestError("This project holds no bounce yet, so there is nothing to set aside. Critique one with --project first.")
    last = bounces[-1]
    report = store.report_of(write, last)
    found = [past_finding(one) for one in (*all_findings(report), *asides(report))]
    chosen = [one for one in found if one.key.rule == rule and (stem is None or one.key.stem == stem)]
    if not chosen:
        raise RequestError(_nothing(last.number, found, rule, stem))
    because = " ".join(because.split())
    decisions = [SetAside(one.key, one.title, one.excess, because, last.number, store.stamp(now)) for one in chosen]
    store.set_aside(write, project, decisions)
    return decisions


def _nothing(number: int, found: Sequence[PastFinding], rule: str, stem: str | None) -> str:
    there = list(dict.fromkeys(one.key.rule for one in found))
    stems = [one.key.stem for one in found if one.key.rule == rule and one.key.stem is not None]
    if stems:
        listed = ", ".join(shown(each, 40) for each in stems)
        return f"Bounce {number} has no finding of {rule} about '{shown(stem or '')}'. It has one about: {listed}."
    listed = f" It found: {', '.join(there)}." if there else " It found nothing at all."
    return f"Bounce {number} has no finding of {rule}, so there is nothing to set aside.{suggestion(rule, there)}{listed}"


def take_back(write: sqlite3.Connection, project: int, rule: str, stem: str | None) -> int:
    """Judge a rule's findings again; return how many decisions that takes back."""
    count = store.take_back(write, project, rule, stem)
    if not count:
        there = list(dict.fromkeys(one.key.rule for one in store.set_asides(write, project)))
        listed = f" Set aside are: {', '.join(there)}." if there else " Nothing is set aside in this project."
        raise RequestError(f"No finding of {rule} is set aside here.{suggestion(rule, there)}{listed}")
    return count
