"""What measuring hands on.

The records that could be made, and what failed.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from features.limiting.outlook import OutlookTrace
from features.records.base import Measurement


@dataclass(frozen=True, slots=True)
class Failure:
    """A measurement that crashed.

    The rules that need it cannot judge.
    """

    family: str
    error: str


@dataclass(frozen=True, slots=True)
class Measured:
    """Every record that could be made, and what failed.

    With the song per millisecond, which mastering is tried on.
    """

    records: Mapping[type[Measurement], Measurement]
    failures: tuple[Failure, ...]
    trace: OutlookTrace | None = None
