"""What the rules about an element's level share: how far off it seems, why, and how much of that to move at once."""

from dataclasses import dataclass

from features.element_records import Element, Elements
from rules.base import Confidence, limit
from rules.elements import at_once_db, inaudible, listed, present
from rules.readings import past

MOST_OF_IT = 0.8  # of how far it seems off: part of any distance is the song's own
COVERS_SHARE = 0.2  # of another's loudness: who hides this much is named as covering it
MOST_OF_LOST = 0.5
STILL_HEARD_DB = 6.0  # above it: with a cover no further up than this, some of an element is heard
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
    """How far an element seems off (without the direction), why, and how sure that is."""

    signs: tuple[str, ...]
    off_db: float
    excess: float
    confidence: Confidence
    sure_because: str

    @property
    def words(self) -> str:
        """All signs in one clause."""
        return self.signs[0] if len(self.signs) == 1 else f"{', '.join(self.signs[:-1])}, and {self.signs[-1]}"

    @property
    def change_db(self) -> float:
        """How far to move the fader at once, without its direction."""
        return at_once_db(self.off_db, self.confidence)


def too_loud(one: Element, elements: Elements, t: Limits) -> Verdict | None:
    """Return what speaks for an element being too loud; None when too little does."""
    return _verdict(one, elements, t, louder=True)


def too_quiet(one: Element, elements: Elements, t: Limits) -> Verdict | None:
    """Return what speaks for an element being too quiet; None when too little does, or when it is not heard at all."""
    return None if inaudible(one) or drowned_by(one, elements, t) is not None else _verdict(one, elements, t, louder=False)


def drowned_by(one: Element, elements: Elements, t: Limits) -> str | None:
    """Return the element that is too loud and hides most of what is not heard of this one, so that with it down this one is heard.

    Then the fault is told there, and once. None where there is no such element, or where this one lies further off itself.
    """
    own_db = abs(one.level_plan.off_db or 0.0)
    lost = 1.0 - (one.masking.audible_share if one.masking.audible_share is not None else 1.0)
    for cover in one.masking.covered_by:
        other = elements.named(cover.by)
        verdict = None if other is None or cover.share <= MOST_OF_LOST * lost else too_loud(other, elements, t)
        if verdict is not None and own_db < verdict.off_db / MOST_OF_IT and cover.excess_db <= verdict.off_db + STILL_HEARD_DB:
            return cover.by
    return None


def _verdict(one: Element, elements: Elements, t: Limits, *, louder: bool) -> Verdict | None:
    off_db = one.level_plan.off_db
    if off_db is None or (off_db > 0.0) != louder or one.name not in _furthest(elements, t):
        return None
    far_db = abs(off_db)
    confidence: Confidence = "medium" if far_db >= t.clear_db and one.role != "effects" else "low"
    because = (
        "loudness and what is heard of it were weighed together, and it lies twice as far off as such elements differ between songs"
        if confidence == "medium"
        else "loudness and what is heard of it were weighed together; some songs have elements that far off on purpose"
    )
    return Verdict(_signs(one, elements, louder=louder), MOST_OF_IT * far_db, past(far_db, t.off_db, 2.5), confidence, because)


def _furthest(elements: Elements, t: Limits) -> list[str]:
    """Return the elements that lie beyond the limit, furthest first, at most three: the rest is judged again once these are set."""
    beyond = [
        (-abs(one.level_plan.off_db), one.name)
        for one in present(elements)
        if one.level_plan.off_db is not None and abs(one.level_plan.off_db) > t.off_db and not inaudible(one)
    ]
    return [name for _, name in sorted(beyond)[:MOST_NAMED]]


def _signs(one: Element, elements: Elements, *, louder: bool) -> tuple[str, ...]:
    level, plan, share = one.level.while_playing_lu, one.level_plan, one.masking.audible_share
    found = []
    if level is not None and plan.usual_lu is not None and plan.usual_spread_lu is not None:
        found.append(f"it plays at {level:.0f} LU against the mix (usual for {one.role}: {plan.usual_lu:.0f} ± {plan.usual_spread_lu:.0f})")
    if share is not None:
        found.append(f"{share:.0%} of it is heard (usual: about {USUAL_HEARD:.0%})")
    covered = _covered_by(one, elements) if louder else []
    if covered:
        found.append(f"it covers {listed(covered)}")
    return tuple(found) or ("its loudness and what is heard of it",)


def _covered_by(one: Element, elements: Elements) -> list[str]:
    """Return the names of the elements it hides much of, most first."""
    hidden = [
        (cover.share, other.name)
        for other in present(elements)
        for cover in other.masking.covered_by
        if cover.by == one.name and cover.share >= COVERS_SHARE
    ]
    return [name for _, name in sorted(hidden, reverse=True)]
