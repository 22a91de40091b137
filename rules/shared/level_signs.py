"""What the rules about an element's level share.

How far off it seems, why, and how much of that to move at once.
"""

from dataclasses import dataclass

from features.records.elements import Element, Elements, LevelMove
from rules.base import Confidence, limit
from rules.remedy import Remedy
from rules.shared.elements import at_once_db, called, fader, listed, present, titled
from rules.shared.excess import past
from rules.shared.words import sentences

MOST_OF_IT = 0.8  # of how far it seems off: part of any distance is the song's own
COVERS_SHARE = 0.2  # of another's loudness: who hides this much is named as covering it
USUAL_HEARD = 0.7
MOST_NAMED = 3


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    off_db: float = limit(
        7.5,
        unit="dB",
        low=3.0,
        high=25.0,
        source="element-levels-and-audibility",
        says="further from where such elements usually stand, by loudness and by what is heard of it together, is reported",
    )
    clear_db: float = limit(
        9.0,
        unit="dB",
        low=3.0,
        high=30.0,
        source="element-levels-and-audibility",
        says="from here on, twice what elements differ by anyway, it is more than a hint",
    )


@dataclass(frozen=True, slots=True)
class Verdict:
    """How far an element seems off, why, and how sure.

    The distance goes without its direction.
    """

    signs: tuple[str, ...]
    off_db: float
    excess: float
    confidence: Confidence
    sure_because: str

    @property
    def words(self) -> str:
        """All signs as sentences, without the last full stop."""
        return sentences(self.signs)

    @property
    def change_db(self) -> float:
        """How far to move the fader at once, unsigned."""
        return at_once_db(self.off_db, self.confidence)


def suspects(elements: Elements, limits: Limits) -> tuple[LevelMove, ...]:
    """Return the faders that lie beyond the limit.

    Of single elements and of groups: those that explain all levels together.

    Where the levels ask for none, a stricter limit may still name the furthest three; the rest is judged again once these are set.
    """
    moves = elements.moves or tuple(
        LevelMove((element.name,), None, element.level_plan.off_db)
        for element in present(elements)
        if element.level_plan.off_db is not None
    )
    beyond = [move for move in moves if abs(move.off_db) > limits.off_db]
    return tuple(sorted(beyond, key=lambda move: (-abs(move.off_db), move.names))[:MOST_NAMED])


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
    far_db = abs(move.off_db)
    effects = all(element.role == "effects" for element in members)
    confidence: Confidence = "medium" if far_db >= limits.clear_db and not effects else "low"
    because = (
        "level and audibility together are twice as far off as such elements differ between songs"
        if confidence == "medium"
        else "level and audibility were weighed together; some songs have elements that far off on purpose"
    )
    if len(members) == 1 and _usual_by_level(members[0]):
        because += "; its level alone is within the usual"
    signs = _signs(members[0], elements, louder=move.off_db > 0.0) if len(members) == 1 else tuple(map(_in_short, members[:MOST_NAMED]))
    return Verdict(signs, MOST_OF_IT * far_db, past(far_db, limits.off_db, 2.5), confidence, because)


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


def brings_about(move: LevelMove, elements: Elements) -> tuple[str, ...]:
    """Return the rules that would report the same fault.

    With drums too low or others too loud hits are covered, and the kick is lost.
    """
    groups = {element.group for element in present(elements) if element.name in move.names}
    roles = {element.role for element in present(elements) if element.name in move.names}
    down = move.off_db < 0.0
    hits = ("mixing/buried_hits",) if ("drums" in groups) == down else ()
    kick = ("mixing/kick_does_not_stick_out", "mixing/kick_and_bass_in_one_slot") if ("kick" if down else "bass") in roles else ()
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
