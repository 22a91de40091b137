"""What every record is made of.

Readings, spans, moments, courses, absences.
Every field is declared with a `Reading`, which carries all that is known of it: the report's table of numbers, the steps that two
bounces are compared by, and `docs/measurements.md` are made from them.
A value that could not be measured is ``None``, and the record's ``absent`` says why; it is never NaN.
All times are seconds from the start of the file.
"""

import importlib
import pkgutil
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from functools import cache
from typing import Annotated, Any, get_type_hints


@dataclass(frozen=True, slots=True)
class Reading:
    """All that is known of a measured field.

    Parameters
    ----------
    unit, meaning
        What it is measured in, and what it says.
    name
        What a reader calls it, as the head of a row; empty where no text names it.
    words
        What it is called inside a sentence, where ``name`` says too little there.
    digits
        Decimals, in its own unit.
    in_table
        Whether the report's table of numbers shows it.
    step
        The smallest change that is worth a word; None where two songs are not compared by it. It is about what bouncing the same
        session twice may change (dither, free-running effects), and no finer than the reading is shown.
    moved_by_fader
        Whether a mere fader moves it: at matched loudness it says nothing.
    in_history
        Whether a project's history tells of its changes from bounce to bounce.
    more, less
        What a song with more, or less, of it than others is called.
    """

    unit: str
    meaning: str
    name: str = field(default="", kw_only=True)
    words: str = field(default="", kw_only=True)
    digits: int = field(default=1, kw_only=True)
    in_table: bool = field(default=False, kw_only=True)
    step: float | None = field(default=None, kw_only=True)
    moved_by_fader: bool = field(default=False, kw_only=True)
    in_history: bool = field(default=False, kw_only=True)
    more: str = field(default="", kw_only=True)
    less: str = field(default="", kw_only=True)

    @property
    def phrase(self) -> str:
        """Return what it is called inside a sentence.

        >>> Reading("dB", "", name="Kick lift", words="lift of the kick").phrase, Reading("dB", "", name="True peak").phrase
        ('lift of the kick', 'true peak')
        """
        return self.words or self.name[:1].lower() + self.name[1:]


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
    """A reading over time.

    ``values[i]`` belongs to ``start_s + i * step_s``; ``None`` where nothing plays.
    """

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
    """A family of readings.

    The base of every record a rule may ask for.
    """

    absent: Annotated[tuple[Absence, ...], Reading("", "Fields that are None, each with the reason.")] = field(default=(), kw_only=True)


@cache
def record_kinds() -> Mapping[str, type[Measurement]]:
    """Return every kind of record under ``features/records``, by its name."""
    from features import records  # noqa: PLC0415 - the package imports nothing of this module at its top

    for info in pkgutil.iter_modules(records.__path__, "features.records."):
        importlib.import_module(info.name)
    return {kind.__name__: kind for kind in Measurement.__subclasses__() if kind.__module__.startswith("features.records.")}


def readings_of(kind: type[Any]) -> Mapping[str, Reading]:
    """Return the readings of a record, in its order."""
    hints = get_type_hints(kind, include_extras=True)
    return {record_field.name: hints[record_field.name].__metadata__[0] for record_field in fields(kind) if record_field.name != "absent"}


def family_name(kind: type[Measurement]) -> str:
    """Return a family's key in report.json: ``low_end`` for `LowEnd`."""
    return re.sub(r"(?<!^)([A-Z])", r"_\1", kind.__name__).lower()
