"""The plan: one move after the other.

Each tried with the earlier ones in place; mixing before mastering, the whole mix last.
"""

from collections.abc import Callable
from dataclasses import dataclass, field, replace

from advisor.judging.judge import STAGES, Card
from advisor.planning.order import TURNS, colours_the_mix, turn, within_budget
from advisor.planning.paying import room_kept
from advisor.planning.trial_readings import TrialReadings
from advisor.planning.trials import Apply, Listen, SoundT, Trial, try_card
from advisor.remedies.discovery import kind_of
from rules.base import CONFIDENCE_WEIGHT
from rules.remedy import Remedy

MOST_STEPS = 5
MOST_TRIED = 8  # cards of one stage that are tried; those further down weigh too little to change a plan


@dataclass(frozen=True, slots=True)
class Step:
    """One move of the plan, with the excerpt around it.

    Before and after the move, with the earlier moves in place.
    """

    trial: Trial

    @property
    def remedy(self) -> Remedy:
        """The move with the amount found."""
        return self.trial.remedy


@dataclass(slots=True)
class Plan:
    """The moves in order, and the trial of every card."""

    before: TrialReadings
    steps: list[Step] = field(default_factory=list)
    trials: dict[str, Trial] = field(default_factory=dict)

    @property
    def remedies(self) -> list[Remedy]:
        """The moves in order."""
        return [step.remedy for step in self.steps]

    def trial_of(self, card: Card) -> Trial | None:
        """Return the first trial of a card.

        None where it was not tried.
        """
        return self.trials.get(key(card))


def key(card: Card) -> str:
    """Return what tells a card from the others.

    Its rule, and its element or band where it has one.
    """
    band = card.finding.band_hz
    about = card.finding.stem or ("" if band is None else f"{band[0]:.0f}-{band[1]:.0f} Hz")
    return f"{card.rule.id} {about}".rstrip()


def priority(trial: Trial) -> float:
    """Return benefit times how sure, over effort.

    Fader 1, equaliser 2, dynamics 3, recording again 5.
    """
    return trial.benefit * CONFIDENCE_WEIGHT[trial.card.finding.confidence] / kind_of(trial.remedy).effort


def make_plan(cards: list[Card], sound: SoundT, apply: Apply[SoundT], listen: Listen[SoundT], say: Callable[[str], None]) -> Plan:
    """Choose the moves greedily on the excerpt ``sound``.

    The same sound and cards give the same plan.
    """
    plan = Plan(listen(sound))
    now = plan.before
    for stage in STAGES[:2]:
        waiting = [card for card in cards if card.rule.stage == stage][:MOST_TRIED]
        again: dict[str, int] = {}  # with how many steps in place a card was last given a second chance
        for _ in range(MOST_STEPS):
            chances = [card for card in waiting if again.get(key(card), 0) < len(plan.steps) and _failed(card, plan)]
            best = _in_turn(waiting, sound, now, plan, apply, listen, say)
            if best is None and chances:
                again.update((key(card), len(plan.steps)) for card in chances)
                best = _best(chances, sound, now, plan, apply, listen, say, anew=True)
            if best is None:
                break
            plan.steps.append(Step(best))
            sound, now = apply(best.remedy, sound), best.after
            waiting = [card for card in waiting if not card.is_about(best.card) and now.shows(card)]
            if colours_the_mix(best.remedy):  # what was to be done on elements is done
                waiting = [card for card in waiting if card.finding.remedy is not None and turn(card.finding.remedy) == TURNS[-1]]
    return plan


def replayed(plan: Plan, steps_left: list[Step], sound: SoundT, apply: Apply[SoundT], listen: Listen[SoundT]) -> None:
    """Leave the other steps out of the plan.

    Those kept are measured again with only the kept ones before them.
    """
    now, steps = plan.before, plan.steps
    plan.steps = []
    for place, step in enumerate(steps_left):
        trial, sound = step.trial, apply(step.remedy, sound)
        if steps[: place + 1] != steps_left[: place + 1]:
            trial = replace(trial, before=now, after=listen(sound))
        plan.steps.append(Step(trial))
        now = trial.after


def _in_turn(
    waiting: list[Card],
    sound: SoundT,
    now: TrialReadings,
    plan: Plan,
    apply: Apply[SoundT],
    listen: Listen[SoundT],
    say: Callable[[str], None],
) -> Trial | None:
    """Return the best trial of the first turn that has any."""
    for place in TURNS:
        cards = [card for card in waiting if card.finding.remedy is not None and turn(card.finding.remedy) == place]
        best = _best(cards, sound, now, plan, apply, listen, say)
        if best is not None:
            return best
    return None


def _best(
    waiting: list[Card],
    sound: SoundT,
    now: TrialReadings,
    plan: Plan,
    apply: Apply[SoundT],
    listen: Listen[SoundT],
    say: Callable[[str], None],
    *,
    anew: bool = False,
) -> Trial | None:
    """Return the trial with the highest priority; cards whose earlier trial promised less than it are not tried again.

    Tried ``anew`` is what did not help before other moves were in place: what stood in its way may be gone with them.
    """
    best: Trial | None = None
    for card in sorted(waiting, key=lambda card: -_promise(card, plan)):
        promise = float("inf") if anew else _promise(card, plan)
        if promise <= (0.0 if best is None else priority(best)):
            break
        allowed = within_budget(card, plan.remedies)
        if allowed is None:
            continue
        say(f"Trying: {(card.finding.title or card.rule.title).lower()}")
        trial = try_card(allowed, sound, now, apply, listen)
        if trial is None:
            continue
        plan.trials.setdefault(key(card), trial)
        if trial.helps and room_kept(plan.before, trial.after) and (best is None or priority(trial) > priority(best)):
            best = trial
    return best


def _failed(card: Card, plan: Plan) -> bool:
    trial = plan.trials.get(key(card))
    return trial is not None and not trial.helps


def _promise(card: Card, plan: Plan) -> float:
    """Return the priority of the card's first trial, 0 when that did not help; a card not tried yet comes first."""
    trial = plan.trials.get(key(card))
    if trial is None:
        return float("inf")
    return priority(trial) if trial.helps else 0.0
