"""What was measured, as frozen records of numbers, strings and tuples; no arrays, no sound.

Every field is declared with a `Reading`, which carries its unit and meaning: `docs/measurements.md` is made from them.
A value that could not be measured is ``None``, and the record's ``absent`` says why; it is never NaN.
All times are seconds from the start of the file.
"""

from dataclasses import dataclass, field
from typing import Annotated


@dataclass(frozen=True, slots=True)
class Reading:
    """Unit and meaning of a measured field."""

    unit: str
    meaning: str


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of the song."""

    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class Moment:
    """A stretch of the song and the reading there."""

    start_s: float
    end_s: float
    value: float


@dataclass(frozen=True, slots=True)
class Course:
    """A reading over time: ``values[i]`` belongs to ``start_s + i * step_s``; ``None`` where nothing plays."""

    unit: str
    start_s: float
    step_s: float
    values: tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class Absence:
    """Why a field is ``None``."""

    field: str
    reason: str


@dataclass(frozen=True, slots=True)
class Measurement:
    """A family of readings; the base of every record a rule may ask for."""

    absent: Annotated[tuple[Absence, ...], Reading("", "Fields that are None, each with the reason.")] = field(default=(), kw_only=True)


@dataclass(frozen=True, slots=True)
class File(Measurement):
    """What the file itself says."""

    name: Annotated[str, Reading("", "File name without its folder.")]
    sha256: Annotated[str, Reading("", "Hash of the file's bytes.")]
    duration_s: Annotated[float, Reading("s", "Length.")]
    rate_hz: Annotated[int, Reading("Hz", "Sampling rate.")]
    channels: Annotated[int, Reading("", "Number of channels.")]
    subtype: Annotated[str, Reading("", "Sample format as the file states it, for example PCM_24, FLOAT or MPEG_LAYER_III.")]
    bits: Annotated[int | None, Reading("bit", "Bits per sample the format can hold; None for lossy formats.")]
    lossy: Annotated[bool, Reading("", "Whether the format discards sound.")]


@dataclass(frozen=True, slots=True)
class Level(Measurement):
    """Loudness and peaks (ITU-R BS.1770-5, EBU Tech 3341 and 3342)."""

    integrated_lufs: Annotated[float | None, Reading("LUFS", "Loudness of the whole song; silence and much quieter passages are left out.")]
    momentary_max_lufs: Annotated[float | None, Reading("LUFS", "What a momentary meter shows at most; stepped at 10 ms.")]
    momentary_max_at_s: Annotated[float | None, Reading("s", "Where the loudest 400 ms starts.")]
    short_term_max_lufs: Annotated[float | None, Reading("LUFS", "What a short-term meter shows at most.")]
    loudness_range_lu: Annotated[
        float | None, Reading("LU", "From the quieter to the louder passages: P95 - P10 of the gated 3 s loudness.")
    ]
    true_peak_dbtp: Annotated[float | None, Reading("dBTP", "Highest inter-sample peak; never below the sample peak.")]
    true_peak_at_s: Annotated[float | None, Reading("s", "Where the highest true peak is.")]
    sample_peak_dbfs: Annotated[float | None, Reading("dBFS", "Highest sample.")]
    plr_db: Annotated[float | None, Reading("dB", "True peak minus integrated loudness.")]
    psr_min_db: Annotated[float | None, Reading("dB", "Smallest true peak minus loudness of one 3 s window, quiet parts left out.")]
    psr_min_at_s: Annotated[float | None, Reading("s", "Where that window starts.")]
    psr_densest_db: Annotated[float | None, Reading("dB", "Median of true peak minus loudness over the densest section.")]
    short_term: Annotated[Course, Reading("LUFS", "Loudness of 3 s windows, stepped at 1 s; values at the windows' centres.")]
    psr: Annotated[Course, Reading("dB", "True peak minus loudness of the same 3 s windows.")]
    peaks_over_full_scale: Annotated[tuple[Moment, ...], Reading("dBTP", "Where the true peak passes 0 dBTP, highest first, at most 20.")]


@dataclass(frozen=True, slots=True)
class Resonance:
    """A narrow peak of the long-term spectrum that is there much of the time."""

    frequency_hz: float
    prominence_db: float
    present_share: float
    q: float
    where: tuple[Span, ...]


@dataclass(frozen=True, slots=True)
class Spectrum(Measurement):
    """Long-term spectral balance in third-octave bands (power per Hz; pink noise falls 3.0 dB per octave)."""

    third_octave_hz: Annotated[tuple[float, ...], Reading("Hz", "Exact band centres (IEC 61260-1), 20 Hz up to what the rate allows.")]
    third_octave_db: Annotated[tuple[float, ...], Reading("dB", "Power per Hz, gated, relative to its mean over 200 Hz-5 kHz.")]
    mid_db: Annotated[tuple[float, ...], Reading("dB", "The same for the mid signal, same reference as third_octave_db.")]
    side_db: Annotated[tuple[float, ...] | None, Reading("dB", "The same for the side signal; None for mono.")]
    percussive_db: Annotated[tuple[float, ...] | None, Reading("dB", "Curve of the percussive part alone, relative to its own mean.")]
    sustained_db: Annotated[tuple[float, ...] | None, Reading("dB", "Curve of the sustained part alone, relative to its own mean.")]
    dense_db: Annotated[tuple[float, ...] | None, Reading("dB", "Curve of the louder half of the song, relative to its own mean.")]
    quiet_db: Annotated[tuple[float, ...] | None, Reading("dB", "Curve of the quieter half, relative to its own mean.")]
    band_loudest: Annotated[tuple[Span, ...], Reading("s", "Per band: the 5 s in which it stands highest against the rest.")]
    tilt_db_per_octave: Annotated[float | None, Reading("dB/oct", "Straight-line slope over log frequency, 100 Hz-10 kHz, power per Hz.")]
    tilt: Annotated[Course, Reading("dB/oct", "The same slope over time, stepped at 1 s.")]
    resonances: Annotated[tuple[Resonance, ...], Reading("", "Narrow peaks present for more than 30 % of the time, strongest first.")]
    level_db: Annotated[float | None, Reading("dBFS/Hz", "The mean over 200 Hz-5 kHz that the curves are relative to.")]


@dataclass(frozen=True, slots=True)
class Usual:
    """What reference songs have in one reading: its name, their median, and the spread of a further song of their kind."""

    name: str
    median: float
    spread: float
    songs: int


@dataclass(frozen=True, slots=True)
class Target(Measurement):
    """The spectrum a song is compared with, and how much good songs differ from it."""

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
    """A broad rise (gain above 0) or hollow (below 0) that best explains a stretch of the deviation from the target."""

    frequency_hz: float
    gain_db: float
    q: float
    strength: float  # matched-filter output over its spread between songs; about 2 is unusual, 3 rare
    parts_agree: bool | None  # it stands in percussive and sustained, mid and side, dense and quiet alike: the mix's, not one element's
    part: str  # where it stands most: "mix", "percussive", "sustained", "mid" or "side"
    where: tuple[Span, ...]


@dataclass(frozen=True, slots=True)
class Shelf:
    """A shelf or a high-pass that best explains how one end of the spectrum differs from finished songs."""

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


@dataclass(frozen=True, slots=True)
class Ear(Measurement):
    """How much of what the ear hears lies in its most sensitive band, 2-5 kHz (ISO 226 weighted ERB loudness)."""

    share_2k_5k: Annotated[float | None, Reading("0-1", "Share of the ERB-band loudness that lies in 2-5 kHz.")]
    erb_hz: Annotated[tuple[float, ...], Reading("Hz", "Centres of the ERB bands.")]
    erb_loudness_share: Annotated[tuple[float, ...], Reading("0-1", "Share of loudness per ERB band; sums to 1.")]
    share: Annotated[Course, Reading("0-1", "Share of 2-5 kHz over time, stepped at 0.5 s.")]
    harsh_moments: Annotated[tuple[Moment, ...], Reading("0-1", "Loud stretches clearly above the song's own median, worst first.")]


@dataclass(frozen=True, slots=True)
class Crest(Measurement):
    """Peaks and level spread per octave band, and how the song's peaks are distributed."""

    octave_hz: Annotated[tuple[float, ...], Reading("Hz", "Octave band centres, 31.5 Hz-16 kHz.")]
    crest_db: Annotated[tuple[float | None, ...], Reading("dB", "Peak over RMS per octave band, gated.")]
    spread_db: Annotated[tuple[float | None, ...], Reading("dB", "P95 - P10 of the band's 400 ms level while it plays in the dense parts.")]
    hit_variation_db: Annotated[tuple[float | None, ...], Reading("dB", "Standard deviation of the band's level from hit to hit.")]
    widest_jump: Annotated[tuple[Moment | None, ...], Reading("dB", "Per band: largest jump from 3 s to 3 s in a section.")]
    stray_peaks: Annotated[tuple[Moment, ...], Reading("dB", "Rare peaks; value = height above the ordinary ones. Highest first.")]
    ordinary_peak_dbfs: Annotated[float | None, Reading("dBFS", "Level the song's ordinary hits reach.")]
    stray_height_db: Annotated[float | None, Reading("dB", "Highest peak minus the ordinary peaks.")]
    stray_win_db: Annotated[float | None, Reading("dB", "Headroom won by lowering rare peaks that stand apart to the next; 0: none do.")]
    peak_pileup_share: Annotated[float | None, Reading("0-1", "Share of loud 10 ms steps that peak within 0.3 dB of the top.")]
    peak_cluster_share: Annotated[float | None, Reading("0-1", "The same within one 0.6 dB below it, if few peak just beside; else 0.")]
    over_time: Annotated[Course, Reading("dB", "Sample peak over RMS of 3 s windows, stepped at 1 s; values at the windows' centres.")]


