"""Records of an ordinary, healthy master of the ordinary song of `tests.records`: 4 LU louder, a little limiting, the tone left alone."""

from typing import Any

from features.records.mastering import Coded, Mastered, Normalised, Release
from tests import records


def mastered(**changed: Any) -> Mastered:  # noqa: ANN401 - any field
    """Return what mastering did to the song, some of it changed."""
    bands = len(records.BANDS_HZ)
    fields: dict[str, Any] = {
        "shared_s": records.DURATION_S, "offset_s": 0.0, "explained_share": 0.99, "mix_lufs": -17.0, "master_lufs": -13.0,
        "louder_lu": 4.0, "won_lu": 3.0, "raise_db": 4.3, "drive_db": 3.3, "gain_reduction_p95_db": 2.0, "pumping_db": 0.4,
        "distortion_nmr_db": -15.0, "hit_loss_db": 0.8, "hits_lost_share": 0.03, "hits_heard_before": 0.8, "hits_heard_after": 0.78,
        "worst_hits": (), "hardest": (), "band_hz": records.BANDS_HZ, "band_change_db": (0.0,) * bands, "equaliser_db": (0.0,) * bands,
        "tilt_change_db_per_octave": 0.02, "bright_change_db": 0.1, "ear_share_change": 0.002, "tone_changes": (),
        "width_change_db": 0.2, "low_width_change_db": 0.0, "mono_loss_change_db": 0.1, "clipped_runs_added": 0,
        "head_cut_s": 0.0, "tail_cut_s": 0.0, "fade_in_s": 0.0, "fade_out_s": 0.0,
    }  # fmt: skip
    return Mastered(**{**fields, **changed})


def release(**changed: Any) -> Release:  # noqa: ANN401 - any field
    """Return what release makes of the ordinary song, some of it changed."""
    fields: dict[str, Any] = {
        "ceiling_dbtp": -1.0,
        "coded": (Coded("Vorbis", 117.0, -0.4, 0.6, 0), Coded("MP3", 128.0, -0.6, 0.4, 0)),
        "coded_of_s": records.DURATION_S,
        "safe_ceiling_dbtp": -0.6,
        "normalised": (Normalised(-14.0, -1.0, -2.0, -14.0, 9.0), Normalised(-16.0, -3.0, -4.0, -16.0, 9.0)),
    }
    return Release(**{**fields, **changed})
