"""Choosing listening conditions, and reading the user's own.

What `--elsewhere` and `mixproof.toml` say.
"""

from collections.abc import Mapping, Sequence
from difflib import get_close_matches
from itertools import pairwise
from math import inf

from advisor.app.errors import RequestError
from features.elsewhere.conditions import CONDITIONS, FLAT, Condition, Points

CONDITION = "condition"
NONE = "none"
LEVELS_DB = (20.0, 120.0)
GAINS_DB = (-120.0, 40.0)
FREQUENCIES_HZ = (5.0, 40000.0)
DEFAULT_DB = 70.0
KEYS = ("transfer", "noise", "mono", "level", "place")


def known_conditions(own: Sequence[Condition] = ()) -> Mapping[str, Condition]:
    """Return every condition by its key.

    The user's take precedence.
    """
    return {condition.key: condition for condition in (*CONDITIONS, *own)}


def chosen_conditions(value: object, own: Sequence[Condition], where: str) -> tuple[str, ...]:
    """Return the keys that were chosen.

    From ``phone,car`` or a list; ``none`` chooses nothing. An unknown key is refused with the nearest known.
    """
    keys = value.split(",") if isinstance(value, str) else value
    if not isinstance(keys, list) or not all(isinstance(key, str) for key in keys):
        raise RequestError(f'elsewhere in {where} must be a list of listening conditions. Write for example elsewhere = ["phone", "car"].')
    wanted = [key.strip() for key in keys if key.strip()]
    if wanted == [NONE]:
        return ()
    known = known_conditions(own)
    for key in wanted:
        if key not in known:
            near = get_close_matches(key, known, n=1, cutoff=0.5)
            hint = f" Did you mean '{near[0]}'?" if near else ""
            raise RequestError(f"There is no listening condition called '{key}' ({where}).{hint} There are: {', '.join(known)}.")
    return tuple(dict.fromkeys(wanted))


def own_condition(key: str, table: object, where: str) -> Condition:
    """Return a condition of the user's own.

    Its ``transfer`` and ``noise`` are lists of frequency and dB, ``mono`` is true, false, or the frequency below which it is mono.
    """
    name = f"{CONDITION}.{key}"
    if not isinstance(table, dict):
        raise RequestError(f"[{name}] in {where} must be a table: write transfer = [[100, -12], [300, 0]] below it.")
    unknown = [word for word in table if word not in KEYS]
    if unknown:
        raise RequestError(f"{name} in {where} has no value called '{unknown[0]}'. There are: {', '.join(KEYS)}.")
    place = table.get("place", f"in '{key}'")
    if not isinstance(place, str) or not place.strip():
        raise RequestError(f'place of {name} in {where} must be words for a sentence, for example place = "in my van".')
    return Condition(
        key=key,
        name=key,
        place=place.strip(),
        transfer=_points(table["transfer"], f"transfer of {name}", GAINS_DB, where) if "transfer" in table else FLAT,
        level_db=_number(table.get("level", DEFAULT_DB), f"level of {name}", LEVELS_DB, where),
        sources=(),
        noise=_points(table["noise"], f"noise of {name}", LEVELS_DB, where) if "noise" in table else (),
        mono_below_hz=_mono(table.get("mono", False), name, where),
    )


def _mono(value: object, name: str, where: str) -> float:
    if isinstance(value, bool):
        return inf if value else 0.0
    return _number(value, f"mono of {name}", FREQUENCIES_HZ, where)


def _number(value: object, name: str, limits: tuple[float, float], where: str) -> float:
    low, high = limits
    if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
        raise RequestError(f"{name} in {where} must be a number from {low:g} to {high:g}, not {value!r}.")
    return float(value)


def _points(value: object, name: str, limits: tuple[float, float], where: str) -> Points:
    """Return a table of frequency and dB, its frequencies rising."""
    if not isinstance(value, list) or not value or not all(isinstance(pair, list) and len(pair) == 2 for pair in value):
        raise RequestError(f"{name} in {where} must be a list of frequency and dB. Write for example [[100, -12], [300, 0]].")
    points = tuple((_number(hz, name, FREQUENCIES_HZ, where), _number(db, name, limits, where)) for hz, db in value)
    if any(first[0] >= second[0] for first, second in pairwise(points)):
        raise RequestError(f"{name} in {where} must have its frequencies rising. Put the pairs in order, each frequency once.")
    return points
