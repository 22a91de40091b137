"""Print what the limiter outlook says about real songs, and whether it keeps its promises there.

Run ``python -m tests.benchmarks.mastering.outlook_table --songs FOLDER`` from the repository's root.
Every audio file of the folder is read.
Printed per song: the readings at 4, 8, 12 and 18 dB of drive; the outlook with the seconds of CPU it took; then the checks:

- readings grow with the drive;
- loudness worked out per millisecond against really limiting the whole song (both settings, 4 to 12 dB);
- true peak of the limited song at eight-fold over-sampling of another library, ceiling -1 dBTP;
- 6 dB more at 45 Hz (bell, Q 1): change of clean loudness, and of the loudness of what lies above 120 Hz at the clean point;
- distortion of the gentle setting, the fast one and a hard clipper at the same loudness (the gentle setting's clean one).
"""

import argparse
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.signal import resample_poly

from features.hits.audibility import HitMeter, measure_hits
from features.limiting.drive import Steps
from features.limiting.outlook import OutlookGoal, OutlookMeter, OutlookTrace, limiter_outlook
from features.limiting.sweep import DrivenSong, Excerpt, take_excerpt
from features.loudness.level import LevelMeter, LevelTrace
from features.processors.dynamics.limiter import FAST, GENTLE, Setting, gain_curve, limit, true_peak_envelope
from features.processors.equalisers import eq
from features.records.base import Span
from features.records.outlook import Outlook
from features.song.sections import measure_sections
from features.sound.load import open_source
from features.sound.signal import Samples, Signal
from features.sound.spectrogram import SpectrogramMeter

DRIVES_DB = (4.0, 8.0, 12.0, 18.0)
TARGET_LUFS, CEILING_DBTP = -13.0, -1.0
SETTINGS = {"gentle": GENTLE, "fast": FAST}


@dataclass(frozen=True)
class Song:
    """A song with what its outlook needs."""

    name: str
    signal: Signal
    level: LevelTrace
    trace: OutlookTrace
    densest: Span
    hits_s: tuple[float, ...]
    meter_s: float

    @property
    def peak(self) -> float:
        return max(float(self.level.true_peak.max()), float(self.trace.steps.envelope.max()))


def traced(signal: Signal) -> OutlookTrace:
    meter = OutlookMeter(signal.rate_hz, signal.channels)
    for block in signal.blocks():
        meter.push(block)
    return meter.finish()


def prepared(name: str, signal: Signal, hits_s: tuple[float, ...] | None = None) -> Song:
    rate, channels = signal.rate_hz, signal.channels
    level, spectrogram, hits = LevelMeter(rate, channels), SpectrogramMeter(rate, channels), HitMeter(rate, channels)
    for block in signal.blocks():
        level.push(block)
        spectrogram.push(block)
        if hits_s is None:
            hits.push(block)
    levels = level.finish()
    densest = measure_sections(levels, spectrogram.finish()).densest
    start = time.process_time()
    trace = traced(signal)
    spent = time.process_time() - start
    return Song(name, signal, levels, trace, densest, measure_hits(hits.finish()).times_s if hits_s is None else hits_s, spent)


def outlook(song: Song) -> Outlook:
    return limiter_outlook(
        song.signal,
        song.trace,
        float(song.level.true_peak.max(initial=0.0)),
        song.densest,
        song.hits_s,
        OutlookGoal(TARGET_LUFS, CEILING_DBTP),
    )


def excerpt(song: Song) -> Excerpt:
    part = take_excerpt(song.signal, song.trace.steps, song.densest, song.hits_s, song.peak)
    if part is None:
        raise SystemExit(f"{song.name} is silent")
    return part


def readings(song: Song, part: Excerpt) -> None:
    for name, setting in SETTINGS.items():
        bench = DrivenSong(song.trace.steps, part, song.peak, CEILING_DBTP, setting)
        cells = []
        for drive in DRIVES_DB:
            point = bench.point(drive, bench.distortion_db(drive))
            slope = (bench.lufs(drive + 0.5) - bench.lufs(drive - 0.5)) / 1.0
            cells.append(f"{point.lufs:6.1f} {slope:4.2f} {point.distortion_nmr_db:6.1f} {point.pumping_db:4.2f} {point.hit_loss_db:5.2f}")
        print(f"  {name:<7}" + " |".join(cells))


def growing(looked_ahead: Outlook) -> str:
    worst = 0.0
    for curve in (looked_ahead.curve, looked_ahead.fast_curve):
        for name in ("lufs", "gain_reduction_p95_db", "distortion_nmr_db", "pumping_db", "hit_loss_db"):
            values = np.array([getattr(point, name) for point in curve])
            worst = min(worst, float(np.diff(values).min()))
    return f"largest step down of any reading {worst:.3f}"


def loudness_error(song: Song) -> str:
    envelope = true_peak_envelope(song.signal.samples)
    cells = []
    for name, setting in SETTINGS.items():
        errors = []
        for drive in (4.0, 6.0, 8.0, 10.0, 12.0):
            ceiling = song.peak * 10 ** (-drive / 20)
            gain = gain_curve(envelope, ceiling, song.signal.rate_hz, setting)
            really = traced(Signal(song.signal.samples * gain, song.signal.rate_hz)).steps.integrated_lufs()
            foretold = song.trace.steps.integrated_lufs(song.trace.steps.gain(ceiling, setting))
            errors.append((foretold or 0.0) - (really or 0.0))
        cells.append(f"{name} {min(errors):+.3f}..{max(errors):+.3f}")
    return ", ".join(cells) + " LU"


