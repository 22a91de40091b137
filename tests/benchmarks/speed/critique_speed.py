"""How long a critique takes, beside one pass of ffmpeg's loudness filter over the same file, in pairs.

usage: python -m tests.benchmarks.speed.critique_speed [FILE] [--minutes 4] [--runs 5] [--command critique --quick] [--stems DIR]
Without FILE a synthetic mix of the asked length is made. Prints seconds, ratios and peak memory; judges nothing. With --stems, DIR holds
the stems of a song; they and their sum are repeated until they are as long as asked for, and the critique gets both.
"""

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import soundfile

RATE_HZ = 44100


def synthetic_mix(path: Path, minutes: float) -> None:
    """Write a mix-like file: kicks, a bass, chords and noise hats, 24 bits, in pieces of ten seconds."""
    generator = np.random.default_rng(1)
    with soundfile.SoundFile(path, "w", RATE_HZ, 2, "PCM_24") as out:
        for piece in range(int(minutes * 6)):
            time_s = np.arange(10 * RATE_HZ) / RATE_HZ
            beat = time_s % 0.5
            kick = np.sin(2 * np.pi * 55 * beat) * np.exp(-beat * 12)
            bass = 0.4 * np.sin(2 * np.pi * (55 + 10 * (piece % 4)) * time_s)
            chord = sum(np.sin(2 * np.pi * f * time_s + piece) for f in (220, 277, 330, 440)) * 0.08
            hats = generator.normal(size=(2, time_s.size)) * np.exp(-((time_s + 0.25) % 0.25) * 40) * 0.15
            level = 0.35 if piece % 6 == 0 else 0.7
            out.write((level * 0.5 * (kick + bass + chord + hats)).T)


def long_song(stems: Path, place: Path, minutes: float) -> tuple[Path, Path]:
    """Write stems repeated to some minutes, 24 bits, and their sum; return the mix and the folder of stems."""
    folder = place / "stems"
    folder.mkdir()
    total = np.zeros((0, 2))
    rate_hz = RATE_HZ
    for path in sorted(stems.iterdir()):
        if path.suffix not in {".wav", ".flac"}:
            continue
        sound, rate_hz = soundfile.read(path, always_2d=True)
        frames = round(minutes * 60 * rate_hz)
        sound = np.tile(sound, (-(-frames // len(sound)), 1))[:frames]
        soundfile.write(folder / f"{path.stem}.wav", sound, rate_hz, "PCM_24")
        total = np.broadcast_to(sound, (frames, 2)) + (total if len(total) else 0.0)
    soundfile.write(place / "mix.wav", total, rate_hz, "FLOAT")
    return place / "mix.wav", folder


def timed(command: list[str]) -> tuple[float, float, float]:
    """Run a command; return wall seconds, CPU seconds and peak MiB of its process."""
    start = time.perf_counter()
    with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as process:
        _, status, usage = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode:
        sys.exit(f"failed ({process.returncode}): {' '.join(command)}")
    return time.perf_counter() - start, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024


def main() -> None:
    """Time the pairs and print a table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("file", nargs="?", type=Path)
    parser.add_argument("--minutes", type=float, default=4.0)
    parser.add_argument("--runs", type=int, default=5)
    parser.add_argument("--command", nargs="+", default=["critique", "--quick"])
    parser.add_argument("--stems", type=Path)
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        file = chosen.file or Path(folder) / "mix.wav"
        beside: list[str] = []
        if chosen.stems is not None:
            file, stems = long_song(chosen.stems, Path(folder), chosen.minutes)
            beside = ["--stems", str(stems)]
        elif chosen.file is None:
            synthetic_mix(file, chosen.minutes)
        ours = [str(Path(sys.executable).with_name("mixproof")), *chosen.command, str(file), *beside, "--out", f"{folder}/out"]
        theirs = ["ffmpeg", "-hide_banner", "-nostats", "-i", str(file), "-af", "ebur128=peak=true:framelog=verbose", "-f", "null", "-"]
        timed(ours)
        pairs = [(timed(theirs), timed(ours)) for _ in range(chosen.runs)]
    for name, place in (("wall s", 0), ("CPU s", 1)):
        ratios = [own[place] / other[place] for other, own in pairs]
        middle = [statistics.median(values) for values in ([pair[0][place] for pair in pairs], [pair[1][place] for pair in pairs])]
        print(
            f"{name:7} ffmpeg {middle[0]:6.2f}  mixproof {middle[1]:6.2f}  ratio median {statistics.median(ratios):5.2f} "
            f"(min {min(ratios):.2f}, max {max(ratios):.2f})"
        )
    print(f"peak MiB  mixproof {max(own[2] for _, own in pairs):.0f}")


if __name__ == "__main__":
    main()
