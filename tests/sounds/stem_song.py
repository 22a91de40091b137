"""A short song as stems, for tests: seven elements that overlap, two of them mono."""

from collections.abc import Mapping
from functools import cache
from pathlib import Path

import numpy as np
import soundfile

from features.sound.signal import Samples
from tests import signals

RATE_HZ = 44100
SECONDS = 10.0


def voice(seconds: float = SECONDS, rate_hz: int = RATE_HZ) -> Samples:
    """Return syllables of a harmonic tone that wanders, 300 Hz to 5 kHz; never twice the same."""
    time = np.arange(round(seconds * rate_hz)) / rate_hz
    generator = np.random.default_rng(11)
    points = generator.uniform(180.0, 320.0, int(seconds * 3) + 2)
    pitch = np.interp(time * 3, np.arange(points.size), points)
    loud = np.interp(time * 4, np.arange(int(seconds * 4) + 2), generator.uniform(0.0, 1.0, int(seconds * 4) + 2)) ** 2
    phase = 2 * np.pi * np.cumsum(pitch) / rate_hz
    wave = np.sum([np.sin(number * phase) / number for number in range(2, 14)], axis=0)
    return signals.mono(0.2 * loud * wave)


def riff(notes_hz: tuple[float, ...], seconds: float, rate_hz: int, seed: int) -> signals.Floats:
    """Return notes in random order, each a quarter of a second, partials falling."""
    time = np.arange(round(seconds * rate_hz)) / rate_hz
    order = np.random.default_rng(seed).choice(notes_hz, int(seconds * 4) + 1)
    pitch = order[(time * 4).astype(int)]
    phase = 2 * np.pi * np.cumsum(pitch) / rate_hz
    wave = np.sum([np.sin(number * phase) / number**1.5 for number in range(1, 6)], axis=0) * np.exp(-(time * 4 % 1.0))
    return np.asarray(wave, np.float64)


def stems(seconds: float = SECONDS, rate_hz: int = RATE_HZ) -> dict[str, Samples]:
    """Return the elements, each planar and read-only: many tests share them."""
    return dict(_made(seconds, rate_hz))


@cache
def _made(seconds: float, rate_hz: int) -> Mapping[str, Samples]:
    made = _elements(seconds, rate_hz)
    for sound in made.values():
        sound.setflags(write=False)
    return made


def _elements(seconds: float, rate_hz: int) -> dict[str, Samples]:
    jitter = np.random.default_rng(3)
    beats = signals.beat_times(seconds, 120.0)
    eighths = tuple(min(beat_s + float(jitter.uniform(0, 0.01)), seconds - 0.01) for beat_s in signals.beat_times(seconds, 240.0))
    pad = signals.chord_wave(seconds, rate_hz) * (0.6 + 0.4 * np.sin(2 * np.pi * 0.21 * np.arange(round(seconds * rate_hz)) / rate_hz))
    return {
        "kick": signals.mono(signals.placed(signals.kick_wave(rate_hz), beats, seconds, rate_hz)),
        "snare": signals.stereo(signals.placed(signals.snare_wave(rate_hz), beats[1::2], seconds, rate_hz)),
        "hats": signals.stereo(
            signals.placed(signals.hat_wave(rate_hz), eighths, seconds, rate_hz),
            0.7 * signals.placed(signals.hat_wave(rate_hz, seed=8), eighths, seconds, rate_hz),
        ),
        "bassline": signals.stereo(0.3 * riff((55.0, 65.4, 73.4, 82.4), seconds, rate_hz, 5)),
        "pad": signals.stereo(0.12 * pad, 0.12 * np.roll(pad, 400)),
        "pluck": signals.stereo(0.15 * riff((440.0, 523.3, 587.3, 659.3, 784.0), seconds, rate_hz, 6)),
        "vox": voice(seconds, rate_hz),
    }


def mixed(parts: Mapping[str, Samples]) -> Samples:
    """Return the stereo sum."""
    return np.asarray(sum(np.broadcast_to(samples, (2, samples.shape[1])) for samples in parts.values()), np.float32)


def write(folder: Path, parts: Mapping[str, Samples], rate_hz: int = RATE_HZ, ending: str = "wav", subtype: str = "FLOAT") -> Path:
    """Write one file for each element."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, sound in parts.items():
        write_one(folder / f"{name}.{ending}", sound, rate_hz, subtype)
    return folder


def write_one(path: Path, sound: Samples, rate_hz: int = RATE_HZ, subtype: str = "FLOAT") -> Path:
    """Write one file."""
    soundfile.write(path, sound.T, rate_hz, subtype)
    return path
