"""Try: from a judged song to its measured plan."""

from dataclasses import dataclass
from typing import TypeVar

from advisor.app.progress import Progress
from advisor.app.yardstick import Yardstick
from advisor.judging.judge import Judged
from advisor.measuring.measure import measure_again
from advisor.measuring.measured import Measured
from advisor.outcomes.benefit import benefit
from advisor.outcomes.steps import LEAST_BENEFIT, MOST_LOST
from advisor.planning.evidence import evidence_of
from advisor.planning.order import makeable
from advisor.planning.paying import least_worth, room_kept
from advisor.planning.plan import MOST_TRIED, Plan, make_plan, replayed
from advisor.planning.song import Song
from advisor.planning.trial_readings import TrialReadings
from advisor.planning.trials import HARMLESS, NEVER_MEANT, UNHEARD_UNTIL_LIMITED
from advisor.sources.excerpt import choose
from features.records.base import Span
from features.records.sections import Sections
from features.sound.signal import Source

SoundT = TypeVar("SoundT")


@dataclass(frozen=True, slots=True)
class PlanOutcome:
    """Everything that was tried.

    On which stretches, the plan, and the whole song before and after it.
    """

    spans: tuple[Span, ...]
    plan: Plan
    whole_before: TrialReadings
    whole_after: TrialReadings | None
    left: tuple[Source, Measured] | None = None  # the song as the plan leaves it, for mastering


def worst_places(judged: Judged) -> list[Span]:
    """Return where the weightiest findings of the mix are worst.

    One place each.
    """
    cards = [card for card in judged.cards if card.rule.stage == "mixing" and card.finding.remedy is not None]
    return [card.finding.where[0] for card in cards[:MOST_TRIED] if card.finding.where]


def try_remedies(song: Song[SoundT], measured: Measured, judged: Judged, yardstick: Yardstick, progress: Progress) -> PlanOutcome | None:
    """Try every remedy and choose the plan.

    Tried on an excerpt, then run once over the whole song; None when nothing can be measured.
    """
    sections = measured.records.get(Sections)
    cards = [card for card in judged.cards if card.finding.remedy is not None]
    if not isinstance(sections, Sections) or not cards:
        return None
    spans = choose(sections.densest, worst_places(judged), song.source.frames / song.source.rate_hz)
    evidence = evidence_of(measured, yardstick.tone)
    sound = song.excerpt(spans)
    placed = [makeable(song.placed(evidence.carried(card))) for card in cards]
    plan = make_plan(placed, sound, song.apply, song.listen, progress.step)
    before = song.judged(measured)
    while plan.steps:
        progress.step("Running the finished plan over the whole song")
        source = song.after(plan.remedies)
        again = measure_again(source, yardstick, progress)
        after = song.judged(song.complete(again, plan.remedies))
        room = room_kept(before, after)
        if room and worth_it(before, after, plan):
            return PlanOutcome(spans, plan, before, after, (source, again))
        states = [plan.before, *(step.trial.after for step in plan.steps)]
        left_out = least_worth(states, room=not room)
        replayed(plan, [step for place, step in enumerate(plan.steps) if place != left_out], sound, song.apply, song.listen)
    return PlanOutcome(spans, plan, before, None)


def worth_it(before: TrialReadings, after: TrialReadings, plan: Plan) -> bool:
    """Whether the whole song gains what the stretches did.

    More than a listener's step, and none lost by more than one.
    Mending what was never meant moves nothing that the user made, and is worth it where nothing is lost; catching stray peaks need only
    do no harm.
    """
    gained = benefit(before.outcomes, after.outcomes)
    causes = {step.trial.card.finding.cause for step in plan.steps}
    if causes and causes <= NEVER_MEANT and gained.worst <= MOST_LOST:
        return True
    total = gained.total + (gained.cost_of_moving if causes <= NEVER_MEANT | UNHEARD_UNTIL_LIMITED else 0.0)
    return total > (-HARMLESS if causes <= UNHEARD_UNTIL_LIMITED else LEAST_BENEFIT) and (
        bool(causes & NEVER_MEANT) or gained.worst <= MOST_LOST
    )
