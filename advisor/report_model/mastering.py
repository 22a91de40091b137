"""The mastering stage: the chain, its moves and its result."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Literal

from advisor.report_model.parts import Count
from advisor.report_model.shapes import stated
from features.records.base import Span
from features.records.mastering import Coded, Normalised, ToneChange

MoveKind = Literal["release", "glue", "saturation", "waveshaper"]
Damaging = Literal["distortion", "pumping", "hits", "density"]


@dataclass(frozen=True, slots=True)
class GlueSettings:
    """Glue compression over the whole mix."""

    threshold_dbfs: float
    ratio: float
    reduction_db: float
    attack_ms: float
    release_ms: float
    knee_db: float


@dataclass(frozen=True, slots=True)
class SaturationSettings:
    """A soft curve before the limiter."""

    drive_db: float
    into_db: float


@dataclass(frozen=True, slots=True)
class LimiterSettings:
    """The limiter."""

    gain_db: float
    drive_db: float
    release_ms: float
    ceiling_dbtp: float


@dataclass(frozen=True, slots=True)
class ChainSettings:
    """The links of the chain, in the order of processing.

    None or 0 where one is left out.
    """

    glue: GlueSettings | None
    saturation: SaturationSettings | None
    limiter: LimiterSettings
    waveshaper_raise_db: Annotated[float, stated(minimum=0)]
    trim_db: Annotated[float, stated(maximum=0)]


@dataclass(frozen=True, slots=True)
class ChainDamage:
    """The readings of damage, and their shares of their limits."""

    distortion_nmr_db: float
    pumping_db: float
    hit_loss_db: float
    density: float
    psr_db: float
    clean: bool
    nearest_limit: Damaging
    shares: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class ChainResult:
    """What a chain comes to: loudness, drive and damage."""

    lufs: float
    drive_db: float
    damage: ChainDamage


@dataclass(frozen=True, slots=True)
class SetResult(ChainResult):
    """What a chain comes to, with its settings."""

    chain: ChainSettings


@dataclass(frozen=True, slots=True)
class ToneDifference:
    """What changed in tone, at matched loudness."""

    bright_db: float
    tilt_db_per_octave: float
    ear_share: float
    changes: tuple[ToneChange, ...]
    heard: bool


@dataclass(frozen=True, slots=True)
class MasteringMove:
    """One move that was tried, and whether it stays."""

    kind: MoveKind
    kept: bool
    chain: ChainSettings
    before: ChainResult
    after: ChainResult
    tone: ToneDifference


@dataclass(frozen=True, slots=True)
class WorthMost:
    """The mixing step that gains most clean loudness."""

    step: Count
    gain_lu: float


@dataclass(frozen=True, slots=True)
class PreviewMaster:
    """The preview's file, levels and lossy copies."""

    file: Annotated[str, stated(const="preview-master.wav")]
    lufs: float
    true_peak_dbtp: float
    dither: str
    gain_db: float
    trim_db: float
    coded: tuple[Coded, ...]
    safe_ceiling_dbtp: float | None


@dataclass(frozen=True, slots=True)
class MasteringSection:
    """The chain for the song after its plan or before.

    `after_plan` says which.
    """

    after_plan: bool
    target_lufs: float
    stretch: Span
    reaches_target: bool
    reaches_cleanly: bool
    clean_lufs: float
    worth_most: WorthMost | None
    chain: ChainSettings
    reached: ChainResult
    tone: ToneDifference
    limiter_tone: ToneDifference | None
    glue_dbfs: Mapping[str, float]  # threshold for about 2 dB of glue, by ratio
    moves: tuple[MasteringMove, ...]
    clean: SetResult
    one_lu_more: ChainResult | None
    as_it_is: SetResult | None
    streaming: tuple[Normalised, ...]
    preview: PreviewMaster | None
