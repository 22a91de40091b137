"""Settings: what the user said.

Built-in default, then `mixproof.toml` (user's folder, then project's folder), then the command line.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from advisor.app.errors import RequestError
from rules.base import Rule, all_rules

FILE_NAME = "mixproof.toml"
RANGES = {"target_lufs": (-30.0, -4.0), "ceiling_dbtp": (-6.0, 0.0)}
SWITCHES = ("quick", "audition", "render", "single_file")
STREAMING_RANGE = (-30.0, -6.0)
MOST_STREAMING = 6


@dataclass(frozen=True, slots=True)
class ChangedLimit:
    """A limit that the user set, and where."""

    rule: str
    limit: str
    default: float
    value: float
    unit: str
    where: str


@dataclass(frozen=True, slots=True)
class Settings:
    """What the user said.

    On the command line and in `mixproof.toml`.
    """

    target_lufs: float = -13.0
    ceiling_dbtp: float = -1.0
    quick: bool = False
    audition: bool = True
    render: bool = False
    single_file: bool = False
    streaming_lufs: tuple[float, ...] = (-14.0, -16.0)  # what loudness normalisation aims at (AES TD1008)
    limits: Mapping[str, object] = field(default_factory=dict)
    disabled: frozenset[str] = frozenset()
    changes: tuple[ChangedLimit, ...] = ()

    def limits_of(self, rule: Rule) -> object:
        """Return the rule's limits with the user's changes."""
        return self.limits.get(rule.id, rule.limits())


def suggestion(name: str, known: list[str]) -> str:
    """Return a question for the nearest known name.

    ', did you mean ...?'; empty where none is near.
    """
    near = get_close_matches(name, known, n=1, cutoff=0.5)
    return f" Did you mean '{near[0]}'?" if near else ""


def find_rule(name: str) -> Rule:
    """Return the rule called ``name``, or raise.

    With or without its stage; the error says the nearest name.
    """
    by_id = {rule.id: rule for rule in all_rules()}
    if name in by_id:
        return by_id[name]
    short = [rule for rule in by_id.values() if rule.id.split("/")[1] == name]
    if len(short) == 1:
        return short[0]
    known = [*by_id, *(rule_id.split("/")[1] for rule_id in by_id)]
    raise RequestError(f"There is no rule called '{name}'.{suggestion(name, known)} The command `mixproof rules` lists all of them.")


def load_settings(folders: list[Path], options: Mapping[str, float | bool | None]) -> Settings:
    """Merge the settings files found with the command line's ``options``.

    Among the files in ``folders``, later ones win.
    """
    settings = Settings()
    for folder in folders:
        path = folder / FILE_NAME
        if path.is_file():
            settings = _merge(settings, _read(path), str(path))
    for name, value in options.items():
        if value is not None:
            settings = _set(settings, name, value, "the command line")
    return settings


def _read(path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise RequestError(f"The settings file {path} cannot be read ({error}). Mend that line, or move the file away.") from error


def _merge(settings: Settings, table: dict[str, Any], where: str) -> Settings:
    for name, value in table.items():
        settings = _merge_rules(settings, value, where) if name == "rules" else _set(settings, name, value, where)
    return settings


def _number(name: str, value: object, low: float, high: float, where: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise RequestError(f"{name} in {where} must be a number, not {value!r}. Write for example {name} = {low:g}.")
    if not low <= value <= high:
        raise RequestError(f"{name} = {value:g} in {where} is outside {low:g} to {high:g}. Choose a value in that range.")
    return float(value)


def _switched(settings: Settings, name: str, *, on: bool) -> Settings:
    if name == "quick":
        return replace(settings, quick=on)
    if name == "single_file":
        return replace(settings, single_file=on)
    return replace(settings, audition=on) if name == "audition" else replace(settings, render=on)


def _levels(value: object, where: str) -> tuple[float, ...]:
    if not isinstance(value, list) or not 1 <= len(value) <= MOST_STREAMING:
        raise RequestError(f"streaming_lufs in {where} must be a list of 1 to {MOST_STREAMING} levels, for example [-14.0, -16.0].")
    return tuple(_number("streaming_lufs", level, *STREAMING_RANGE, where) for level in value)


def _set(settings: Settings, name: str, value: object, where: str) -> Settings:
    if name in SWITCHES:
        if not isinstance(value, bool):
            raise RequestError(f"{name} in {where} must be true or false, not {value!r}. Write for example {name} = false.")
        return _switched(settings, name, on=value)
    if name == "streaming_lufs":
        return replace(settings, streaming_lufs=_levels(value, where))
    if name not in RANGES:
        raise RequestError(
            f"There is no setting called '{name}' ({where}).{suggestion(name, [*RANGES, *SWITCHES, 'streaming_lufs', 'rules'])}"
        )
    low, high = RANGES[name]
    number = _number(name, value, low, high, where)
    return replace(settings, target_lufs=number) if name == "target_lufs" else replace(settings, ceiling_dbtp=number)


def _merge_rules(settings: Settings, table: object, where: str) -> Settings:
    if not isinstance(table, dict):
        raise RequestError(f'Rules in {where} are set by tables: write [rules."mixing/sub_excess"] and the limits below it.')
    for name, changes in table.items():
        if not isinstance(changes, dict):
            raise RequestError(f'The rule {name} in {where} needs a table: [rules."{name}"] with its limits below it.')
        settings = _change_rule(settings, find_rule(name), changes, where)
    return settings


def _change_rule(settings: Settings, rule: Rule, changes: dict[str, Any], where: str) -> Settings:
    limits: Any = settings.limits_of(rule)
    known = {limit.name: limit for limit in fields(limits)}
    made: list[ChangedLimit] = []
    disabled = settings.disabled
    for name, value in changes.items():
        if name == "enabled":
            disabled = disabled - {rule.id} if value else disabled | {rule.id}
            continue
        if name not in known:
            raise RequestError(f"The rule {rule.id} has no limit called '{name}' ({where}).{suggestion(name, [*known, 'enabled'])}")
        meta = known[name].metadata
        number = _number(f"{rule.id}.{name}", value, meta["low"], meta["high"], where)
        limits = replace(limits, **{name: number})
        made.append(ChangedLimit(rule.id, name, getattr(rule.limits(), name), number, meta["unit"], where))
    return replace(settings, limits={**settings.limits, rule.id: limits}, disabled=disabled, changes=(*settings.changes, *made))
