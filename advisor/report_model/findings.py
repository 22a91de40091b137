"""Findings with their rules' words and their remedies' trials."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from advisor.report_model.parts import Count, Excess, Move, Probability, RuleId, Text
from features.records.base import Span
from features.records.elements import Attribution
from rules.base import Confidence, Stage, Topic


@dataclass(frozen=True, slots=True)
class ComparedReadings:
    """What trials compare.

    Levels in dBFS, mean of both channels, of the bands between the report's `band_edges_hz`.
    """

    excess: Excess
    clean_lufs: float | None
    integrated_lufs: float | None
    tilt_db_per_octave: float | None
    hits_heard: float | None
    mono_loss_db: float | None
    bands_db: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class RemedyTrial:
    """A remedy's trial on the song, and whether it helped."""

    remedy: Move
    move: str
    before: ComparedReadings
    after: ComparedReadings
    benefit: float
    helps: bool
    full_song: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportedFinding:
    """A finding with its rule's words."""

    rule: RuleId
    stage: Stage
    topic: Topic
    title: Text
    stem: str | None = None
    message: Text
    advice: str
    stop: str = ""  # the last clause of the advice, on its own
    numbers: Mapping[str, float | int | str] = field(default_factory=dict)
    confidence: Confidence
    probability: Probability | None = None  # that it is right; None in reports written before it was worked out
    excess: Excess
    where: tuple[Span, ...] = ()
    band_hz: tuple[float, float] | None = None
    remedy: Move | None = None
    attribution: Attribution | None = None  # of a finding about the mix; `stem` is then the element that carries most of it


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingCard(ReportedFinding):
    """One cause, with its findings and its trial.

    Its own finding shows it best; `also` holds the others.
    """

    rank: Count
    sure_because: str
    cause: str
    why: str
    check_by_ear: str
    fine_if: str
    also: tuple[ReportedFinding, ...] = ()
    trial: RemedyTrial | None = None
    gone_with_step: Count | None = None  # the step of the plan with which it went away, though that is about another finding


@dataclass(frozen=True, slots=True, kw_only=True)
class AsideFinding(ReportedFinding):
    """A finding that was set aside.

    Why, since which bounce, and how far past its limit it was then.
    """

    because: str = ""
    since: int | None = None
    excess_then: float | None = None
