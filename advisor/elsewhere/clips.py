"""Twelve seconds as each listening condition plays them.

All clips, that of the desk among them, have one loudness.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from advisor.audition.clips import write_clip
from advisor.audition.matching import BITS, faded, loudness_of
from advisor.audition.names import ELSEWHERE
from advisor.audition.stretch import stretch
from advisor.audition.wav import quantised
from advisor.sources.excerpt import read_span
from features.elsewhere.conditions import DESK, Condition
from features.records.base import Span
from features.records.level import Level
from features.sound.decibels import db_to_amplitude
from features.sound.signal import Samples, Source

Floats = NDArray[np.float64]

HIGHEST_DBTP = -1.1  # a tenth under what is promised: rounding may move a peak
THIRD = 10**0.05 - 10**-0.05  # width of a third octave over its centre
LOWEST_HZ = 15.0
SEED = 19


@dataclass(frozen=True, slots=True)
class ElsewhereClip:
    """A clip's condition, file, place in the song and loudness."""

    condition: str
    file: str
    start_s: float
    end_s: float
    lufs: float


def as_played(samples: Samples, rate_hz: int, condition: Condition) -> Samples:
    """Return a stretch as a condition plays it.

    Shape ``(channels, frames)``. Filtered without delay; the noise lies as far under the song, K-weighted, as it does there.
    """
    sound = _at_the_ears(samples, condition)
    count = sound.shape[1]
    size = int(fft.next_fast_len(count + rate_hz // 4, real=True))
    hz = np.fft.rfftfreq(size, 1.0 / rate_hz)
    spectra = fft.rfft(sound, size, axis=1, workers=1)
    low = hz < condition.mono_below_hz
    spectra[:, low] = spectra[:, low].mean(axis=0)
    gain = 10.0 ** (condition.gain_db(np.maximum(hz, LOWEST_HZ)) / 20.0)
    played = fft.irfft(spectra * gain, size, axis=1, workers=1)[:, :count].astype(np.float32)
    if not condition.noise:
        return played
    lufs = loudness_of(played, rate_hz).lufs
    return played if lufs is None else played + _noise(condition, rate_hz, played.shape, lufs - condition.level_db)


def _at_the_ears(samples: Samples, condition: Condition) -> Samples:
    if condition.ears == "swapped":
        return samples[::-1]
    return np.repeat(samples[:1], len(samples), axis=0) if condition.ears == "left only" else samples


def _noise(condition: Condition, rate_hz: int, shape: tuple[int, ...], full_scale_db: float) -> Samples:
    """Return the condition's noise; ``full_scale_db`` is what 0 dB sound pressure becomes, both channels together."""
    channels, count = shape
    size = int(fft.next_fast_len(count, real=True))
    hz = np.maximum(np.fft.rfftfreq(size, 1.0 / rate_hz), LOWEST_HZ)
    edge = hz * 10**0.05, hz * 10**-0.05
    per_hz_db = condition.noise_db(edge[1], edge[0]) - 10.0 * np.log10(hz * THIRD) + full_scale_db - 10.0 * np.log10(channels)
    random = np.random.default_rng(SEED)
    white = random.standard_normal((channels, size))
    shaped = fft.irfft(fft.rfft(white, axis=1, workers=1) * 10.0 ** (per_hz_db / 20.0) * np.sqrt(rate_hz / 2.0), size, axis=1, workers=1)
    noise: Samples = shaped[:, :count].astype(np.float32)
    return noise


def elsewhere_clips(
    source: Source, conditions: Sequence[Condition], densest: Span | None, level: Level | None, folder: Path
) -> tuple[ElsewhereClip, ...]:
    """Write the clips into ``folder``, which is made.

    The first is that of the desk. None where the song is all but silent there. Raises OSError.
    """
    where = stretch((), densest, level, source.frames / source.rate_hz)
    song = read_span(source, where).samples
    sounds = {condition.key: faded(as_played(song, source.rate_hz, condition), source.rate_hz) for condition in (DESK, *conditions)}
    readings = {key: loudness_of(sound, source.rate_hz) for key, sound in sounds.items()}
    levels = {key: reading.lufs for key, reading in readings.items() if reading.lufs is not None}
    if not conditions or len(levels) < len(sounds):
        return ()
    highest = [
        levels[key] + HIGHEST_DBTP - 20.0 * np.log10(max(reading.true_peak, reading.sample_peak)) for key, reading in readings.items()
    ]
    lufs = float(min(levels[DESK.key], *highest))
    folder.mkdir(parents=True)
    clips: list[ElsewhereClip] = []
    for key, sound in sounds.items():
        whole = quantised(sound * np.float32(db_to_amplitude(lufs - levels[key])), BITS)
        name = write_clip(folder, f"{_file_name(key)}.{{}}", whole, source.rate_hz)
        clips.append(ElsewhereClip(key, f"{ELSEWHERE}/{name}", where.start_s, where.end_s, lufs))
    return tuple(clips)


def _file_name(key: str) -> str:
    """Return a name that is safe in every link, whatever a condition of the user's own is called."""
    plain = "".join(letter if letter.isascii() and (letter.isalnum() or letter in "-_") else "-" for letter in key.lower())
    return plain.strip("-_")[:40] or "own"
