"""The spectrum against its target."""

from dataclasses import dataclass
from typing import Annotated

from features.records.base import Measurement, Reading, Span


@dataclass(frozen=True, slots=True)
class Usual:
    """What reference songs have in one reading.

    It has the reading's name, their median, and the spread of a further song of their kind.
    """

    name: str
    median: float
    spread: float
    songs: int


@dataclass(frozen=True, slots=True)
class Target(Measurement):
    """The spectrum a song is compared with.

    It says how much good songs differ from it, too.
    """

    label: Annotated[str, Reading("", "Where the target comes from, in words for the report.")]
    songs: Annotated[int, Reading("", "Number of reference songs behind it; 0 for the general prior.")]
    third_octave_hz: Annotated[tuple[float, ...], Reading("Hz", "Band centres.")]
    third_octave_db: Annotated[tuple[float, ...], Reading("dB", "Power per Hz relative to its mean over 200 Hz-5 kHz.")]
    spread_db: Annotated[tuple[float, ...], Reading("dB", "Standard deviation between songs, per band.")]
    tilt_db_per_octave: Annotated[float, Reading("dB/oct", "Median slope, 100 Hz-10 kHz.")]
    tilt_spread_db_per_octave: Annotated[float, Reading("dB/oct", "Standard deviation of the slope between songs.")]
    usual: Annotated[
        tuple[Usual, ...], Reading("", "What the references have in their headline readings; empty for the general prior.")
    ] = ()


@dataclass(frozen=True, slots=True)
class Bell:
    """A broad rise or hollow against the target.

    Its gain lies above or below 0; it best explains a stretch of the deviation.
    """

    frequency_hz: float
    gain_db: float
    q: float
    strength: float  # matched-filter output over its spread between songs; about 2 is unusual, 3 rare
    parts_agree: bool | None  # it stands in percussive and sustained, mid and side, dense and quiet alike: the mix's, not one element's
    part: str  # where it stands most: "mix", "percussive", "sustained", "mid" or "side"
    where: tuple[Span, ...]


@dataclass(frozen=True, slots=True)
class Shelf:
    """A shelf or high-pass at one end of the spectrum.

    It best explains how that end differs from finished songs.
    """

    kind: str  # "low_shelf", "high_shelf" or "high_pass"
    frequency_hz: float  # where it takes half of its effect
    lies_db: float  # how far the bands it reaches stand off the target on average; lows from 20 Hz, highs up to 12.5 kHz
    strength: float  # as of a bell, of both parts together; above 0 raised, below 0 lowered


@dataclass(frozen=True, slots=True)
class Balance(Measurement):
    """The spectrum against its target, after level is taken out."""

    third_octave_hz: Annotated[tuple[float, ...], Reading("Hz", "Band centres.")]
    deviation_db: Annotated[tuple[float, ...], Reading("dB", "Song minus target, per band, tilt left in.")]
    unusual: Annotated[tuple[float, ...], Reading("SD", "The same with the tilt's deviation taken out, over the spread between songs.")]
    tilt_deviation_db_per_octave: Annotated[float | None, Reading("dB/oct", "Slope minus the target's slope; positive = brighter.")]
    bells: Annotated[tuple[Bell, ...], Reading("", "Broad rises and hollows, strongest first, at most 6; found by a matched filter.")]
    shelves: Annotated[tuple[Shelf, ...], Reading("", "Ends raised or lowered as by a shelf, strongest first.")] = ()
