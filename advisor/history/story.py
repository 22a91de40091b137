"""What a report says about the bounces before it: pure functions from documents to a document."""

from collections.abc import Mapping, Sequence
from typing import Any

from advisor.app.finding_key import FindingKey, SetAside
from advisor.history.followed import Followed, follow_up
from advisor.history.harm import may_have_caused
from advisor.history.promised import promises
from advisor.history.reading import all_findings, bounce_findings, key_of, total_excess, value
from advisor.judging.finding_history import aside_of, distance, follow, through
from advisor.judging.finding_records import BounceFindings, FindingChange
from advisor.judging.reporting import EXCESS_STEP, ComparedReading, all_compared_readings

Document = Mapping[str, Any]

MOST_FALLEN_LU = 0.3  # a larger loss of clean loudness is warned of


def tell(
    report: Document, number: int, before: Sequence[tuple[int, Document]], set_asides: Sequence[SetAside], aside_now: Sequence[Document]
) -> dict[str, Any]:
    """Return what changes of findings and advice in bounce ``number``.

    Parameters
    ----------
    report
        The new report, its ``history`` not yet filled in.
    number
        The bounce's number.
    before
        Number and report of every bounce before it, in order.
    set_asides
        What the project has set aside.
    aside_now
        The findings that were left out of the new report for that reason, as documents.
    """
    now = bounce_findings({**report, "history": {"set_aside": list(aside_now)}}, number)
    changes, _ = follow(through(bounce_findings(one, place) for place, one in before), now)
    earlier = before[-1][1] if before else None
    followed = [] if earlier is None else steps_of(earlier, report, now)
    return {
        "findings": [_finding(one, set_asides) for one in changes] if before else [_finding(one, ()) for one in changes],
        "steps": [_step(one) for one in followed],
        "readings": [] if earlier is None else readings(earlier, report),
        "excess": [None if earlier is None else total_excess(earlier, without=_left_out(changes, aside_now)), total_excess(report)],
        "warnings": [] if earlier is None else warnings(followed, changes, earlier, report),
        "set_aside": [_aside(one, set_asides) for one in aside_now],
    }


def _left_out(changes: Sequence[FindingChange], aside_now: Sequence[Document]) -> list[FindingKey]:
    """Return what does not count in the earlier bounce either, since it does not count now: nothing is gained by not looking."""
    return [*(one.key for one in changes if one.state == "not judged"), *(key_of(one) for one in aside_now)]


def steps_of(earlier: Document, later: Document, now: BounceFindings) -> tuple[Followed, ...]:
    """Judge the steps of the earlier bounce's plan."""
    promised = promises(earlier)
    seen = [next((one.excess for one in now.findings if distance(one.key, each.key) is not None), None) for each in promised]
    return follow_up(promised, earlier, later, seen, judged=[now.could_see(each.key) for each in promised])


def _finding(one: FindingChange, set_asides: Sequence[SetAside]) -> dict[str, Any]:
    decision = aside_of(one.key, set_asides) if one.state in ("came back", "set aside") else None
    return {
        "rule": one.key.rule,
        "stem": one.key.stem,
        "band_hz": None if one.key.band_hz is None else list(one.key.band_hz),
        "side": one.key.side,
        "title": one.title,
        "state": one.state,
        "before": one.before,
        "after": one.after,
        "first": one.first,
        "solved": one.solved,
        "because": None if decision is None else decision.because,
    }


def _aside(finding: Document, set_asides: Sequence[SetAside]) -> dict[str, Any]:

    decision = aside_of(key_of(finding), set_asides)
    return {
        **finding,
        "because": "" if decision is None else decision.because,
        "since": None if decision is None else decision.since,
        "excess_then": None if decision is None else decision.excess,
    }


def _step(one: Followed) -> dict[str, Any]:
    found = one.found
    return {
        "step": one.promise.step,
        "rule": one.promise.key.rule,
        "title": one.promise.title,
        "move": one.promise.move,
        "verdict": one.verdict,
        "sure": one.sure,
        "sure_because": one.because,
        "share": None if found is None else found.share,
        "reading": None if found is None else found.reading,
        "promised": None if found is None else found.promised,
        "measured": None if found is None else found.measured,
        "unit": None if found is None else found.unit,
    }


def changed(compared: ComparedReading, earlier: Document, later: Document) -> dict[str, Any] | None:
    """Return the change of one reading, where it is beyond its reporting step."""
    old, new = value(earlier, compared.family, compared.field), value(later, compared.family, compared.field)
    if old is None or new is None or abs(new - old) < compared.step:
        return None
    return {
        "family": compared.family,
        "field": compared.field,
        "name": compared.reading.phrase,
        "unit": compared.unit,
        "digits": compared.digits,
        "before": old * compared.scale,
        "after": new * compared.scale,
    }


def readings(earlier: Document, later: Document) -> list[dict[str, Any]]:
    """Return the readings that changed beyond their reporting steps, of those that a bounce is followed by."""
    changes = (changed(compared, earlier, later) for compared in all_compared_readings() if compared.reading.in_history)
    return [change for change in changes if change is not None]


def warnings(followed: Sequence[Followed], changes: Sequence[FindingChange], earlier: Document, later: Document) -> list[dict[str, Any]]:
    """Return where a move that was made may have made something else worse, and whether clean loudness was lost."""
    made = [one for one in followed if one.verdict in ("done", "partly", "overdone")]
    told_of = {(one["rule"], one["title"]): one for one in all_findings(later)}
    found: list[dict[str, Any]] = []
    for one in changes:
        if one.state not in ("new", "worse", "came back") or (one.after or 0.0) - (one.before or 0.0) < EXCESS_STEP:
            continue
        finding = told_of.get((one.key.rule, one.title))
        guilty = [each for each in made if finding is not None and may_have_caused(each.promise, finding)]
        found.extend(_warning(each, one.title) for each in guilty[:1])
    old, new = value(earlier, "outlook", "clean_lufs"), value(later, "outlook", "clean_lufs")
    if old is not None and new is not None and new <= old - MOST_FALLEN_LU:
        found.append({"kind": "loudness", "step": None, "move": None, "title": None, "before": old, "after": new})
    return found


def _warning(followed: Followed, title: str) -> dict[str, Any]:
    return {"kind": "finding", "step": followed.promise.step, "move": followed.promise.title, "title": title, "before": None, "after": None}
