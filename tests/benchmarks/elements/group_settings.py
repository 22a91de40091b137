"""Whether the settings found for groups do what they say: glue against an independent compressor, stray peaks against planted ones.

usage: group_settings.py --songs DIR        (DIR/SONG/stems/*.flac; nothing is read without it)

Glue: ffmpeg's `acompressor` with the same attack, release, knee and ratio (its times are four time constants: 120 and 400 ms are ours of
30 and 100 ms) and the threshold found; its gain is read exactly, from a pilot tone in a third channel. It smooths the level before the
curve, ours the reduction after it; both of its detectors are shown. What is read is the needle of `features.elements.groups.glue`: the
median over half seconds of the highest reduction. Wanted: 2 dB, give or take 0.5, with RMS detection.

Stray peaks: eight hits a minute of the drums, chosen at random among the strong ones, raised by 6 to 8 dB, three times for each song. The
limiter then runs on the sound itself: how long it works, and how much of that away from the planted hits.
"""

import argparse
import subprocess
import sys
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from features.elements.dynamics.envelope import EnvelopeMeter
from features.elements.groups.glue import GLUE, KNEE_DB, NEEDLE_S, PLAYING_DB, NeedleReader
from features.elements.groups.groups import GroupMeter, loudest_stretch, measure_group
from features.elements.groups.strays import find_peaks, find_strays
from features.processors.dynamics.compressor import Curve, reduction_db
from features.processors.dynamics.peak_limiter import peak_limiter
from features.sound.load import open_source
from features.sound.signal import Samples, Signal

Floats = NDArray[np.float64]

GROUP_WORDS = {"drums": ("kick", "snare", "clap", "hats", "cymbal", "drum", "conga", "perc"), "bass": ("bass",)}
PLANTS = 3
PER_MINUTE = 8.0
APART_MS = 2000


def groups_of(song: Path) -> tuple[dict[str, Samples], int]:
    """Return the sums of a folder's groups, and the rate."""
    groups: dict[str, Samples] = {}
    rate_hz = 0
    for path in sorted((song / "stems").glob("*.flac")):
        with open_source(path) as opened:
            rate_hz = opened.source.rate_hz
            samples = opened.source.read(0, opened.source.frames)
        name = next((name for name, words in GROUP_WORDS.items() if any(word in path.stem for word in words)), "music")
        groups[name] = groups[name] + samples if name in groups else samples
    return {name: np.ascontiguousarray(np.broadcast_to(samples, (2, samples.shape[1]))) for name, samples in groups.items()}, rate_hz


def independent_reduction_db(sound: Signal, threshold_dbfs: float, ratio: float, detection: str) -> Floats:
    """Return what ffmpeg's compressor takes off, in dB, shape ``(frames,)``."""
    pilot = np.full(sound.frames, 1e-3, np.float32)
    options = {
        "threshold": 10 ** (threshold_dbfs / 20),
        "ratio": ratio,
        "attack": 4 * GLUE.attack_ms,
        "release": 4 * GLUE.release_ms,
        "knee": 10 ** (KNEE_DB / 20),
        "makeup": 1,
        "link": "maximum",
        "detection": detection,
    }
    chain = "acompressor=" + ":".join(f"{key}={value}" for key, value in options.items())
    raw = ["-f", "f32le", "-ar", str(sound.rate_hz), "-ac", "3"]
    done = subprocess.run(
        ["ffmpeg", "-v", "error", *raw, "-i", "-", "-af", chain, *raw, "-"],
        input=np.vstack([sound.samples, pilot]).T.astype("<f4").tobytes(),
        capture_output=True,
        check=True,
    )
    out = np.frombuffer(done.stdout, "<f4").reshape(-1, 3)[:, 2]
    return np.asarray(-20 * np.log10(out.astype(np.float64) / 1e-3))


def swing_db(reduction: NDArray[np.floating], sound: Signal) -> float:
    width = round(NEEDLE_S * sound.rate_hz)
    count = sound.frames // width
    peaks = np.abs(sound.samples[:, : count * width]).max(axis=0).reshape(count, width).max(axis=1)
    plays = peaks > peaks.max() * 10 ** (-PLAYING_DB / 20)
    return float(np.median(reduction[: count * width].reshape(count, width).max(axis=1)[plays]))


def show_glue(song: str, group: str, sound: Signal) -> list[float]:
    reader = NeedleReader(sound)
    cells, read = [], []
    for ratio in (2.0, 4.0):
        threshold = reader.threshold(ratio)
        if threshold is None:
            return []
        own = swing_db(reduction_db(sound, Curve(threshold, ratio, KNEE_DB), GLUE), sound)
        rms, peak = (swing_db(independent_reduction_db(sound, threshold, ratio, detector), sound) for detector in ("rms", "peak"))
        cells.append(f"{threshold:6.1f} {own:5.2f} {rms:5.2f} {peak:5.2f}")
        read.append(rms)
    print(f"{song:15} {group:6} | {' | '.join(cells)}")
    return read


