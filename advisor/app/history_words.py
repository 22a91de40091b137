"""Names and small words of the history.

Safe on a terminal and in a report.
"""

import unicodedata
from datetime import datetime

LONGEST = 60
JOINER = "\u200d"  # joins emoji, and does nothing else
VERDICTS = {
    "done": "done",
    "partly": "done in part",
    "not done": "not done",
    "overdone": "overdone",
    "not measurable": "could not be measured",
}
STATES = ("solved", "better", "still there", "worse", "came back", "new", "not judged", "set aside")
HEADINGS = {
    "solved": "Solved",
    "better": "Better",
    "still there": "Still there",
    "worse": "Worse",
    "came back": "Came back",
    "new": "New",
    "not judged": "Could not be judged this time",
    "set aside": "Set aside",
}


def shown(text: str, longest: int | None = None) -> str:
    r"""Return a name as it may be printed.

    One line, nothing a terminal would obey, shortened in the middle where it is long.

    >>> shown("a\x1b[2Jb\nc"), shown("abcdefghij", 5)
    ('a?[2Jb?c', 'ab…ij')
    """
    safe = "".join(char if char == JOINER or (char.isprintable() and unicodedata.category(char) != "Cf") else "?" for char in text)
    if longest is None or len(safe) <= longest:
        return safe
    half = (longest - 1) // 2
    return f"{safe[: longest - 1 - half]}…{safe[len(safe) - half :]}"


def day(recorded: str) -> str:
    """Return the day of a moment, where the user is."""
    return datetime.fromisoformat(recorded).astimezone().date().isoformat()


def counted(number: int, singular: str, plural: str) -> str:
    """Return a number with its word."""
    return f"{number} {singular if number == 1 else plural}"
