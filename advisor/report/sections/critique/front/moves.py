"""Names the first moves: amount, place, and gain."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from advisor.app.finding_key import SIDES
from advisor.app.words import first_sentence, lowered, spans
from advisor.judging.judge import CLEAR_EXCESS
from advisor.report.filling import filled
from advisor.report_model.findings import FindingCard
from advisor.report_model.plan import PlanStep, StepClips
from advisor.report_model.report import Report
from features.records.balance import Target

PLACE = 20
MOST_MOVES = 3
MOST_OF_FILE = 3
MOST_GAINS = 1
SHORT = "mixing/short_of_target"  # which the verdict says already
LEAST_ROOM_LU = 0.3
DEGREES = ((2.0, "clearly"), (1.0, "noticeably"), (0.5, "slightly"))  # by the steps that a listener just notices


About = tuple[str, str | None, tuple[float, float] | None]  # rule, element and band


@dataclass(frozen=True, slots=True)
class FrontMove:
    """A move on the front page."""

    title: str
    where: str
    words: str
    brings: str
    about: tuple[About, ...]
    clips: StepClips | None = None


def section(report: Report) -> Iterator[str]:
    """Yield the first moves, or why there is none."""
    moves = front_moves(report)
    return filled(__name__, moves=moves, left_alone=no_move(report), unmended=no_fix(report), untried=bool(_untried(report)))


def front_moves(report: Report) -> tuple[FrontMove, ...]:
    """Return the plan's first steps, then moves for the file.

    Without trials the rules' own advice.
    """
    mixing = [_step_move(step, report) for step in report.plan] or [_advised(card) for card in _untried(report)]
    of_file = [card for card in report.findings if card.stage == "delivery" and card.confidence != "low"]
    return tuple([*mixing, *([_file_move(of_file)] if of_file else [])][:MOST_MOVES])


def _untried(report: Report) -> list[FindingCard]:
    return [card for card in report.findings if card.stage == "mixing" and card.advice] if report.tried_on is None else []


def _file_move(cards: Sequence[FindingCard]) -> FrontMove:
    """Return one move for all that is put right by a new bounce."""
    if len(cards) == 1:
        return _advised(cards[0])
    advice = [lowered(first_sentence(card.advice).rstrip(".")) for card in cards[:MOST_OF_FILE]]
    more = f"; and {len(cards) - MOST_OF_FILE} more below" if len(cards) > MOST_OF_FILE else ""
    return FrontMove("Bounce again", "", f"{'; '.join(advice)}{more}", "", tuple(_about(card) for card in cards[:MOST_OF_FILE]))


def _about(finding: FindingCard | PlanStep) -> About:
    return finding.rule, finding.stem, finding.band_hz


def _step_move(step: PlanStep, report: Report) -> FrontMove:
    clips = step.audition if step.audition and not step.audition.same else None
    where = spans([step.audition]) if step.audition else spans(step.where, most=1)
    gain = brings(step, report)
    return FrontMove(step.title, where, lowered(step.move), gain, (_about(step),), clips)


def _advised(card: FindingCard) -> FrontMove:
    return FrontMove(card.title, spans(card.where, most=1), lowered(first_sentence(card.advice).rstrip(".")), "", (_about(card),))


def brings(step: PlanStep, report: Report) -> str:
    """Return what a step gains, and what loudness it costs."""
    outcomes = step.outcomes
    if outcomes is None:
        return ""
    target = report.measurements.get(Target)
    songs = "your references" if target is not None and target.songs else "songs in general"
    elsewhere = (
        "left and right {} more even"
        if step.remedy.part in SIDES and step.remedy.kind == "gain"
        else "{} better in mono and on small speakers"
    )
    gains = (
        (outcomes.audibility, f"{'elements' if report.stems else 'drum hits'} {{}} more audible"),
        (outcomes.tone, f"tone {{}} closer to {songs}"),
        (outcomes.mono, elsewhere),
        (outcomes.damage, "{} cleaner at the target loudness"),
    )
    known = sorted(((gain, words) for gain, words in gains if gain is not None and gain >= DEGREES[-1][0]), key=lambda gain: -gain[0])
    said = [words.format(degree(gain)) for gain, words in known[:MOST_GAINS]]
    room = outcomes.room_lu
    if room is not None and abs(room) >= LEAST_ROOM_LU:
        said.append(f"{abs(room):.1f} LU {'more' if room > 0 else 'less'} clean loudness")
    return ", ".join(said)


def degree(steps: float) -> str:
    """Return how plainly a listener notices so many steps."""
    return next(word for least, word in DEGREES if steps >= least)


def no_move(report: Report) -> str:
    """Say why the mix is left as it is.

    Nothing where there is a move for it.
    """
    if report.plan or _untried(report):
        return ""
    trials = [card.trial for card in report.findings if card.trial is not None]
    if not trials:
        return "Leave the mix as it is: nothing in it calls for a move."
    what = "the one move that was tried did not gain" if len(trials) == 1 else f"none of the {len(trials)} moves that were tried gained"
    return f"{'Leave the mix as it is' if report.verdict.ready else 'No move is advised'}: {what} more than it costs."


def no_fix(report: Report) -> str:
    """Name clear faults that no tried move takes away."""
    planned = {(step.rule, step.stem, step.band_hz) for step in report.plan}
    titles = [
        lowered(card.title)
        for card in report.findings
        if card.stage == "mixing" and card.rule != SHORT and card.confidence != "low" and card.excess >= CLEAR_EXCESS
        and card.trial is not None and card.gone_with_step is None and (card.rule, card.stem, card.band_hz) not in planned
    ]  # fmt: skip
    if not titles:
        return ""
    more = f", and {len(titles) - MOST_MOVES} more" if len(titles) > MOST_MOVES else ""
    return f"No move helped here: {', '.join(titles[:MOST_MOVES])}{more}. Decide by ear, with the checks below."
