"""The song's parts."""

from dataclasses import dataclass
from typing import Annotated

from features.records.base import Measurement, Moment, Reading, Span


@dataclass(frozen=True, slots=True)
class Section:
    """One part of the song."""

    start_s: float
    end_s: float
    loudness_lufs: float | None


@dataclass(frozen=True, slots=True)
class Sections(Measurement):
    """The song's course.

    It has its parts, the densest 30 s, and the step between quiet and loud.
    """

    sections: Annotated[tuple[Section, ...], Reading("LUFS", "Parts found from changes of level and spectrum.")]
    densest: Annotated[Span, Reading("s", "The 30 s with the highest gated loudness.")]
    densest_lufs: Annotated[float | None, Reading("LUFS", "Its loudness.")]
    quiet_to_loud_lu: Annotated[
        float | None,
        Reading(
            "LU",
            "Loudest section minus the quietest full one, intro and ending left out.",
            name="Quietest to loudest part",
            words="quietest to loudest part",
            in_table=True,
            step=0.5,
        ),
    ]
    quietest: Annotated[Span | None, Reading("s", "That quietest section.")]
    even_steps: Annotated[
        tuple[Moment, ...], Reading("dB", "Places at which every band steps by the same amount, as a fader does; negative: softer.")
    ] = ()
