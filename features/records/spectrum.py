"""The long-term spectrum."""

from dataclasses import dataclass
from typing import Annotated

from features.records.base import Course, Measurement, Reading, Span


@dataclass(frozen=True, slots=True)
class Resonance:
    """A narrow peak that is there much of the time.

    It stands in the long-term spectrum.
    """

    frequency_hz: float
    prominence_db: float
    present_share: float
    q: float
    where: tuple[Span, ...]


@dataclass(frozen=True, slots=True)
class Spectrum(Measurement):
    """Long-term spectral balance in third-octave bands.

    Power per Hz: pink noise falls 3.0 dB per octave.
    """

    third_octave_hz: Annotated[tuple[float, ...], Reading("Hz", "Exact band centres (IEC 61260-1), 20 Hz up to what the rate allows.")]
    third_octave_db: Annotated[tuple[float, ...], Reading("dB", "Power per Hz, gated, relative to its mean over 200 Hz-5 kHz.")]
    mid_db: Annotated[tuple[float, ...], Reading("dB", "The same for the mid signal, same reference as third_octave_db.")]
    side_db: Annotated[tuple[float, ...] | None, Reading("dB", "The same for the side signal; None for mono.")]
    percussive_db: Annotated[tuple[float, ...] | None, Reading("dB", "Curve of the percussive part alone, relative to its own mean.")]
    sustained_db: Annotated[tuple[float, ...] | None, Reading("dB", "Curve of the sustained part alone, relative to its own mean.")]
    dense_db: Annotated[tuple[float, ...] | None, Reading("dB", "Curve of the louder half of the song, relative to its own mean.")]
    quiet_db: Annotated[tuple[float, ...] | None, Reading("dB", "Curve of the quieter half, relative to its own mean.")]
    band_loudest: Annotated[tuple[Span, ...], Reading("s", "Per band: the 5 s in which it stands highest against the rest.")]
    tilt_db_per_octave: Annotated[
        float | None,
        Reading(
            "dB/oct",
            "Straight-line slope over log frequency, 100 Hz-10 kHz, power per Hz.",
            name="Tilt",
            in_table=True,
            step=0.1,
            in_history=True,
        ),
    ]
    tilt: Annotated[Course, Reading("dB/oct", "The same slope over time, stepped at 1 s.")]
    resonances: Annotated[tuple[Resonance, ...], Reading("", "Narrow peaks present for more than 30 % of the time, strongest first.")]
    level_db: Annotated[float | None, Reading("dBFS/Hz", "The mean over 200 Hz-5 kHz that the curves are relative to.")]
