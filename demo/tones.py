"""Raw material of the demo's instruments.

Oscillators, noise, envelopes, and a track to place them on.
"""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from features.sound.signal import Samples

RATE_HZ = 44_100
TOP_HZ = 15_000.0
_TABLE_BITS = 13
_TABLE_FRAMES = 1 << _TABLE_BITS

Curve = NDArray[np.float32]


def frames_of(seconds: float) -> int:
    """Return a time in sample frames."""
    return round(seconds * RATE_HZ)


def frequency_of(pitch: float) -> float:
    """Return the frequency of a key number.

    69 is the A at 440 Hz, equal temperament.
    """
    return float(440.0 * 2.0 ** ((pitch - 69.0) / 12.0))


def amplitude_of(level_db: float) -> float:
    """Return the factor of a level in dB."""
    return float(10.0 ** (level_db / 20.0))


def clock(count: int) -> Curve:
    """Return the time of each of ``count`` frames in seconds."""
    return np.arange(count, dtype=np.float32) / np.float32(RATE_HZ)


@lru_cache(maxsize=256)
def _cycle(shape: str, harmonics: int) -> Curve:
    """Return one cycle of a wave with that many harmonics, so that nothing folds back at the Nyquist frequency."""
    k = np.arange(1, harmonics + 1)
    weights = {
        "sine": -1j * (k == 1),
        "saw": -1j / k,
        "square": -1j * (k % 2) / k,
        "triangle": -1j * (k % 2) * (-1.0) ** (k // 2) / k**2,
        "pulse": np.sin(np.pi * k * 0.22) / k + 0j,
    }[shape]
    spectrum = np.zeros(_TABLE_FRAMES // 2 + 1, dtype=complex)
    spectrum[1 : harmonics + 1] = weights
    wave = np.fft.irfft(spectrum)
    return np.asarray(wave / np.abs(wave).max(), dtype=np.float32)


def _harmonics(frequency_hz: float) -> int:
    return int(np.clip(TOP_HZ / frequency_hz, 1, 600))


def oscillator(shape: str, frequency_hz: float, count: int, phase: float = 0.0) -> Curve:
    """Return ``count`` frames of a steady wave.

    The phase runs in whole 32-bit turns, which is exact and quick.
    """
    step = np.uint32(round(frequency_hz / RATE_HZ * 2**32))
    turn = np.arange(count, dtype=np.uint32) * step + np.uint32(int(phase % 1.0 * 2**32))
    return np.asarray(_cycle(shape, _harmonics(frequency_hz))[turn >> np.uint32(32 - _TABLE_BITS)], dtype=np.float32)


def gliding(shape: str, frequency_hz: Curve, phase: float = 0.0) -> Curve:
    """Return a wave whose frequency follows a curve.

    One value a frame.
    """
    turn = (np.cumsum(frequency_hz, dtype=np.float64) / RATE_HZ + phase) % 1.0
    index = (turn * _TABLE_FRAMES).astype(np.int32) & (_TABLE_FRAMES - 1)
    return np.asarray(_cycle(shape, _harmonics(float(frequency_hz.max())))[index], dtype=np.float32)


def phases(frequency_hz: float, count: int) -> Curve:
    """Return the phase of a steady tone in radians.

    0 to 2 pi, exact over long notes.
    """
    turn = np.arange(count, dtype=np.float64) * (frequency_hz / RATE_HZ) % 1.0
    return (2.0 * np.pi * turn).astype(np.float32)


def noise(rng: np.random.Generator, count: int) -> Curve:
    """Return white noise with the variance one."""
    return rng.standard_normal(count, dtype=np.float32)


def decay(count: int, time_s: float) -> Curve:
    """Return an exponential fall from one.

    Ended by a short fade so that no edge clicks.
    """
    curve = np.exp(-clock(count) / np.float32(time_s))
    return soften(curve, 0.0, min(0.02, 0.3 * count / RATE_HZ))


def soften(curve: Curve, attack_s: float, release_s: float) -> Curve:
    """Fade the two ends of a curve in place.

    With a raised cosine; it is returned as well.
    """
    for seconds, part in ((attack_s, curve), (release_s, curve[::-1])):
        count = min(frames_of(seconds), curve.size)
        if count:
            part[:count] *= 0.5 - 0.5 * np.cos(np.pi * np.arange(count, dtype=np.float32) / count)
    return curve


def envelope(count: int, hold: int, attack_s: float, fall_s: float, sustain: float) -> Curve:
    """Return a note's loudness.

    A rise, a fall towards ``sustain`` while held, a release over the frames after ``hold``.
    """
    time = clock(count)
    curve = np.float32(sustain) + np.float32(1.0 - sustain) * np.exp(-time / np.float32(fall_s))
    soften(curve, attack_s, 0.0)
    release = count - hold
    if release > 0:
        curve[hold:] *= np.exp(-4.5 * np.arange(release, dtype=np.float32) / release)
        soften(curve[hold:], 0.0, 0.4 * release / RATE_HZ)
    return np.asarray(curve, dtype=np.float32)


def silence(count: int) -> Samples:
    """Return an empty stereo track."""
    return np.zeros((2, count), dtype=np.float32)


def panned(sound: Curve, position: float) -> Samples:
    """Pan a mono sound at constant power.

    Between left (-1) and right (+1).
    """
    angle = (position + 1.0) * np.pi / 4.0
    return np.stack([sound * np.float32(np.cos(angle)), sound * np.float32(np.sin(angle))])


def place(track: Samples, sound: Samples | Curve, start_s: float, gain: float = 1.0) -> None:
    """Add a sound to a track from ``start_s`` on.

    What falls outside the track is cut.
    """
    start = frames_of(start_s)
    skip = max(-start, 0)
    count = min(sound.shape[-1] - skip, track.shape[-1] - max(start, 0))
    if count > 0:
        track[:, start + skip : start + skip + count] += np.float32(gain) * sound[..., skip : skip + count]
