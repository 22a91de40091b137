"""What the rules about an element's level share.

How far off it seems, why, and how much of that to move at once.
"""

from collections.abc import Collection
from dataclasses import dataclass

from features.records.elements import Element, Elements, LevelMove
from rules.base import Confidence, limit
from rules.remedy import Remedy
from rules.shared.elements import AT_ONCE_DB, called, fader, listed, present, titled
from rules.shared.excess import past
from rules.shared.words import sentences

COVERS_SHARE = 0.2  # of another's loudness: who hides this much is named as covering it
USUAL_HEARD = 0.7
TOLERANCE_DB = 1.5  # of what is expected to lie off
MOST_NAMED = 3


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    chance: float = limit(
        0.3,
        unit="chance",
        low=0.3,
        high=0.99,
        source="element-levels-and-audibility",
        says="a fader that lies off with a higher chance, by where all elements stand together, is reported",
    )
    clear_chance: float = limit(
        0.6,
        unit="chance",
        low=0.3,
        high=0.99,
        source="element-levels-and-audibility",
        says="from here on it is more than a hint",
    )


@dataclass(frozen=True, slots=True)
class Verdict:
    """What speaks for a fader off, and how far.

    Without its direction: as much as the evidence carries.
    """

    signs: tuple[str, ...]
    change_db: float
    excess: float
    confidence: Confidence
    sure_because: str

    @property
    def words(self) -> str:
        """All signs as sentences, without the last full stop."""
        return sentences(self.signs)


def suspects(elements: Elements, limits: Limits) -> tuple[LevelMove, ...]:
    """Return the faders more likely off than the limit.

    Of single elements and of groups, the likeliest first.
    """
    return tuple(move for move in elements.moves if move.chance >= limits.chance)


def moved(element: Element, elements: Elements, limits: Limits) -> float:
    """Return how far an element lies from where it belongs.

    Above (positive) or below; 0 where that is not beyond the limit.
    """
    return next((move.off_db for move in suspects(elements, limits) if element.name in move.names), 0.0)


def heard_then(element: Element) -> float | None:
    """Return the share heard once the faders are set right."""
    return element.masking.audible_share if element.level_plan.heard_then is None else element.level_plan.heard_then


def chief(move: LevelMove, elements: Elements) -> Element | None:
    """Return the loudest of the elements that lie off together."""
    members = [element for element in present(elements) if element.name in move.names]
    return max(members, key=lambda element: (element.level.in_mix_lu or -100.0, element.name), default=None)


def verdict(move: LevelMove, elements: Elements, limits: Limits) -> Verdict:
    """Return what speaks for a fader lying off."""
    members = [element for element in present(elements) if element.name in move.names]
    effects = all(element.role == "effects" for element in members)
    confidence: Confidence = "medium" if move.chance >= limits.clear_chance and not effects else "low"
    because = "it follows from the levels of all elements together and what is audible of them"
    if len(members) == 1 and _usual_by_level(members[0]):
        because += "; its level alone is within the usual"
    signs = _signs(members[0], elements, louder=move.off_db > 0.0) if len(members) == 1 else tuple(map(_in_short, members[:MOST_NAMED]))
    expected_db = abs(move.expected_db)
    change_db = min(round(2.0 * expected_db) / 2.0, AT_ONCE_DB[confidence])
    return Verdict(signs, change_db, past(expected_db, 0.0, TOLERANCE_DB), confidence, because)


def _usual_by_level(element: Element) -> bool:
    """Tell whether loudness alone would say nothing: what is heard of it then weighs most."""
    level, plan = element.level.while_playing_lu, element.level_plan
    if level is None or plan.usual_lu is None or plan.usual_spread_lu is None:
        return False
    return abs(level - plan.usual_lu) <= plan.usual_spread_lu


def named(move: LevelMove) -> str:
    """Return what a fader is called in a sentence.

    The element, or the group and its elements.
    """
    return called(move.names[0]) if move.group is None else f"the {move.group} group ({listed(move.names)})"


def headed(move: LevelMove) -> str:
    """Return what it is called in a title."""
    return titled(move.names[0], 30) if move.group is None else f"The {move.group} group"


def set_by(move: LevelMove, change_db: float) -> Remedy:
    """Return the move of the fader."""
    return fader(move.names[0] if move.group is None else move.group, change_db)


def brings_about(names: Collection[str], elements: Elements, *, louder: bool) -> tuple[str, ...]:
    """Return the rules that would report the same fault.

    With drums too low or others too loud hits are covered, and the kick is lost.
    """
    groups = {element.group for element in present(elements) if element.name in names}
    roles = {element.role for element in present(elements) if element.name in names}
    hits = ("mixing/buried_hits",) if ("drums" in groups) != louder else ()
    kick = ("mixing/kick_does_not_stick_out", "mixing/kick_and_bass_in_one_slot") if ("bass" if louder else "kick") in roles else ()
    return (*hits, *kick)


def _in_short(element: Element) -> str:
    level, usual_lu, share = element.level.while_playing_lu, element.level_plan.usual_lu, element.masking.audible_share
    beside = [] if usual_lu is None else [f"usual: {usual_lu:.0f}"]
    audible = [] if share is None else [f"{share:.0%} audible"]
    return f"{called(element.name)} plays at {level or 0.0:.0f} LU against the mix ({'; '.join(beside + audible)})"


def _signs(element: Element, elements: Elements, *, louder: bool) -> tuple[str, ...]:
    level, plan, share = element.level.while_playing_lu, element.level_plan, element.masking.audible_share
    signs = []
    if level is not None and plan.usual_lu is not None and plan.usual_spread_lu is not None:
        usual = f"usual for {element.role}: {plan.usual_lu:.0f} ± {plan.usual_spread_lu:.0f}"
        signs.append(f"it plays at {level:.0f} LU against the mix ({usual})")
    if share is not None:
        signs.append(f"{share:.0%} of it is audible (usual: about {USUAL_HEARD:.0%})")
    covered = _covered_by(element, elements) if louder else []
    if covered:
        signs.append(f"it masks {listed(covered)}")
    return tuple(signs) or ("its level and audibility were weighed together",)


def _covered_by(element: Element, elements: Elements) -> list[str]:
    """Return the names of the elements it hides much of, most first."""
    hidden = [
        (cover.share, other.name)
        for other in present(elements)
        for cover in other.masking.covered_by
        if cover.by == element.name and cover.share >= COVERS_SHARE
    ]
    return [name for _, name in sorted(hidden, reverse=True)]
