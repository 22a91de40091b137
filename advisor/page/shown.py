"""What the page itself shows of a report.

The whole report has its own page; this is read without what measures.
"""

from dataclasses import dataclass
from pathlib import Path

from advisor.page.runs import read_value


@dataclass(frozen=True, slots=True)
class ShownVerdict:
    """The verdict's sentence."""

    sentence: str


@dataclass(frozen=True, slots=True)
class ShownFinding:
    """A finding in a line."""

    rule: str
    title: str
    message: str
    stage: str
    stem: str | None = None


@dataclass(frozen=True, slots=True)
class ShownStep:
    """A step of the plan in a line."""

    step: int
    title: str
    move: str


@dataclass(frozen=True, slots=True)
class ShownChange:
    """What became of a finding."""

    title: str
    state: str


@dataclass(frozen=True, slots=True)
class ShownHistory:
    """Which bounce it is, and what became of the findings."""

    project: str
    number: int
    findings: tuple[ShownChange, ...] = ()


@dataclass(frozen=True, slots=True)
class ShownReport:
    """What the page shows of a critique."""

    verdict: ShownVerdict
    findings: tuple[ShownFinding, ...]
    plan: tuple[ShownStep, ...] = ()
    history: ShownHistory | None = None


def shown_report(folder: Path) -> ShownReport | None:
    """Return what is shown of a report, or None."""
    return read_value(ShownReport, folder / "report.json")
