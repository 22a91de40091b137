"""Records of one ordinary, healthy song, for testing rules: change only the reading a test is about.

The song: 200 s, stereo, 24 bits, 120 BPM, kick on every beat of its louder parts; every reading lies where released
songs usually lie, and no rule should find anything in it. ``level(integrated_lufs=-9.0)`` is that song, louder.
"""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any, TypeVar

from features.measurements import (
    Balance,
    Course,
    Crest,
    DrivePoint,
    Ear,
    File,
    Health,
    HitBand,
    Hits,
    Level,
    LowEnd,
    Measurement,
    Moment,
    Outlook,
    PeakShare,
    Pumping,
    Section,
    Sections,
    Span,
    Spectrum,
    Stereo,
    Target,
)

RecordT = TypeVar("RecordT", bound=Measurement)

DURATION_S = 200.0
BANDS_HZ = tuple(1000.0 * 10.0 ** (step / 10.0) for step in range(-17, 14))
OCTAVES_HZ = (31.5, 63.0, 125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0, 16000.0)
CURVE_DB = (
    21.0, 22.0, 23.0, 23.5, 23.0, 22.0, 20.0, 17.5, 15.0, 12.5, 10.5, 9.0, 7.5, 6.0, 4.5, 3.0,
    1.5, 0.0, -1.5, -3.0, -4.5, -6.0, -7.5, -9.0, -11.0, -13.0, -15.0, -17.5, -20.5, -25.0, -33.0,
)  # fmt: skip
SPREAD_DB = (
    10.0, 9.0, 8.0, 7.0, 6.5, 6.0, 5.5, 5.0, 5.0, 4.5, 4.0, 3.5, 3.0, 3.0, 3.0, 2.5,
    2.5, 2.5, 2.5, 3.0, 3.0, 3.0, 3.5, 4.0, 4.5, 5.0, 5.5, 6.0, 7.0, 8.0, 9.0,
)  # fmt: skip
WORST = (Span(60.0, 65.0),) * len(BANDS_HZ)
CHORUS = Span(120.0, 150.0)


def changed(record: RecordT, changes: Mapping[str, Any]) -> RecordT:
    """Return the record with some fields replaced; an unknown field is an error."""
    return replace(record, **changes)


def course(unit: str, value: float, step_s: float = 1.0) -> Course:
    """Return a reading that stays the same for the whole song."""
    return Course(unit, 0.5, step_s, (value,) * int(DURATION_S / step_s))


def file(**changes: object) -> File:
    """Return what a 24-bit stereo file says of itself."""
    return changed(File("song.wav", "0" * 64, DURATION_S, 44100, 2, "PCM_24", bits=24, lossy=False), changes)


def level(**changes: object) -> Level:
    """Return the loudness and peaks of a mix that is not limited."""
    ordinary = Level(
        integrated_lufs=-18.0, momentary_max_lufs=-13.5, momentary_max_at_s=130.0, short_term_max_lufs=-15.5, loudness_range_lu=7.0,
        true_peak_dbtp=-4.0, true_peak_at_s=131.0, sample_peak_dbfs=-4.3, plr_db=14.0, psr_min_db=10.5, psr_min_at_s=128.0,
        psr_densest_db=11.5, short_term=course("LUFS", -17.5), psr=course("dB", 12.0), peaks_over_full_scale=(),
    )  # fmt: skip
    return changed(ordinary, changes)


def spectrum(**changes: object) -> Spectrum:
    """Return a spectrum that lies on its target, without resonances."""
    ordinary = Spectrum(
        third_octave_hz=BANDS_HZ, third_octave_db=CURVE_DB, mid_db=tuple(each - 0.5 for each in CURVE_DB),
        side_db=tuple(each - 12.0 for each in CURVE_DB), percussive_db=CURVE_DB, sustained_db=CURVE_DB, dense_db=CURVE_DB,
        quiet_db=CURVE_DB, band_loudest=WORST, tilt_db_per_octave=-5.0, tilt=course("dB/oct", -5.0), resonances=(), level_db=-58.0,
    )  # fmt: skip
    return changed(ordinary, changes)


def target(**changes: object) -> Target:
    """Return a target made of eight reference songs."""
    ordinary = Target("your 8 references", 8, BANDS_HZ, CURVE_DB, SPREAD_DB, tilt_db_per_octave=-5.0, tilt_spread_db_per_octave=0.8)
    return changed(ordinary, changes)


def balance(**changes: object) -> Balance:
    """Return a balance that lies on its target."""
    flat = (0.0,) * len(BANDS_HZ)
    return changed(Balance(BANDS_HZ, flat, flat, tilt_deviation_db_per_octave=0.0, bells=()), changes)


def ear(**changes: object) -> Ear:
    """Return an ordinary share of the ear's sensitive band."""
    erb_hz = tuple(100.0 * 1.2**step for step in range(28))
    return changed(Ear(0.27, erb_hz, (1.0 / 28.0,) * 28, course("0-1", 0.27, 0.5), harsh_moments=()), changes)


def crest(**changes: object) -> Crest:
    """Return peaks and level spread that need no dynamics control."""
    ordinary = Crest(
        octave_hz=OCTAVES_HZ, crest_db=(13.0, 13.0, 14.0, 15.0, 15.5, 16.0, 17.0, 18.0, 19.0, 20.0), spread_db=(5.0,) * 10,
        hit_variation_db=(2.0,) * 10, widest_jump=(Moment(100.0, 106.0, 2.0),) * 10, stray_peaks=(), ordinary_peak_dbfs=-5.0,
        stray_height_db=0.7, peak_pileup_share=0.01, over_time=course("dB", 14.0),
    )  # fmt: skip
    return changed(ordinary, changes)


