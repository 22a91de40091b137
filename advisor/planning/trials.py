"""Trials: every remedy is put on the user's own audio, everything is measured and judged again, and only what helps is advised.

Benefit is the drop of the total excess of all rules, so whatever a remedy breaks elsewhere counts against it. The amount is
searched: the smallest that gets most of what can be had.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

from advisor.judging.judge import Card
from advisor.planning.trial_readings import TrialReadings
from advisor.remedies.amounts import strength
from advisor.remedies.discovery import kind_of
from rules.remedy import Remedy

WORTH = 0.15  # a smaller drop of the total excess is no help; one tolerance of one sure finding is 1.0
MOST_OF_IT = 0.8  # the smallest amount that gets this share of the best benefit is taken

SoundT = TypeVar("SoundT")  # an excerpt of the song: a signal, or with stems a stack of them
Listen = Callable[[SoundT], TrialReadings]
Apply = Callable[[Remedy, SoundT], SoundT]


@dataclass(frozen=True, slots=True)
class Trial:
    """A remedy with the amount that was found, and the excerpt before and after it."""

    card: Card
    remedy: Remedy
    before: TrialReadings
    after: TrialReadings

    @property
    def benefit(self) -> float:
        """Drop of the total excess."""
        return self.before.excess - self.after.excess

    @property
    def helps(self) -> bool:
        """Whether the drop is worth a move, or the finding, which weighs enough in the whole song, is gone and nothing got worse."""
        return self.benefit >= WORTH or (self.card.weight >= WORTH and self.benefit > 0.0 and self.mends)

    @property
    def mends(self) -> bool:
        """Whether the excerpt showed the finding before, and does not any more."""
        return self.before.shows(self.card) and not self.after.shows(self.card)


def candidates(remedy: Remedy) -> list[Remedy]:
    """Return the amounts to try, the proposed one first, without repeats."""
    amount = kind_of(remedy).amount
    return list(dict.fromkeys(amount.scaled(remedy, factor) for factor in amount.factors))


def try_card(card: Card, sound: SoundT, before: TrialReadings, apply: Apply[SoundT], listen: Listen[SoundT]) -> Trial | None:
    """Search the remedy of a card and its amount; None when it has none that can be tried.

    Where a finding names several remedies, the easiest of those that get most of the best benefit is taken.
    """
    remedies = [one for one in (card.finding.remedy, *card.finding.others) if one is not None and kind_of(one).process is not None]
    best_amounts = [_try_remedy(card, one, sound, before, apply, listen) for one in remedies]
    return min(_most_of_it(best_amounts), key=lambda one: kind_of(one.remedy).effort, default=None)


def _try_remedy(card: Card, remedy: Remedy, sound: SoundT, before: TrialReadings, apply: Apply[SoundT], listen: Listen[SoundT]) -> Trial:
    """Search the amount of one remedy.

    Where the proposed amount removes the finding, half of it is tried; where it leaves it, more is; where it does harm, half of it is.
    An amount that follows from a reading is taken as it is, unless it does harm.
    """
    proposed, *others = candidates(remedy)
    tried = [Trial(card, proposed, before, listen(apply(proposed, sound)))]
    if card.finding.exact and tried[0].helps:
        return tried[0]
    enough = card.finding.exact or tried[0].benefit <= 0.0 or not tried[0].after.shows(card)
    gentler_or_stronger = [one for one in others if (strength(one) < strength(proposed)) == enough]
    tried.extend(Trial(card, amount, before, listen(apply(amount, sound))) for amount in gentler_or_stronger)
    return smallest_that_does(tried)


def _most_of_it(tried: list[Trial]) -> list[Trial]:
    best = max((one.benefit for one in tried), default=0.0)
    return [one for one in tried if one.benefit >= MOST_OF_IT * best] or tried


def smallest_that_does(tried: list[Trial]) -> Trial:
    """Return the gentlest trial that gets most of the best benefit."""
    return min(_most_of_it(tried), key=lambda one: (strength(one.remedy), -one.benefit))
