"""Benefit of a move.

Outcomes gained, less outcomes lost, less the distance moved, all in steps a listener just notices.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import hypot, sqrt
from typing import TypeVar

from advisor.outcomes import steps
from advisor.outcomes.moved import Moved, distance_moved
from advisor.outcomes.outcomes import Damage, ElementHeard, Outcomes, Playback
from advisor.outcomes.steps import LEAST_BENEFIT, MOST_LOST, MOVED_COSTS, Step

TriedT = TypeVar("TriedT")


@dataclass(frozen=True, slots=True)
class Worth:
    """What outcomes are worth, in steps.

    Only differences mean something. None where it was not measured.
    """

    room: float | None
    audibility: float | None
    tone: float | None
    mono: float | None
    damage: float | None


@dataclass(frozen=True, slots=True)
class Benefit:
    """What a move changes, in steps.

    ``change`` of each outcome, and the distance moved.
    ``gained`` and ``lost`` are the sums of what went up and what went down; ``worst`` is the most that any single outcome lost.
    """

    change: Worth
    moved: Moved

    @property
    def changes(self) -> tuple[float, ...]:
        """The changes that are known."""
        changes = (self.change.room, self.change.audibility, self.change.tone, self.change.mono, self.change.damage)
        return tuple(change for change in changes if change is not None)

    @property
    def gained(self) -> float:
        """What outcomes gained."""
        return sum(max(change, 0.0) for change in self.changes)

    @property
    def lost(self) -> float:
        """What outcomes lost."""
        return sum(max(-change, 0.0) for change in self.changes)

    @property
    def worst(self) -> float:
        """The most that any single outcome lost."""
        return max((-change for change in self.changes if change < 0.0), default=0.0)

    @property
    def cost_of_moving(self) -> float:
        """What the distance moved takes off.

        Nothing noticeable below a step, then half a step for each.
        """
        return cost_of_moving(self.moved.steps)

    @property
    def total(self) -> float:
        """Gained, less lost, less moved."""
        return self.gained - self.lost - self.cost_of_moving

    @property
    def advised(self) -> bool:
        """Whether it gains a step and loses no outcome.

        Gains more than a listener's step, loses at most one.
        """
        return self.total > LEAST_BENEFIT and self.worst <= MOST_LOST


def cost_of_moving(steps_moved: float) -> float:
    """Return what a distance moved costs.

    Nothing noticeable below a step, then half a step for each.

    >>> cost_of_moving(0.0)
    0.0
    """
    return MOVED_COSTS * (sqrt(1.0 + steps_moved**2) - 1.0)


def worth_of(outcomes: Outcomes) -> Worth:
    """Return what outcomes are worth, in steps.

    What is heard is told of the elements where there are stems, with how likely their levels are, else of the hits.
    """
    return Worth(
        room=None if outcomes.room_lu is None else steps.ROOM_LU.worth(outcomes.room_lu),
        audibility=_audibility(outcomes),
        tone=None if outcomes.tone_nats is None else -steps.TONE_NATS.worth(outcomes.tone_nats),
        mono=_elsewhere(outcomes.playback),
        damage=None if outcomes.damage is None else -damage_steps(outcomes.damage),
    )


def benefit(before: Outcomes, after: Outcomes) -> Benefit:
    """Return what a move from ``before`` to ``after`` is worth.

    What only one of them has does not count.
    """
    names = {element.name for element in before.elements_heard} & {element.name for element in after.elements_heard}
    worth, other = (worth_of(replace(outcomes, elements_heard=_named(outcomes.elements_heard, names))) for outcomes in (before, after))
    return Benefit(
        Worth(
            _change(worth.room, other.room),
            _change(worth.audibility, other.audibility),
            _change(worth.tone, other.tone),
            _change(worth.mono, other.mono),
            _change(worth.damage, other.damage),
        ),
        distance_moved(before, after),
    )


def _change(before: float | None, after: float | None) -> float | None:
    return None if before is None or after is None else after - before


def _named(elements: Sequence[ElementHeard], names: set[str]) -> tuple[ElementHeard, ...]:
    return tuple(element for element in elements if element.name in names)


def _audibility(outcomes: Outcomes) -> float | None:
    if outcomes.elements_heard:
        levels = 0.0 if outcomes.levels_nats is None else steps.LEVELS_NATS.worth(outcomes.levels_nats)
        shares = (steps.ELEMENT_SHARE.worth(element.share) for element in outcomes.elements_heard)
        return sum(worth * steps.NEXT_ELEMENT**place for place, worth in enumerate(sorted(shares))) - levels
    return None if outcomes.hits_heard is None else steps.HITS_SHARE.worth(outcomes.hits_heard)


def _elsewhere(playback: Playback) -> float | None:
    read: tuple[tuple[float | None, Step], ...] = (
        (playback.mono_loss_lu, steps.MONO_LU),
        (playback.low_mono_loss_db, steps.LOW_MONO_DB),
        (playback.small_speaker_loss_db, steps.SMALL_SPEAKER_DB),
        (playback.lean_db, steps.LEAN_DB),
    )
    known = [step.worth(-abs(value) if step is steps.LEAN_DB else -value) for value, step in read if value is not None]
    return sum(known) if known else None


def damage_steps(damage: Damage) -> float:
    """Return damage in steps.

    Its kinds are heard apart, so their squares add up.
    """
    return hypot(
        steps.distortion_steps(damage.distortion_nmr_db),
        steps.PUMPING_DB.worth(max(damage.pumping_db, 0.0)),
        steps.HIT_LOSS_DB.worth(max(damage.hit_loss_db, 0.0)),
    )
