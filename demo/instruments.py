"""Pitched instruments of the demo: each function returns one note."""

import numpy as np

from demo.filters import cut, filtered
from demo.tones import Curve, clock, decay, envelope, frames_of, frequency_of, gliding, noise, oscillator, panned, phases, silence, soften
from features.sound.signal import Samples


def bass(rng: np.random.Generator, pitch: float, length_s: float, velocity: float) -> tuple[Curve, Curve]:
    """Return a bass note in two layers.

    The sub tone, and the saw that the track's moving filter shapes.
    """
    hold = frames_of(length_s)
    count = hold + frames_of(0.05)
    frequency_hz = frequency_of(pitch)
    shape = envelope(count, hold, 0.004, 0.25, 0.72) * np.float32(velocity)
    sub = oscillator("sine", frequency_hz, count) + 0.12 * oscillator("triangle", 2.0 * frequency_hz, count)
    edge = oscillator("saw", frequency_hz * 1.0012, count, rng.uniform()) + 0.6 * oscillator("pulse", frequency_hz * 0.9985, count)
    return shape * sub, shape * edge


def electric_piano(rng: np.random.Generator, pitch: float, length_s: float, velocity: float, position: float) -> Samples:
    """Return an electric-piano note.

    One tone bends the phase of another, more when struck harder.
    """
    hold = frames_of(length_s)
    count = hold + frames_of(0.18)
    frequency_hz = frequency_of(pitch) * (1.0 + 0.0006 * rng.standard_normal())
    carrier = phases(frequency_hz, count)
    bend = (0.25 + 1.1 * velocity**1.6) * decay(count, 0.28) + np.float32(0.12)
    tone = np.sin(carrier + bend * np.sin(carrier))
    tine = frames_of(min(0.25, count / 44_100))
    tone[:tine] += 0.16 * velocity * oscillator("sine", frequency_hz * 7.02, tine) * decay(tine, 0.045)
    shape = envelope(count, hold, 0.003, 0.9, 0.25)
    return panned(tone * shape * np.float32(velocity), position)


def saws(
    rng: np.random.Generator,
    pitch: float,
    length_s: float,
    velocity: float,
    *,
    spread: float,
    attack_s: float,
    release_s: float,
    shape: str = "saw",
) -> Samples:
    """Return five detuned waves side by side.

    The stab (short attack) and the pad (long attack) are made of these.
    """
    hold = frames_of(length_s)
    count = hold + frames_of(release_s)
    sound = silence(count)
    for cents, position in ((-11.0, -0.9), (-5.0, 0.5), (0.5, 0.0), (6.0, -0.5), (12.0, 0.9)):
        frequency_hz = frequency_of(pitch + (cents + rng.normal(0.0, 1.0)) / 100.0)
        sound += panned(oscillator(shape, frequency_hz, count, rng.uniform()), position * spread)
    return sound * (envelope(count, hold, attack_s, 0.6, 0.7) * np.float32(0.35 * velocity))


def lead(rng: np.random.Generator, pitch: float, length_s: float, velocity: float, came_from: float | None, shape: str = "pulse") -> Curve:
    """Return a lead note with a slide and vibrato.

    It slides in from the one before, and trembles when it is held.
    """
    hold = frames_of(length_s * 0.96)
    count = hold + frames_of(0.12)
    time = clock(count)
    slide = (came_from - pitch) * np.exp(-time / 0.022) if came_from is not None else 0.3 * np.exp(-time / 0.015)
    tremble = 0.16 * np.sin(2.0 * np.pi * 5.4 * time + rng.uniform(0.0, 6.0)) * np.clip((time - 0.22) / 0.3, 0.0, 1.0)
    frequency_hz = np.float32(frequency_of(pitch)) * np.exp2((slide + tremble) / 12.0).astype(np.float32)
    wave = gliding(shape, frequency_hz) + 0.7 * gliding("saw", frequency_hz * np.float32(1.0035), rng.uniform())
    return wave * envelope(count, hold, 0.006, 0.35, 0.7) * np.float32(0.5 * velocity)


def pluck(rng: np.random.Generator, pitch: float, velocity: float, position: float) -> Samples:
    """Return a short glassy pluck for arpeggios."""
    count = frames_of(0.42)
    frequency_hz = frequency_of(pitch)
    tone = oscillator("triangle", frequency_hz, count) + 0.35 * oscillator("sine", 3.0 * frequency_hz, count) * decay(count, 0.06)
    tone += 0.22 * oscillator("square", frequency_hz * 1.004, count, rng.uniform()) * decay(count, 0.09)
    return panned(soften(tone * decay(count, 0.13), 0.002, 0.05) * np.float32(0.5 * velocity), position)


def riser(rng: np.random.Generator, length_s: float) -> Samples:
    """Return a wide rising noise.

    It ends where the next section starts.
    """
    count = frames_of(length_s)
    sweep = np.linspace(0.0, 1.0, count, dtype=np.float32) ** 2.2
    sound = silence(count)
    for channel in range(2):
        raw = noise(rng, count)
        low, high = (
            filtered(raw, cut(900.0, low=True), cut(2600.0, low=False)),
            filtered(raw, cut(3200.0, low=True), cut(11_000.0, low=False)),
        )
        sound[channel] = (low * (1.0 - sweep) + high * sweep) * sweep
    tone = gliding("triangle", (220.0 * np.exp2(1.6 * np.linspace(0.0, 1.0, count))).astype(np.float32)) * sweep
    soften(sound[0], 0.02, 0.03)
    soften(sound[1], 0.02, 0.03)
    return sound * np.float32(0.35) + panned(soften(tone, 0.1, 0.03) * np.float32(0.10), 0.0)


def impact(rng: np.random.Generator) -> Samples:
    """Return a boom with a wide noise tail.

    For the start of a section.
    """
    count = frames_of(1.9)
    time = clock(count)
    boom = gliding("sine", (46.0 + 60.0 * np.exp(-time / 0.07)).astype(np.float32)) * decay(count, 0.35)
    tail = np.stack([filtered(noise(rng, count), cut(500.0, low=True), cut(5200.0, low=False)) * decay(count, 0.42) for _ in range(2)])
    return np.asarray(panned(soften(boom, 0.003, 0.05) * np.float32(0.5), 0.0) + tail * np.float32(0.22), dtype=np.float32)
