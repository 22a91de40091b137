"""The ear's most sensitive band."""

from dataclasses import dataclass
from typing import Annotated

from features.records.base import Course, Measurement, Moment, Reading


@dataclass(frozen=True, slots=True)
class Ear(Measurement):
    """Loudness in the ear's most sensitive band.

    It is 2-5 kHz; the readings are shares of what is heard (ISO 226 weighted ERB loudness).
    """

    share_2k_5k: Annotated[
        float | None,
        Reading(
            "0-1",
            "Share of the ERB-band loudness that lies in 2-5 kHz.",
            name="Ear-sensitive band",
            words="share of the ear's sensitive band",
            digits=2,
            in_table=True,
            step=0.01,
            in_history=True,
        ),
    ]
    erb_hz: Annotated[tuple[float, ...], Reading("Hz", "Centres of the ERB bands.")]
    erb_loudness_share: Annotated[tuple[float, ...], Reading("0-1", "Share of loudness per ERB band; sums to 1.")]
    share: Annotated[Course, Reading("0-1", "Share of 2-5 kHz over time, stepped at 0.5 s.")]
    harsh_moments: Annotated[tuple[Moment, ...], Reading("0-1", "Loud stretches clearly above the song's own median, worst first.")]
