"""Names the first moves: amount, place, and gain."""

from collections.abc import Iterator
from dataclasses import dataclass

from advisor.app.words import after_first_sentence, first_sentence, lowered, spans
from advisor.report.filling import filled
from advisor.report_model.findings import FindingCard
from advisor.report_model.plan import PlanStep, StepClips, StepOutcomes
from advisor.report_model.report import Report
from features.records.balance import Target

PLACE = 20
MOST_MOVES = 3
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
    about: About
    clips: StepClips | None = None


def section(report: Report) -> Iterator[str]:
    """Yield the first moves, or why there is none."""
    moves = front_moves(report)
    return filled(__name__, moves=moves, left_alone=no_move(report), untried=bool(_untried(report)))


def front_moves(report: Report) -> tuple[FrontMove, ...]:
    """Return the plan's first steps, then moves for the file.

    Without trials the rules' own advice.
    """
    mixing = [_step_move(step, report) for step in report.plan] or [_advised(card) for card in _untried(report)]
    of_file = [_advised(card) for card in report.findings if card.stage == "delivery" and card.confidence != "low"]
    return tuple([*mixing[:MOST_MOVES], *of_file][:MOST_MOVES])


def _untried(report: Report) -> list[FindingCard]:
    return [card for card in report.findings if card.stage == "mixing" and card.advice] if report.tried_on is None else []


def _step_move(step: PlanStep, report: Report) -> FrontMove:
    stop = f"; {step.stop}" if step.stop else ""
    clips = step.audition if step.audition and not step.audition.same else None
    where = spans([step.audition]) if step.audition else spans(step.where, most=1)
    gain = brings(step.outcomes, report)
    return FrontMove(step.title, where, f"{lowered(step.move)}{stop}", gain, (step.rule, step.stem, step.band_hz), clips)


def _advised(card: FindingCard) -> FrontMove:
    move, stop = first_sentence(card.advice).rstrip("."), card.stop or after_first_sentence(card.advice)
    words = f"{lowered(move)}; {lowered(stop)}" if stop else lowered(move)
    return FrontMove(card.title, spans(card.where, most=1), words, "", (card.rule, card.stem, card.band_hz))


def brings(outcomes: StepOutcomes | None, report: Report) -> str:
    """Return what a step gains, and what loudness it costs."""
    if outcomes is None:
        return ""
    gains = [(outcomes.audibility, f"{{}} more of {'the elements' if report.stems else 'each drum hit'} is audible")]
    target = report.measurements.get(Target)
    songs = "your references" if target is not None and target.songs else "songs in general"
    gains += [
        (outcomes.tone, f"tone {{}} closer to {songs}"),
        (outcomes.mono, "{} better in mono and on small speakers"),
        (outcomes.damage, "{} cleaner at the target loudness"),
    ]
    known = sorted(((gain, words) for gain, words in gains if gain is not None and gain >= DEGREES[-1][0]), key=lambda gain: -gain[0])
    said = [words.format(degree(gain)) for gain, words in known]
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
