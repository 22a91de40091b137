"""How far a mix was moved, at matched loudness.

Held against what the user made.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, sqrt

from advisor.outcomes.outcomes import Outcomes
from advisor.outcomes.steps import MOVED_LEAN_DB, MOVED_LEVELS_DB, MOVED_TONE_DB, MOVED_WIDTH_DB


@dataclass(frozen=True, slots=True)
class Moved:
    """How far tone, levels, width and balance went, in dB.

    Tone and levels as root mean square over octaves and over elements.
    """

    tone_db: float
    levels_db: float
    width_db: float
    lean_db: float

    @property
    def steps(self) -> float:
        """All of it in steps.

        They are heard apart, so their squares add up.
        """
        return hypot(
            MOVED_TONE_DB.worth(self.tone_db),
            MOVED_LEVELS_DB.worth(self.levels_db),
            MOVED_WIDTH_DB.worth(self.width_db),
            MOVED_LEAN_DB.worth(self.lean_db),
        )


def distance_moved(before: Outcomes, after: Outcomes) -> Moved:
    """Return how far ``after`` lies from ``before``.

    Elements that only one of them has are left out.
    """
    stand, other = before.stand, after.stand
    levels = {element.name: element.in_mix_lu for element in other.elements}
    return Moved(
        tone_db=_rms([new - old for old, new in zip(stand.octave_db, other.octave_db, strict=False)]),
        levels_db=_rms([levels[element.name] - element.in_mix_lu for element in stand.elements if element.name in levels]),
        width_db=_apart(stand.width_db, other.width_db),
        lean_db=_apart(stand.lean_db, other.lean_db),
    )


def _rms(values: Sequence[float]) -> float:
    return sqrt(sum(value**2 for value in values) / len(values)) if values else 0.0


def _apart(value: float | None, other: float | None) -> float:
    return 0.0 if value is None or other is None else abs(other - value)
