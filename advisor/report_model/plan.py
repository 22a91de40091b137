"""The plan, its run over the song, and its clips."""

from dataclasses import dataclass
from typing import Annotated, Literal

from advisor.report_model.findings import ComparedReadings
from advisor.report_model.parts import Count, Excess, Move, RuleId, Text
from advisor.report_model.shapes import stated
from features.records.base import Span
from features.records.elements import Attribution
from rules.base import Confidence, Stage


@dataclass(frozen=True, slots=True)
class StepClips:
    """The two files of one step, by their paths.

    With the seconds they hold and their common loudness.
    """

    before: Annotated[str, stated(pattern=r"^audition/step-[0-9]+-before\.(flac|wav)$")]
    after: Annotated[str, stated(pattern=r"^audition/step-[0-9]+-after\.(flac|wav)$")]
    start_s: Annotated[float, stated(minimum=0)]
    end_s: Annotated[float, stated(minimum=0)]
    lufs: float
    same: bool


@dataclass(frozen=True, slots=True)
class MarkedMix:
    """The copy of the mix with markers at findings."""

    marked_mix: Annotated[str, stated(pattern=r"^audition/[A-Za-z0-9][A-Za-z0-9._-]*-marked\.wav$")]
    cues: Count


@dataclass(frozen=True, slots=True)
class StepOutcomes:
    """What a step gains or loses.

    Clean loudness in LU, the rest in steps a listener just notices; None where it was not measured.
    """

    room_lu: float | None
    audibility: float | None
    tone: float | None
    mono: float | None
    damage: float | None
    moved: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanStep:
    """One move of the plan, with readings before and after.

    The earlier moves are in place.
    """

    step: Count
    stage: Stage
    rule: RuleId
    stem: str | None
    band_hz: tuple[float, float] | None
    title: str
    confidence: Confidence
    remedy: Move
    move: Text
    stop: str
    careful: tuple[str, ...]
    where: tuple[Span, ...]
    outlook_after_lufs: float | None
    excess_after: Excess
    before: ComparedReadings
    after: ComparedReadings
    benefit: float
    full_song: Literal[False] = False
    audition: StepClips | None = None
    attribution: Attribution | None = None
    outcomes: StepOutcomes | None = None  # of reports written before moves were judged by outcomes


@dataclass(frozen=True, slots=True)
class PlanCheck:
    """The finished plan run over the whole song."""

    before: ComparedReadings
    after: ComparedReadings
    full_song: Literal[True] = True