@dataclass(frozen=True, slots=True)
class Pumping(Measurement):
    """What sustains, ducking after each kick: a compressor or limiter that breathes, or a sidechain that is meant."""

    depth_db: Annotated[float | None, Reading("dB", "Median dip of what sustains above 250 Hz, after the kick.")]
    recovery_ms: Annotated[float | None, Reading("ms", "Time until that dip is half recovered.")]
    share_of_kicks: Annotated[float | None, Reading("0-1", "Share of the kicks followed by a dip of more than 1 dB.")]
    rise_db: Annotated[float | None, Reading("dB", "How far what sustains rises from 50 to 250 ms after the kick, between strokes.")]
    where: Annotated[tuple[Span, ...], Reading("s", "Where it dips most.")]


@dataclass(frozen=True, slots=True)
class HitBand:
    """Hits heard within one frequency band."""

    low_hz: float
    high_hz: float
    count: int
    audible_share_median: float | None
    buried_share: float | None
    lift_db_median: float | None


@dataclass(frozen=True, slots=True)
class Hits(Measurement):
    """Drum hits and other attacks, and how much of each stays audible over what sustains."""

    count: Annotated[int, Reading("", "Drum strokes and other attacks found.")]
    audible_share_median: Annotated[float | None, Reading("0-1", "Median over the hits of the share that stays audible.")]
    buried_share: Annotated[float | None, Reading("0-1", "Share of the hits of which less than half stays audible.")]
    times_s: Annotated[tuple[float, ...], Reading("s", "When each hit starts.")]
    audible_share: Annotated[tuple[float, ...], Reading("0-1", "Audible share of each hit.")]
    bands: Annotated[tuple[HitBand, ...], Reading("", "The same by band: 30-120, 120-400, 400-2k, 2k-6k and 6k-16k Hz.")]
    masking_band_hz: Annotated[tuple[float, float] | None, Reading("Hz", "Band in which sustained sound buries most of the hits.")]
    masking_band_share: Annotated[float | None, Reading("0-1", "Share of all that is buried which lies in that band.")]
    worst: Annotated[tuple[Moment, ...], Reading("0-1", "Stretches in which least of the hits is heard; value = audible share.")]
    percussive_share: Annotated[float | None, Reading("0-1", "Share of the song's energy that separation calls percussive.")]
    tempo_bpm: Annotated[float | None, Reading("BPM", "Beats a minute; None where no steady beat is found.")]


