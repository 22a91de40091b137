"""What a remedy kind is.

Everything the program knows of one, declared in its own module.
"""

from collections.abc import Callable
from dataclasses import MISSING, dataclass, fields
from typing import Literal, Self

import numpy as np
from numpy.typing import NDArray

from features.sound.signal import Signal
from rules.base import Topic
from rules.remedy import Remedy

Band = tuple[float, float]
Process = Callable[[Signal], Signal]
Reach = Callable[[Remedy, Band | None], bool]
Reading = Literal["level", "side share", "low sides", "channel delay", "spectrum", "finding"]
Sections = Callable[[Remedy, float, float], NDArray[np.float64]]


@dataclass(frozen=True, slots=True)
class Amount:
    """What the amount of a kind scales, and how far.

    The factors by which trials scale it, the proposed amount first.
    ``scaled`` returns the remedy with more (factor above 1) or less of it.
    """

    scaled: Callable[[Remedy, float], Remedy]
    factors: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Touches:
    """What a kind may have changed beside its finding.

    Topics, and whether it reaches a finding's band in Hz.
    """

    topics: frozenset[Topic]
    reach: Reach


@dataclass(frozen=True, slots=True)
class FollowUp:
    """The reading that tells whether a move was made.

    It is taken of a later bounce.
    ``sections`` are an equaliser's second-order sections (b0, b1, b2, a1, a2), from remedy, rate and frequency in Hz.
    """

    reading: Reading
    sections: Sections | None = None


@dataclass(frozen=True, slots=True)
class ToneBand:
    """The stretch in Hz that a tone move works on.

    ``from_finding`` says that an element is chosen by the band of the finding where it has one.
    """

    edges_hz: Callable[[Remedy], Band]
    from_finding: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class RemedyKind:
    """Everything that is known of one kind of remedy.

    Raises `TypeError` where a piece is missing.
    ``process`` is None where the kind cannot be put in place; ``keyed`` is its process under another element's sound. ``effort`` is
    1 for a fader, 2 for an equaliser, 3 for dynamics, 5 for recording again.
    """

    name: str
    process: Callable[[Remedy], Process] | None
    sentence: Callable[[Remedy], str]
    effort: float
    amount: Amount
    touches: Touches
    followed_by: FollowUp
    keyed: Callable[[Remedy, Signal], Process] | None = None
    tone: ToneBand | None = None
    is_fader: bool = False  # moves a level alone, so that it can be done to each element of a group
    makes_stereo: bool = False
    takes_all_channels: bool = False  # it knows its channels itself, whichever part it is meant for

    def __new__(cls, **pieces: object) -> Self:
        """Refuse a kind of which a piece is missing, by the kind's name."""
        missing = [piece.name for piece in fields(cls) if piece.default is MISSING and piece.name not in pieces]
        if missing:
            message = f"the remedy kind {pieces.get('name', '(without a name)')} lacks: {', '.join(missing)}"
            raise TypeError(message)
        return object.__new__(cls)
