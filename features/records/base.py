"""What every record is made of: readings, spans, moments, courses, absences.

Every field is declared with a `Reading`, which carries its unit and meaning: `docs/measurements.md` is made from them.
A value that could not be measured is ``None``, and the record's ``absent`` says why; it is never NaN.
All times are seconds from the start of the file.
"""

import importlib
import pkgutil
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Annotated


@dataclass(frozen=True, slots=True)
class Reading:
    """Unit and meaning of a measured field."""

    unit: str
    meaning: str


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of the song."""

    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class Moment:
    """A stretch of the song and the reading there."""

    start_s: float
    end_s: float
    value: float


@dataclass(frozen=True, slots=True)
class Course:
    """A reading over time: ``values[i]`` belongs to ``start_s + i * step_s``; ``None`` where nothing plays."""

    unit: str
    start_s: float
    step_s: float
    values: tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class Absence:
    """Why a field is ``None``."""

    field: str
    reason: str


@dataclass(frozen=True, slots=True)
class Measurement:
    """A family of readings; the base of every record a rule may ask for."""

    absent: Annotated[tuple[Absence, ...], Reading("", "Fields that are None, each with the reason.")] = field(default=(), kw_only=True)


@cache
def record_kinds() -> Mapping[str, type[Measurement]]:
    """Return every kind of record under ``features/records``, by its name."""
    from features import records  # noqa: PLC0415 - the package imports nothing of this module at its top

    for info in pkgutil.iter_modules(records.__path__, "features.records."):
        importlib.import_module(info.name)
    return {kind.__name__: kind for kind in Measurement.__subclasses__() if kind.__module__.startswith("features.records.")}
