"""Plain records of findings as one bounce had them, and what became of them in the next."""

from dataclasses import dataclass
from typing import Literal

from advisor.app.finding_key import Mark

State = Literal["new", "still there", "better", "worse", "solved", "came back", "set aside", "not judged"]


@dataclass(frozen=True, slots=True)
class Seen:
    """One finding as one bounce had it; ``aside`` where it was set aside then."""

    mark: Mark
    title: str
    excess: float
    aside: bool = False


@dataclass(frozen=True, slots=True)
class Looked:
    """What the critique of one bounce saw, and which rules and elements it could judge."""

    number: int
    findings: tuple[Seen, ...]
    judged: frozenset[str] = frozenset()
    elements: frozenset[str] = frozenset()

    def could_see(self, mark: Mark) -> bool:
        """Whether a finding of this kind would have been found here."""
        return mark.rule in self.judged and (mark.stem is None or mark.stem in self.elements)


@dataclass(frozen=True, slots=True)
class Thread:
    """One finding through all bounces: as last seen, in which bounce first, and in which it was found solved."""

    seen: Seen
    first: int
    solved: int | None = None


@dataclass(frozen=True, slots=True)
class Became:
    """What became of one finding in one bounce; excess is None where there was, or is, no finding."""

    mark: Mark
    title: str
    state: State
    before: float | None
    after: float | None
    first: int
    solved: int | None = None
