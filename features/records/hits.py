"""Drum hits, how much of each is audible, and pumping."""

from dataclasses import dataclass
from typing import Annotated

from features.records.base import Measurement, Moment, Reading, Span


@dataclass(frozen=True, slots=True)
class Pumping(Measurement):
    """What sustains, ducking after each kick.

    It is a compressor or limiter that breathes, or a sidechain that is meant.
    """

    depth_db: Annotated[
        float | None, Reading("dB", "Median dip of sustained sounds above 250 Hz, after the kick.", name="Pumping", step=0.3)
    ]
    recovery_ms: Annotated[float | None, Reading("ms", "Time until that dip is half recovered.")]
    share_of_kicks: Annotated[float | None, Reading("0-1", "Share of the kicks followed by a dip of more than 1 dB.")]
    rise_db: Annotated[float | None, Reading("dB", "How far sustained sounds rise from 50 to 250 ms after the kick, between strokes.")]
    where: Annotated[tuple[Span, ...], Reading("s", "Where it dips most.")]


@dataclass(frozen=True, slots=True)
class Pulses(Measurement):
    """A gain with a period of its own.

    It moves the whole sound, whatever the hits do.
    """

    period_s: Annotated[float | None, Reading("s", "Time from pulse to pulse; None where no pulse stands out.")]
    swing_db: Annotated[float | None, Reading("dB", "How far the level swings with it, lowest to highest.")]
    alike: Annotated[float | None, Reading("0-1", "How far all octaves from 250 Hz up move together; 1 = all by the same, at once.")]
    steady: Annotated[float | None, Reading("0-1", "How far it keeps its height and phase through the song; 1 = throughout.")]
    stands_out: Annotated[float | None, Reading("", "How many times its line stands above the movement at nearby periods.")]


@dataclass(frozen=True, slots=True)
class HitBand:
    """Hits heard within one frequency band."""

    low_hz: float
    high_hz: float
    count: int
    audible_share_median: float | None
    buried_share: float | None
    lift_db_median: float | None


@dataclass(frozen=True, slots=True)
class Hits(Measurement):
    """Drum hits and other attacks, and what stays audible.

    A hit is audible as far as it stands out of what sustains.
    """

    count: Annotated[int, Reading("", "Drum strokes and other attacks found.", name="Hits", digits=0, in_table=True)]
    audible_share_median: Annotated[
        float | None,
        Reading(
            "0-1",
            "Median over the hits of the share that stays audible.",
            name="Audible share of each drum hit",
            digits=2,
            in_table=True,
            step=0.02,
            in_history=True,
        ),
    ]
    buried_share: Annotated[
        float | None,
        Reading(
            "0-1",
            "Share of the hits of which less than half stays audible.",
            name="Masked drum hits",
            words="drum hits that are masked",
            digits=2,
            in_table=True,
            step=0.03,
        ),
    ]
    times_s: Annotated[tuple[float, ...], Reading("s", "When each hit starts.")]
    audible_share: Annotated[tuple[float, ...], Reading("0-1", "Audible share of each hit.")]
    bands: Annotated[tuple[HitBand, ...], Reading("", "The same by band: 30-120, 120-400, 400-2k, 2k-6k and 6k-16k Hz.")]
    masking_band_hz: Annotated[tuple[float, float] | None, Reading("Hz", "Band in which sustained sound masks most of the hits.")]
    masking_band_share: Annotated[float | None, Reading("0-1", "Share of all that is buried which lies in that band.")]
    worst: Annotated[tuple[Moment, ...], Reading("0-1", "Stretches in which least of the hits is heard; value = audible share.")]
    percussive_share: Annotated[
        float | None,
        Reading(
            "0-1",
            "Share of the song's energy that separation calls percussive.",
            name="Percussive share of the energy",
            digits=2,
            step=0.02,
        ),
    ]
    tempo_bpm: Annotated[
        float | None, Reading("BPM", "Beats a minute; None where no steady beat is found.", name="Tempo", digits=0, in_table=True)
    ]