def true_peak(song: Song) -> str:
    cells = []
    for name, setting in SETTINGS.items():
        done = limit(song.signal, 12.0 + CEILING_DBTP - 20 * float(np.log10(song.peak)), CEILING_DBTP, setting)
        highest = np.abs(resample_poly(done.signal.samples.astype(np.float64), 8, 1, axis=1)).max()
        cells.append(f"{name} {20 * np.log10(highest):.3f} dBTP")
    return ", ".join(cells)


def body_lufs(song: Song, looked_ahead: Outlook) -> float:
    high = traced(eq.high_pass(song.signal, 120.0, 2)).steps.energy
    drive = looked_ahead.drive_db or 0.0
    steps = song.trace.steps
    body = Steps(steps.envelope, high).integrated_lufs(steps.gain(song.peak * 10 ** (-drive / 20), GENTLE))
    return (body or -70.0) + drive + CEILING_DBTP - 20 * float(np.log10(song.peak))


def sub(song: Song, looked_ahead: Outlook) -> tuple[float, float, str]:
    boomy = prepared(song.name, eq.bell(song.signal, 45.0, 6.0, 1.0), song.hits_s)
    boomy = Song(boomy.name, boomy.signal, boomy.level, boomy.trace, song.densest, song.hits_s, 0.0)
    other = outlook(boomy)
    clean = (other.clean_lufs or 0.0) - (looked_ahead.clean_lufs or 0.0)
    body = body_lufs(boomy, other) - body_lufs(song, looked_ahead)
    return (
        clean,
        body,
        f"clean {clean:+.2f} LU (undriven {other.curve[0].lufs - looked_ahead.curve[0].lufs:+.2f}), above 120 Hz {body:+.2f} LU",
    )


def _loudness(samples: Samples, rate_hz: int) -> float:
    return traced(Signal(np.ascontiguousarray(samples), rate_hz)).steps.integrated_lufs() or -70.0


def at_equal_loudness(song: Song, part: Excerpt, looked_ahead: Outlook) -> tuple[float, float, float]:
    """Return the distortion of gentle, fast and clipped, all as loud on the excerpt as the gentle one at its clean drive."""
    rate, music, samples = part.rate_hz, part.music, part.samples
    drive = looked_ahead.drive_db or 0.0

    def gentle_at(setting: Setting | None, drive_db: float) -> tuple[float, float]:
        top = song.peak * 10 ** (-drive_db / 20)
        if setting is None:
            clipped = np.clip(samples, -top, top)
            return _loudness(clipped, rate) + drive_db, music.distortion_db(np.ones(samples.shape[1], np.float32), clipped - samples)
        gain = gain_curve(part.envelope, top, rate, setting)
        return _loudness(samples * gain, rate) + drive_db, music.distortion_db(gain)

    wanted, gentle = gentle_at(GENTLE, drive)
    results = []
    for setting in (FAST, None):
        low, high = 0.0, drive
        for _ in range(9):
            middle = (low + high) / 2
            loud, distortion = gentle_at(setting, middle)
            low, high = (middle, high) if loud < wanted else (low, middle)
        results.append(distortion)
    return gentle, results[0], results[1]


def report(path: Path) -> tuple[bool, bool, bool, bool]:
    with open_source(path) as opened:
        signal = Signal(np.ascontiguousarray(opened.source.read(0, opened.source.frames)), opened.source.rate_hz)
    song = prepared(path.stem, signal)
    part = excerpt(song)
    undriven = song.trace.steps.integrated_lufs()
    if undriven is None:
        raise SystemExit(f"{song.name} is silent")
    print(f"\n{song.name}: {undriven:.1f} LUFS, PLR {20 * np.log10(song.peak) - undriven:.1f}, {len(song.hits_s)} hits")
    readings(song, part)
    outlook(song)
    start = time.process_time()
    measured = outlook(song)
    spent = time.process_time() - start
    print(
        f"  clean {measured.clean_lufs:.2f} LUFS at {measured.drive_db:.1f} dB, stopped by {measured.stopped_by}; "
        f"fast {measured.fast_clean_lufs:.2f}, {measured.fast_stopped_by}; meter {song.meter_s:.2f} s, outlook {spent:.2f} s"
    )
    print(
        "  peaks "
        + ", ".join(f"{share.low_hz:.0f}-{share.high_hz:.0f} Hz {share.share:.2f}" for share in measured.peak_share if share.share >= 0.05)
    )
    clean, body, words = sub(song, measured)
    gentle, fast, clipped = at_equal_loudness(song, part, measured)
    print(f"  {growing(measured)}\n  loudness error {loudness_error(song)}\n  true peak {true_peak(song)}\n  +6 dB at 45 Hz: {words}")
    print(f"  distortion at equal loudness: gentle {gentle:.1f}, fast {fast:.1f}, clipped {clipped:.1f} dB")
    return clean < 0.0, body < 0.0, gentle < fast, gentle < clipped


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--songs", type=Path, required=True, help="folder of audio files")
    paths = sorted(path for path in parser.parse_args().songs.iterdir() if path.is_file())
    print("per drive of", ", ".join(f"{drive:.0f} dB" for drive in DRIVES_DB), "- LUFS, slope, distortion dB, pumping dB, hits lost dB")
    rows = np.array([report(path) for path in paths])
    names = ("sub lowers clean loudness", "sub lowers what lies above 120 Hz", "gentle distorts less than fast", "gentle less than clipped")
    print("\n" + "\n".join(f"{name}: {count} of {len(paths)}" for name, count in zip(names, rows.sum(axis=0), strict=True)))


if __name__ == "__main__":
    main()
