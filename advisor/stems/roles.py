"""What a stem plays, and in which group.

From its name, and where the name says nothing from its sound.
"""

import re
import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from itertools import pairwise
from typing import Literal, get_args

import numpy as np

from features.mixture.stem_products import Sketch
from features.records.elements import GroupName, Role

GROUP_OF: dict[Role, GroupName] = {
    "kick": "drums", "snare": "drums", "hats": "drums", "percussion": "drums", "drums": "drums", "bass": "bass",
    "vocal": "vocals", "backing vocal": "vocals", "lead": "music", "keys": "music", "guitar": "music", "strings": "music",
    "pad": "music", "synth": "music", "effects": "music", "other": "music",
}  # fmt: skip
ROLES: tuple[Role, ...] = tuple(GROUP_OF)
GROUPS: tuple[GroupName, ...] = get_args(GroupName)
FLOOR_DB, HEARD_DB, ATTACK_DB = 40.0, 25.0, 6.0
RISE_S, PEAK_S, LATER_S, APART_S = 0.025, 0.06, 0.17, 0.06
LEAST_PART = 4  # letters of a word that counts at the start or end of a longer one


@cache
def _known() -> tuple[dict[tuple[str, str], Role], dict[Role, frozenset[str]]]:
    table = tomllib.loads(files("advisor.stems").joinpath("role_words.toml").read_text(encoding="utf-8"))
    by_name = {str(role): role for role in ROLES}
    pairs = {(words.split()[0], words.split()[1]): by_name[role] for words, role in table["pairs"].items()}
    return pairs, {by_name[role]: frozenset(words.split()) for role, words in table["words"].items()}


def words_of(name: str) -> list[str]:
    """Return the words of a file name in lower case.

    Split at separators, numbers and CamelCase, ``808`` and ``303`` kept.

    Examples
    --------
    >>> words_of("03_LeadVox-take2 (dry)")
    ['lead', 'vox', 'take', 'dry']
    """
    spaced = re.sub(r"([a-z])([A-Z])", r"\1 \2", name)
    spaced = re.sub(r"([A-Z]+)([A-Z][a-z])", r"\1 \2", spaced)
    words = re.findall(r"(?<![0-9])(?:808|303)(?![0-9])|[^\W\d_]+", spaced)
    return [word.lower() for word in words]


def role_by_name(name: str) -> Role | None:
    """Return the role that a name states, or None."""
    words = words_of(name)
    pairs, known = _known()
    stated = next((pairs[pair] for pair in pairwise(words) if pair in pairs), None)
    if stated is not None:
        return stated
    for role, its in known.items():
        if its.intersection(words):
            return role
    for role, its in known.items():
        parts = tuple(word for word in its if len(word) >= LEAST_PART)
        if any(word.startswith(parts) or word.endswith(parts) for word in words):
            return role
    return None


@dataclass(frozen=True, slots=True)
class Traits:
    """What a sketch of a sound tells.

    Shares of its energy, and how it strikes.
    """

    below_250_hz: float
    above_2_khz: float
    above_4_khz: float
    attacks_per_s: float
    rise_db: float
    fall_db: float
    plays_share: float


def traits(sketch: Sketch) -> Traits | None:
    """Return the traits of a sound.

    None for silence.

    Levels are taken against the power-weighted mean of the envelope. An attack is a rise of 6 dB within 25 ms to a level less than
    25 dB below that; its fall is how much softer the sound is 0.17 s later (both medians over all attacks).
    """
    power = sketch.band_power
    weight = float(np.sum(sketch.envelope, dtype=np.float64))
    if weight <= 0.0 or float(power.sum()) <= 0.0:
        return None
    top = 10 * np.log10(float(np.sum(sketch.envelope.astype(np.float64) ** 2)) / weight)
    level = np.maximum(10 * np.log10(sketch.envelope.astype(np.float64) + 1e-30), top - FLOOR_DB)
    playing = level > top - FLOOR_DB
    steps = max(round(RISE_S / sketch.step_s), 1)
    rising = np.zeros(level.size, np.bool_)
    rising[steps:] = (level[steps:] - level[:-steps] > ATTACK_DB) & (level[steps:] > top - HEARD_DB)
    starts = np.flatnonzero(rising[1:] & ~rising[:-1]) + 1
    starts = starts[np.insert(np.diff(starts) > round(APART_S / sketch.step_s), 0, values=True)] if starts.size else starts
    near, late = (max(round(time_s / sketch.step_s), 1) for time_s in (PEAK_S, LATER_S))
    peaks = np.array([level[start : start + near].max() for start in starts])
    share = power / power.sum()
    return Traits(
        below_250_hz=float(share[sketch.band_hz < 250].sum()), above_2_khz=float(share[sketch.band_hz > 2000].sum()),
        above_4_khz=float(share[sketch.band_hz > 4000].sum()),
        attacks_per_s=starts.size / max(float(playing.sum()) * sketch.step_s, 1e-9),
        rise_db=float(np.median(peaks - level[np.maximum(starts - steps, 0)])) if starts.size else 0.0,
        fall_db=float(np.median(peaks - level[np.minimum(starts + late, level.size - 1)])) if starts.size else 0.0,
        plays_share=float(playing.mean()),
    )  # fmt: skip


def role_by_sound(sketch: Sketch) -> Role:
    """Return the role that the sound suggests.

    Kick, bass, hats, drums, or other.

    The limits were set by hand on stems of ten songs (no published source); what the name or the user says goes first.
    """
    its = traits(sketch)
    if its is None:
        return "other"
    if its.above_2_khz >= 0.9 and its.fall_db >= 6.0 and its.attacks_per_s >= 1.0:
        return "hats"
    if its.below_250_hz >= 0.85 and its.above_4_khz < 0.015 and its.fall_db >= 7.0 and its.rise_db >= 10.0:
        return "kick"
    kit = its.fall_db >= 8.0 and its.below_250_hz >= 0.3 and its.above_4_khz >= 0.02  # short, low and bright at once
    if its.attacks_per_s >= 1.5 and (kit or its.fall_db >= 15.0):
        return "drums"
    return "bass" if its.below_250_hz >= 0.7 else "other"


def guess(name: str, sketch: Sketch) -> tuple[Role, Literal["name", "sound"]]:
    """Return the role, and what it comes from.

    That is the name or the sound.
    """
    named = role_by_name(name)
    return (role_by_sound(sketch), "sound") if named is None else (named, "name")
