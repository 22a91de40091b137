"""A master against its mix.

What was won, and what it cost, from the two sounds alone.

Both are aligned first (by the caller). What mastering did is parted into an equaliser that stands still and a gain that moves
(`features.master_against_mix.moving_gain`). Damage is then read off the gain as the limiter outlook reads it where the gain is known:
pumping, lost hits, and the noise-to-mask ratio of all that neither the equaliser nor the slow part of the gain explains.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from features.limiting.distortion import FLOOR_DB, WORST_FROM, MaskedMusic, slow_gain
from features.limiting.drive import STEPS_PER_S, Steps, hardest_moments, hit_loss_db, hit_losses_db, lost_share, pumping_db
from features.loudness.gating import energy_at
from features.master_against_mix.equaliser import Linear, Read, mid_side
from features.master_against_mix.moving_gain import GainCurve, equalised, part
from features.master_against_mix.tone_change import bright_change_db, changes, matched_change_db
from features.records.base import Absence, Moment, Span
from features.records.ear import Ear
from features.records.file import Health
from features.records.hits import Hits
from features.records.level import Level
from features.records.low_end import LowEnd
from features.records.mastering import Mastered
from features.records.spectrum import Spectrum
from features.records.stereo import Stereo
from features.sound.signal import Samples, Source

Singles = NDArray[np.float32]

LOST_DB = 3.0  # half the power of the attack, as in the outlook
EXCERPT_S = 30.0
FADE_S = 0.5
FADED_DB = 12.0
FULL_DB = 1.0
WORST_HITS = 3
MOMENT_S = 3.0


@dataclass(frozen=True, slots=True)
class Readings:
    """Records of one sound on the shared stretch."""

    level: Level
    spectrum: Spectrum
    ear: Ear
    stereo: Stereo
    hits: Hits
    low_end: LowEnd


@dataclass(frozen=True, slots=True)
class Place:
    """How the two files lie.

    The master's offset, where the shared stretch starts in the mix, and what of the mix lies outside it.
    """

    offset_s: float
    start_s: float
    head_cut_s: float
    tail_cut_s: float


def reader(mix: Source, master: Source) -> Read:
    """Return what reads the same stretch of both sounds.

    As mid and side.
    """

    def read(start: int, count: int) -> tuple[Samples, Samples]:
        return mid_side(mix.read(start, count)), mid_side(master.read(start, count))

    return read


def measure_mastering(
    mix: Source,
    master: Source,
    before: Readings,
    after: Readings,
    steps: Steps,
    densest: Span,
    place: Place,
    clipped: tuple[Health, Health],
) -> Mastered:
    """Return what mastering did.

    Parameters
    ----------
    mix, master
        The stretch that both share: same rate, channels and length, aligned to the sample.
    before, after
        Records of that stretch of each.
    steps
        Of the mix, per millisecond (`features.limiting.outlook`).
    densest
        Where damage is read, in seconds of the stretch.
    place
        How both files lie.
    clipped
        Health of the whole mix and of the whole master.

    Notes
    -----
    Times in the record are those of the mix file. ``hits_lost_share`` counts hits by their loudness (energy to the power of 0.3).
    """
    read = reader(mix, master)
    parted = part(read, min(mix.frames, master.frames), mix.rate_hz)
    tone = _tone(before, after)
    files = {
        "shared_s": mix.frames / mix.rate_hz,
        "offset_s": place.offset_s,
        "head_cut_s": place.head_cut_s,
        "tail_cut_s": place.tail_cut_s,
        "clipped_runs_added": max(clipped[1].clipped_runs - clipped[0].clipped_runs, 0),
    }
    moved = _nothing() if parted is None else _moved(read, parted, steps, densest, before, place)
    if parted is not None:
        true_peak = _minus(after.level.true_peak_dbtp, before.level.true_peak_dbtp)
        moved["drive_db"] = None if true_peak is None else parted[1].raise_db - true_peak
        moved["equaliser_db"] = tuple(float(db) for db in parted[0].curve_db(np.array(before.spectrum.third_octave_hz)))
    fields = {**files, **tone, **moved}
    absent = tuple(Absence(name, "mix or master is silent or too short there") for name, value in fields.items() if value is None)
    return Mastered(**fields, absent=absent)  # type: ignore[arg-type]


def _minus(value: float | None, subtracted: float | None) -> float | None:
    return None if value is None or subtracted is None else value - subtracted


def _width_db(stereo: Stereo) -> float | None:
    share = stereo.side_share
    return None if share is None or not 0.0 < share < 1.0 else float(10 * np.log10(share / (1 - share)))


def _tone(before: Readings, after: Readings) -> dict[str, object]:
    change = matched_change_db(before.spectrum, after.spectrum)
    hz = before.spectrum.third_octave_hz[: len(change)]
    return {
        "mix_lufs": before.level.integrated_lufs,
        "master_lufs": after.level.integrated_lufs,
        "louder_lu": _minus(after.level.integrated_lufs, before.level.integrated_lufs),
        "won_lu": _minus(before.level.plr_db, after.level.plr_db),
        "hits_heard_before": before.hits.audible_share_median,
        "hits_heard_after": after.hits.audible_share_median,
        "band_hz": hz,
        "band_change_db": change,
        "tilt_change_db_per_octave": _minus(after.spectrum.tilt_db_per_octave, before.spectrum.tilt_db_per_octave),
        "bright_change_db": bright_change_db(before.spectrum, after.spectrum),
        "ear_share_change": _minus(after.ear.share_2k_5k, before.ear.share_2k_5k),
        "tone_changes": changes(hz, change),
        "width_change_db": _minus(_width_db(after.stereo), _width_db(before.stereo)),
        "low_width_change_db": _minus(after.low_end.side_level_db, before.low_end.side_level_db),
        "mono_loss_change_db": _minus(after.stereo.mono_loss_db, before.stereo.mono_loss_db),
    }


def _nothing() -> dict[str, object]:
    names = ("raise_db", "drive_db", "gain_reduction_p95_db", "pumping_db", "distortion_nmr_db", "hit_loss_db", "hits_lost_share")
    empty = {"explained_share": 0.0, "worst_hits": (), "hardest": (), "equaliser_db": (), "fade_in_s": 0.0, "fade_out_s": 0.0}
    return {**dict.fromkeys(names), **empty}


def _moved(read: Read, parted: tuple[Linear, GainCurve], steps: Steps, densest: Span, before: Readings, place: Place) -> dict[str, object]:
    linear, curve = parted
    fade_in_s, fade_out_s = fades_s(curve)
    gain = without_fades(curve.reduction(), fade_in_s, fade_out_s)
    count = min(gain.size, steps.energy.size)
    gain, energy = gain[:count], steps.energy[:count]
    hits = np.round(np.array(before.hits.times_s, np.float64) * STEPS_PER_S).astype(np.intp)
    loss, weight, at = hit_losses_db(energy, gain, hits)
    first, last = (min(round(end_s * STEPS_PER_S), count) for end_s in (densest.start_s, densest.end_s))
    dense = slice(first, last)
    return {
        "explained_share": 1.0 / (1.0 + _relative(curve)),
        "raise_db": curve.raise_db,
        "gain_reduction_p95_db": max(float(-20 * np.log10(np.quantile(gain, 0.05))), 0.0) if count else None,
        "pumping_db": pumping_db(gain[dense]),
        "distortion_nmr_db": unexplained_noise_db(read, linear, curve, densest),
        "hit_loss_db": hit_loss_db(energy[dense], gain[dense], hits - first),
        "hits_lost_share": lost_share(loss, weight) if loss.size else None,
        "worst_hits": _worst(loss, at, place.start_s),
        "hardest": tuple(
            Moment(moment.start_s + place.start_s, moment.end_s + place.start_s, moment.value) for moment in hardest_moments(gain)
        ),
        "fade_in_s": fade_in_s,
        "fade_out_s": fade_out_s,
    }


def _relative(curve: GainCurve) -> float:
    power = float(np.mean(curve.power * np.square(curve.gain), dtype=np.float64)) if curve.power.size else 0.0
    return float(np.mean(curve.rest, dtype=np.float64)) / power if power > 0.0 else np.inf


def unexplained_noise_db(read: Read, linear: Linear, curve: GainCurve, where: Span) -> float | None:
    """Return how audible the unexplained rest is.

    The noise-to-mask ratio of what equaliser and slow gain do not explain, mean over the worst 5 % of frames.
    """
    rate = linear.rate_hz
    start = max(round(where.start_s * rate), 0)
    before, after = equalised(read, start, round(min(where.end_s - where.start_s, EXCERPT_S) * rate), linear)
    count = min(before.shape[1], after.shape[1])
    before, after = (_left_right(sound[:, :count]) for sound in (before, after))
    mean_square = float(np.square(before).sum(axis=0).mean(dtype=np.float64)) if count else 0.0
    if mean_square <= energy_at(-70.0):
        return None
    slow = slow_gain(curve.gain, STEPS_PER_S)
    at = (start + np.arange(count)) * (STEPS_PER_S / rate) - 0.5
    first = max(int(at[0]), 0)
    near = slow[first : int(at[-1]) + 2]
    gain = np.interp(at - first, np.arange(near.size), near).astype(np.float32)
    ratios = np.sort(MaskedMusic(before, rate, mean_square).noise_to_mask_db(after - before * gain, gain))
    worst = ratios[int(WORST_FROM * ratios.size) :]
    return float(worst.mean()) if worst.size else FLOOR_DB


def _left_right(samples: Samples) -> Samples:
    return samples if samples.shape[0] == 1 else np.stack((samples[0] + samples[1], samples[0] - samples[1]))


def _worst(loss: NDArray[np.float64], at: NDArray[np.intp], start_s: float) -> tuple[Moment, ...]:
    moments: list[Moment] = []
    for number in np.argsort(-loss, kind="stable"):
        second = float(at[number]) / STEPS_PER_S + start_s
        if loss[number] < LOST_DB or len(moments) == WORST_HITS:
            break
        if all(abs(second - moment.start_s) >= MOMENT_S for moment in moments):
            moments.append(Moment(second, second + 0.2, float(loss[number])))
    return tuple(moments)


def fades_s(curve: GainCurve) -> tuple[float, float]:
    """Return the lengths of the fades that mastering added.

    At the start and at the end, in seconds; 0 without one.

    A fade starts 12 dB or more below the usual gain (means of half seconds), and lasts until it is within 1 dB of it.
    """
    width = round(FADE_S * STEPS_PER_S)
    count = curve.gain.size // width
    if count < 4:
        return 0.0, 0.0
    level_db = 20 * np.log10(curve.gain[: count * width].reshape(count, width).mean(axis=1, dtype=np.float64))
    under = level_db - np.median(level_db)
    lengths = []
    for course in (under, under[::-1]):
        reached = int(np.argmax(course >= -FULL_DB))
        lengths.append(reached * FADE_S if course[0] <= -FADED_DB else 0.0)
    return lengths[0], lengths[1]


def without_fades(gain: Singles, fade_in_s: float, fade_out_s: float) -> Singles:
    """Return the gain with its fades levelled.

    They are meant, and no work of a compressor.
    """
    first, last = round(fade_in_s * STEPS_PER_S), gain.size - round(fade_out_s * STEPS_PER_S)
    level = gain.copy()
    if 0 < first < gain.size:
        level[:first] = gain[first]
    if 0 < last < gain.size:
        level[last:] = gain[last - 1]
    return level
