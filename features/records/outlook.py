"""How loud the mix can go into a limiter."""

from dataclasses import dataclass
from typing import Annotated

from features.records.base import Measurement, Moment, Reading, Span


@dataclass(frozen=True, slots=True)
class DrivePoint:
    """One drive of the reference limiter, and its damage."""

    drive_db: float
    lufs: float
    gain_reduction_p95_db: float
    distortion_nmr_db: float
    pumping_db: float
    hit_loss_db: float
    psr_db: float


# What can stop a limiter, and what its damage is called; the limits are in `features.limiting.sweep`.
DAMAGE = {
    "distortion": Reading("dB", "Noise-to-mask ratio of what the limiter adds.", name="Distortion"),
    "pumping": Reading("dB", "RMS of the slow gain's movement.", name="Pumping", digits=2),
    "hits": Reading("dB", "Punch that the hits lose.", name="Punch lost"),
    "density": Reading("LU/dB", "Loudness gained for each dB of drive.", name="Loudness gained per dB of drive", digits=2),
}


@dataclass(frozen=True, slots=True)
class PeakShare:
    """A band's share of the samples above the ceiling."""

    low_hz: float
    high_hz: float
    share: float


@dataclass(frozen=True, slots=True)
class Outlook(Measurement):
    """How loud a mix can go before limiting is heard.

    The limiter is a plain one.
    """

    clean_lufs: Annotated[
        float | None,
        Reading(
            "LUFS",
            "Highest integrated loudness before any reading of damage trips, gentle setting.",
            name="Clean loudness",
            step=0.3,
            in_history=True,
        ),
    ]
    target_lufs: Annotated[float, Reading("LUFS", "Loudness asked for.")]
    ceiling_dbtp: Annotated[float, Reading("dBTP", "Ceiling of the limiter.")]
    margin_lu: Annotated[float | None, Reading("LU", "clean_lufs minus target_lufs.")]
    reaches_target: Annotated[bool | None, Reading("", "Whether the target is reached cleanly.")]
    stopped_by: Annotated[str, Reading("", "distortion, pumping, hits, density or none.")]
    drive_db: Annotated[float | None, Reading("dB", "Drive at clean_lufs, counted from the peak at the ceiling.")]
    drive_to_target_db: Annotated[float | None, Reading("dB", "Drive that reaches the target; None when out of reach.")]
    curve: Annotated[tuple[DrivePoint, ...], Reading("", "The sweep, gentle setting.")]
    fast_clean_lufs: Annotated[
        float | None, Reading("LUFS", "The same with the fast setting.", name="Clean loudness, fast limiter", step=0.3)
    ]
    fast_stopped_by: Annotated[str, Reading("", "What stops the fast setting.")]
    fast_curve: Annotated[tuple[DrivePoint, ...], Reading("", "The sweep, fast setting.")]
    peak_share: Annotated[
        tuple[PeakShare, ...], Reading("0-1", "What the peaks above the ceiling are made of; below 20 Hz: offset and rumble.")
    ]
    hardest: Annotated[tuple[Moment, ...], Reading("dB", "Where the limiter works hardest at the target; value = gain reduction.")]
    excerpt: Annotated[Span, Reading("s", "The stretch on which damage was read.")]
