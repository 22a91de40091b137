"""Reports of bounces made by hand, without sound: what the history's tests are made from."""

from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from advisor.app.settings import Settings
from advisor.history.recorder import Recorder
from rules.base import Finding, Outcome, Rule
from rules.remedy import Remedy
from tests import records
from tests.advisor.samples import finding, report, rule_that, written

Document = dict[str, Any]

NOON = datetime(2030, 1, 2, 12, 0, 0, tzinfo=UTC)


def found(excess: float = 1.0, band: tuple[float, float] | None = None, remedy: Remedy | None = None, stem: str | None = None) -> Finding:
    """Return a finding with a remedy."""
    one = finding(excess, band=band)
    return Finding(
        one.excess, one.confidence, one.sure_because, one.numbers, "file", one.where, one.band_hz, remedy, stem=stem
    )  # cause "file": never merged with another


def bounce(take: int, *rules: Rule | tuple[str, Outcome], settings: Settings | None = None, **changed: Any) -> Document:  # noqa: ANN401
    """Return the report of one bounce; ``take`` makes its file differ from the others."""
    made = [one if isinstance(one, Rule) else rule_that(one[1], one[0]) for one in rules]
    changed.setdefault("file", records.file(name=f"take-{take}.wav", sha256=f"{take:064x}"))
    document: Document = written(report(*made, settings=settings, **changed))
    return document


def planned(document: Document, rule: str, remedy: Remedy, octaves_db: Sequence[float] = (), hits: float | None = None) -> Document:
    """Return the report with one more step in its plan, whose trial changed the octaves and the share heard of each hit by so much."""
    levels = [-30.0] * len(octaves_db)
    after = [old + new for old, new in zip(levels, octaves_db, strict=True)]
    readings = {"excess": 1.0, "clean_lufs": None, "integrated_lufs": None, "tilt_db_per_octave": None, "mono_loss_db": None}
    step = {
        "step": len(document["plan"]) + 1, "stage": "mixing", "rule": rule, "stem": None, "band_hz": None,
        "title": f"Title of {rule.split('/')[1]}", "confidence": "high",
        "remedy": {name: value for name in Remedy.__slots__ if (value := getattr(remedy, name)) is not None},
        "move": "Move it", "stop": "", "careful": [], "where": [], "outlook_after_lufs": None, "excess_after": 0.0,
        "before": {**readings, "hits_heard": 0.5, "bands_db": levels},
        "after": {**readings, "hits_heard": None if hits is None else 0.5 + hits, "bands_db": after},
        "benefit": 1.0, "full_song": False, "audition": None,
    }  # fmt: skip
    return {**document, "plan": [*document["plan"], step]}


def recorder(folder: Path, name: str = "Harbour", now: datetime = NOON) -> Recorder:
    """Return what records in a project, at noon."""
    return Recorder(name, lambda: now, folder)


def record(folder: Path, document: Document, name: str = "Harbour", now: datetime = NOON, aside: Sequence[Document] = ()) -> Document:
    """Record a ready report; return it with its history."""
    with recorder(folder, name, now).recording(document, aside) as filled:
        return filled
