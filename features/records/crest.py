"""Peaks and level spread per band."""

from dataclasses import dataclass
from typing import Annotated

from features.records.base import Course, Measurement, Moment, Reading


@dataclass(frozen=True, slots=True)
class Crest(Measurement):
    """Peaks and level spread per octave band.

    The song's peaks and how they are distributed stand here too.
    """

    octave_hz: Annotated[tuple[float, ...], Reading("Hz", "Octave band centres, 31.5 Hz-16 kHz.")]
    crest_db: Annotated[tuple[float | None, ...], Reading("dB", "Peak over RMS per octave band, gated.")]
    spread_db: Annotated[tuple[float | None, ...], Reading("dB", "P95 - P10 of the band's 400 ms level while it plays in the dense parts.")]
    hit_variation_db: Annotated[tuple[float | None, ...], Reading("dB", "Standard deviation of the band's level from hit to hit.")]
    widest_jump: Annotated[tuple[Moment | None, ...], Reading("dB", "Per band: largest jump from 3 s to 3 s in a section.")]
    stray_peaks: Annotated[tuple[Moment, ...], Reading("dB", "Rare peaks; value = height above the ordinary ones. Highest first.")]
    ordinary_peak_dbfs: Annotated[float | None, Reading("dBFS", "Level the song's ordinary hits reach.")]
    stray_height_db: Annotated[
        float | None,
        Reading("dB", "Highest peak minus the ordinary peaks.", name="Highest peak over the ordinary ones", in_table=True, step=0.7),
    ]
    stray_win_db: Annotated[float | None, Reading("dB", "Headroom won by lowering rare peaks that stand apart to the next; 0: none do.")]
    peak_pileup_share: Annotated[
        float | None,
        Reading(
            "0-1",
            "Share of loud 10 ms steps that peak within 0.3 dB of the top.",
            name="Peaks within 0.3 dB of the top",
            digits=2,
            in_table=True,
        ),
    ]
    peak_cluster_share: Annotated[float | None, Reading("0-1", "The same within one 0.6 dB below it, if few peak just beside; else 0.")]
    over_time: Annotated[Course, Reading("dB", "Sample peak over RMS of 3 s windows, stepped at 1 s; values at the windows' centres.")]
