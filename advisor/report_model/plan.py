"""The plan, its run over the whole song, and what there is to listen to."""

from dataclasses import dataclass

from advisor.report_model.findings import ComparedReadings
from advisor.report_model.parts import Move
from features.records.base import Span
from rules.base import Confidence, Stage


@dataclass(frozen=True, slots=True)
class StepClips:
    """The two files of one step, by their paths from the report, which seconds they hold, and their common loudness."""

    before: str
    after: str
    start_s: float
    end_s: float
    lufs: float
    same: bool


@dataclass(frozen=True, slots=True)
class MarkedMix:
    """The copy of the mix with a marker at each finding."""

    marked_mix: str
    cues: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanStep:
    """One move of the plan, and the stretches before and after it with the earlier moves in place."""

    step: int
    stage: Stage
    rule: str
    stem: str | None
    band_hz: tuple[float, float] | None
    title: str
    confidence: Confidence
    remedy: Move
    move: str
    stop: str
    careful: tuple[str, ...]
    where: tuple[Span, ...]
    outlook_after_lufs: float | None
    excess_after: float
    before: ComparedReadings
    after: ComparedReadings
    benefit: float
    full_song: bool = False
    audition: StepClips | None = None


@dataclass(frozen=True, slots=True)
class PlanCheck:
    """The finished plan run over the whole song."""

    before: ComparedReadings
    after: ComparedReadings
    full_song: bool = True
