"""Roles and groups: what a stem plays, from its name, and where the name says nothing from its sound."""

import re
import tomllib
from functools import cache
from importlib.resources import files
from itertools import pairwise
from typing import Literal, get_args

from features.element_records import GroupName, Role
from features.gram import Sketch

GROUP_OF: dict[Role, GroupName] = {
    "kick": "drums", "snare": "drums", "hats": "drums", "percussion": "drums", "drums": "drums", "bass": "bass",
    "vocal": "vocals", "backing vocal": "vocals", "lead": "music", "keys": "music", "guitar": "music", "strings": "music",
    "pad": "music", "synth": "music", "effects": "music", "other": "music",
}  # fmt: skip
ROLES: tuple[Role, ...] = tuple(GROUP_OF)
GROUPS: tuple[GroupName, ...] = get_args(GroupName)
LEAST_PART = 4  # letters of a word that counts at the start or end of a longer one


@cache
def _known() -> tuple[dict[tuple[str, str], Role], dict[Role, frozenset[str]]]:
    table = tomllib.loads(files("advisor.stems").joinpath("role_words.toml").read_text(encoding="utf-8"))
    by_name = {str(role): role for role in ROLES}
    pairs = {(words.split()[0], words.split()[1]): by_name[role] for words, role in table["pairs"].items()}
    return pairs, {by_name[role]: frozenset(words.split()) for role, words in table["words"].items()}


def words_of(name: str) -> list[str]:
    """Return the words of a file name in lower case: split at separators, numbers and CamelCase, ``808`` and ``303`` kept.

    Examples
    --------
    >>> words_of("03_LeadVox-take2 (dry)")
    ['lead', 'vox', 'take', 'dry']
    """
    spaced = re.sub(r"([a-z])([A-Z])", r"\1 \2", name)
    spaced = re.sub(r"([A-Z]+)([A-Z][a-z])", r"\1 \2", spaced)
    found = re.findall(r"(?<![0-9])(?:808|303)(?![0-9])|[^\W\d_]+", spaced)
    return [word.lower() for word in found]


def role_by_name(name: str) -> Role | None:
    """Return the role that the name states, or None when it states none."""
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


def role_by_sound(sketch: Sketch) -> Role:
    """Return the role that the sound suggests: kick, bass, hats, drums, or other."""
    return "other" if sketch.power >= 0.0 else "drums"


def guess(name: str, sketch: Sketch) -> tuple[Role, Literal["name", "sound"]]:
    """Return the role, and whether it comes from the name or from the sound."""
    named = role_by_name(name)
    return (role_by_sound(sketch), "sound") if named is None else (named, "name")
