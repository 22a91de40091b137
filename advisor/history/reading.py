"""Reads a report's document back into the plain records that bounces are compared by."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from advisor.app.finding_key import SIDES, FindingKey
from advisor.judging.finding_history import distance
from advisor.judging.finding_records import BounceFindings, PastFinding
from rules.base import CONFIDENCE_WEIGHT

Document = Mapping[str, Any]


def all_findings(report: Document) -> Iterator[Document]:
    """Yield every finding of a report, also those that share a card with a stronger one."""
    for card in report["findings"]:
        yield card
        yield from card["also"]


def side_of(remedy: Document | None) -> str | None:
    """Return the side a fault leans to, told by what its remedy works on."""
    part = None if remedy is None else remedy.get("part")
    return part if part in SIDES else None


def key_of(finding: Document) -> FindingKey:
    """Return what tells a finding of a report from the others."""
    band = finding.get("band_hz")
    return FindingKey(finding["rule"], finding.get("stem"), None if band is None else (band[0], band[1]), side_of(finding.get("remedy")))


def past_finding(finding: Document, *, aside: bool = False) -> PastFinding:
    """Return a finding of a report as a record."""
    return PastFinding(key_of(finding), finding["title"], float(finding["excess"]), aside)


def asides(report: Document) -> list[Document]:
    """Return the findings that were set aside when this report was written."""
    return list((report.get("history") or {}).get("set_aside") or [])


def bounce_findings(report: Document, number: int) -> BounceFindings:
    """Return what a report's critique saw, and what it could judge."""
    findings = tuple(past_finding(one) for one in all_findings(report))
    kept = tuple(past_finding(one, aside=True) for one in asides(report))
    rules = {one.key.rule for one in (*findings, *kept)} | set(report["passed"])
    elements = frozenset(str(one["name"]) for one in report.get("stems") or ())
    return BounceFindings(number, (*findings, *kept), frozenset(rules), elements)


def total_excess(report: Document, without: Sequence[FindingKey] = ()) -> float:
    """Return how much is in the way in all: the sum over all findings, but some, of how far past the limit, times how sure."""
    counted = (one for one in all_findings(report) if all(distance(key_of(one), each) is None for each in without))
    return sum(float(one["excess"]) * CONFIDENCE_WEIGHT[one["confidence"]] for one in counted)


def value(report: Document, family: str, field: str) -> float | None:
    """Return one reading of a report; None when it, or its family, is absent."""
    record = report["outlook"] if family == "outlook" else report["measurements"].get(family)
    found = None if record is None else record.get(field)
    return None if found is None else float(found)


def settings_that_judge(report: Document) -> dict[str, Any]:
    """Return the settings that decide what is found; what is tried or written does not."""
    settings = report["settings"]
    limits = sorted([one["rule"], one["limit"], one["value"]] for one in settings.get("changed_limits", ()))
    return {
        "target_lufs": settings["target_lufs"],
        "ceiling_dbtp": settings["ceiling_dbtp"],
        "disabled_rules": sorted(settings.get("disabled_rules", ())),
        "changed_limits": limits,
        "stems": report.get("stems") is not None,
        "references": report.get("references") is not None,
    }
