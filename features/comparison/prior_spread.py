"""How songs in general differ in each headline reading.

What the spread of a few references is moderated with (docs/references.md).
"""

import json
from dataclasses import dataclass
from functools import cache
from importlib import resources

TABLE = "prior_spread_table.json"


@dataclass(frozen=True, slots=True)
class Prior:
    """One headline reading over many finished songs.

    How many have it, their median, and their standard deviation.
    """

    songs: int
    median: float
    spread: float


@cache
def priors() -> dict[str, Prior]:
    """Return the prior of every headline reading by its name.

    >>> sorted(priors())[:2]
    ['bass_db', 'crest_balance_db']
    """
    rows = json.loads(resources.files("features.comparison").joinpath(TABLE).read_text(encoding="utf-8"))
    return {name: Prior(**row) for name, row in rows.items()}
