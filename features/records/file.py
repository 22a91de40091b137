"""What the file says of itself, and its faults."""

from dataclasses import dataclass
from typing import Annotated

from features.records.base import Measurement, Moment, Reading, Span


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
class Health(Measurement):
    """Faults of the file itself."""

    clipped_runs: Annotated[
        int, Reading("", "Runs of three or more equal samples at the extremes of a channel.", name="Clipped peaks", digits=0, step=1.0)
    ]
    clipped_longest: Annotated[int, Reading("samples", "Longest such run.")]
    clipped: Annotated[tuple[Moment, ...], Reading("samples", "Where; value = length of the longest run there. Worst first, at most 20.")]
    clip_level_dbfs: Annotated[float | None, Reading("dBFS", "Level the tops are cut at; None without clipping.")]
    dc_dbfs: Annotated[tuple[float | None, ...], Reading("dBFS", "Constant offset per channel.")]
    bandwidth_hz: Annotated[float | None, Reading("Hz", "Where the spectrum ends at a wall; None when it reaches the top.")]
    bandwidth_wall_db: Annotated[float | None, Reading("dB", "Height of that wall.")]
    hum_hz: Annotated[float | None, Reading("Hz", "Mains hum found: 50 or 60 Hz; None without.")]
    hum_dbfs: Annotated[float | None, Reading("dBFS", "Level of the hum with its harmonics.")]
    clicks: Annotated[tuple[Moment, ...], Reading("dB", "Single-sample breaks; value = height over the surroundings. At most 20.")]
    click_count: Annotated[int, Reading("", "Number of clicks.", name="Clicks", digits=0, step=1.0)]
    inter_sample_overs: Annotated[
        int,
        Reading(
            "",
            "Separate places (10 ms) whose true peak passes 0 dBTP.",
            name="Places above 0 dBTP",
            digits=0,
            step=1.0,
            moved_by_fader=True,
        ),
    ]
    noise_floor_dbfs: Annotated[
        float | None,
        Reading(
            "dBFS",
            "Noise in the quietest steady half second, between the lines of its spectrum.",
            name="Noise floor",
            digits=0,
            in_table=True,
            step=3.0,
        ),
    ]
    effective_bits: Annotated[
        int | None,
        Reading("bit", "Bits per sample that really change; None without a fixed grid.", name="Bits in use", digits=0, in_table=True),
    ]
    head_silence_s: Annotated[float, Reading("s", "Silence before the first sound (below -60 dBFS).")]
    tail_silence_s: Annotated[float, Reading("s", "Silence after the last sound.")]
    head_cut_dbfs: Annotated[float | None, Reading("dBFS", "Level of the first 2 ms when the sound starts mid-wave; None when not.")]
    tail_cut_dbfs: Annotated[float | None, Reading("dBFS", "Level of the last 50 ms when the sound has not died away; None when it has.")]
    identical_channels: Annotated[bool, Reading("", "Left and right are the same, sample by sample.")]
    silent_channels: Annotated[tuple[str, ...], Reading("", "Names of channels that hold nothing.")]
    silent: Annotated[bool, Reading("", "Nothing above -70 dBFS in the whole file.")]
    gaps: Annotated[tuple[Span, ...], Reading("s", "Sudden digital silence of 5 ms to 2 s inside the song.")]
    not_finite: Annotated[int, Reading("", "Samples that are no number, or over +24 dBFS, read as zero.")]
