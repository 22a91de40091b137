"""A remedy as one plain sentence.

What to move, where, by how much.
"""

from advisor.remedies.discovery import kind_of
from rules.remedy import Remedy


def remedy_sentence(remedy: Remedy) -> str:
    """Return the remedy as one sentence without a full stop."""
    text = kind_of(remedy).sentence(remedy)
    return text[0].upper() + text[1:]
