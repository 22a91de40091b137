"""Print one table that holds every processor against truth: filters, compressor, limiter, clipping and shaping, pan and delay.

usage: python -m tests.benchmarks.standards.processors_table [--songs FOLDER]

Each line: what, settings, where the expected value comes from, expected, measured, difference, allowed, and whether it fits. With a
folder of songs, each song is also driven 12 dB into the limiter (past the point where its true peak touches the ceiling of -1 dBTP), with
all three of its settings, and the true peak of what comes out is read at eight-fold over-sampling, three times:

- with scipy's polyphase resampler and its own filter: may not pass the ceiling;
- with the filter of a usual converter, flat up to 0.45 of the rate and 100 dB down from 0.55 on: may pass it by 0.05 dB,
  since good filters differ by that much just below half the rate;
- with the whole song's Fourier transform, a filter of endless length and steepness, which no converter has: shown, not judged. On sound
  that is as strong just below half the rate as in its middle it reads up to half a decibel more than any converter plays.

Exits with 1 when a line does not fit.
"""

import argparse
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from scipy import fft
from scipy.signal import firwin, kaiser_beta, resample_poly, upfirdn

from features.processors.dynamics.limiter import FAST, GENTLE, limit
from features.processors.dynamics.peak_limiter import peak_limiter
from features.processors.placement.gain import gain
from features.sound.load import open_source
from features.sound.signal import Samples, Signal
from tests.reference.processor_filters import filter_lines
from tests.reference.processor_levels import level_lines
from tests.reference.processor_line import Line

DRIVE_DB = 12.0
CEILING_DBTP = -1.0
SUFFIXES = {".wav", ".flac", ".ogg", ".mp3", ".aiff"}


CONVERTER = firwin(513, 1 / 8, window=("kaiser", kaiser_beta(100.0)))  # length after Kaiser for 100 dB and a tenth of the rate


def polyphase_dbtp(samples: Samples) -> float:
    """Return the true peak by `scipy.signal.resample_poly` with that function's own filter."""
    return float(max(20 * np.log10(np.abs(resample_poly(row.astype(np.float64), 8, 1)).max()) for row in samples))


def converter_dbtp(samples: Samples) -> float:
    """Return the true peak out of a usual converter."""
    return float(max(20 * np.log10(np.abs(upfirdn(8 * CONVERTER, row.astype(np.float64), 8)).max()) for row in samples))


def fourier_dbtp(samples: Samples) -> float:
    """Return the true peak by adding zeros to the spectrum of the whole sound; silence around it keeps its ends apart."""
    highest = 0.0
    for row in samples:
        size = fft.next_fast_len(row.size + 4096, real=True)
        spectrum = fft.rfft(row.astype(np.float64), size)
        for eighth in range(8):  # one shift after the other: the same values in an eighth of the memory
            turned = spectrum * np.exp(2j * np.pi * np.arange(spectrum.size) * eighth / 8 / size)
            highest = max(highest, float(np.abs(fft.irfft(turned, size)).max()))
    return 20 * float(np.log10(highest))


def limited(song: Signal, peak_dbtp: float) -> Iterator[tuple[str, Samples]]:
    """Yield the song, driven, out of each setting of the limiter."""
    drive_db = DRIVE_DB + CEILING_DBTP - peak_dbtp
    for name, setting in (("limiter, gentle", GENTLE), ("limiter, fast", FAST)):
        yield name, limit(song, drive_db, CEILING_DBTP, setting).signal.samples
    yield "peak limiter", peak_limiter(gain(song, drive_db), CEILING_DBTP).samples


def song_lines(path: Path) -> Iterator[Line]:
    """Drive one song into the limiter."""
    with open_source(path) as opened:
        song = Signal(np.ascontiguousarray(opened.source.read(0, opened.source.frames)), opened.source.rate_hz)
    if not song.samples.any():
        return
    for name, samples in limited(song, polyphase_dbtp(song.samples)):
        settings = f"{path.stem[:20]}, {DRIVE_DB:g} dB"
        yield Line(name, settings, "ceiling; 8x polyphase", CEILING_DBTP, polyphase_dbtp(samples), 0.0, "dBTP", at_most=True)
        yield Line(name, settings, "ceiling; 8x converter", CEILING_DBTP, converter_dbtp(samples), 0.05, "dBTP", at_most=True)
        yield Line(name, settings, "8x endless filter", CEILING_DBTP, fourier_dbtp(samples), np.inf, "dBTP", at_most=True)


def shown(lines: Iterator[Line]) -> Iterator[Line]:
    for line in lines:
        print(line, flush=True)
        yield line


def print_worst(lines: list[Line]) -> None:
    """Print, for each setting of the limiter and each meter, the highest peak over all songs."""
    for kind in sorted({(line.what, line.source) for line in lines}):
        worst = max((line for line in lines if (line.what, line.source) == kind), key=lambda line: line.measured)
        print(f"worst of all songs: {worst}")


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--songs", type=Path, help="folder of audio files")
    folder: Path | None = parser.parse_args().songs
    names = ("what", "settings", "expected from", "expected", "measured", "difference", "allowed", "unit", "fits")
    print("{:<24} {:<34} {:<40} {:>11} {:>11} {:>10} {:>8} {:<4} {}".format(*names))
    lines = list(shown(filter_lines())) + list(shown(level_lines()))
    if folder is not None:
        paths = sorted(path for path in folder.rglob("*") if path.suffix.lower() in SUFFIXES)
        songs = [line for path in paths for line in shown(song_lines(path))]
        print_worst(songs)
        lines += songs
    failed = sum(not line.fits for line in lines)
    print(f"\n{len(lines)} lines, {failed} do not fit")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
