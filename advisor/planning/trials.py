"""Trials: remedies measured on the user's own audio.

Everything is measured again, and only what helps is advised.
Findings say where to look. A move is graded by outcomes alone, which no rule defines (`advisor.outcomes.benefit`): gained, less lost, less
the distance moved. The amount is searched downwards from what was proposed: the smallest that gets most of what can be had.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

from advisor.judging.judge import Card
from advisor.outcomes.benefit import Benefit, benefit
from advisor.outcomes.steps import LEAST_BENEFIT, MOST_LOST, MOST_OF_IT
from advisor.planning.evidence import LEAST_DB
from advisor.planning.paying import room_kept
from advisor.planning.trial_readings import TrialReadings
from advisor.remedies.amounts import strength
from advisor.remedies.discovery import kind_of
from rules.remedy import Remedy

MOST_LEVEL_DB = 2.0  # that an equaliser or a compressor may change its element's level by; more is a fader in disguise
DYNAMICS_EFFORT = 3.0  # compress what needs it; leave alone what may not
HARMLESS = 0.25  # of a step: nobody hears it
UNHEARD_UNTIL_LIMITED = frozenset({"peaks"})  # few and short: caught where the catching costs nothing, though no outcome shows them
NEVER_MEANT = frozenset({"lean", "polarity", "delay"})  # causes read directly: mending them moves nothing that the user meant

SoundT = TypeVar("SoundT")  # an excerpt of the song: a signal, or with stems a stack of them
Listen = Callable[[SoundT], TrialReadings]
Apply = Callable[[Remedy, SoundT], SoundT]


@dataclass(frozen=True, slots=True)
class Trial:
    """A remedy with its amount, and what it did.

    The excerpt before and after it.
    """

    card: Card
    remedy: Remedy
    before: TrialReadings
    after: TrialReadings

    @property
    def outcomes(self) -> Benefit:
        """What it changes of outcomes, and how far it moved."""
        return benefit(self.before.outcomes, self.after.outcomes)

    @property
    def benefit(self) -> float:
        """Outcomes gained, less lost, less moved.

        In steps a listener just notices.
        """
        outcomes = self.outcomes
        return outcomes.total + (outcomes.cost_of_moving if self.card.finding.cause in NEVER_MEANT else 0.0)

    @property
    def helps(self) -> bool:
        """Whether the move is worth making.

        It gains more than a listener's step, loses no outcome by more than one, keeps the room there is, and is what it says.
        """
        cause = self.card.finding.cause
        lost = 0.0 if cause in NEVER_MEANT else self.outcomes.worst
        worth = self.benefit > LEAST_BENEFIT and lost <= MOST_LOST
        if cause in NEVER_MEANT:
            worth = worth or (self.mends and self.outcomes.worst <= MOST_LOST)
        if cause in UNHEARD_UNTIL_LIMITED and self.card.finding.confidence == "high":
            worth = worth or (self.mends and self.benefit > -HARMLESS and self.outcomes.worst < HARMLESS)
        return worth and room_kept(self.before, self.after) and not self.fader_in_disguise and not self.needless_dynamics

    @property
    def needless_dynamics(self) -> bool:
        """Whether dynamics would be worked on by a hint alone."""
        return kind_of(self.remedy).effort >= DYNAMICS_EFFORT and self.card.finding.confidence == "low"

    @property
    def mends(self) -> bool:
        """Whether the excerpt no longer shows the finding.

        It must have shown it before.
        """
        return self.before.shows(self.card) and not self.after.shows(self.card)

    @property
    def fader_in_disguise(self) -> bool:
        """Whether a move that is no fader mostly moves level."""
        then, now = (
            {element.name: element.in_mix_lu for element in readings.outcomes.stand.elements} for readings in (self.before, self.after)
        )
        part = self.remedy.part
        moved_db = abs(now[part] - then[part]) if part in then and part in now else 0.0
        return moved_db > MOST_LEVEL_DB and not kind_of(self.remedy).is_fader


def candidates(remedy: Remedy) -> list[Remedy]:
    """Return the amounts to try, the proposed one first.

    Without repeats.
    """
    amount = kind_of(remedy).amount
    return list(dict.fromkeys(amount.scaled(remedy, factor) for factor in amount.factors))


def try_card(card: Card, sound: SoundT, before: TrialReadings, apply: Apply[SoundT], listen: Listen[SoundT]) -> Trial | None:
    """Search the remedy of a card and its amount.

    None when it has none that can be tried.
    Where a finding names several remedies, the easiest of those that get most of the best benefit is taken.
    """
    remedies = [
        remedy for remedy in (card.finding.remedy, *card.finding.others) if remedy is not None and kind_of(remedy).process is not None
    ]
    best_amounts = [_try_remedy(card, remedy, sound, before, apply, listen) for remedy in remedies]
    return min(_most_of_it(best_amounts), key=lambda trial: kind_of(trial.remedy).effort, default=None)


def _try_remedy(card: Card, remedy: Remedy, sound: SoundT, before: TrialReadings, apply: Apply[SoundT], listen: Listen[SoundT]) -> Trial:
    """Search the amount of one remedy, never more than was proposed.

    Half of it is tried as well: it may get most of the gain, or do less harm. An amount that follows from a reading is taken as it is
    where it helps.
    """
    proposed, *gentler = candidates(remedy)
    tried = [Trial(card, proposed, before, listen(apply(proposed, sound)))]
    least = abs(proposed.gain_db or 1.0) <= LEAST_DB
    if not least and not (card.finding.exact and tried[0].helps):
        tried.extend(Trial(card, amount, before, listen(apply(amount, sound))) for amount in gentler)
    return smallest_that_does(tried)


def _most_of_it(tried: list[Trial]) -> list[Trial]:
    fit = [trial for trial in tried if trial.helps]
    best = max((trial.benefit for trial in fit), default=0.0)
    return [trial for trial in fit if trial.benefit >= MOST_OF_IT * best] or sorted(tried, key=lambda trial: -trial.benefit)[:1]


def smallest_that_does(tried: list[Trial]) -> Trial:
    """Return the gentlest trial with most of the benefit."""
    return min(_most_of_it(tried), key=lambda trial: (strength(trial.remedy), -trial.benefit))
