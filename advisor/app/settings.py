"""Settings: what the user said.

Built-in default, then `mixproof.toml` (user's folder, then project's folder), then the command line.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields, replace
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from advisor.app.errors import RequestError
from advisor.app.history_words import shown
from advisor.app.paths import told
from advisor.app.toml_file import read_toml, value_words
from rules.base import Rule, all_rules

FILE_NAME = "mixproof.toml"
LONGEST_NAME = 60
Reader = Callable[[str, object, str], object]  # a value's name, the value, and where it was said


@dataclass(frozen=True, slots=True)
class ChangedLimit:
    """A limit that the user set, and where."""

    rule: str
    limit: str
    default: float
    value: float
    unit: str
    where: str


def _number(low: float, high: float) -> Callable[[str, object, str], float]:
    def read(name: str, value: object, where: str) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise RequestError(f"{name} in {where} must be a number, not {value_words(value)}. Write for example {name} = {low:g}.")
        if not low <= value <= high:
            raise RequestError(f"{name} = {value_words(value)} in {where} is outside {low:g} to {high:g}. Choose a value in that range.")
        return float(value)

    return read


def _switch(name: str, value: object, where: str) -> bool:
    if not isinstance(value, bool):
        raise RequestError(f"{name} in {where} must be true or false, not {value_words(value)}. Write for example {name} = false.")
    return value


def _levels(low: float, high: float, most: int) -> Reader:
    number = _number(low, high)

    def read(name: str, value: object, where: str) -> tuple[object, ...]:
        if not isinstance(value, list) or not 1 <= len(value) <= most:
            raise RequestError(f"{name} in {where} must be a list of 1 to {most} levels, for example [-14.0, -16.0].")
        return tuple(number(name, level, where) for level in value)

    return read


def setting(read: Reader, *, default: Any) -> Any:  # noqa: ANN401 - as `dataclasses.field`
    """Declare a setting.

    With what reads and bounds a value of it, and its default.
    """
    return field(default=default, metadata={"read": read})


@dataclass(frozen=True, slots=True)
class Settings:
    """What the user said.

    On the command line and in `mixproof.toml`.
    """

    target_lufs: float = setting(_number(-30.0, -4.0), default=-13.0)
    ceiling_dbtp: float = setting(_number(-6.0, 0.0), default=-1.0)
    quick: bool = setting(_switch, default=False)
    audition: bool = setting(_switch, default=True)
    render: bool = setting(_switch, default=False)
    single_file: bool = setting(_switch, default=False)
    # What loudness normalisation aims at (AES TD1008).
    streaming_lufs: tuple[float, ...] = setting(_levels(-30.0, -6.0, 6), default=(-14.0, -16.0))
    limits: Mapping[str, object] = field(default_factory=dict)
    disabled: frozenset[str] = frozenset()
    changes: tuple[ChangedLimit, ...] = ()

    def limits_of(self, rule: Rule) -> object:
        """Return the rule's limits with the user's changes."""
        return self.limits.get(rule.id, rule.limits())


READERS: Mapping[str, Reader] = {declared.name: declared.metadata["read"] for declared in fields(Settings) if declared.metadata}


def suggestion(name: str, known: list[str]) -> str:
    """Return a question for the nearest known name.

    ', did you mean ...?'; empty where none is near.
    """
    near = get_close_matches(name[:LONGEST_NAME], known, n=1, cutoff=0.5)
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
    raise RequestError(
        f"There is no rule called '{shown(name, LONGEST_NAME)}'.{suggestion(name, known)} The command `mixproof rules` lists all of them."
    )


def load_settings(folders: list[Path], options: Mapping[str, float | bool | None]) -> Settings:
    """Merge the settings files found with the command line's ``options``.

    Among the files in ``folders``, later ones win.
    """
    settings = Settings()
    for folder in folders:
        path = folder / FILE_NAME
        table = read_toml(path)
        if table is not None:
            settings = _merge(settings, table, told(path))
    for name, value in options.items():
        if value is not None:
            settings = _set(settings, name, value, "the command line")
    return settings


def _merge(settings: Settings, table: dict[str, Any], where: str) -> Settings:
    for name, value in table.items():
        settings = _merge_rules(settings, value, where) if name == "rules" else _set(settings, name, value, where)
    return settings


def _set(settings: Settings, name: str, value: object, where: str) -> Settings:
    read = READERS.get(name)
    if read is None:
        raise RequestError(f"There is no setting called '{shown(name, LONGEST_NAME)}' ({where}).{suggestion(name, [*READERS, 'rules'])}")
    changes: dict[str, Any] = {name: read(name, value, where)}
    return replace(settings, **changes)


def _merge_rules(settings: Settings, table: object, where: str) -> Settings:
    if not isinstance(table, dict):
        raise RequestError(f'Rules in {where} are set by tables: write [rules."mixing/sub_excess"] and the limits below it.')
    for name, changes in table.items():
        if not isinstance(changes, dict):
            short = shown(name, LONGEST_NAME)
            raise RequestError(f'The rule {short} in {where} needs a table: [rules."{short}"] with its limits below it.')
        settings = _change_rule(settings, find_rule(name), changes, where)
    return settings


def _change_rule(settings: Settings, rule: Rule, changes: dict[str, Any], where: str) -> Settings:
    limits: Any = settings.limits_of(rule)
    known = {limit.name: limit for limit in fields(limits)}
    made: list[ChangedLimit] = []
    disabled = settings.disabled
    for name, value in changes.items():
        if name == "enabled":
            disabled = disabled - {rule.id} if _switch(f"{rule.id}.enabled", value, where) else disabled | {rule.id}
            continue
        if name not in known:
            raise RequestError(
                f"The rule {rule.id} has no limit called '{shown(name, LONGEST_NAME)}' ({where}).{suggestion(name, [*known, 'enabled'])}"
            )
        meta = known[name].metadata
        number = _number(meta["low"], meta["high"])(f"{rule.id}.{name}", value, where)
        limits = replace(limits, **{name: number})
        made.append(ChangedLimit(rule.id, name, getattr(rule.limits(), name), number, meta["unit"], where))
    return replace(settings, limits={**settings.limits, rule.id: limits}, disabled=disabled, changes=(*settings.changes, *made))
