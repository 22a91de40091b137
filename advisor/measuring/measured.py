"""What measuring hands on.

The records that could be made, and what failed.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from features.limiting.outlook import OutlookTrace
from features.records.base import Measurement


class UnmeasuredError(Exception):
    """What everything else rests on could not be measured."""


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

    def require(self, *kinds: type[Measurement]) -> None:
        """Raise `UnmeasuredError` where a record is missing.

        Nothing is to be written or recorded without it.
        """
        missing = [kind.__name__.lower() for kind in kinds if kind not in self.records]
        if missing:
            why = "; ".join(f"{failure.family}: {failure.error}" for failure in self.failures)
            raise UnmeasuredError(f"{', '.join(missing)} could not be measured: {why}")
