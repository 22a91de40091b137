"""The mastering stage as it stands in the report."""

from typing import cast

from advisor.app.settings import Settings
from advisor.mastering.bench import Damage, Reached
from advisor.mastering.brightness import ToneStep
from advisor.mastering.chain import Chain, Glue, Saturation
from advisor.mastering.finding import Move
from advisor.mastering.stage import Stage
from advisor.mastering.streaming import normalised
from advisor.report_model.mastering import (
    ChainDamage,
    ChainResult,
    ChainSettings,
    Damaging,
    GlueSettings,
    LimiterSettings,
    MasteringMove,
    MasteringSection,
    MoveKind,
    PreviewMaster,
    SaturationSettings,
    SetResult,
    ToneDifference,
    WorthMost,
)


def mastering_section(stage: Stage | None, after_plan: bool, settings: Settings, preview: PreviewMaster | None) -> MasteringSection | None:
    """Return the stage for the report. None without one."""
    if stage is None:
        return None
    mastering = stage.mastering
    reached = mastering.reached
    return MasteringSection(
        after_plan=after_plan,
        target_lufs=mastering.target_lufs,
        stretch=stage.song.densest,
        reaches_target=mastering.reaches,
        reaches_cleanly=mastering.reaches_cleanly,
        clean_lufs=mastering.clean_lufs,
        worth_most=None if stage.worth_most is None else WorthMost(*stage.worth_most),
        chain=chain_settings(reached.chain),
        reached=chain_result(reached),
        tone=tone_difference(mastering.tone),
        limiter_tone=None if mastering.limiter_tone is None else tone_difference(mastering.limiter_tone),
        glue_dbfs={f"{ratio:g}": threshold for ratio, threshold in mastering.glue_dbfs.items()},
        moves=tuple(mastering_move(move) for move in mastering.moves),
        clean=set_result(mastering.clean),
        one_lu_more=None if mastering.louder is None else chain_result(mastering.louder),
        as_it_is=None if stage.as_it_is is None else set_result(stage.as_it_is),
        streaming=normalised(reached.lufs, settings.ceiling_dbtp, reached.damage.psr_db, settings.streaming_lufs),
        preview=preview,
    )


def chain_settings(chain: Chain) -> ChainSettings:
    """Return the settings of a chain in its order."""
    return ChainSettings(
        glue=None if chain.glue is None else _glue(chain.glue),
        saturation=None if chain.saturation is None else _saturation(chain.saturation),
        limiter=LimiterSettings(chain.gain_db, chain.drive_db, 1000.0 * chain.release_s, chain.ceiling_dbtp),
        waveshaper_raise_db=chain.raise_db,
        trim_db=chain.trim_db,
    )


def _glue(glue: Glue) -> GlueSettings:
    return GlueSettings(glue.threshold_dbfs, glue.ratio, glue.reduction_db, glue.attack_ms, glue.release_ms, glue.knee_db)


def _saturation(saturation: Saturation) -> SaturationSettings:
    return SaturationSettings(saturation.drive_db, saturation.into_db)


def chain_damage(damage: Damage) -> ChainDamage:
    """Return the readings of damage."""
    return ChainDamage(
        damage.distortion_nmr_db,
        damage.pumping_db,
        damage.hit_loss_db,
        damage.density,
        damage.psr_db,
        damage.clean,
        cast("Damaging", damage.worst),
        damage.shares,
    )


def chain_result(reached: Reached) -> ChainResult:
    """Return loudness, drive and damage of a chain."""
    return ChainResult(reached.lufs, reached.chain.drive_db, chain_damage(reached.damage))


def set_result(reached: Reached) -> SetResult:
    """Return loudness, drive and damage of a chain.

    The settings come with them.
    """
    return SetResult(reached.lufs, reached.chain.drive_db, chain_damage(reached.damage), chain_settings(reached.chain))


def tone_difference(tone: ToneStep) -> ToneDifference:
    """Return what changed in tone."""
    return ToneDifference(tone.bright_db, tone.tilt_db_per_octave, tone.ear_share, tone.changes, tone.noticeable)


def mastering_move(move: Move) -> MasteringMove:
    """Return one move that was tried."""
    return MasteringMove(
        cast("MoveKind", move.kind),
        move.taken,
        chain_settings(move.after.chain),
        chain_result(move.before),
        chain_result(move.after),
        tone_difference(move.tone),
    )