def pumping(**changes: object) -> Pumping:
    """Return a sustained part that does not duck."""
    return changed(Pumping(depth_db=0.3, recovery_ms=None, share_of_kicks=0.05, where=()), changes)


def hits(**changes: object) -> Hits:
    """Return hits that are heard over what sustains: one on every half second."""
    times_s = tuple(step / 2.0 for step in range(20, 380))
    limits_hz = ((30.0, 120.0), (120.0, 400.0), (400.0, 2000.0), (2000.0, 6000.0), (6000.0, 16000.0))
    ordinary = Hits(
        count=len(times_s), audible_share_median=0.86, buried_share=0.06, times_s=times_s, audible_share=(0.86,) * len(times_s),
        bands=tuple(HitBand(low, high, 180, 0.86, 0.06, 8.0) for low, high in limits_hz), masking_band_hz=(120.0, 400.0),
        masking_band_share=0.3, worst=(Moment(130.0, 140.0, 0.75),), percussive_share=0.25, tempo_bpm=120.0,
    )  # fmt: skip
    return changed(ordinary, changes)


def low_end(**changes: object) -> LowEnd:
    """Return a low end with a kick that sticks out and a bass an octave beside it."""
    times_s = tuple(step / 2.0 for step in range(20, 380))
    ordinary = LowEnd(
        sub_share_db=-8.0, bass_share_db=-3.5, kick_count=len(times_s), kick_times_s=times_s, kick_hz=58.0, bass_hz=98.0,
        kick_lift_db=8.0, kick_dip_db=1.5, slot_overlap=0.45, side_level_db=-24.0, mono_loss_db=0.1, note_spread_db=5.0,
        level=course("dB", 0.0, 0.5), weakest_kicks=(Moment(60.0, 70.0, 6.0),), uneven=(Moment(96.0, 102.0, 2.0),),
        widest=(Span(60.0, 65.0),),
    )  # fmt: skip
    return changed(ordinary, changes)


def stereo(**changes: object) -> Stereo:
    """Return a stereo picture that survives mono."""
    bands = len(BANDS_HZ)
    ordinary = Stereo(
        correlation=0.75, mono_loss_db=0.9, balance_db=0.2, side_share=0.12, band_hz=BANDS_HZ, band_correlation=(0.75,) * bands,
        band_mono_loss_db=(0.6,) * bands, band_side_db=(-9.0,) * bands, band_energy_share=(1.0 / bands,) * bands,
        band_negative_share=(0.02,) * bands, band_worst=WORST, polarity_inverted=False, delay_ms=None,
        correlation_over_time=course("-1..1", 0.75), balance_over_time=course("dB", 0.2), worst=(Moment(60.0, 63.0, 1.4),),
    )  # fmt: skip
    return changed(ordinary, changes)


def health(**changes: object) -> Health:
    """Return a file without faults."""
    ordinary = Health(
        clipped_runs=0, clipped_longest=0, clipped=(), clip_level_dbfs=None, inter_sample_overs=0, dc_dbfs=(-96.0, -97.0),
        effective_bits=24, bandwidth_hz=None, bandwidth_wall_db=None, hum_hz=None, hum_dbfs=None, clicks=(), click_count=0,
        noise_floor_dbfs=-78.0, head_silence_s=0.2, tail_silence_s=1.5, head_cut_dbfs=None, tail_cut_dbfs=None,
        identical_channels=False, silent_channels=(), silent=False, gaps=(), not_finite=0,
    )  # fmt: skip
    return changed(ordinary, changes)


def sections(**changes: object) -> Sections:
    """Return a song of five parts whose chorus is louder than its verse."""
    loudness = ((0.0, 20.0, -24.0), (20.0, 70.0, -19.0), (70.0, 120.0, -16.5), (120.0, 180.0, -16.0), (180.0, 200.0, -23.0))
    ordinary = Sections(
        sections=tuple(Section(*each) for each in loudness), densest=CHORUS, densest_lufs=-15.8, quiet_to_loud_lu=3.0,
        quietest=Span(20.0, 70.0),
    )  # fmt: skip
    return changed(ordinary, changes)


def outlook(**changes: object) -> Outlook:
    """Return the outlook of a mix that reaches -13 LUFS cleanly, with 1 LU to spare."""
    curve = tuple(
        DrivePoint(drive_db=drive, lufs=-17.0 + 0.8 * drive, gain_reduction_p95_db=0.7 * drive, distortion_nmr_db=-25.0 + 2.0 * drive,
                   pumping_db=0.15 * drive, hit_loss_db=0.1 * drive, psr_db=11.5 - 0.5 * drive)
        for drive in (0.0, 2.0, 4.0, 6.0, 8.0)
    )  # fmt: skip
    shares = ((22.0, 44.0, 0.15), (44.0, 88.0, 0.25), (88.0, 177.0, 0.2), (177.0, 355.0, 0.15), (355.0, 710.0, 0.1),
              (710.0, 1420.0, 0.05), (1420.0, 2840.0, 0.05), (2840.0, 5680.0, 0.05))  # fmt: skip
    ordinary = Outlook(
        clean_lufs=-12.0, target_lufs=-13.0, ceiling_dbtp=-1.0, margin_lu=1.0, reaches_target=True, stopped_by="pumping", drive_db=6.25,
        drive_to_target_db=5.0, curve=curve, fast_clean_lufs=-11.5, fast_stopped_by="distortion", fast_curve=curve,
        peak_share=tuple(PeakShare(*each) for each in shares), hardest=(Moment(130.0, 131.0, 4.5),), excerpt=CHORUS,
    )  # fmt: skip
    return changed(ordinary, changes)
