"""Synthetic sounds for tests, all planar float32 ``(channels, frames)``, full scale 1.0, and all from a seed."""

from collections.abc import Iterable, Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from features.sound.signal import Samples, Signal

RATE_HZ = 48000
RATES_HZ = (44100, 48000, 96000)
KEPT = 16  # of the sounds made last: tests of one file share them
Floats = NDArray[np.float64]


def amplitude(level_db: float) -> float:
    return float(10.0 ** (level_db / 20.0))


def stereo(left: Floats | Samples, right: Floats | Samples | None = None) -> Samples:
    """Two channels from one or two waves of shape ``(frames,)``."""
    return np.stack([left, left if right is None else right]).astype(np.float32)


def mono(wave: Floats | Samples) -> Samples:
    return np.asarray(wave)[np.newaxis].astype(np.float32)


def signal(samples: Samples, rate_hz: int = RATE_HZ) -> Signal:
    return Signal(np.ascontiguousarray(samples, np.float32), rate_hz)


def silence(duration_s: float, rate_hz: int = RATE_HZ, channels: int = 2) -> Samples:
    return np.zeros((channels, round(duration_s * rate_hz)), np.float32)


def fade(wave: Floats, rate_hz: int, fade_s: float) -> Floats:
    """Raised-cosine fade in and out over the last axis."""
    count = min(round(fade_s * rate_hz), wave.shape[-1] // 2)
    ramp = 0.5 - 0.5 * np.cos(np.pi * (np.arange(count) + 0.5) / max(count, 1))
    faded = wave.copy()
    faded[..., :count] *= ramp
    faded[..., wave.shape[-1] - count :] *= ramp[::-1]
    return faded


def sine_wave(frequency_hz: float, duration_s: float, rate_hz: int = RATE_HZ, peak_dbfs: float = 0.0, phase_degrees: float = 0.0) -> Floats:
    """Return a sine of shape ``(frames,)``; phase 0 starts at zero, going up."""
    time = np.arange(round(duration_s * rate_hz)) / rate_hz
    return np.asarray(amplitude(peak_dbfs) * np.sin(2 * np.pi * frequency_hz * time + np.deg2rad(phase_degrees)), np.float64)


def sine(frequency_hz: float, duration_s: float, rate_hz: int = RATE_HZ, peak_dbfs: float = 0.0, channels: int = 2) -> Samples:
    """Return the same sine in every channel."""
    return np.tile(sine_wave(frequency_hz, duration_s, rate_hz, peak_dbfs), (channels, 1)).astype(np.float32)


def tone_steps(
    steps: Iterable[tuple[float, float | None]], rate_hz: int = RATE_HZ, frequency_hz: float = 1000.0, channels: int = 2
) -> Samples:
    """Sine whose level changes: ``(seconds, peak dBFS)`` per step, ``None`` for silence; the phase runs on."""
    levels = [np.full(round(seconds * rate_hz), 0.0 if peak is None else amplitude(peak)) for seconds, peak in steps]
    envelope = np.concatenate(levels)
    wave = envelope * np.sin(2 * np.pi * frequency_hz * np.arange(len(envelope)) / rate_hz)
    return np.tile(wave, (channels, 1)).astype(np.float32)


def white_wave(duration_s: float, rate_hz: int = RATE_HZ, rms_dbfs: float = -20.0, seed: int = 1) -> Floats:
    """Gaussian white noise of exactly ``rms_dbfs`` (true RMS), shape ``(frames,)``."""
    wave = np.random.default_rng(seed).standard_normal(round(duration_s * rate_hz))
    return _at_rms(wave, rms_dbfs)


def pink_wave(
    duration_s: float,
    rate_hz: int = RATE_HZ,
    rms_dbfs: float = -20.0,
    seed: int = 1,
    low_hz: float = 20.0,
    high_hz: float = 20000.0,
    db_per_octave: float = -3.0102999566398,
) -> Floats:
    """Noise whose power per Hz falls by ``db_per_octave``, nothing outside ``low_hz``-``high_hz``, shape ``(frames,)``."""
    return _at_rms(_coloured(round(duration_s * rate_hz), rate_hz, seed, low_hz, high_hz, db_per_octave), rms_dbfs)


@lru_cache(KEPT)
def _coloured(frames: int, rate_hz: int, seed: int, low_hz: float, high_hz: float, db_per_octave: float) -> Floats:
    spectrum = np.fft.rfft(np.random.default_rng(seed).standard_normal(frames))
    frequency = np.fft.rfftfreq(frames, 1 / rate_hz)
    inside = (frequency >= low_hz) & (frequency <= high_hz)
    gain = np.zeros_like(frequency)
    gain[inside] = (frequency[inside] / 1000.0) ** (db_per_octave / (20.0 * np.log10(2.0)))
    return _shared(np.fft.irfft(spectrum * gain, frames))


def _at_rms(wave: Floats, rms_dbfs: float) -> Floats:
    return np.asarray(wave * (amplitude(rms_dbfs) / np.sqrt(np.mean(wave**2))), np.float64)


def white(duration_s: float, rate_hz: int = RATE_HZ, rms_dbfs: float = -20.0, seed: int = 1, correlation: float = 0.0) -> Samples:
    """Stereo white noise of a given correlation between the channels."""
    return correlated(white_wave(duration_s, rate_hz, rms_dbfs, seed), white_wave(duration_s, rate_hz, rms_dbfs, seed + 1000), correlation)


def pink(duration_s: float, rate_hz: int = RATE_HZ, rms_dbfs: float = -20.0, seed: int = 1, correlation: float = 0.0) -> Samples:
    """Stereo pink noise, 20 Hz-20 kHz, of a given correlation between the channels."""
    return correlated(pink_wave(duration_s, rate_hz, rms_dbfs, seed), pink_wave(duration_s, rate_hz, rms_dbfs, seed + 1000), correlation)


def correlated(first: Floats, second: Floats, correlation: float) -> Samples:
    """Mix two independent waves into a stereo pair whose correlation is exactly ``correlation`` (-1 to 1)."""
    size = np.sqrt(np.mean(first**2))
    rest = second - first * (np.dot(first, second) / np.dot(first, first))
    rest *= size / np.sqrt(np.mean(rest**2))
    return stereo(first, correlation * first + np.sqrt(1.0 - correlation**2) * rest)


def clicks(times_s: Sequence[float], duration_s: float, rate_hz: int = RATE_HZ, height: float = 0.5, channels: int = 2) -> Samples:
    """Single samples of ``height`` in silence."""
    sound = silence(duration_s, rate_hz, channels)
    for time_s in times_s:
        sound[:, round(time_s * rate_hz)] = height
    return sound


def kick_wave(rate_hz: int = RATE_HZ, peak: float = 0.8, decay_s: float = 0.12, tune_hz: float = 50.0) -> Floats:
    """Return a drum: a sine falling to ``tune_hz``, with a short noise tick in front."""
    time = np.arange(round(4 * decay_s * rate_hz)) / rate_hz
    phase = 2 * np.pi * (tune_hz * time + 4.0 * (1 - np.exp(-time / 0.02)))
    tick = np.random.default_rng(5).standard_normal(len(time)) * np.exp(-time / 0.002) * 0.2
    wave = np.sin(phase) * np.exp(-time / decay_s) + tick
    return np.asarray(fade(wave / np.max(np.abs(wave)) * peak, rate_hz, 0.0005), np.float64)


def snare_wave(rate_hz: int = RATE_HZ, peak: float = 0.6, decay_s: float = 0.08, seed: int = 6) -> Floats:
    """Return a drum: noise over a 190 Hz body."""
    time = np.arange(round(4 * decay_s * rate_hz)) / rate_hz
    noise = np.random.default_rng(seed).standard_normal(len(time))
    wave = (0.5 * noise + np.sin(2 * np.pi * 190 * time)) * np.exp(-time / decay_s)
    return np.asarray(fade(wave / np.max(np.abs(wave)) * peak, rate_hz, 0.0005), np.float64)


def hat_wave(rate_hz: int = RATE_HZ, peak: float = 0.25, decay_s: float = 0.02, seed: int = 7) -> Floats:
    """Return a drum: short noise with little below some kHz (twice differenced)."""
    time = np.arange(round(5 * decay_s * rate_hz)) / rate_hz
    noise = np.diff(np.random.default_rng(seed).standard_normal(len(time) + 2), 2)
    wave = noise * np.exp(-time / decay_s)
    return np.asarray(fade(wave / np.max(np.abs(wave)) * peak, rate_hz, 0.0005), np.float64)


def placed(hit: Floats, times_s: Sequence[float], duration_s: float, rate_hz: int = RATE_HZ) -> Floats:
    """Return ``hit`` repeated at each time (rounded to a sample), shape ``(frames,)``; cut at the end."""
    wave = np.zeros(round(duration_s * rate_hz))
    for time_s in times_s:
        start = round(time_s * rate_hz)
        part = hit[: len(wave) - start]
        wave[start : start + len(part)] += part
    return wave


def beat_times(duration_s: float, tempo_bpm: float = 120.0, every: int = 1, first: int = 0) -> tuple[float, ...]:
    """Return the times of every ``every``-th beat from beat number ``first``."""
    beat_s = 60.0 / tempo_bpm
    return tuple(float(beat * beat_s) for beat in range(first, int(np.ceil(duration_s / beat_s)), every))


def drums(duration_s: float, rate_hz: int = RATE_HZ, tempo_bpm: float = 120.0) -> Samples:
    """Kick on every beat, snare on two and four, hats on eighths; centred but for the hats."""
    kick = placed(kick_wave(rate_hz), beat_times(duration_s, tempo_bpm), duration_s, rate_hz)
    snare = placed(snare_wave(rate_hz), beat_times(duration_s, tempo_bpm, 2, 1), duration_s, rate_hz)
    hats = placed(hat_wave(rate_hz), beat_times(duration_s, 2 * tempo_bpm), duration_s, rate_hz)
    return stereo(0.7 * (kick + snare + 0.8 * hats), 0.7 * (kick + snare + 1.2 * hats))


@lru_cache(KEPT)
def chord_wave(
    duration_s: float, rate_hz: int = RATE_HZ, notes_hz: tuple[float, ...] = (110.0, 164.81, 220.0, 277.18), partials: int = 8
) -> Floats:
    """Return a held chord, peak 1.0: each note a fading row of partials, phases spread (Schroeder 1970). Read-only: tests share it."""
    frames = round(duration_s * rate_hz)
    wave = np.zeros(frames)
    for note in notes_hz:
        turn = _turning(note / rate_hz, frames)
        sounding = np.zeros(frames, np.complex128)
        for number in reversed(range(1, partials + 1)):
            if note * number < rate_hz / 2:
                sounding += np.exp(-1j * np.pi * number * (number - 1) / partials) / number
            sounding *= turn
        wave += sounding.imag
    return _shared(wave / np.max(np.abs(wave)))


def _turning(cycles_a_frame: float, frames: int) -> NDArray[np.complex128]:
    """Return ``exp(2j pi cycles_a_frame n)`` for each frame, as products of coarse and fine turns: a tenth of the exponentials' time."""
    steps = np.arange(int(np.ceil(np.sqrt(frames))))
    fine, coarse = np.exp(2j * np.pi * cycles_a_frame * steps), np.exp(2j * np.pi * cycles_a_frame * len(steps) * steps)
    return np.asarray(np.multiply.outer(coarse, fine).ravel()[:frames], np.complex128)


def _shared(wave: Floats) -> Floats:
    """Return the wave such that none of the tests that share it can change it."""
    wave.setflags(write=False)
    return wave
