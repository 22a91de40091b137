"""What the mastering stage promises, measured by other tools on real mixes.

usage: mastering_table.py --songs DIR [--only preview,damage,bright,glue,shaper] [--most N]     (DIR/*.wav are mixes)

preview   the preview master read by ffmpeg's loudness filter: within 0.1 LU of the target, true peak at or under the ceiling
damage    masters made with known settings by our own processors, ffmpeg and sox, some with equaliser and compressor: drive, tilt and lost
          hits found from the pair against the truth (drive: the settings, or with a compressor the true gain's least held moments;
          tilt: slope of a long-term spectrum by scipy; hits: the true gain on the mix's hits)
bright    a master with +2 dB at 8 kHz, and one that is only louder
glue      the threshold for 2 dB of glue, by plain loops over the published formula, and by ffmpeg's compressor with RMS detection
shaper    the waveshaper after the limiter, with the trim that the chain puts behind it: loudness up, sample peak not
"""

import argparse
import re
import subprocess
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray
from scipy.signal import welch

from advisor.app.progress import Quiet
from advisor.app.settings import Settings
from advisor.audition.names import PREVIEW
from advisor.master_check.check import compared, measured_file
from advisor.master_check.shared import share
from advisor.mastering.bench import STRETCH_S, ChainBench, premaster
from advisor.mastering.finding import find_chain, glue_thresholds
from advisor.mastering.render import render
from advisor.measuring.measured import Measured
from features.elements.groups.glue import GLUE, KNEE_DB
from features.limiting.drive import STEPS_PER_S, hit_losses_db
from features.limiting.drive import lost_share as share_of_lost
from features.loudness.level import LevelMeter, integrated_from_steps
from features.loudness.true_peak import true_peaks
from features.master_against_mix.moving_gain import GainCurve
from features.processors.dynamics.limiter import FAST, GENTLE, limit
from features.processors.dynamics.waveshaper import raise_body
from features.processors.equalisers import eq
from features.records.hits import Hits
from features.records.mastering import Mastered
from features.sound.load import open_source
from features.sound.signal import Samples, Signal
from tests.benchmarks.elements.group_settings import independent_reduction_db, swing_db

Floats = NDArray[np.float64]
TARGET_LUFS, CEILING_DBTP = -13.0, -1.0


@dataclass(frozen=True, slots=True)
class Song:
    """A mix in memory, on disk, and what was measured on it."""

    path: Path
    signal: Signal
    measured: Measured


@dataclass(frozen=True, slots=True)
class Made:
    """A master: its name, the sound after level control alone (the truth for gain), the finished sound, and its drive where it is known."""

    name: str
    level: Samples
    sound: Samples
    raise_db: float | None


def opened(path: Path) -> Song:
    with open_source(path) as source:
        measured = measured_file(source, Settings(), Quiet())
        return Song(path, Signal(np.array(source.source.read(0, source.source.frames)), source.source.rate_hz), measured)


def tool(command: Callable[[str, str], list[str]], signal: Signal, folder: Path) -> Samples:
    """Run another program on a sound as 32-bit float."""
    before, after = folder / "in.wav", folder / "out.wav"
    soundfile.write(before, signal.samples.T, signal.rate_hz, subtype="FLOAT")
    subprocess.run(command(str(before), str(after)), check=True, capture_output=True)
    return np.ascontiguousarray(soundfile.read(after, dtype="float32", always_2d=True)[0].T)


def ffmpeg(signal: Signal, folder: Path, chain: str) -> Samples:
    processed = tool(lambda a, b: ["ffmpeg", "-v", "error", "-y", "-i", a, "-af", chain, "-c:a", "pcm_f32le", b], signal, folder)
    return in_time(processed, signal.samples)


def sox(signal: Signal, folder: Path, *effects: str) -> Samples:
    return in_time(tool(lambda a, b: ["sox", a, "-e", "floating-point", "-b", "32", b, *effects], signal, folder), signal.samples)


def in_time(samples: Samples, mix: Samples) -> Samples:
    """Take out a delay of up to 20 ms."""
    size = 1 << 18
    start = mix.shape[1] // 3
    excerpt, other_excerpt = (samples_of[0, start : start + size] for samples_of in (mix, samples))
    correlation = np.fft.irfft(np.conj(np.fft.rfft(excerpt, 2 * size)) * np.fft.rfft(other_excerpt, 2 * size))
    delay = int(np.argmax(np.abs(correlation[:1000])))
    moved = samples[:, delay : delay + mix.shape[1]]
    return np.pad(moved, ((0, 0), (0, mix.shape[1] - moved.shape[1])))


