"""One line of the table that holds the processors against truth."""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Line:
    """What a processor should do at a setting, what it did, and how far apart they may be.

    ``source`` names the truth ``expected`` comes from; with ``at_most`` it is an upper end, and only passing it counts;
    endless ``allowed`` means that the line is shown and not judged.
    """

    what: str
    settings: str
    source: str
    expected: float
    measured: float
    allowed: float
    unit: str
    at_most: bool = False

    @property
    def difference(self) -> float:
        """Measured minus expected."""
        return self.measured - self.expected

    @property
    def fits(self) -> bool:
        """Whether the difference is allowed; what is not a number is not."""
        return (self.difference if self.at_most else abs(self.difference)) <= self.allowed

    def __str__(self) -> str:
        """Return the line as text."""
        verdict = "shown" if np.isinf(self.allowed) else "yes" if self.fits else "NO"
        return (
            f"{self.what:<24} {self.settings:<34} {self.source:<40} {self.expected:>11.5f} {self.measured:>11.5f} "
            f"{self.difference:>+10.5f} {self.allowed:>8.2g} {self.unit:<4} {verdict}"
        )
