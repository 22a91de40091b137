"""What to mind about a move, beside its stop rule."""

from advisor.remedies.discovery import kind_of
from rules.base import Confidence
from rules.remedy import Remedy

MOST_ON_A_MIX_DB = 6.0  # common practice, no published source
NOT_SURE = "Not sure: try it by ear first."
TOO_DEEP = "So much is rarely right on a whole mix. Solo the tracks to find the source, and make the move there."


def careful(remedy: Remedy, confidence: Confidence) -> list[str]:
    """Return whole sentences. Usually none."""
    deep = kind_of(remedy).tone is not None and remedy.part == "mix" and abs(remedy.gain_db or 0.0) > MOST_ON_A_MIX_DB
    return [*([NOT_SURE] if confidence == "low" else []), *([TOO_DEEP] if deep else [])]