@dataclass(frozen=True, slots=True)
class LowEnd(Measurement):
    """Everything below about 250 Hz, with the kick against the bass."""

    sub_share_db: Annotated[float | None, Reading("dB", "Energy in 20-60 Hz against the whole.")]
    bass_share_db: Annotated[float | None, Reading("dB", "Energy in 60-250 Hz against the whole.")]
    kick_count: Annotated[int, Reading("", "Hits in 30-150 Hz.")]
    kick_times_s: Annotated[tuple[float, ...], Reading("s", "When each of them starts.")]
    kick_hz: Annotated[float | None, Reading("Hz", "Strongest frequency of the kick.")]
    bass_hz: Annotated[float | None, Reading("Hz", "Strongest frequency of what sustains in the low end.")]
    kick_lift_db: Annotated[float | None, Reading("dB", "Median rise of 30-150 Hz at the kick over just before it.")]
    kick_dip_db: Annotated[float | None, Reading("dB", "Dip of the sustained low end after the kick; positive = it ducks.")]
    slot_overlap: Annotated[float | None, Reading("0-1", "Common part of kick and bass: sum of the smaller of both unit spectra.")]
    side_level_db: Annotated[float | None, Reading("dB", "Side against mid below 120 Hz.")]
    mono_loss_db: Annotated[float | None, Reading("dB", "Level lost below 120 Hz when folded to mono.")]
    note_spread_db: Annotated[float | None, Reading("dB", "P95 - P10 of the level of the sustained low end from note to note.")]
    level: Annotated[Course, Reading("dB", "Level below 120 Hz, 400 ms windows, stepped at 0.5 s, against the song's own median.")]
    weakest_kicks: Annotated[tuple[Moment, ...], Reading("dB", "Stretches in which the kick lifts least; value = lift. Worst first.")]
    uneven: Annotated[tuple[Moment, ...], Reading("dB", "Stretches in which the low end jumps most; value = jump. Worst first.")]
    widest: Annotated[tuple[Span, ...], Reading("s", "Where the low end is widest.")]


