"""Left against right."""

from dataclasses import dataclass
from typing import Annotated

from features.records.base import Course, Measurement, Moment, Reading, Span


@dataclass(frozen=True, slots=True)
class Stereo(Measurement):
    """Left against right.

    Its readings are correlation, what mono loses, width, and faults of polarity or timing.
    """

    correlation: Annotated[
        float | None,
        Reading(
            "-1..1",
            "Correlation of left and right; None for mono or a silent channel.",
            name="Correlation",
            digits=2,
            in_table=True,
            step=0.05,
        ),
    ]
    mono_loss_db: Annotated[
        float | None,
        Reading("LU", "Loudness in stereo minus that of the mono fold-down.", name="Level lost in mono", in_table=True, step=0.1),
    ]
    balance_db: Annotated[
        float | None,
        Reading(
            "dB",
            "Left minus right, K-weighted loudness; positive = left is louder.",
            name="Left-right balance",
            in_table=True,
            step=0.2,
            in_history=True,
        ),
    ]
    side_share: Annotated[
        float | None, Reading("0-1", "Share of the energy that is side signal.", name="Share of side signal", digits=2, step=0.02)
    ]
    band_hz: Annotated[tuple[float, ...], Reading("Hz", "Third-octave band centres.")]
    band_correlation: Annotated[tuple[float | None, ...], Reading("-1..1", "Correlation per band.")]
    band_mono_loss_db: Annotated[tuple[float | None, ...], Reading("dB", "Fold-down loss per band.")]
    band_side_db: Annotated[tuple[float | None, ...], Reading("dB", "Side against mid per band.")]
    band_energy_share: Annotated[tuple[float, ...], Reading("0-1", "Share of the song's energy per band.")]
    band_negative_share: Annotated[tuple[float | None, ...], Reading("0-1", "Share of the band's active time with negative correlation.")]
    band_worst: Annotated[tuple[Span | None, ...], Reading("s", "Per band: the 5 s in which correlation is lowest.")]
    polarity_inverted: Annotated[bool, Reading("", "One channel has inverted polarity: correlation below -0.8 for most of the song.")]
    delay_ms: Annotated[float | None, Reading("ms", "Fixed delay between channels; positive = right is late; else None.")]
    correlation_over_time: Annotated[Course, Reading("-1..1", "Correlation of 3 s windows, stepped at 1 s.")]
    balance_over_time: Annotated[Course, Reading("dB", "Left minus right of 3 s windows, stepped at 1 s.")]
    worst: Annotated[tuple[Moment, ...], Reading("dB", "Stretches that lose most in mono; value = loss. Worst first.")]
    band_mirrored_share: Annotated[
        tuple[float, ...], Reading("0-1", "Share of the band's energy in which one channel mirrors the other: correlation below -0.65.")
    ] = ()
