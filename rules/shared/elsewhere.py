"""What the rules about other speakers share."""

from collections.abc import Collection, Sequence
from math import log10

from features.records.ear import ElementElsewhere, Elsewhere, SongElsewhere
from features.records.elements import Element, Elements, Role
from rules.shared.elements import present

SMALL = ("laptop", "kitchen", "portable")  # a phone plays next to nothing of most basses and kicks, so it says little
OVERTONES_HZ = 150.0


def left_over(elsewhere: Elsewhere, element: Element, conditions: Collection[str]) -> tuple[tuple[SongElsewhere, ElementElsewhere], ...]:
    """Return what some conditions leave of an element.

    Least first.
    """
    there = [
        (song, its) for song in elsewhere.conditions if song.condition in conditions for its in song.elements if its.name == element.name
    ]
    return tuple(sorted(there, key=lambda pair: (pair[1].kept, pair[0].condition)))


def of_role(elements: Elements, role: Role) -> tuple[Element, ...]:
    """Return the sounding elements that play a role."""
    return tuple(element for element in present(elements) if element.role == role)


def overtones_db(element: Element) -> float | None:
    """Return the element's overtones against all of it.

    Its level above 150 Hz.

    In dB; None where it holds nothing.
    """
    bands = list(zip(element.level.third_octave_hz, element.level.third_octave_db, strict=True))
    whole, above = (sum(10.0 ** (db / 10.0) for hz, db in bands if hz >= least) for least in (0.0, OVERTONES_HZ))
    if whole <= 0.0:
        return None
    return decibels(above / whole)


def decibels(ratio: float) -> float:
    """Return a ratio of powers in dB, at least -99.

    >>> decibels(0.1), decibels(0.0)
    (-10.0, -99.0)
    """
    return max(10.0 * log10(ratio), -99.0) if ratio > 0.0 else -99.0


def places(conditions: Sequence[SongElsewhere]) -> str:
    """Return the places in a row, at most three.

    As words for a sentence.
    """
    named = [song.place for song in conditions[:3]]
    return named[0] if len(named) == 1 else f"{', '.join(named[:-1])} and {named[-1]}"
