"""Reporting steps: the smallest change of each reading that is worth a word. All of them stand here, and nowhere else.

Each is about what bouncing the same session twice may change (dither, free-running effects), and no finer than its reading is shown.
"""

from dataclasses import dataclass

EXCESS_STEP = 0.25  # tolerances of a finding's own limit


@dataclass(frozen=True, slots=True)
class Step:
    """One reading that two bounces are compared by; ``scale`` turns it into the unit it is shown in."""

    family: str
    field: str
    name: str
    unit: str
    step: float
    digits: int = 1
    scale: float = 1.0
    loudness: bool = False  # a mere fader moves it: at matched loudness it says nothing


STEPS = (
    Step("outlook", "clean_lufs", "clean loudness", "LUFS", 0.3),
    Step("outlook", "fast_clean_lufs", "clean loudness, fast limiter", "LUFS", 0.3),
    Step("level", "integrated_lufs", "loudness", "LUFS", 0.2, loudness=True),
    Step("level", "true_peak_dbtp", "true peak", "dBTP", 0.3, loudness=True),
    Step("level", "plr_db", "peaks over loudness (PLR)", "dB", 0.5),
    Step("level", "psr_densest_db", "peaks over loudness where it is densest (PSR)", "dB", 0.5),
    Step("level", "loudness_range_lu", "loudness range", "LU", 0.5),
    Step("spectrum", "tilt_db_per_octave", "tilt", "dB/octave", 0.1, 2),
    Step("ear", "share_2k_5k", "share of the ear's sensitive band", "%", 0.01, 0, 100.0),
    Step("crest", "stray_height_db", "highest peak over ordinary ones", "dB", 0.7),
    Step("hits", "audible_share_median", "heard of each hit", "%", 0.02, 0, 100.0),
    Step("hits", "buried_share", "hits that are covered", "%", 0.03, 0, 100.0),
    Step("hits", "percussive_share", "share of the energy that strikes", "%", 0.02, 0, 100.0),
    Step("low_end", "sub_share_db", "20-60 Hz against the whole", "dB", 0.5),
    Step("low_end", "bass_share_db", "60-250 Hz against the whole", "dB", 0.5),
    Step("low_end", "kick_lift_db", "lift of the kick", "dB", 0.7),
    Step("low_end", "side_level_db", "sides against middle below 120 Hz", "dB", 1.0),
    Step("low_end", "mono_loss_db", "low end lost in mono", "dB", 0.2),
    Step("stereo", "balance_db", "left against right", "dB", 0.2),
    Step("stereo", "mono_loss_db", "lost in mono", "LU", 0.1),
    Step("stereo", "correlation", "correlation", "", 0.05, 2),
    Step("stereo", "side_share", "share of side signal", "%", 0.02, 0, 100.0),
    Step("pumping", "depth_db", "pumping", "dB", 0.3),
    Step("sections", "quiet_to_loud_lu", "quiet parts to loud parts", "LU", 0.5),
    Step("health", "clipped_runs", "cut tops", "", 1.0, 0),
    Step("health", "click_count", "clicks", "", 1.0, 0),
    Step("health", "inter_sample_overs", "places above 0 dBTP", "", 1.0, 0, loudness=True),
    Step("health", "noise_floor_dbfs", "noise floor", "dBFS", 3.0, 0),
)

BAND_STEP_DB = 0.5  # of a third octave, at matched loudness
COURSE_STEP_LU = 0.7  # of 3 s of the song, at matched loudness


def step_of(family: str, field: str) -> float:
    """Return one reading's reporting step.

    >>> step_of("level", "integrated_lufs")
    0.2
    """
    return next(one.step for one in STEPS if (one.family, one.field) == (family, field))
