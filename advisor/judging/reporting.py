"""The readings that two bounces are compared by.

Each beyond its reporting step.
A reading declares its own step, in its record; what is compared but no reading has its step here.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache

from features.records.base import Measurement, Reading, family_name, readings_of, record_kinds
from features.records.headline import Headline

EXCESS_STEP = 0.25  # tolerances of a finding's own limit
BAND_STEP_DB = 0.5  # of a third octave, at matched loudness
COURSE_STEP_LU = 0.7  # of 3 s of the song, at matched loudness

# The order in which a reader is told of the families; any other comes after them.
ORDER = ("outlook", "level", "spectrum", "ear", "hits", "low_end", "stereo", "crest", "pumping", "sections", "health")
# How a change is told where the unit of the record does not serve: unit in words, scale, more digits.
TOLD_IN = {"0-1": ("%", 100.0, -2), "-1..1": ("", 1.0, 0), "dB/oct": ("dB/octave", 1.0, 1)}


@dataclass(frozen=True, slots=True)
class ComparedReading:
    """A reading that two bounces are compared by."""

    kind: type[Measurement]
    field: str
    reading: Reading

    @property
    def family(self) -> str:
        """Return the family's name in reports."""
        return family_name(self.kind)

    @property
    def step(self) -> float:
        """Return the smallest change that counts, in the record's unit."""
        return self.reading.step or 0.0

    @property
    def unit(self) -> str:
        """Return the unit that a change is told in."""
        return TOLD_IN.get(self.reading.unit, (self.reading.unit,))[0]

    @property
    def scale(self) -> float:
        """Return what turns the record's number into that unit."""
        return TOLD_IN[self.reading.unit][1] if self.reading.unit in TOLD_IN else 1.0

    @property
    def digits(self) -> int:
        """Return the decimals of a number in that unit."""
        return self.reading.digits + (TOLD_IN[self.reading.unit][2] if self.reading.unit in TOLD_IN else 0)

    def change_words(self, before: float, after: float) -> str:
        """Return a change in words.

        Shares before and after, anything else as a difference.
        """
        if self.reading.unit == "0-1":
            return f"{self.reading.phrase} {before:.0%} to {after:.0%}"
        unit = "LU" if self.unit == "LUFS" else self.unit
        return f"{self.reading.phrase} {after - before:+.{self.reading.digits}f} {unit}"


def in_order(kinds: Iterable[type[Measurement]]) -> list[type[Measurement]]:
    """Return families in the order of the texts."""
    places = {family: place for place, family in enumerate(ORDER)}
    return sorted(kinds, key=lambda kind: (places.get(family_name(kind), len(ORDER)), family_name(kind)))


def compared_reading(kind: type[Measurement], name: str) -> ComparedReading:
    """Return one reading as two bounces are compared by it."""
    return ComparedReading(kind, name, readings_of(kind)[name])


def compared_readings(kinds: Iterable[type[Measurement]]) -> tuple[ComparedReading, ...]:
    """Return the readings that compare two bounces.

    Those of these families, each with its step.
    A `Headline` is left out: songs are held against references by it, and other families say the same of a bounce.
    """
    return tuple(
        compared_reading(kind, name)
        for kind in in_order(kinds)
        for name, reading in readings_of(kind).items()
        if reading.step is not None and kind is not Headline
    )


@cache
def all_compared_readings() -> tuple[ComparedReading, ...]:
    """Return every reading that two bounces are compared by."""
    return compared_readings(record_kinds().values())
