"""Records of one ordinary, healthy song, for testing rules: change only the reading a test is about.

The song: 200 s, stereo, 24 bits, 120 BPM, kick on every beat of its louder parts; every reading lies where released
songs usually lie, and no rule should find anything in it. ``level(integrated_lufs=-9.0)`` is that song, louder.
"""

from collections.abc import Mapping
from dataclasses import replace
from math import log2
from typing import Any, TypeVar

from features.records.balance import Balance, Bell, Target
from features.records.base import Course, Measurement, Moment, Span
from features.records.crest import Crest
from features.records.ear import Ear
from features.records.elements import (
    Cover,
    Element,
    ElementDynamics,
    ElementGroup,
    ElementHeadroom,
    ElementLevel,
    ElementMasking,
    Elements,
    GroupName,
    KickAndBass,
    LevelMove,
    LevelPlan,
    Mixture,
    Role,
)
from features.records.file import File, Health
from features.records.hits import HitBand, Hits, Pulses, Pumping
from features.records.level import Level
from features.records.low_end import LowEnd
from features.records.outlook import DrivePoint, Outlook, PeakShare
from features.records.sections import Section, Sections
from features.records.spectrum import Spectrum
from features.records.stereo import Stereo

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
        third_octave_hz=BANDS_HZ, third_octave_db=CURVE_DB, mid_db=tuple(level_db - 0.5 for level_db in CURVE_DB),
        side_db=tuple(level_db - 12.0 for level_db in CURVE_DB), percussive_db=CURVE_DB, sustained_db=CURVE_DB, dense_db=CURVE_DB,
        quiet_db=CURVE_DB, band_loudest=WORST, tilt_db_per_octave=-5.0, tilt=course("dB/oct", -5.0), resonances=(), level_db=-58.0,
    )  # fmt: skip
    return changed(ordinary, changes)


def target(**changes: object) -> Target:
    """Return a target made of eight reference songs."""
    ordinary = Target("your 8 references", 8, BANDS_HZ, CURVE_DB, SPREAD_DB, tilt_db_per_octave=-5.0, tilt_spread_db_per_octave=0.8)
    return changed(ordinary, changes)


def balance(**changes: object) -> Balance:
    """Return a balance that lies on its target but for its bells: their bands stand off it as the bells say."""
    bells: tuple[Bell, ...] = changes.get("bells", ())  # type: ignore[assignment]
    off_db = tuple(
        sum(bell.gain_db / (1 + (bell.q * (hz / bell.frequency_hz - bell.frequency_hz / hz)) ** 2) for bell in bells) for hz in BANDS_HZ
    )
    unusual = tuple(off / spread for off, spread in zip(off_db, SPREAD_DB, strict=True))
    return changed(Balance(BANDS_HZ, (0.0,) * len(BANDS_HZ), unusual, tilt_deviation_db_per_octave=0.0, bells=()), changes)


def ear(**changes: object) -> Ear:
    """Return an ordinary share of the ear's sensitive band."""
    erb_hz = tuple(100.0 * 1.2**step for step in range(28))
    return changed(Ear(0.27, erb_hz, (1.0 / 28.0,) * 28, course("0-1", 0.27, 0.5), harsh_moments=()), changes)


def crest(**changes: object) -> Crest:
    """Return peaks and level spread that need no dynamics control."""
    ordinary = Crest(
        octave_hz=OCTAVES_HZ, crest_db=(13.0, 13.0, 14.0, 15.0, 15.5, 16.0, 17.0, 18.0, 19.0, 20.0), spread_db=(5.0,) * 10,
        hit_variation_db=(2.0,) * 10, widest_jump=(Moment(100.0, 106.0, 2.0),) * 10, stray_peaks=(), ordinary_peak_dbfs=-5.0,
        stray_height_db=0.7, stray_win_db=0.0, peak_pileup_share=0.01, peak_cluster_share=0.0, over_time=course("dB", 14.0),
    )  # fmt: skip
    return changed(ordinary, changes)


def pumping(**changes: object) -> Pumping:
    """Return a sustained part that does not duck."""
    return changed(Pumping(depth_db=0.3, recovery_ms=None, share_of_kicks=0.05, rise_db=0.0, where=()), changes)


def pulses(**changes: object) -> Pulses:
    """Return a gain that moves at no period of its own."""
    return changed(Pulses(period_s=None, swing_db=None, alike=None, steady=None, stands_out=None), changes)


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
        band_mirrored_share=(0.01,) * bands,
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
        sections=tuple(Section(*values) for values in loudness), densest=CHORUS, densest_lufs=-15.8, quiet_to_loud_lu=3.0,
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
        peak_share=tuple(PeakShare(*values) for values in shares), hardest=(Moment(130.0, 131.0, 4.5),), excerpt=CHORUS,
    )  # fmt: skip
    return changed(ordinary, changes)


PARTS = {"level", "masking", "level_plan", "dynamics", "headroom"}
# name: role, group, LU in the mix, LU while it plays, strongest Hz, share heard, share of the song, usual LU and its spread
ORDINARY_ELEMENTS: dict[str, tuple[Role, GroupName, float, float, float, float, float, float, float]] = {
    "kick": ("kick", "drums", -4.5, -4.3, 58.0, 0.80, 0.85, -4.1, 3.2),
    "snare": ("snare", "drums", -9.0, -8.6, 220.0, 0.75, 0.80, -9.3, 4.3),
    "hats": ("hats", "drums", -13.0, -12.5, 9000.0, 0.70, 0.80, -11.5, 6.9),
    "bass": ("bass", "bass", -6.0, -5.8, 98.0, 0.70, 0.85, -5.7, 3.6),
    "lead": ("lead", "music", -5.0, -3.5, 900.0, 0.80, 0.60, -9.9, 6.4),
    "pad": ("pad", "music", -11.0, -10.5, 500.0, 0.50, 0.75, -6.6, 6.7),
}