def masters(song: Song, folder: Path) -> list[Made]:
    """Return masters of a song by three makers, with limiting, compression and equaliser."""
    mix = song.signal
    peak_db = 20 * float(np.log10(np.abs(mix.samples).max()))
    made = []

    def add(name: str, level: Samples, raise_db: float | None, tone: Callable[[Signal], Samples] | None = None) -> None:
        made.append(Made(name, level, level if tone is None else tone(Signal(level, mix.rate_hz)), raise_db))

    def shelf(sound: Signal) -> Samples:
        return eq.high_shelf(eq.bell(sound, 250.0, -1.5, 1.0), 6000.0, 2.0).samples

    for drive, setting, name in ((3.0, GENTLE, "gentle"), (6.0, FAST, "fast"), (9.0, GENTLE, "gentle")):
        gain = drive - 1.0 - peak_db
        add(f"own {name} {drive:g} dB", limit(mix, gain, CEILING_DBTP, setting).signal.samples, gain, shelf if drive != 3.0 else None)
    gain = 6.0 - 1.0 - peak_db
    limiter = f"volume={gain}dB,alimiter=limit=0.891:attack=5:release=80:level=disabled:latency=1"
    add("ffmpeg limiter 6 dB + eq", ffmpeg(mix, folder, limiter), gain, lambda s: ffmpeg(s, folder, "treble=g=3:f=7000,bass=g=-1.5:f=90"))
    glue = "acompressor=threshold=0.15:ratio=2:attack=120:release=400:knee=2:makeup=1:detection=rms"
    add(
        "ffmpeg glue + limiter + eq",
        ffmpeg(mix, folder, f"{glue},{limiter}"),
        None,
        lambda s: ffmpeg(s, folder, "equalizer=f=3000:t=q:w=1:g=1.5"),
    )
    headroom = ["gain", f"{gain - 6.0}"]
    add("sox compand + eq", sox(mix, folder, *headroom, "compand", "0.01,0.1", "6:-60,-60,-14,-14,0,-8"), None,
        lambda s: sox(s, folder, "treble", "2.5", "8000"))  # fmt: skip
    return made


def compare(song: Song, sound: Samples, folder: Path) -> Mastered:
    path = folder / "master.wav"
    soundfile.write(path, sound.T, song.signal.rate_hz, subtype="FLOAT")
    with open_source(song.path) as before, open_source(path) as after:
        shared = share(before.source, after.source, ("mix", "master"))
        return compared(shared, song.measured, measured_file(after, Settings(), Quiet()), Settings(), Quiet())


def true_gain(mix: Samples, level: Samples, rate_hz: int) -> GainCurve:
    """Return the gain per millisecond of a master that has no equaliser."""
    steps = mix.shape[1] * STEPS_PER_S // rate_hz
    edges = np.arange(steps) * rate_hz // STEPS_PER_S
    cross, own, whole = (
        np.add.reduceat(np.sum(first.astype(np.float64) * other, axis=0), edges)
        for first, other in ((mix, level), (mix, mix), (level, level))
    )
    known = own > 1e-9 * own.max()
    gain = np.interp(np.arange(steps), np.flatnonzero(known), cross[known] / own[known])
    rest = np.maximum(whole - 2 * gain * cross + gain**2 * own, 0)
    return GainCurve(gain.astype(np.float32), own.astype(np.float32), rest.astype(np.float32))


