"""What tells one finding from another across bounces.

Which of them are set aside stands here too.
"""

from dataclasses import dataclass

Band = tuple[float, float]


SIDES = ("left", "right")


@dataclass(frozen=True, slots=True)
class FindingKey:
    """What tells one finding from another across bounces.

    ``side`` is ``left`` or ``right`` where a fault has a side.
    """

    rule: str
    stem: str | None = None
    band_hz: Band | None = None
    side: str | None = None


@dataclass(frozen=True, slots=True)
class SetAside:
    """A finding that is meant to be so.

    Why, since which bounce, how far past its limit then.
    """

    key: FindingKey
    title: str
    excess: float
    because: str
    since: int
    made: str = ""
