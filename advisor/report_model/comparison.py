"""The comparison of two bounces of one song."""

from dataclasses import dataclass
from typing import Literal

from advisor.report_model.history import ElementChange, ReadingChange, StepVerdict
from advisor.report_model.parts import Tool, UsedSettings, Verdict
from features.records.base import Span
from rules.base import Confidence

SCHEMA_VERSION = 1
Way = Literal["advised", "other", "neither", "unknown"]
ComparedState = Literal["only later", "still there", "better", "worse", "solved", "came back", "set aside", "not judged"]


@dataclass(frozen=True, slots=True)
class BounceFinding:
    """A finding of one of both bounces."""

    rule: str
    title: str
    excess: float
    confidence: Confidence
    message: str
    where: tuple[Span, ...]


@dataclass(frozen=True, slots=True)
class ComparedBounce:
    """One of both bounces."""

    name: str
    sha256: str
    duration_s: float
    rate_hz: int
    channels: int
    notes: tuple[str, ...]
    verdict: Verdict
    clean_lufs: float | None
    integrated_lufs: float | None
    findings: tuple[BounceFinding, ...]


@dataclass(frozen=True, slots=True)
class BounceAlignment:
    """How both files lie against each other."""

    offset_s: float | None
    upside_down: bool
    stretches_matched: int
    stretches_tried: int


@dataclass(frozen=True, slots=True)
class ReadingOfBoth(ReadingChange):
    """A changed reading, and whether a fader explains it."""

    fader: bool


@dataclass(frozen=True, slots=True)
class ChangedBand:
    """A region whose level changed at matched loudness."""

    low_hz: float
    high_hz: float
    change_db: float
    at_hz: float


@dataclass(frozen=True, slots=True)
class ChangedStretch:
    """A stretch that got louder or softer than the rest."""

    start_s: float
    end_s: float
    change_lu: float


@dataclass(frozen=True, slots=True)
class ComparedFinding:
    """What became of a finding between the two bounces."""

    rule: str
    stem: str | None
    band_hz: tuple[float, float] | None
    title: str
    state: ComparedState
    before: float | None
    after: float | None


@dataclass(frozen=True, slots=True)
class ComparedMove:
    """The way the song went, against a finding's advice."""

    rule: str
    title: str
    move: str
    way: Way
    verdict: StepVerdict
    sure: Confidence
    sure_because: str
    share: float | None
    reading: str | None
    promised: float | None
    measured: float | None
    unit: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Two bounces of one song, at matched loudness."""

    schema_version: int = SCHEMA_VERSION
    tool: Tool
    settings: UsedSettings
    earlier: ComparedBounce
    later: ComparedBounce
    same_song: bool
    same_file: bool
    alignment: BounceAlignment
    longer_by_s: float | None
    louder_by_lu: float | None
    readings: tuple[ReadingOfBoth, ...]
    bands: tuple[ChangedBand, ...]
    stretches: tuple[ChangedStretch, ...]
    excess: tuple[float, float]
    findings: tuple[ComparedFinding, ...]
    moves: tuple[ComparedMove, ...]
    elements: tuple[ElementChange, ...] = ()
