"""Drums of the demo, one function each.

From a random generator and a velocity to one mono hit.
"""

import numpy as np

from demo.filters import bell, cut, filtered
from demo.tones import Curve, clock, decay, frames_of, gliding, noise, oscillator, soften


def kick(rng: np.random.Generator, velocity: float, low_hz: float = 49.0, time_s: float = 0.12) -> Curve:
    """Return a kick.

    A tone that falls quickly to ``low_hz``, and a click.
    """
    count = frames_of(time_s * 3.6)
    time = clock(count)
    sweep = low_hz + 95.0 * np.exp(-time / 0.022) + (180.0 + 140.0 * velocity) * np.exp(-time / 0.0045)
    body = gliding("sine", sweep.astype(np.float32), 0.0) * decay(count, time_s)
    click = filtered(noise(rng, frames_of(0.012)), cut(1800.0, low=True), cut(7500.0, low=False))
    body[: click.size] += 0.6 * velocity * click * decay(click.size, 0.0028)
    driven = np.tanh(1.5 * body) / np.float32(np.tanh(1.5))
    return soften(driven * np.float32(velocity), 0.0006, 0.03)


def snare(rng: np.random.Generator, velocity: float, tone_hz: float = 188.0, rattle_s: float = 0.10) -> Curve:
    """Return a snare.

    Two drum-head tones and the rattle of the wires.
    """
    count = frames_of(rattle_s * 4.0)
    time = clock(count)
    tone_hz *= 1.0 + 0.01 * rng.standard_normal()
    head = gliding("sine", (tone_hz * (1.0 + 0.35 * np.exp(-time / 0.012))).astype(np.float32)) * decay(count, 0.075)
    ring = oscillator("sine", tone_hz * 1.78, count) * decay(count, 0.045)
    wires = filtered(noise(rng, count), cut(1100.0, low=True), cut(9500.0 + 2500.0 * velocity, low=False), bell(4300.0, 3.0, 0.8))
    rattle = wires * (decay(count, rattle_s) * (0.35 + 0.3 * velocity) + 0.55 * decay(count, 0.012))
    mixed = 0.75 * head + 0.28 * ring + 0.55 * rattle
    return soften(np.tanh(1.2 * mixed) * np.float32(velocity * 0.85), 0.0008, 0.03)


def clap(rng: np.random.Generator, velocity: float) -> Curve:
    """Return a clap: four hands, not quite together."""
    count = frames_of(0.32)
    burst = np.zeros(count, dtype=np.float32)
    for number, start_s in enumerate((0.0, 0.011, 0.021, 0.032)):
        start = frames_of(start_s + abs(rng.normal(0.0, 0.0012)))
        burst[start:] += decay(count - start, 0.006 if number < 3 else 0.085) * (0.7 if number < 3 else 1.0)
    sound = filtered(noise(rng, count), cut(700.0, low=True), cut(8500.0, low=False), bell(1350.0, 6.0, 1.2))
    return soften(sound * burst * np.float32(0.4 * velocity), 0.001, 0.04)


def hat(rng: np.random.Generator, velocity: float, time_s: float = 0.035, pitch: float = 1.0) -> Curve:
    """Return a hi-hat, closed or open by ``time_s``.

    Six square waves that fit no scale, and noise.
    """
    count = frames_of(min(time_s * 5.0, 0.9))
    metal = np.zeros(count, dtype=np.float32)
    for ratio in (2.0, 3.0, 4.16, 5.43, 6.79, 8.21):
        metal += oscillator("square", 327.0 * pitch * ratio * (1.0 + 0.004 * rng.standard_normal()), count, rng.uniform())
    mixed = 0.16 * metal + 0.55 * noise(rng, count)
    bright = filtered(mixed, cut(6500.0 - 1200.0 * velocity, low=True), cut(5200.0, low=True), cut(14_500.0, low=False))
    shape = decay(count, time_s) * (0.75 + 0.25 * decay(count, time_s * 0.2))
    return soften(bright * shape * np.float32(0.6 * velocity), 0.0008, 0.01)


def shaker(rng: np.random.Generator, velocity: float) -> Curve:
    """Return one stroke of a shaker."""
    count = frames_of(0.11)
    grains = filtered(noise(rng, count), cut(4200.0, low=True), cut(9800.0, low=False))
    shape = soften(np.ones(count, dtype=np.float32), 0.035, 0.07)
    return grains * shape * np.float32(0.32 * velocity)


def tom(rng: np.random.Generator, velocity: float, low_hz: float) -> Curve:
    """Return a tom tuned to ``low_hz``."""
    count = frames_of(0.5)
    time = clock(count)
    tone = gliding("sine", (low_hz * (1.0 + 0.5 * np.exp(-time / 0.03))).astype(np.float32)) * decay(count, 0.14)
    stick = filtered(noise(rng, count), cut(900.0, low=True), cut(5000.0, low=False)) * decay(count, 0.008)
    return soften((tone + 0.25 * stick) * np.float32(0.7 * velocity), 0.001, 0.05)


def block(rng: np.random.Generator, velocity: float, pitch_hz: float = 820.0) -> Curve:
    """Return a small wooden block."""
    count = frames_of(0.12)
    tone = oscillator("sine", pitch_hz, count) + 0.5 * oscillator("sine", pitch_hz * 2.42 * (1 + 0.01 * rng.standard_normal()), count)
    return soften(tone * decay(count, 0.022) * np.float32(0.45 * velocity), 0.0008, 0.02)


def crash(rng: np.random.Generator, velocity: float) -> Curve:
    """Return a crash cymbal with a long ring."""
    count = frames_of(2.4)
    wash = noise(rng, count)
    for _ in range(9):
        wash += 0.35 * oscillator("square", float(rng.uniform(380.0, 5200.0)), count, rng.uniform())
    bright = filtered(wash, cut(3300.0, low=True), cut(2200.0, low=True), cut(13_500.0, low=False))
    return soften(bright * (decay(count, 0.5) + 0.4 * decay(count, 0.06)) * np.float32(0.2 * velocity), 0.0015, 0.3)