@dataclass(frozen=True, slots=True)
class Stereo(Measurement):
    """Left against right: correlation, what mono loses, width, and faults of polarity or timing."""

    correlation: Annotated[float | None, Reading("-1..1", "Correlation of left and right; None for mono or a silent channel.")]
    mono_loss_db: Annotated[float | None, Reading("LU", "Loudness in stereo minus that of the mono fold-down.")]
    balance_db: Annotated[float | None, Reading("dB", "Left minus right, K-weighted loudness; positive = left is louder.")]
    side_share: Annotated[float | None, Reading("0-1", "Share of the energy that is side signal.")]
    band_hz: Annotated[tuple[float, ...], Reading("Hz", "Third-octave band centres.")]
    band_correlation: Annotated[tuple[float | None, ...], Reading("-1..1", "Correlation per band.")]
    band_mono_loss_db: Annotated[tuple[float | None, ...], Reading("dB", "Fold-down loss per band.")]
    band_side_db: Annotated[tuple[float | None, ...], Reading("dB", "Side against mid per band.")]
    band_energy_share: Annotated[tuple[float, ...], Reading("0-1", "Share of the song's energy per band.")]
    band_negative_share: Annotated[tuple[float | None, ...], Reading("0-1", "Share of the band's active time with negative correlation.")]
    band_worst: Annotated[tuple[Span | None, ...], Reading("s", "Per band: the 5 s in which correlation is lowest.")]
    polarity_inverted: Annotated[bool, Reading("", "One channel is upside down: correlation below -0.8 for most of the song.")]
    delay_ms: Annotated[float | None, Reading("ms", "Fixed delay between channels; positive = right is late; else None.")]
    correlation_over_time: Annotated[Course, Reading("-1..1", "Correlation of 3 s windows, stepped at 1 s.")]
    balance_over_time: Annotated[Course, Reading("dB", "Left minus right of 3 s windows, stepped at 1 s.")]
    worst: Annotated[tuple[Moment, ...], Reading("dB", "Stretches that lose most in mono; value = loss. Worst first.")]


@dataclass(frozen=True, slots=True)
class Health(Measurement):
    """Faults of the file itself."""

    clipped_runs: Annotated[int, Reading("", "Runs of three or more equal samples at the extremes of a channel.")]
    clipped_longest: Annotated[int, Reading("samples", "Longest such run.")]
    clipped: Annotated[tuple[Moment, ...], Reading("samples", "Where; value = length of the longest run there. Worst first, at most 20.")]
    clip_level_dbfs: Annotated[float | None, Reading("dBFS", "Level the tops are cut at; None without clipping.")]
    inter_sample_overs: Annotated[int, Reading("", "Separate places (10 ms) whose true peak passes 0 dBTP.")]
    dc_dbfs: Annotated[tuple[float | None, ...], Reading("dBFS", "Constant offset per channel.")]
    effective_bits: Annotated[int | None, Reading("bit", "Bits per sample that really change; None without a fixed grid.")]
    bandwidth_hz: Annotated[float | None, Reading("Hz", "Where the spectrum ends at a wall; None when it reaches the top.")]
    bandwidth_wall_db: Annotated[float | None, Reading("dB", "Height of that wall.")]
    hum_hz: Annotated[float | None, Reading("Hz", "Mains hum found: 50 or 60 Hz; None without.")]
    hum_dbfs: Annotated[float | None, Reading("dBFS", "Level of the hum with its harmonics.")]
    clicks: Annotated[tuple[Moment, ...], Reading("dB", "Single-sample breaks; value = height over the surroundings. At most 20.")]
    click_count: Annotated[int, Reading("", "Number of clicks.")]
    noise_floor_dbfs: Annotated[
        float | None, Reading("dBFS", "Noise in the quietest steady half second, between the lines of its spectrum.")
    ]
    head_silence_s: Annotated[float, Reading("s", "Silence before the first sound (below -60 dBFS).")]
    tail_silence_s: Annotated[float, Reading("s", "Silence after the last sound.")]
    head_cut_dbfs: Annotated[float | None, Reading("dBFS", "Level of the first 2 ms when the sound starts mid-wave.")]
    tail_cut_dbfs: Annotated[float | None, Reading("dBFS", "Level of the last 50 ms when the sound has not died away; None when it has.")]
    identical_channels: Annotated[bool, Reading("", "Left and right are the same, sample by sample.")]
    silent_channels: Annotated[tuple[str, ...], Reading("", "Names of channels that hold nothing.")]
    silent: Annotated[bool, Reading("", "Nothing above -70 dBFS in the whole file.")]
    gaps: Annotated[tuple[Span, ...], Reading("s", "Sudden digital silence of 5 ms to 2 s inside the song.")]
    not_finite: Annotated[int, Reading("", "Samples that are no number (NaN or infinite), read as zero.")]


