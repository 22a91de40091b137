"""The few readings by which two songs are compared.

As a record: none of them depends on how loud a song is played back.
"""

from dataclasses import dataclass
from typing import Annotated

from features.records.base import Measurement, Reading, readings_of


@dataclass(frozen=True, slots=True)
class Headline(Measurement):
    """A song in eight readings that are free of level.

    Songs are compared by them, and by their third-octave curves.
    """

    tilt_db_per_octave: Annotated[
        float | None,
        Reading(
            "dB/oct",
            "Slope of the spectrum, 100 Hz-10 kHz, power per Hz.",
            name="Slope of the spectrum",
            step=0.2,
            more="brighter",
            less="darker",
        ),
    ]
    bass_db: Annotated[
        float | None,
        Reading(
            "dB",
            "Power in 40-160 Hz over the power in 200 Hz-5 kHz.",
            name="Bass against the middle",
            step=0.5,
            more="more bass",
            less="less bass",
        ),
    ]
    ear_share: Annotated[
        float | None,
        Reading(
            "0-1",
            "Share of the ERB-band loudness that lies in 2-5 kHz.",
            name="Share of 2-5 kHz in the loudness",
            step=0.01,
            more="more of 2-5 kHz",
            less="less of 2-5 kHz",
            digits=2,
        ),
    ]
    width_db: Annotated[
        float | None,
        Reading(
            "dB",
            "Side against mid, mean of the third octaves 200 Hz-8 kHz, none below -30.",
            name="Width",
            step=0.5,
            more="wider",
            less="narrower",
        ),
    ]
    low_width_db: Annotated[
        float | None,
        Reading(
            "dB",
            "Side against mid in power below 140 Hz, never below -30.",
            name="Width of the low end",
            step=1.0,
            more="wider in the low end",
            less="narrower in the low end",
        ),
    ]
    psr_db: Annotated[
        float | None,
        Reading(
            "dB",
            "True peak over loudness of 3 s windows, median over the densest 30 s.",
            name="Peak over loudness (3 s)",
            step=0.5,
            more="less squashed",
            less="more squashed",
        ),
    ]
    crest_balance_db: Annotated[
        float | None,
        Reading(
            "dB",
            "Usual peaks over RMS in the octaves 2-8 kHz minus the same in 63-250 Hz, means, densest 30 s.",
            name="Peaks of the highs against those of the lows",
            step=1.0,
            more="more peaked highs",
            less="less peaked highs",
        ),
    ]
    hit_lift_db: Annotated[
        float | None,
        Reading(
            "dB",
            "Median rise of the level at a hit, K-weighted, 30 ms over the 60 ms up to 10 ms before, at most 12; densest 30 s.",
            name="Lift of the hits",
            step=0.5,
            more="hits stand out more",
            less="hits stand out less",
        ),
    ]


@dataclass(frozen=True, slots=True)
class Feature:
    """How a headline reading is told.

    It has name, words, unit, reporting step and directions.
    """

    name: str
    words: str
    unit: str
    step: float  # a smaller difference is not reported
    more: str
    less: str


def _feature(name: str, reading: Reading) -> Feature:
    unit = "%" if reading.unit == "0-1" else reading.unit
    return Feature(name, reading.phrase, unit, reading.step or 0.0, reading.more, reading.less)


FEATURES = tuple(_feature(name, reading) for name, reading in readings_of(Headline).items())