def stray_gains_db(drums: Samples, rate_hz: int, seed: int) -> tuple[Floats, Floats]:
    """Return a gain in dB for every frame that raises some strong hits, and when these are, in seconds."""
    random = np.random.default_rng(seed)
    duration_s = drums.shape[1] / rate_hz
    meter = EnvelopeMeter(rate_hz, 2)
    meter.push(drums)
    peak = meter.finish().peak
    places = find_peaks(peak)
    usual = find_strays(peak, duration_s).usual_dbfs
    strong = places[20 * np.log10(peak[places]) >= (usual or 0.0) - 2.0]
    chosen: list[int] = []
    for place in random.permutation(strong).tolist():
        if len(chosen) < round(PER_MINUTE * duration_s / 60) and all(abs(place - other) > APART_MS for other in chosen):
            chosen.append(place)
    gain_db = np.zeros(drums.shape[1])
    ramp = np.concatenate([np.linspace(0, 1, rate_hz // 200), np.ones(rate_hz // 5), np.linspace(1, 0, rate_hz // 33)])
    for place in chosen:
        start = max(int((place - 40) * rate_hz / 1000), 0)
        piece = gain_db[start : start + len(ramp)]
        piece[:] = np.maximum(piece, ramp[: len(piece)] * random.uniform(6.0, 8.0))
    return gain_db, np.array(sorted(chosen)) / 1000


def planted(drums: Samples, rate_hz: int, seed: int) -> tuple[Samples, Floats]:
    """Return the drums with strong hits raised, and when, in seconds."""
    gain_db, times_s = stray_gains_db(drums, rate_hz, seed)
    return (drums * 10 ** (gain_db / 20)).astype(np.float32), times_s


def limiter_at_work(sound: Signal, ceiling_dbfs: float | None, times_s: Floats) -> tuple[float, float]:
    """Return for how long a limiter on the sound itself takes off 0.1 dB or more, and how much of that is away from the planted hits."""
    if ceiling_dbfs is None:
        return 0.0, 0.0
    loud = np.abs(sound.samples) > 1e-4
    ratio = np.where(loud, peak_limiter(sound, ceiling_dbfs).samples / np.where(loud, sound.samples, 1.0), 1.0).min(axis=0)
    width = sound.rate_hz // 1000
    works = ratio[: len(ratio) // width * width].reshape(-1, width).min(axis=1) < 10 ** (-0.1 / 20)
    at_s = np.flatnonzero(works) * width / sound.rate_hz
    away = np.array([np.abs(times_s - time).min() > 0.4 for time in at_s], bool)
    return float(works.sum()) * width / sound.rate_hz, float(away.sum()) * width / sound.rate_hz


def show_strays(song: str, drums: Samples, rate_hz: int) -> tuple[int, int, int]:
    caught = total = false = 0
    for seed in range(PLANTS):
        sound, times_s = planted(drums, rate_hz, seed)
        meter = GroupMeter(rate_hz, 2)
        meter.push(sound)
        group = measure_group("drums", (), meter.finish(), None)
        strays_s = np.array([moment.start_s + 0.05 for moment in group.stray_peaks])
        hit = sum(bool(len(strays_s)) and np.abs(strays_s - time).min() < 0.15 for time in times_s)
        wrong = sum(np.abs(times_s - time).min() > 0.25 for time in strays_s)
        worked_s, astray_s = limiter_at_work(Signal(sound, rate_hz), group.ceiling_dbfs, times_s)
        ceiling = "   -" if group.ceiling_dbfs is None else f"{group.ceiling_dbfs:5.1f}"
        resting = 1.0 - worked_s * rate_hz / sound.shape[1]
        resting_share = 1.0 if group.resting_share is None else group.resting_share
        print(
            f"{song:15} {hit:2d} of {len(times_s):2d} caught, {wrong} others; ceiling {ceiling}; "
            f"rests {resting:.3f} (told {resting_share:.3f}), {astray_s * 1000:.0f} ms of work away from them"
        )
        caught, total, false = caught + hit, total + len(times_s), false + wrong
    return caught, total, false


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--songs", type=Path)
    arguments = parser.parse_args()
    if arguments.songs is None:
        sys.exit("nothing to measure: give --songs DIR with a folder of stems for each song")
    songs = {song.name: groups_of(song) for song in sorted(arguments.songs.iterdir()) if (song / "stems").is_dir()}
    print(f"{'':22} | 2:1: threshold, ours, independent RMS, peak | the same at 4:1")
    read: list[float] = []
    unplanted = []
    for song, (groups, rate_hz) in songs.items():
        for name, samples in groups.items():
            meter = GroupMeter(rate_hz, 2)
            meter.push(samples)
            trace = meter.finish()
            span = loudest_stretch(trace)
            if span is not None:
                start, end = round(span.start_s * rate_hz), round(span.end_s * rate_hz)
                read += show_glue(song, name, Signal(np.ascontiguousarray(samples[:, start:end]), rate_hz))
            strays = find_strays(trace.envelope.peak, trace.envelope.duration_s)
            unplanted.append(len(strays.times_s))
    within = np.abs(np.array(read) - 2.0) <= 0.5
    print(f"independent RMS detector: {within.sum()} of {len(read)} within 2 dB +- 0.5; {min(read):.2f} to {max(read):.2f} dB")
    counts = np.array([show_strays(song, groups["drums"], rate) for song, (groups, rate) in songs.items() if "drums" in groups])
    caught, total, false = counts.sum(axis=0)
    print(f"stray peaks: {caught} of {total} caught, {false} others; without a plant {sum(unplanted)} in {len(unplanted)} groups")


if __name__ == "__main__":
    main()