def cover(by: str, **changes: object) -> Cover:
    """Return an element that hides a little of another."""
    ordinary = Cover(by, share=0.1, band_hz=(400.0, 1200.0), band_share=0.6, excess_db=5.0, essential=True, where=Span(125.0, 130.0))
    return replace(ordinary, **changes)  # type: ignore[arg-type]


def level_move(names: tuple[str, ...], group: GroupName | None, off_db: float, chance: float = 0.7) -> LevelMove:
    """Return a fader that lies off by so much with such a chance."""
    return LevelMove(names, group, off_db, chance * off_db, chance)


def element(name: str, **changes: Any) -> Element:  # noqa: ANN401 - fields of several types
    """Return one of the ordinary song's elements, or under another name a pad; ``masking={"audible_share": 0.1}`` changes one reading."""
    role, group, in_mix_lu, playing_lu, strongest_hz, audible_share, plays, usual_lu, spread_lu = ORDINARY_ELEMENTS.get(
        name, ORDINARY_ELEMENTS["pad"]
    )
    bands_db = tuple(in_mix_lu - 24.0 - 9.0 * abs(log2(hz / strongest_hz)) for hz in BANDS_HZ)
    ordinary = Element(
        name=name, role=role, group=group, role_from="name", channels=2, rate_hz=44100, offset_s=0.0, gain_db=0.0, silent=False,
        copy_of=None,
        level=ElementLevel(
            integrated_lufs=in_mix_lu - 18.0, in_mix_lu=in_mix_lu, while_playing_lu=playing_lu, sample_peak_dbfs=-8.0, crest_db=13.0,
            jumps_db=6.0, plays=(Span(20.0, 180.0),), plays_share=plays, loudest=Span(130.0, 135.0), pan_db=0.0, third_octave_hz=BANDS_HZ,
            third_octave_db=bands_db, correlation=0.9,
        ),
        masking=ElementMasking(audible_share, (Moment(126.0, 131.0, audible_share / 2.0),), (cover("pad" if name == "lead" else "lead"),)),
        level_plan=LevelPlan(
            over_pink_db=12.0, over_target_db=12.0, pink_fader_db=1.0, target_fader_db=1.0, stands_out_db=playing_lu + 5.8,
            usual_lu=usual_lu, usual_spread_lu=spread_lu, since_earlier_db=0.2, off_db=0.5,
        ),
        dynamics=ElementDynamics("finished", ("its hits differ by 1.5 dB",), 120, 1.5, 4.0, 10.0, None, None, None, None, None, ()),
        headroom=ElementHeadroom(lu_per_db=0.1 if role != "kick" else 0.2, lu_out=0.8),
    )  # fmt: skip
    for part in PARTS & set(changes):
        if isinstance(changes[part], Mapping):
            changes[part] = replace(getattr(ordinary, part), **changes[part])
    return replace(ordinary, **changes)


def group(name: GroupName, *members: str, **changes: object) -> ElementGroup:
    """Return a group without stray peaks."""
    ordinary = ElementGroup(
        name=name, members=members, integrated_lufs=-21.0, glue_2_dbfs=-24.0, glue_4_dbfs=-21.0, stray_peaks_per_minute=0.0, stray_peaks=(),
        ceiling_dbfs=None, resting_share=None, parallel_threshold_dbfs=-30.0, parallel_blend_db=-12.0, parallel_lift_db=2.0,
        parallel_peak_rise_db=0.3,
    )  # fmt: skip
    return replace(ordinary, **changes)  # type: ignore[arg-type]


def kick_and_bass(**changes: object) -> KickAndBass:
    """Return a kick and a bass that sum as unrelated sounds do."""
    ordinary = KickAndBass(
        "kick", "bass", sum_gain_db=0.1, hits=320, flipped_gain_db=-0.1, best_delay_ms=1.5, best_gain_db=0.6, kick_audible_share=0.7,
        overlap=0.45, where=(Span(60.0, 70.0),),
    )  # fmt: skip
    return replace(ordinary, **changes)  # type: ignore[arg-type]


def elements(*others: Element, **changes: object) -> Elements:
    """Return the elements of the ordinary song; ``others`` take the place of those of their name, or come on top."""
    by_name = {**{name: element(name) for name in ORDINARY_ELEMENTS}, **{other.name: other for other in others}}
    ordinary = Elements(
        elements=tuple(by_name.values()),
        mixture=Mixture(0.0, 0.0, -72.0, None, None, "The stems sum exactly to your mix (what is left lies -72 dB below it)."),
        groups=(group("drums", "kick", "snare", "hats"), group("bass", "bass"), group("music", "lead", "pad")),
        kick_and_bass=kick_and_bass(), closeness_db=7.0, main=("kick", "snare", "bass", "lead", "pad"), lead="lead", lead_lu=-3.5,
    )  # fmt: skip
    return changed(ordinary, changes)
