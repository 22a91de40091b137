"""How sure a claim about tone is, by its references."""

from features.records.balance import Bell, Target
from rules.base import Confidence

ENOUGH_SONGS = 5
USUAL_SPREADS = 2.0  # nearly all further songs of the references' kind lie within so many spreads of their middle
CLEAR_WITH_REFERENCES = 3.5  # of songs of the references' own kind, one in sixteen has such a rise; docs/references.md


def sure_of_tone(target: Target, *, clear: bool) -> tuple[Confidence, str]:
    """Return how sure a claim about broad tone is.

    And why; ``clear`` says whether the reading lies well past its limit.
    """
    if target.songs == 0:
        return "medium", "songs in general differ as much; references of your own would make it firmer"
    if target.songs < ENOUGH_SONGS:
        return "medium", f"it is compared with {target.songs} of your songs; {ENOUGH_SONGS} or more would make it firmer"
    if clear:
        return "high", f"it lies well outside what your {target.songs} reference songs do"
    return "medium", f"it lies outside what your {target.songs} reference songs usually do, but not far"


def songs_words(target: Target) -> str:
    """Return the references as a count."""
    return "reference" if target.songs == 1 else f"{target.songs} references"


def usual_range(target: Target, name: str) -> tuple[float, float] | None:
    """Return the usual range of a headline reading.

    Nearly all songs like the references lie there; None with fewer than five that have it.
    """
    reading = next((reading for reading in target.usual if reading.name == name and reading.songs >= ENOUGH_SONGS), None)
    if reading is None:
        return None
    return reading.median - USUAL_SPREADS * reading.spread, reading.median + USUAL_SPREADS * reading.spread


def sure_of_bell(target: Target, bell: Bell, *, clear: bool, clear_in_general: float) -> tuple[Confidence, str]:
    """Return how sure a claim about one broad region is.

    Only a strong one is more than a hint, since all regions are looked through.
    """
    confidence, because = sure_of_tone(target, clear=clear)
    if target.songs == 0:
        return ("low", because) if abs(bell.strength) < clear_in_general else (confidence, because)
    if abs(bell.strength) < CLEAR_WITH_REFERENCES:
        return "low", f"it lies outside what your {songs_words(target)} usually do, but many songs of their kind have one such band"
    return confidence, because
