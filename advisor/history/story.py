"""What a report says about the bounces before it.

Pure functions from reports to the parts of its history.
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields

from advisor.app.finding_key import FindingKey, SetAside
from advisor.history.elements import ComparedElements, undone
from advisor.history.followed import FollowedMove, follow_up
from advisor.history.harm import may_have_caused
from advisor.history.promised import Promise, promises
from advisor.history.reading import all_findings, bounce_findings, compared_value, key_of, reading, total_excess
from advisor.judging.finding_history import aside_of, excess_in, follow, through
from advisor.judging.finding_records import BounceFindings, FindingChange
from advisor.judging.reporting import EXCESS_STEP, ComparedReading, all_compared_readings
from advisor.report_model.findings import AsideFinding, ReportedFinding
from advisor.report_model.history import ElementChange, FollowedStep, HistoryFinding, ReadingChange, UndoneStep, Warned
from advisor.report_model.report import Report
from features.records.outlook import Outlook

ASIDE = tuple(field.name for field in fields(ReportedFinding))
MOST_FALLEN_LU = 0.3  # a larger loss of clean loudness is warned of


@dataclass(frozen=True, slots=True)
class BounceStory:
    """What became of findings and advice in one bounce."""

    findings: tuple[HistoryFinding, ...]
    steps: tuple[FollowedStep, ...]
    readings: tuple[ReadingChange, ...]
    excess: tuple[float | None, float]
    warnings: tuple[Warned, ...]
    set_aside: tuple[AsideFinding, ...]
    elements: tuple[ElementChange, ...] = ()
    undone: tuple[UndoneStep, ...] = ()


def tell(
    report: Report,
    number: int,
    before: Sequence[tuple[int, Report]],
    set_asides: Sequence[SetAside],
    aside_now: Sequence[ReportedFinding],
    elements: ComparedElements | None = None,
) -> BounceStory:
    """Return what became of findings and advice in bounce ``number``.

    Parameters
    ----------
    report
        The new report, without its history.
    number
        The bounce's number.
    before
        Number and report of every bounce before it, in order.
    set_asides
        What the project has set aside.
    aside_now
        The findings that were left out of the new report for that reason.
    elements
        Those of the last bounce before against those of this one.
    """
    now = bounce_findings(report, number, aside_now)
    changes, _ = follow(through(bounce_findings(past, place) for place, past in before), now)
    set_aside = tuple(_aside(finding, set_asides) for finding in aside_now)
    if not before:
        findings = tuple(_finding(change, ()) for change in changes)
        return BounceStory(findings, (), (), (None, total_excess(report)), (), set_aside)
    earlier = before[-1][1]
    moves = moves_of(promises(earlier), earlier, report, now, elements)
    return BounceStory(
        findings=tuple(_finding(change, set_asides) for change in changes),
        steps=tuple(_step(move) for move in moves),
        readings=readings(earlier, report),
        excess=(total_excess(earlier, without=_left_out(changes, aside_now)), total_excess(report)),
        warnings=warnings(moves, changes, earlier, report, frozenset() if elements is None else elements.untouched),
        set_aside=set_aside,
        elements=() if elements is None else elements.changes,
        undone=() if elements is None else undone(before, elements.changes),
    )


def _left_out(changes: Sequence[FindingChange], aside_now: Sequence[ReportedFinding]) -> list[FindingKey]:
    """Return what does not count in the earlier bounce either.

    It does not count now, and nothing is gained by not looking.
    """
    return [*(change.key for change in changes if change.state == "not judged"), *(key_of(finding) for finding in aside_now)]


def moves_of(
    promised: Sequence[Promise], earlier: Report, later: Report, now: BounceFindings, elements: ComparedElements | None = None
) -> tuple[FollowedMove, ...]:
    """Judge whether the moves that were asked for were made."""
    left = [excess_in(now, promise.key) for promise in promised]
    return follow_up(promised, earlier, later, left, judged=[now.could_see(promise.key) for promise in promised], elements=elements)


def _finding(change: FindingChange, set_asides: Sequence[SetAside]) -> HistoryFinding:
    key, decision = change.key, aside_of(change.key, set_asides) if change.state in ("came back", "set aside") else None
    return HistoryFinding(
        rule=key.rule,
        stem=key.stem,
        band_hz=key.band_hz,
        side=key.side,
        title=change.title,
        state=change.state,
        before=change.before,
        after=change.after,
        first=change.first,
        solved=change.solved,
        because=None if decision is None else decision.because,
    )


def _aside(finding: ReportedFinding, set_asides: Sequence[SetAside]) -> AsideFinding:
    decision = aside_of(key_of(finding), set_asides)
    return AsideFinding(
        **{name: getattr(finding, name) for name in ASIDE},
        because="" if decision is None else decision.because,
        since=None if decision is None else decision.since,
        excess_then=None if decision is None else decision.excess,
    )


def _step(move: FollowedMove) -> FollowedStep:
    change = move.change
    return FollowedStep(
        step=move.promise.step,
        rule=move.promise.key.rule,
        title=move.promise.title,
        move=move.promise.move,
        verdict=move.verdict,
        sure=move.sure,
        sure_because=move.because,
        share=None if change is None else change.share,
        reading=None if change is None else change.read_from,
        promised=None if change is None else change.promised,
        measured=None if change is None else change.measured,
        unit=None if change is None else change.unit,
    )


def reading_change(compared: ComparedReading, earlier: Report, later: Report) -> ReadingChange | None:
    """Return a reading's change, where it exceeds its reporting step."""
    old, new = compared_value(earlier, compared), compared_value(later, compared)
    if old is None or new is None or abs(new - old) < compared.step:
        return None
    return ReadingChange(
        family=compared.family,
        field=compared.field,
        name=compared.reading.phrase,
        unit=compared.unit,
        digits=compared.digits,
        before=old * compared.scale,
        after=new * compared.scale,
    )


def readings(earlier: Report, later: Report) -> tuple[ReadingChange, ...]:
    """Return the changed readings that a history tells of."""
    changes = (reading_change(compared, earlier, later) for compared in all_compared_readings() if compared.reading.in_history)
    return tuple(change for change in changes if change is not None)


def warnings(
    moves: Sequence[FollowedMove],
    changes: Sequence[FindingChange],
    earlier: Report,
    later: Report,
    untouched: frozenset[str] = frozenset(),
) -> tuple[Warned, ...]:
    """Return the harm of moves, and lost clean loudness.

    What is found of elements that nobody touched is no move's harm: another element's move shows in them, and that is told of it.
    """
    made = [move for move in moves if move.verdict in ("done", "partly", "overdone")]
    reported = {(finding.rule, finding.title): finding for finding in all_findings(later)}
    warned: list[Warned] = []
    for change in changes:
        if (
            change.key.stem in untouched
            or change.state not in ("new", "worse", "came back")
            or (change.after or 0.0) - (change.before or 0.0) < EXCESS_STEP
        ):
            continue
        finding = reported.get((change.key.rule, change.title))
        guilty = [move for move in made if finding is not None and may_have_caused(move.promise, finding)]
        warned.extend(_warning(move.promise, change.title) for move in guilty[:1])
    old, new = (reading(report, Outlook, lambda outlook: outlook.clean_lufs) for report in (earlier, later))
    if old is not None and new is not None and new <= old - MOST_FALLEN_LU:
        warned.append(Warned("loudness", None, None, None, old, new))
    return tuple(warned)


def _warning(promise: Promise, title: str) -> Warned:
    return Warned("finding", promise.step, promise.title, title, None, None)
