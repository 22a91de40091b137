"""The preview master: the song through the chain found.

It is brought to the target exactly, and written as 24 bits with TPDF dither.
"""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np

from advisor.app.errors import RequestError
from advisor.app.progress import Progress
from advisor.audition.names import PREVIEW
from advisor.audition.wav import MOST_BYTES, Cue, Shape, size, write
from advisor.mastering.chain import Chain
from advisor.mastering.lossy import code, safe_ceiling_dbtp
from advisor.report_model.mastering import PreviewMaster
from advisor.sources.chunked import Chunked
from features.loudness.level import LevelMeter, integrated_from_steps
from features.processors.dynamics.limiter import CHECK_FILTERS, true_peak_envelope
from features.records.base import Span
from features.sound.decibels import amplitude_to_db
from features.sound.signal import BLOCK_FRAMES, Samples, Signal, Source

MARK = "Preview of a mastering chain, not a finished master"
DITHER = "24 bits with TPDF dither, one step to either side"
BITS = 24
CHUNK_S = 20.0
LEAD_S = 2.0  # the slowest release has settled after twelve of its time constants
TAIL_S = 0.1
CLOSE_LU = 0.02
PEAK_ROOM_DB = 0.02  # converters' filters differ by this much beyond those that are tried, and dither adds its own
MOST_TURNS = 6
SEED = 24


class MasteredSong(Chunked):
    """The song through a chain, made chunk by chunk."""

    def __init__(self, source: Source, chain: Chain) -> None:
        """Take the song and the chain."""
        super().__init__(source.rate_hz, source.channels, source.frames, CHUNK_S)
        self._source, self._chain = source, chain

    def make(self, start: int, count: int) -> Samples:
        """Return a chunk of the song through the chain.

        The lead lets compressor and limiter settle.
        """
        lead = min(round(LEAD_S * self.rate_hz), start)
        sound = self._source.read(start - lead, lead + count + round(TAIL_S * self.rate_hz))
        made = self._chain.process(Signal(np.array(sound, np.float32), self.rate_hz)).samples
        return made[:, lead : lead + count].copy()


def read_level(source: Source) -> tuple[float | None, float]:
    """Return a song's integrated loudness and true peak (dBTP).

    The peak is that of the strictest of several interpolators.
    """
    meter = LevelMeter(source.rate_hz, source.channels)
    highest = 0.0
    before = np.zeros((source.channels, CHECK_FILTERS[-1][1]), np.float32)
    for block in source.blocks(BLOCK_FRAMES):
        meter.push(block)
        joined = np.concatenate((before, block), axis=1)
        floor = 0.97 * max(highest, float(np.abs(joined).max(initial=0.0)))
        highest = max(highest, *(float(true_peak_envelope(joined, floor, design).max(initial=0.0)) for design in CHECK_FILTERS))
        before = joined[:, -before.shape[1] :]
    trace = meter.finish()
    highest = max(highest, float(trace.true_peak.max(initial=0.0)))
    return integrated_from_steps(trace.k_sum()), amplitude_to_db(highest) or -120.0


def settled(source: Source, chain: Chain, target_lufs: float, progress: Progress) -> tuple[Chain, float, float]:
    """Return the chain that meets target and ceiling exactly.

    With it stand the loudness and true peak that the whole song then measures.
    """
    ceiling = chain.ceiling_dbtp - PEAK_ROOM_DB
    best: tuple[Chain, float, float] | None = None
    for turn in range(MOST_TURNS):
        progress.step(f"Rendering the preview master ({turn + 1})")
        lufs, peak_dbtp = read_level(MasteredSong(source, chain))
        if lufs is None:
            raise RequestError("The song is silent, so there is no preview master to render.")
        over, missing = peak_dbtp - ceiling, target_lufs - lufs
        if over <= 0.0 and (best is None or abs(missing) < abs(target_lufs - best[1])):
            best = chain, lufs, peak_dbtp
        if over <= 0.0 and abs(missing) <= CLOSE_LU:
            break
        lower = max(over, 0.0)
        chain = replace(chain, trim_db=chain.trim_db - lower, gain_db=chain.gain_db + (missing + lower) * 1.15)
    if best is None:  # safe in any case: lower by what is left over the ceiling
        best = replace(chain, trim_db=chain.trim_db - 0.5), *_lowered(source, replace(chain, trim_db=chain.trim_db - 0.5))
    return best


def _lowered(source: Source, chain: Chain) -> tuple[float, float]:
    lufs, peak_dbtp = read_level(MasteredSong(source, chain))
    return -70.0 if lufs is None else lufs, peak_dbtp


def dithered(source: Source) -> Iterator[Samples]:
    """Yield the song with triangular noise for 24 bits.

    Two even ones of a step's width (Wannamaker 1992; recalled).
    """
    noise = np.random.default_rng(SEED)  # the same at every run
    step = np.float32(0.5 ** (BITS - 1))
    for block in source.blocks(BLOCK_FRAMES):
        two = noise.random((2, *block.shape), np.float32)
        yield block + (two[0] - two[1]) * step


def render(source: Source, chain: Chain, target_lufs: float, folder: Path, densest: Span, progress: Progress) -> PreviewMaster:
    """Write the preview master into ``folder``.

    Raises `RequestError` where it cannot be, OSError when there is no room.
    """
    shape, cues = Shape(source.rate_hz, source.channels, BITS), (Cue(0, MARK),)
    if size(shape, source.frames, cues) > MOST_BYTES:
        raise RequestError("The preview master would pass 4 GiB, which is more than a WAV file can hold. Leave out --render.")
    final, lufs, peak_dbtp = settled(source, chain, target_lufs, progress)
    progress.step("Writing the preview master")
    made = MasteredSong(source, final)
    write(folder / PREVIEW, shape, dithered(made), cues)
    progress.step("Encoding and decoding the preview master")
    coded, _ = code(made, densest, peak_dbtp)
    return PreviewMaster(PREVIEW, lufs, peak_dbtp, DITHER, final.gain_db, final.trim_db, coded, safe_ceiling_dbtp(coded, peak_dbtp))
