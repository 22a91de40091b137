"""Findings of one bounce, and their changes by the next."""

from dataclasses import dataclass
from typing import Literal

from advisor.app.finding_key import FindingKey

State = Literal["new", "still there", "better", "worse", "solved", "came back", "set aside", "not judged"]


@dataclass(frozen=True, slots=True)
class PastFinding:
    """One finding as one bounce had it.

    ``aside`` where it was set aside then.
    """

    key: FindingKey
    title: str
    excess: float
    aside: bool = False


@dataclass(frozen=True, slots=True)
class BounceFindings:
    """What the critique of one bounce found and could judge.

    It says so by rules and elements.
    """

    number: int
    findings: tuple[PastFinding, ...]
    judged: frozenset[str] = frozenset()
    elements: frozenset[str] = frozenset()

    def could_see(self, key: FindingKey) -> bool:
        """Whether such a finding would have been found here."""
        return key.rule in self.judged and (key.stem is None or key.stem in self.elements)


@dataclass(frozen=True, slots=True)
class FindingHistory:
    """One finding through all bounces.

    As last found, in which bounce first, and in which it was solved.
    """

    last: PastFinding
    first: int
    solved: int | None = None


@dataclass(frozen=True, slots=True)
class FindingChange:
    """What became of one finding in one bounce.

    Excess is None where there was, or is, no finding.
    """

    key: FindingKey
    title: str
    state: State
    before: float | None
    after: float | None
    first: int
    solved: int | None = None
