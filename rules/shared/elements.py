"""What the rules about elements share.

Which ones count, how they are called, and the moves on them.
"""

from collections.abc import Sequence
from math import sqrt

from features.records.base import Span
from features.records.elements import Cover, Element, Elements, Role
from rules.base import Confidence, Finding
from rules.remedy import Remedy
from rules.shared.excess import within
from rules.shared.spans import spans_of

MOST_FINDINGS = 4
MOST_LETTERS = 20
INAUDIBLE_SHARE = 0.12  # below this an element is told as inaudible, and by no other rule
AT_ONCE_DB: dict[Confidence, float] = {"high": 6.0, "medium": 6.0, "low": 4.0}  # then listen and measure again
LEAST_MOVE_DB = 1.5
CENTRE_DB = 3.0
PAN_DB = 6.0
PAN_FROM_HZ = 200.0  # lower sounds stay in the centre
PLAYED: frozenset[Role] = frozenset(  # mostly recorded or performed; what is programmed has the dynamics it was given
    {"vocal", "backing vocal", "guitar", "strings", "keys", "snare", "drums", "percussion"}
)
STAY_CENTRED: frozenset[Role] = frozenset({"kick", "bass", "vocal"})


def present(elements: Elements) -> tuple[Element, ...]:
    """Return the elements that sound, without copies."""
    return tuple(element for element in elements.elements if not element.silent and element.copy_of is None)


def inaudible(element: Element, least_share: float = INAUDIBLE_SHARE) -> bool:
    """Tell whether next to nothing of an element is heard."""
    return element.masking.audible_share is not None and element.masking.audible_share < least_share


def called(name: str) -> str:
    """Return the name as it stands in a sentence.

    >>> called("pad")
    "'pad'"
    """
    return f"'{name}'"


def titled(name: str, most: int = MOST_LETTERS) -> str:
    """Return the name as it stands in a title.

    A long one loses its middle.

    >>> titled("pad"), titled("07_guitar_rhythm_left_dry_final", 12)
    ("'pad'", "'07_gui…final'")
    """
    if len(name) <= most:
        return called(name)
    head = most // 2
    return called(f"{name[:head]}…{name[len(name) - (most - head - 1) :]}")


def listed(names: Sequence[str]) -> str:
    """Return up to three names in a row.

    >>> listed(["kick", "bass"]), listed(["a", "b", "c", "d", "e"])
    ("'kick' and 'bass'", "'a', 'b' and 3 more")
    """
    shown = [called(name) for name in names]
    if len(shown) > 3:
        shown = [*shown[:2], f"{len(names) - 2} more"]
    return shown[0] if len(shown) == 1 else f"{', '.join(shown[:-1])} and {shown[-1]}"


def worst_first(findings: Sequence[Finding]) -> tuple[Finding, ...] | None:
    """Return the weightiest findings, at most four.

    None when there are none.
    """
    ordered = sorted(
        (finding for finding in findings if finding.excess > 0.0),
        key=lambda finding: (-finding.weight, finding.stem or ""),
    )
    return tuple(ordered[:MOST_FINDINGS]) or None


def buried_where(element: Element) -> tuple[Span, ...]:
    """Return where least of an element is heard.

    Where it is loudest, if that is nowhere in particular.
    """
    return spans_of(element.masking.buried) or loudest_where(element)


def loudest_where(element: Element) -> tuple[Span, ...]:
    """Return where an element is loudest."""
    return () if element.level.loudest is None else (element.level.loudest,)


def fader(name: str, change_db: float) -> Remedy:
    """Return the move of one fader."""
    return Remedy(kind="gain", part=name, gain_db=round(change_db, 1))


def at_once_db(wanted_db: float, confidence: Confidence) -> float:
    """Return how much of a fader's move to advise.

    Without its direction: the less sure, the less.

    Without its direction: the less sure, the less.

    >>> at_once_db(11.0, "medium"), at_once_db(11.0, "low"), at_once_db(2.0, "low")
    (6.0, 4.0, 2.0)
    """
    return within(wanted_db, LEAST_MOVE_DB, AT_ONCE_DB[confidence])


def in_steps(wanted_db: float, now_db: float) -> str:
    """Return words for a move that may need more.

    Than is advised at once.

    >>> in_steps(9.0, 6.0), in_steps(6.0, 6.0)
    (' as a first step', '')
    """
    return " as a first step" if abs(wanted_db) > abs(now_db) + 0.5 else ""


def cut(name: str, band_hz: tuple[float, float], depth_db: float) -> Remedy:
    """Return a bell that lowers a band of an element.

    By ``depth_db``.
    """
    centre_hz = sqrt(band_hz[0] * band_hz[1])
    q = within(centre_hz / (band_hz[1] - band_hz[0]), 0.5, 2.0)
    return Remedy(kind="bell", part=name, frequency_hz=round(centre_hz, 1), gain_db=-round(depth_db, 1), q=round(q, 2))


def central(element: Element) -> bool:
    """Tell whether an element stands in or near the centre.

    A mono one does.
    """
    return abs(element.level.pan_db or 0.0) < CENTRE_DB


def pan_apart(covered: Element, cover: Cover, elements: Elements) -> Remedy | None:
    """Return the pan that parts two elements.

    None where they stand apart, sound low, or must both stay in the centre.

    The one that covers moves, unless it belongs in the centre; it goes to the side it already leans to.
    """
    other = elements.named(cover.by)
    low_hz, high_hz = cover.band_hz
    if other is None or sqrt(low_hz * high_hz) < PAN_FROM_HZ or not (central(covered) and central(other)):
        return None
    fixed = {element.name for element in (covered, other) if element.role in STAY_CENTRED or element.name == elements.lead}
    moved, stays = (covered, other) if other.name in fixed else (other, covered)
    if moved.name in fixed:
        return None
    leans_db = (moved.level.pan_db or 0.0) - (stays.level.pan_db or 0.0)
    return Remedy(kind="pan", part=moved.name, gain_db=PAN_DB if leans_db >= 0.0 else -PAN_DB)


def known(*remedies: Remedy | None) -> tuple[Remedy, ...]:
    """Return those that exist."""
    return tuple(remedy for remedy in remedies if remedy is not None)
