"""The mastering stage as it stands in report.json."""

from dataclasses import asdict
from typing import Any

from advisor.app.settings import Settings
from advisor.mastering.bench import Damage, Reached
from advisor.mastering.brightness import ToneStep
from advisor.mastering.chain import Chain
from advisor.mastering.finding import Move
from advisor.mastering.render import Preview
from advisor.mastering.stage import Stage
from advisor.mastering.streaming import normalised

Document = dict[str, Any]


def mastering_document(stage: Stage | None, after_plan: bool, settings: Settings, preview: Preview | None) -> Document | None:
    """Return what was found, for the report; None without a mastering stage."""
    if stage is None:
        return None
    found = stage.found
    return {
        "after_plan": after_plan,
        "target_lufs": found.target_lufs,
        "stretch": asdict(stage.song.densest),
        "reaches_target": found.reaches,
        "reaches_cleanly": found.reaches_cleanly,
        "clean_lufs": found.clean_lufs,
        "worth_most": None if stage.worth_most is None else {"step": stage.worth_most[0], "gain_lu": stage.worth_most[1]},
        "chain": chain_document(found.reached.chain),
        "reached": reached_document(found.reached),
        "tone": tone_document(found.tone),
        "limiter_tone": None if found.limiter_tone is None else tone_document(found.limiter_tone),
        "glue_dbfs": {f"{ratio:g}": threshold for ratio, threshold in found.glue_dbfs.items()},
        "moves": [move_document(one) for one in found.moves],
        "clean": {**reached_document(found.clean), "chain": chain_document(found.clean.chain)},
        "one_lu_more": None if found.louder is None else reached_document(found.louder),
        "as_it_is": None if stage.as_it_is is None else {**reached_document(stage.as_it_is), "chain": chain_document(stage.as_it_is.chain)},
        "streaming": [
            asdict(one)
            for one in normalised(found.reached.lufs, settings.ceiling_dbtp, found.reached.damage.psr_db, settings.streaming_lufs)
        ],
        "preview": None if preview is None else preview_document(preview),
    }


def chain_document(chain: Chain) -> Document:
    """Return the settings of a chain in its order."""
    return {
        "glue": None if chain.glue is None else asdict(chain.glue),
        "saturation": None if chain.saturation is None else asdict(chain.saturation),
        "limiter": {
            "gain_db": chain.gain_db, "drive_db": chain.drive_db, "release_ms": 1000.0 * chain.release_s,
            "ceiling_dbtp": chain.ceiling_dbtp,
        },
        "waveshaper_raise_db": chain.raise_db,
        "trim_db": chain.trim_db,
    }  # fmt: skip


def damage_document(damage: Damage) -> Document:
    """Return the readings of damage."""
    return {**asdict(damage), "clean": damage.clean, "nearest_limit": damage.worst, "shares": damage.shares}


def reached_document(reached: Reached) -> Document:
    """Return loudness, drive and damage of a chain."""
    return {"lufs": reached.lufs, "drive_db": reached.chain.drive_db, "damage": damage_document(reached.damage)}


def tone_document(tone: ToneStep) -> Document:
    """Return what changed in tone."""
    return {**asdict(tone), "heard": tone.heard}


def move_document(move: Move) -> Document:
    """Return one move that was tried."""
    return {
        "kind": move.kind, "kept": move.kept, "chain": chain_document(move.after.chain),
        "before": reached_document(move.before), "after": reached_document(move.after), "tone": tone_document(move.tone),
    }  # fmt: skip


def preview_document(preview: Preview) -> Document:
    """Return what the preview file holds."""
    return asdict(preview)
