"""What mastering did.

As frozen records of numbers, strings and tuples: a master against its mix, and a master before its release.
Like `features.records`: every field of a `Measurement` says its unit and meaning, and what could not be measured is ``None``.
"""

from dataclasses import dataclass
from typing import Annotated

from features.records.base import Measurement, Moment, Reading


@dataclass(frozen=True, slots=True)
class ToneChange:
    """A stretch of the spectrum that mastering raised or lowered.

    Both are at matched loudness; the gain is that of its middle, above 0 where it was raised.
    """

    low_hz: float
    high_hz: float
    centre_hz: float
    gain_db: float


@dataclass(frozen=True, slots=True)
class Mastered(Measurement):
    """A master against its mix.

    It tells what was won and what it cost, on the stretch they share; tone and width at matched loudness.
    """

    shared_s: Annotated[float, Reading("s", "Length of the stretch that mix and master share.")]
    offset_s: Annotated[float, Reading("s", "How much later the same music comes in the master.")]
    explained_share: Annotated[float, Reading("0-1", "Share of the master that a still equaliser and a moving gain explain.")]
    mix_lufs: Annotated[float | None, Reading("LUFS", "Loudness of the mix.")]
    master_lufs: Annotated[float | None, Reading("LUFS", "Loudness of the master.")]
    louder_lu: Annotated[float | None, Reading("LU", "Master minus mix.")]
    won_lu: Annotated[
        float | None, Reading("LU", "Loudness won at equal true peak: peak over loudness of the mix minus that of the master.")
    ]
    raise_db: Annotated[float | None, Reading("dB", "Gain in the moments in which the master is held down least.")]
    drive_db: Annotated[float | None, Reading("dB", "The same, less the change of the true peak: how far peaks were pushed into limiting.")]
    gain_reduction_p95_db: Annotated[float | None, Reading("dB", "Gain reduction that is passed 5 % of the time.")]
    pumping_db: Annotated[float | None, Reading("dB", "RMS of the gain's movement at 1-20 Hz, densest stretch.")]
    distortion_nmr_db: Annotated[
        float | None, Reading("dB", "Noise-to-mask ratio of what equaliser and slow gain do not explain, densest stretch.")
    ]
    hit_loss_db: Annotated[float | None, Reading("dB", "Punch that the hits lost by the moving gain, median over the densest stretch.")]
    hits_lost_share: Annotated[
        float | None,
        Reading("0-1", "Share of the hits, by loudness, that lost about 3 dB of lift: in part from 2 dB, whole from 4 dB."),
    ]
    hits_heard_before: Annotated[float | None, Reading("0-1", "Median audible share of the hits in the mix.")]
    hits_heard_after: Annotated[float | None, Reading("0-1", "The same in the master.")]
    worst_hits: Annotated[tuple[Moment, ...], Reading("dB", "Where hits lost most; value = lost lift. Worst first.")]
    hardest: Annotated[tuple[Moment, ...], Reading("dB", "Where level control works hardest; value = gain reduction. Worst first.")]
    band_hz: Annotated[tuple[float, ...], Reading("Hz", "Third-octave band centres.")]
    band_change_db: Annotated[tuple[float, ...], Reading("dB", "Master minus mix per band, at matched loudness.")]
    equaliser_db: Annotated[tuple[float, ...], Reading("dB", "The still equaliser between both, centre channel, 0 where most of it lies.")]
    tilt_change_db_per_octave: Annotated[float | None, Reading("dB/oct", "Slope of the master minus that of the mix, 100 Hz-10 kHz.")]
    bright_change_db: Annotated[float | None, Reading("dB", "Change above 5 kHz at matched loudness.")]
    ear_share_change: Annotated[float | None, Reading("0-1", "Change of the share of the ear-sensitive band.")]
    tone_changes: Annotated[tuple[ToneChange, ...], Reading("dB", "Stretches of the spectrum that changed most, largest first.")]
    width_change_db: Annotated[float | None, Reading("dB", "Change of side against mid, whole band.")]
    low_width_change_db: Annotated[float | None, Reading("dB", "Change of side against mid below 120 Hz.")]
    mono_loss_change_db: Annotated[float | None, Reading("dB", "Change of what the mono fold-down loses.")]
    clipped_runs_added: Annotated[int, Reading("", "Runs of clipped samples in the master beyond those of the mix.")]
    head_cut_s: Annotated[float, Reading("s", "Music of the mix that is missing before the master starts; silence does not count.")]
    tail_cut_s: Annotated[float, Reading("s", "Music of the mix that is missing after the master ends.")]
    fade_in_s: Annotated[float, Reading("s", "Length of a fade that mastering put at the start; 0 without one.")]
    fade_out_s: Annotated[float, Reading("s", "Length of a fade that mastering put at the end; 0 without one.")]


@dataclass(frozen=True, slots=True)
class Coded:
    """One lossy format at one rate.

    It has the true peak of what a listener's decoder gives, and how often that passes full scale.
    """

    codec: str
    kbps: float
    true_peak_dbtp: float
    raised_db: float
    overs: int


@dataclass(frozen=True, slots=True)
class Normalised:
    """What a listener gets after loudness normalisation.

    It has the change of gain, where the peaks end up, and their height over the loudness.
    """

    target_lufs: float
    gain_db: float
    true_peak_dbtp: float
    reached_lufs: float
    psr_db: float | None


@dataclass(frozen=True, slots=True)
class Release(Measurement):
    """A finished file before its release.

    It tells its peaks against the ceiling, what lossy formats make of them, and what normalisation does.
    """

    ceiling_dbtp: Annotated[float, Reading("dBTP", "Ceiling asked for.")]
    coded: Annotated[tuple[Coded, ...], Reading("dBTP", "Encoded and decoded again, worst first.")]
    coded_of_s: Annotated[float, Reading("s", "Length of the stretch that was encoded.")]
    safe_ceiling_dbtp: Annotated[
        float | None, Reading("dBTP", "Ceiling at which none of them would pass 0 dBTP, rounded down to 0.1; None when none was encoded.")
    ]
    normalised: Annotated[tuple[Normalised, ...], Reading("LU", "What normalisation makes of it.")]