@dataclass(frozen=True, slots=True)
class Section:
    """One part of the song."""

    start_s: float
    end_s: float
    loudness_lufs: float | None


@dataclass(frozen=True, slots=True)
class Sections(Measurement):
    """The song's course: its parts, the densest 30 s, the step between quiet and loud."""

    sections: Annotated[tuple[Section, ...], Reading("LUFS", "Parts found from changes of level and spectrum.")]
    densest: Annotated[Span, Reading("s", "The 30 s with the highest gated loudness.")]
    densest_lufs: Annotated[float | None, Reading("LUFS", "Its loudness.")]
    quiet_to_loud_lu: Annotated[float | None, Reading("LU", "Loudest section minus the quietest full one, intro and ending left out.")]
    quietest: Annotated[Span | None, Reading("s", "That quietest section.")]
    even_steps: Annotated[
        tuple[Moment, ...], Reading("dB", "Boundaries at which every band steps by the same amount, as a fader does; negative: softer.")
    ] = ()


@dataclass(frozen=True, slots=True)
class DrivePoint:
    """One drive of the reference limiter and what it does to this song."""

    drive_db: float
    lufs: float
    gain_reduction_p95_db: float
    distortion_nmr_db: float
    pumping_db: float
    hit_loss_db: float
    psr_db: float


@dataclass(frozen=True, slots=True)
class PeakShare:
    """Share of the samples above the ceiling that a band is responsible for."""

    low_hz: float
    high_hz: float
    share: float


@dataclass(frozen=True, slots=True)
class Outlook(Measurement):
    """How loud this mix can go into a plain limiter before it is heard."""

    clean_lufs: Annotated[float | None, Reading("LUFS", "Highest integrated loudness before any reading of damage trips, gentle setting.")]
    target_lufs: Annotated[float, Reading("LUFS", "Loudness asked for.")]
    ceiling_dbtp: Annotated[float, Reading("dBTP", "Ceiling of the limiter.")]
    margin_lu: Annotated[float | None, Reading("LU", "clean_lufs minus target_lufs.")]
    reaches_target: Annotated[bool | None, Reading("", "Whether the target is reached cleanly.")]
    stopped_by: Annotated[str, Reading("", "distortion, pumping, hits, density or none.")]
    drive_db: Annotated[float | None, Reading("dB", "Drive at clean_lufs, counted from the peak at the ceiling.")]
    drive_to_target_db: Annotated[float | None, Reading("dB", "Drive that reaches the target; None when out of reach.")]
    curve: Annotated[tuple[DrivePoint, ...], Reading("", "The sweep, gentle setting.")]
    fast_clean_lufs: Annotated[float | None, Reading("LUFS", "The same with the fast setting.")]
    fast_stopped_by: Annotated[str, Reading("", "What stops the fast setting.")]
    fast_curve: Annotated[tuple[DrivePoint, ...], Reading("", "The sweep, fast setting.")]
    peak_share: Annotated[
        tuple[PeakShare, ...], Reading("0-1", "What the peaks above the ceiling are made of; below 20 Hz: offset and rumble.")
    ]
    hardest: Annotated[tuple[Moment, ...], Reading("dB", "Where the limiter works hardest at the target; value = gain reduction.")]
    excerpt: Annotated[Span, Reading("s", "The stretch on which damage was read.")]
