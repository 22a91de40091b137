"""stems.toml: what the user says about stems."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from pathlib import Path
from typing import Any, TypeVar

from advisor.app.errors import RequestError
from advisor.app.paths import followed, is_there, told
from advisor.app.toml_file import read_toml, value_words
from advisor.stems.roles import GROUPS, ROLES
from features.records.elements import GroupName, Role

FILE_NAME = "stems.toml"
TABLES = ("roles", "groups")
KEYS = (*TABLES, "leave_out", "bus_gain_db", "earlier", "front", "meant")
MOST_BUS_GAIN_DB = 40.0
Word = TypeVar("Word", bound=str)


@dataclass(frozen=True, slots=True)
class StemSettings:
    """Roles and groups by element.

    Files to leave out; the gain of the mix bus; where an earlier bounce is; what stands in front, in order; what is meant as it is.
    """

    roles: Mapping[str, Role] = field(default_factory=dict)
    groups: Mapping[str, GroupName] = field(default_factory=dict)
    leave_out: frozenset[str] = frozenset()
    bus_gain_db: float | None = None
    earlier: Path | None = None
    front: tuple[str, ...] = ()
    meant: frozenset[str] = frozenset()


def near(name: str, known: list[str]) -> str:
    """Return the sentence that names the nearest known name.

    Or all of them when they are few.
    """
    by_lower = {word.lower(): word for word in known}
    nearest = get_close_matches(name[:100].lower(), by_lower, n=1, cutoff=0.5)
    if nearest:
        return f" Did you mean “{by_lower[nearest[0]]}”?"
    return f" Known are: {', '.join(known)}." if known and len(known) <= 20 else ""


def read_settings(folder: Path, files: Mapping[str, str]) -> StemSettings:
    """Read stems.toml in the folder, where there is one.

    ``files`` gives the element's name for every audio file in the folder; both may be used in the settings.
    """
    path = folder / FILE_NAME
    table = read_toml(path)
    if table is None:
        return StemSettings()
    for key in table:
        if key not in KEYS:
            raise RequestError(f"There is no setting “{told(key)}” for stems ({path}).{near(key, list(KEYS))}")
    return _settings(table, _Names(files, path))


@dataclass(frozen=True, slots=True)
class _Names:
    files: Mapping[str, str]
    path: Path

    def element(self, name: str, setting: str) -> str:
        if name in self.files:
            return self.files[name]
        names = set(self.files.values())
        if name in names:
            return name
        raise RequestError(
            f"{setting} in {self.path} names “{told(name)}”, and no stem is called that.{near(name, sorted({*names, *self.files}))}"
        )


def _settings(table: dict[str, Any], names: _Names) -> StemSettings:
    return StemSettings(
        roles=_chosen(table.get("roles", {}), "roles", ROLES, names),
        groups=_chosen(table.get("groups", {}), "groups", GROUPS, names),
        leave_out=frozenset(_elements(table, "leave_out", names)),
        bus_gain_db=_gain(table.get("bus_gain_db"), names.path),
        earlier=_earlier(table.get("earlier"), names.path),
        front=_elements(table, "front", names),
        meant=frozenset(_elements(table, "meant", names)),
    )


def _elements(table: dict[str, Any], key: str, names: _Names) -> tuple[str, ...]:
    return tuple(names.element(name, key) for name in _list(table.get(key, []), key, names.path))


def _table(table: dict[str, Any], key: str, names: _Names) -> dict[str, Any]:
    value = table.get(key, {})
    if not isinstance(value, dict):
        raise RequestError(f'{key} in {names.path} must be a table: write [{key}] and below it lines such as "inst3" = ...')
    return value


def _chosen(value: object, key: str, known: tuple[Word, ...], names: _Names) -> dict[str, Word]:
    choices: dict[str, Word] = {}
    for name, word in _table({key: value}, key, names).items():
        element = names.element(name, f"[{key}]")
        match = next((candidate for candidate in known if isinstance(word, str) and candidate == word.strip().lower()), None)
        if match is None:
            raise RequestError(
                f"“{told(name)}” in [{key}] of {names.path} is set to {value_words(word)}, which is none of the {key}."
                f"{near(str(word), list(known))}"
            )
        choices[element] = match
    return choices


def _list(value: object, key: str, path: Path) -> list[str]:
    if isinstance(value, list) and all(isinstance(entry, str) for entry in value):
        return value
    raise RequestError(f'{key} in {path} must be a list of file names, for example {key} = ["click.wav"].')


def _gain(value: object, path: Path) -> float | None:
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) <= MOST_BUS_GAIN_DB:
        raise RequestError(f"bus_gain_db in {path} must be a number of dB between -40 and 40, not {value_words(value)}.")
    return float(value)


def _earlier(value: object, path: Path) -> Path | None:
    if value is None:
        return None
    if not isinstance(value, str) or not value.strip():
        raise RequestError(
            f'earlier in {path} must be the path of a folder of stems or of a bounce, for example earlier = "../bounce-3/stems".'
        )
    earlier = followed(Path(value), path.parent)
    if not is_there(earlier):
        raise RequestError(
            f"earlier in {path} names “{told(value)}”, which is not there ({told(earlier)}). Check the path; it is relative to the "
            "folder of the stems."
        )
    return earlier
