"""A producer's order.

Fader and pan, equaliser on the element, dynamics; the whole mix last, and gently.
"""

from collections.abc import Sequence
from dataclasses import replace

from advisor.judging.judge import Card
from advisor.planning.evidence import LEAST_DB, MOST_ON_THE_MIX_DB
from advisor.remedies.discovery import can_be_made, kind_of
from advisor.remedies.parts import PARTS_OF_A_MIX
from rules.remedy import Remedy

FADER_EFFORT = 1.5  # a pan pot is as near as a fader
TURNS = (0, 1, 2)  # faders, places and times; elements; the whole mix


def turn(remedy: Remedy) -> int:
    """Return when a move's turn comes.

    What only moves levels, places or times first, what colours the whole mix last.
    """
    if kind_of(remedy).effort <= FADER_EFFORT:
        return 0
    return 2 if remedy.part in PARTS_OF_A_MIX else 1


def can_be_bought(remedy: Remedy) -> bool:
    """Whether a producer can make the move.

    Nobody owns a fader for the drums of a stereo file.
    """
    return can_be_made(remedy) and remedy.part != "percussive"


def makeable(card: Card) -> Card:
    """Return the card with moves that a producer can make.

    What only a session with its tracks can do stays advice.
    """
    finding = card.finding
    moves = [remedy for remedy in (finding.remedy, *finding.others) if remedy is not None and can_be_bought(remedy)]
    first, others = (moves[0], tuple(moves[1:])) if moves else (None, ())
    return replace(card, finding=replace(finding, remedy=first, others=others))


def within_budget(card: Card, done: Sequence[Remedy]) -> Card | None:
    """Return the card with its tone moves within the budget.

    The budget is what the moves already made leave of tone on the whole mix; None where they leave nothing.
    """
    spent_db = sum(abs(remedy.gain_db or 0.0) for remedy in done if colours_the_mix(remedy))
    left_db = MOST_ON_THE_MIX_DB - spent_db
    finding = card.finding
    moves = [remedy for remedy in (finding.remedy, *finding.others) if remedy is not None]
    remedies = [
        _softened(remedy, left_db) if colours_the_mix(remedy) else remedy
        for remedy in moves
        if not colours_the_mix(remedy) or left_db >= LEAST_DB
    ]
    return replace(card, finding=replace(finding, remedy=remedies[0], others=tuple(remedies[1:]))) if remedies else None


def colours_the_mix(remedy: Remedy) -> bool:
    """Whether a move changes the tone of the whole mix."""
    return kind_of(remedy).tone is not None and remedy.part in PARTS_OF_A_MIX


def _softened(remedy: Remedy, most_db: float) -> Remedy:
    gain_db = remedy.gain_db
    return remedy if gain_db is None else replace(remedy, gain_db=round(min(max(gain_db, -most_db), most_db), 1))
