"""The few readings by which two songs are compared, as a record: none of them depends on how loud a song is played back."""

from dataclasses import dataclass
from typing import Annotated

from features.records.base import Measurement, Reading


@dataclass(frozen=True, slots=True)
class Headline(Measurement):
    """A song in eight readings that are free of level; songs are compared by them, and by their third-octave curves."""

    tilt_db_per_octave: Annotated[float | None, Reading("dB/oct", "Slope of the spectrum, 100 Hz-10 kHz, power per Hz.")]
    bass_db: Annotated[float | None, Reading("dB", "Power in 40-160 Hz over the power in 200 Hz-5 kHz.")]
    ear_share: Annotated[float | None, Reading("0-1", "Share of the ERB-band loudness that lies in 2-5 kHz.")]
    width_db: Annotated[float | None, Reading("dB", "Side against mid, mean of the third octaves 200 Hz-8 kHz, none below -30.")]
    low_width_db: Annotated[float | None, Reading("dB", "Side against mid in power below 140 Hz, never below -30.")]
    psr_db: Annotated[float | None, Reading("dB", "True peak over loudness of 3 s windows, median over the densest 30 s.")]
    crest_balance_db: Annotated[
        float | None, Reading("dB", "Usual peaks over RMS in the octaves 2-8 kHz minus the same in 63-250 Hz, means, densest 30 s.")
    ]
    hit_lift_db: Annotated[
        float | None,
        Reading("dB", "Median rise of the level at a hit, K-weighted, 30 ms over the 60 ms up to 10 ms before, at most 12; densest 30 s."),
    ]


@dataclass(frozen=True, slots=True)
class Feature:
    """How one of those readings is told: its name in the record, in words, its unit, what it rises towards, and its reporting step."""

    name: str
    words: str
    unit: str
    step: float  # a smaller difference is not reported
    more: str
    less: str


FEATURES = (
    Feature("tilt_db_per_octave", "slope of the spectrum", "dB/oct", 0.2, "brighter", "darker"),
    Feature("bass_db", "bass against the middle", "dB", 0.5, "more bass", "less bass"),
    Feature("ear_share", "share of 2-5 kHz in what is heard", "%", 0.01, "more of 2-5 kHz", "less of 2-5 kHz"),
    Feature("width_db", "width", "dB", 0.5, "wider", "narrower"),
    Feature("low_width_db", "width of the low end", "dB", 1.0, "wider in the low end", "narrower in the low end"),
    Feature("psr_db", "peaks over loudness", "dB", 0.5, "less squashed", "more squashed"),
    Feature("crest_balance_db", "peaks of the highs against those of the lows", "dB", 1.0, "more peaked highs", "less peaked highs"),
    Feature("hit_lift_db", "lift of the hits", "dB", 0.5, "hits stand out more", "hits stand out less"),
)