def slope(samples: Samples, rate_hz: int) -> float:
    """Return the slope of the long-term spectrum in dB per octave, 100 Hz to 10 kHz, from third octaves of passages that count."""
    power = np.convolve(np.square(samples).mean(axis=0), np.ones(rate_hz // 5) / (rate_hz // 5), "same")
    loud = samples[:, power > 0.1 * power.mean()]
    hz, density = welch(loud, rate_hz, nperseg=8192)
    centres = 1000 * 10 ** (np.arange(-10, 11) / 10)
    level = [10 * np.log10(density[:, (hz >= f / 1.122) & (hz < f * 1.122)].mean()) for f in centres]
    return float(np.polyfit(np.log2(centres), level, 1)[0])


def lost_share(song: Song, gain: NDArray[np.float32]) -> float:
    hits = song.measured.records[Hits]
    trace = song.measured.trace
    assert isinstance(hits, Hits)
    assert trace is not None
    count = min(gain.size, trace.steps.energy.size)
    at = np.round(np.array(hits.times_s) * STEPS_PER_S).astype(np.intp)
    loss, weight, _ = hit_losses_db(trace.steps.energy[:count], gain[:count], at)
    return share_of_lost(loss, weight)


def table_damage(songs: list[Song], folder: Path) -> None:
    print("\nDamage found from the pair against the truth\n")
    print(f"{'song':16} {'master':28} {'drive':>6} {'found':>6} {'tilt':>6} {'found':>6} {'lost':>5} {'found':>5} {'NMR':>6} {'expl.':>6}")
    errors: list[tuple[float, float, float]] = []
    for song in songs:
        rate = song.signal.rate_hz
        for made in masters(song, folder):
            mastered = compare(song, made.sound, folder)
            truth = true_gain(song.signal.samples, made.level, rate)
            drive = truth.raise_db if made.raise_db is None else made.raise_db
            tilt = slope(made.sound, rate) - slope(song.signal.samples, rate)
            lost = lost_share(song, truth.gain)
            row = (
                (mastered.raise_db or 0.0) - drive,
                (mastered.tilt_change_db_per_octave or 0.0) - tilt,
                (mastered.hits_lost_share or 0.0) - lost,
            )
            errors.append(row)
            print(
                f"{song.path.stem:16} {made.name:28} {drive:6.2f} {mastered.raise_db:6.2f} "
                f"{tilt:6.2f} {mastered.tilt_change_db_per_octave:6.2f} "
                f"{lost:5.2f} {mastered.hits_lost_share or 0.0:5.2f} {mastered.distortion_nmr_db:6.1f} {mastered.explained_share:6.3f}"
                + "".join(
                    f"  {name}!"
                    for name, error, most in zip(("drive", "tilt", "hits"), row, (0.5, 0.3, 0.05), strict=True)
                    if abs(error) > most
                )
            )
    worst = np.abs(np.array(errors)).max(axis=0)
    inside = (np.abs(np.array(errors)) <= (0.5, 0.3, 0.05)).mean(axis=0)
    print(
        f"worst error: drive {worst[0]:.2f} dB, tilt {worst[1]:.2f} dB/oct, hits {worst[2]:.3f}; within 0.5, 0.3, 0.05: {inside.round(3)}"
    )


def table_preview(songs: list[Song], folder: Path) -> None:
    print(f"\nPreview master at {TARGET_LUFS:g} LUFS under {CEILING_DBTP:g} dBTP, read by ffmpeg (ebur128=peak=true)\n")
    for song in songs:
        ready = premaster(song.signal, dict(song.measured.records), song.measured.trace)
        assert ready is not None
        mastering = find_chain(ready, TARGET_LUFS, CEILING_DBTP)
        made = render(song.signal, mastering.reached.chain, TARGET_LUFS, folder, ready.densest, Quiet())
        output = subprocess.run(
            ["ffmpeg", "-nostats", "-i", str(folder / PREVIEW), "-af", "ebur128=peak=true", "-f", "null", "-"],
            capture_output=True, text=True, check=True,
        ).stderr  # fmt: skip
        lufs, peak = (float(re.findall(pattern, output)[-1]) for pattern in (r"I:\s+(-?[\d.]+) LUFS", r"Peak:\s+(-?[\d.]+) dBFS"))
        good = abs(lufs - TARGET_LUFS) <= 0.1 and peak <= CEILING_DBTP
        chain = mastering.reached.chain
        moves = [name for name, used in (("glue", chain.glue), ("saturation", chain.saturation), ("shaper", chain.raise_db)) if used]
        print(
            f"{song.path.stem:16} ffmpeg {lufs:6.1f} LUFS {peak:5.1f} dBTP {'ok' if good else 'MISSED'}  ours {made.lufs:.2f} "
            f"{made.true_peak_dbtp:.2f}  gain foreseen {chain.gain_db:.2f}, needed {made.gain_db:.2f} dB  {' '.join(moves)}"
        )


def table_bright(songs: list[Song], folder: Path) -> None:
    print("\n+2 dB at 8 kHz (Q 1), and only louder\n")
    for song in songs:
        bright = compare(song, eq.bell(song.signal, 8000.0, 2.0, 1.0).samples * np.float32(1.5), folder)
        louder = compare(song, song.signal.samples * np.float32(1.5), folder)
        changes = [f"{tone_change.gain_db:+.1f} dB at {tone_change.centre_hz:.0f} Hz" for tone_change in bright.tone_changes]
        same = [f"{tone_change.gain_db:+.1f} dB at {tone_change.centre_hz:.0f} Hz" for tone_change in louder.tone_changes]
        print(f"{song.path.stem:16} {', '.join(changes) or 'unchanged':40} only louder: {', '.join(same) or 'unchanged'}")


def loop_reductions(sound: Signal, threshold: float, ratio: float) -> tuple[Floats, Floats]:
    """Return the reductions of both kinds of compressors, by plain loops: smoothed after the curve, and power smoothed before it."""
    level = np.abs(sound.samples.astype(np.float64)).max(axis=0)
    alphas = [np.exp(-1000 / (time * sound.rate_hz)) for time in (GLUE.attack_ms, GLUE.release_ms)]

    def curve(db: Floats) -> Floats:
        over = db - threshold
        knee = (1 - 1 / ratio) * (over + KNEE_DB / 2) ** 2 / (2 * KNEE_DB)
        return np.where(2 * over < -KNEE_DB, 0.0, np.where(2 * over > KNEE_DB, (1 - 1 / ratio) * over, knee))

    def smooth(values: Floats) -> Floats:
        state, out = 0.0, np.empty(values.size)
        for n, value in enumerate(values.tolist()):
            a = alphas[0] if value > state else alphas[1]
            state = a * state + (1 - a) * value
            out[n] = state
        return out

    after = smooth(curve(20 * np.log10(np.maximum(level, 1e-7))))
    before = curve(10 * np.log10(np.maximum(smooth(level**2), 1e-14)))
    return after, before


def table_glue(songs: list[Song], _folder: Path) -> None:
    print(f"\n2 dB of glue over the densest {STRETCH_S:g} s: thresholds, and the needle's swing by other compressors\n")
    for song in songs:
        ready = premaster(song.signal, dict(song.measured.records), song.measured.trace)
        assert ready is not None
        bench = ChainBench(ready, CEILING_DBTP)
        sound = bench.stretch()
        cells = []
        for ratio, threshold in glue_thresholds(bench).items():
            after, before = (swing_db(reduction, sound) for reduction in loop_reductions(sound, threshold, ratio))
            rms = swing_db(independent_reduction_db(sound, threshold, ratio, "rms"), sound)
            ok = "ok" if abs((after + before) / 2 - 2.0) <= 0.3 else "MISSED"
            mean = (after + before) / 2
            cells.append(f"{ratio:g}:1 at {threshold:.2f}: loops {after:.2f} and {before:.2f}, mean {mean:.2f} {ok}; ffmpeg RMS {rms:.2f}")
        print(f"{song.path.stem:16} " + "   ".join(cells))


def table_shaper(songs: list[Song], _folder: Path) -> None:
    print("\nWaveshaper of 1 dB and its trim, after 4 dB of limiting: loudness, sample peak\n")
    for song in songs:
        peak_db = 20 * float(np.log10(np.abs(song.signal.samples).max()))
        sound = limit(song.signal, 3.0 - peak_db, CEILING_DBTP).signal
        bare = raise_body(sound, 1.0, CEILING_DBTP)
        highest = max(true_peaks(bare.samples, bare.rate_hz))
        shaped = Signal(bare.samples * np.float32(min(10 ** (CEILING_DBTP / 20) / highest, 1.0)), bare.rate_hz)  # the chain's trim
        levels, peaks = [], []
        for version in (sound, shaped):
            meter = LevelMeter(version.rate_hz, version.channels)
            meter.push(version.samples)
            levels.append(integrated_from_steps(meter.finish().k_sum()) or -70.0)
            peaks.append(20 * np.log10(np.abs(version.samples).max()))
        good = levels[1] > levels[0] and peaks[1] <= peaks[0] + 0.01
        word = "ok" if good else "MISSED"
        print(f"{song.path.stem:16} {levels[0]:6.2f} to {levels[1]:6.2f} LUFS, {peaks[0]:.2f} to {peaks[1]:.2f} dBFS {word}")


TABLES = {"preview": table_preview, "damage": table_damage, "bright": table_bright, "glue": table_glue, "shaper": table_shaper}


def main(arguments: list[str]) -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--songs", type=Path, required=True)
    options.add_argument("--only", default=",".join(TABLES))
    options.add_argument("--most", type=int, default=10)
    chosen = options.parse_args(arguments)
    songs = [opened(path) for path in sorted(chosen.songs.glob("*.wav"))[: chosen.most]]
    with tempfile.TemporaryDirectory() as folder:
        for name in chosen.only.split(","):
            TABLES[name](songs, Path(folder))


if __name__ == "__main__":
    main(sys.argv[1:])
