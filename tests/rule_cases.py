"""What every test of a rule may use, and what each test module must offer.

A rule ``rules/<stage>/<name>.py`` has the test module ``tests/rules/<stage>/test_<name>.py`` with

- ``fired()``: returns a `Finding` of the rule, made from `tests.records`; `tests/rules/test_registry.py` fills the
  rule's message and advice with its numbers;
- at least one function whose name starts with ``test_fires`` and one with ``test_quiet``.
"""

import re
from pathlib import Path

from features.records.base import Measurement
from rules.base import Finding, NotApplicable, Outcome
from tests import mastering_records, records

ROOT = Path(__file__).parents[1]
KINDS = ("level", "spectrum", "target", "balance", "ear", "crest", "pumping", "pulses", "hits", "low_end", "stereo", "health",
         "sections", "outlook", "file", "elements")  # fmt: skip


def healthy_song() -> dict[type[Measurement], Measurement]:
    """Return every record of the ordinary song, by kind."""
    song = (*(getattr(records, kind)() for kind in KINDS), mastering_records.mastered(), mastering_records.release())
    return {type(record): record for record in song}


def source_keys() -> list[str]:
    """Return the keys of docs/sources.md in the order they stand there."""
    return re.findall(r"^### (\S+)$", (ROOT / "docs" / "sources.md").read_text(encoding="utf-8"), flags=re.MULTILINE)


def found(outcome: Outcome) -> Finding:
    """Return the outcome, which must be a finding."""
    assert isinstance(outcome, Finding), outcome
    return outcome


def found_all(outcome: Outcome) -> tuple[Finding, ...]:
    """Return the outcome, which must be several findings, or one, as a tuple."""
    assert isinstance(outcome, tuple), outcome
    assert outcome, "a rule that finds nothing returns None"
    return outcome


def reason(outcome: Outcome) -> str:
    """Return why the rule does not apply, which must be the case."""
    assert isinstance(outcome, NotApplicable), outcome
    return outcome.reason
