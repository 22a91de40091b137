"""Loudness and peaks."""

from dataclasses import dataclass
from typing import Annotated

from features.records.base import Course, Measurement, Moment, Reading


@dataclass(frozen=True, slots=True)
class Level(Measurement):
    """Loudness and peaks (ITU-R BS.1770-5, EBU Tech 3341 and 3342)."""

    integrated_lufs: Annotated[
        float | None,
        Reading(
            "LUFS",
            "Loudness of the whole song; silence and much quieter passages are left out.",
            name="Integrated loudness",
            words="loudness",
            in_table=True,
            step=0.2,
            moved_by_fader=True,
        ),
    ]
    short_term_max_lufs: Annotated[
        float | None, Reading("LUFS", "What a short-term meter shows at most.", name="Loudest 3 s", in_table=True)
    ]
    momentary_max_lufs: Annotated[
        float | None, Reading("LUFS", "What a momentary meter shows at most; stepped at 10 ms.", name="Loudest 400 ms", in_table=True)
    ]
    momentary_max_at_s: Annotated[float | None, Reading("s", "Where the loudest 400 ms starts.")]
    loudness_range_lu: Annotated[
        float | None,
        Reading(
            "LU",
            "From the quieter to the louder passages: P95 - P10 of the gated 3 s loudness.",
            name="Loudness range",
            in_table=True,
            step=0.5,
            in_history=True,
        ),
    ]
    true_peak_dbtp: Annotated[
        float | None,
        Reading(
            "dBTP",
            "Highest inter-sample peak; never below the sample peak.",
            name="True peak",
            in_table=True,
            step=0.3,
            moved_by_fader=True,
        ),
    ]
    true_peak_at_s: Annotated[float | None, Reading("s", "Where the highest true peak is.")]
    sample_peak_dbfs: Annotated[float | None, Reading("dBFS", "Highest sample.", name="Sample peak", in_table=True)]
    plr_db: Annotated[
        float | None,
        Reading(
            "dB",
            "True peak minus integrated loudness.",
            name="Peak over loudness (whole song)",
            words="peak over loudness",
            in_table=True,
            step=0.5,
            in_history=True,
        ),
    ]
    psr_min_db: Annotated[
        float | None,
        Reading(
            "dB",
            "Smallest true peak minus loudness of one 3 s window, quiet parts left out.",
            name="Lowest peak over loudness (3 s)",
            in_table=True,
        ),
    ]
    psr_min_at_s: Annotated[float | None, Reading("s", "Where that window starts.")]
    psr_densest_db: Annotated[
        float | None,
        Reading(
            "dB",
            "Median of true peak minus loudness over the densest section.",
            name="Peak over loudness (3 s) in the densest part",
            words="peak over loudness in the densest part",
            step=0.5,
        ),
    ]
    short_term: Annotated[Course, Reading("LUFS", "Loudness of 3 s windows, stepped at 1 s; values at the windows' centres.")]
    psr: Annotated[Course, Reading("dB", "True peak minus loudness of the same 3 s windows.")]
    peaks_over_full_scale: Annotated[tuple[Moment, ...], Reading("dBTP", "Where the true peak passes 0 dBTP, highest first, at most 20.")]
