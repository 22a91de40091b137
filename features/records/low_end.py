"""The low end, with kick against bass."""

from dataclasses import dataclass
from typing import Annotated

from features.records.base import Course, Measurement, Moment, Reading, Span


@dataclass(frozen=True, slots=True)
class LowEnd(Measurement):
    """Everything below about 250 Hz.

    The kick is held against the bass.
    """

    sub_share_db: Annotated[
        float | None,
        Reading(
            "dB",
            "Energy in 20-60 Hz against the whole.",
            name="Sub",
            words="20-60 Hz against the whole",
            in_table=True,
            step=0.5,
            in_history=True,
        ),
    ]
    bass_share_db: Annotated[
        float | None,
        Reading(
            "dB",
            "Energy in 60-250 Hz against the whole.",
            name="Bass",
            words="60-250 Hz against the whole",
            in_table=True,
            step=0.5,
            in_history=True,
        ),
    ]
    kick_count: Annotated[int, Reading("", "Hits in 30-150 Hz.")]
    kick_times_s: Annotated[tuple[float, ...], Reading("s", "When each of them starts.")]
    kick_lift_db: Annotated[
        float | None,
        Reading(
            "dB",
            "Median rise of 30-150 Hz at the kick over just before it.",
            name="Kick lift",
            words="lift of the kick",
            in_table=True,
            step=0.7,
        ),
    ]
    kick_hz: Annotated[float | None, Reading("Hz", "Strongest frequency of the kick.", name="Kick sits at", digits=0, in_table=True)]
    bass_hz: Annotated[
        float | None, Reading("Hz", "Strongest frequency of the sustained low end.", name="Bass sits at", digits=0, in_table=True)
    ]
    kick_dip_db: Annotated[float | None, Reading("dB", "Dip of the sustained low end after the kick; positive = it ducks.")]
    slot_overlap: Annotated[float | None, Reading("0-1", "Common part of kick and bass: sum of the smaller of both unit spectra.")]
    side_level_db: Annotated[
        float | None,
        Reading(
            "dB",
            "Side against mid below 120 Hz.",
            name="Low-end width",
            words="sides against middle below 120 Hz",
            in_table=True,
            step=1.0,
            in_history=True,
        ),
    ]
    mono_loss_db: Annotated[
        float | None, Reading("dB", "Level lost below 120 Hz when folded to mono.", name="Low end lost in mono", step=0.2)
    ]
    note_spread_db: Annotated[float | None, Reading("dB", "P95 - P10 of the level of the sustained low end from note to note.")]
    level: Annotated[Course, Reading("dB", "Level below 120 Hz, 400 ms windows, stepped at 0.5 s, against the song's own median.")]
    weakest_kicks: Annotated[tuple[Moment, ...], Reading("dB", "Stretches in which the kick lifts least; value = lift. Worst first.")]
    uneven: Annotated[tuple[Moment, ...], Reading("dB", "Stretches in which the low end jumps most; value = jump. Worst first.")]
    widest: Annotated[tuple[Span, ...], Reading("s", "Where the low end is widest.")]
