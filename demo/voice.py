"""A voice-like instrument.

Vowels sung by adding harmonics under moving formants, with breath and consonants.

The formant frequencies are round values of the kind any phonetics text gives for a high voice.
"""

from dataclasses import dataclass

import numpy as np

from demo.filters import cut, filtered
from demo.tones import RATE_HZ, Curve, decay, frames_of, frequency_of, noise, place, silence, soften
from features.sound.signal import Samples

_STEP = 128  # frames between two settings of the vocal tract
_TOP_HZ = 9500.0
_BANDWIDTHS_HZ = np.array([95.0, 115.0, 160.0, 220.0, 300.0])
_VOWELS_HZ = {
    "a": (850.0, 1350.0, 2850.0, 3900.0, 4950.0),
    "e": (560.0, 2050.0, 2850.0, 4000.0, 5000.0),
    "i": (360.0, 2550.0, 3250.0, 4100.0, 5100.0),
    "o": (540.0, 980.0, 2800.0, 3800.0, 4900.0),
    "u": (400.0, 880.0, 2700.0, 3800.0, 4900.0),
}
_NASAL_HZ = (300.0, 1150.0, 2500.0, 3600.0, 4800.0)
_GAINS = np.array([1.0, 0.72, 0.42, 0.34, 0.22])


@dataclass(frozen=True, slots=True)
class Syllable:
    """One sung note.

    When, how long, how high, and what is sung (a consonant and a vowel, such as "la").
    """

    start_s: float
    length_s: float
    pitch: float
    text: str
    velocity: float


def _tract(note: Syllable, before: str, points: int) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """Return the formants over the note, shape ``(points, 5)``: from the consonant, or the last vowel, into this vowel."""
    goal = np.array(_VOWELS_HZ[note.text[-1]])
    start = np.array(_NASAL_HZ if note.text[0] in "mnl" else _VOWELS_HZ[before])
    time = np.arange(points) * _STEP / RATE_HZ
    move = np.exp(-((time / 0.055) ** 1.5))[:, None]
    return np.asarray(goal + (start - goal) * move, dtype=np.float64)


def _pitch_hz(rng: np.random.Generator, note: Syllable, came_from: float | None, count: int) -> Curve:
    """Return the frequency over the note: a scoop into it, vibrato once it is held, and the small wander of a throat."""
    time = np.arange(count) / RATE_HZ
    scoop = ((came_from - note.pitch) if came_from is not None else -0.8) * np.exp(-time / 0.035)
    grow = np.clip((time - 0.24) / 0.35, 0.0, 1.0)
    vibrato = 0.24 * grow * np.sin(2.0 * np.pi * (5.3 + 0.2 * rng.standard_normal()) * time + rng.uniform(0.0, 6.0))
    knots_s = np.arange(0.0, time[-1] + 0.1, 0.05)
    wander = np.interp(time, knots_s, 0.05 * rng.standard_normal(knots_s.size))
    return (frequency_of(note.pitch) * np.exp2((scoop + vibrato + wander) / 12.0)).astype(np.float32)


def _loudness(note: Syllable, count: int) -> Curve:
    """Return the loudness over the note: it swells a little and closes softly."""
    time = np.linspace(0.0, 1.0, count, dtype=np.float32)
    curve = np.float32(0.82) + np.float32(0.18) * np.sin(np.pi * time)
    attack_s = 0.012 if note.text[0] in "tk" else 0.035
    return soften(curve * np.float32(0.55 + 0.45 * note.velocity), attack_s, min(0.09, 0.3 * note.length_s))


def _sung(rng: np.random.Generator, note: Syllable, before: str, came_from: float | None) -> Curve:
    """Return the vowel of one note."""
    count = frames_of(note.length_s + 0.05)
    frequency_hz = _pitch_hz(rng, note, came_from, count)
    phase = (2.0 * np.pi * (np.cumsum(frequency_hz, dtype=np.float64) / RATE_HZ % 1.0)).astype(np.float32)
    points = count // _STEP + 2
    tract = _tract(note, before, points)
    base = np.interp(np.arange(points) * _STEP, np.arange(count), frequency_hz)
    ramp = np.arange(_STEP, dtype=np.float32) / _STEP
    sound = np.zeros(count, dtype=np.float32)
    for number in range(1, int(_TOP_HZ / frequency_of(note.pitch)) + 1):
        harmonic_hz = (base * number)[:, None]
        response = _GAINS / np.sqrt(1.0 + ((harmonic_hz - tract) / (0.5 * _BANDWIDTHS_HZ)) ** 2)
        level = (response.sum(axis=1) * (0.35 + number) ** -(1.05 - 0.25 * note.velocity)).astype(np.float32)
        steps = level[:-1, None] + (level[1:] - level[:-1])[:, None] * ramp
        sound += np.sin(phase * np.float32(number)) * steps.ravel()[:count]
    breath = filtered(noise(rng, count), cut(2800.0, low=True), cut(9000.0, low=False))
    return (sound + np.float32(0.012) * breath) * _loudness(note, count)


def _consonant(rng: np.random.Generator, letter: str) -> Curve:
    """Return the noise of a consonant, or nothing for the voiced ones, which the tract makes."""
    if letter == "s":
        count = frames_of(0.11)
        hiss = filtered(noise(rng, count), cut(4800.0, low=True), cut(3800.0, low=True), cut(10_500.0, low=False))
        return soften(hiss * np.float32(0.075), 0.03, 0.04)
    if letter in "tk":
        count = frames_of(0.035)
        middle_hz = 3800.0 if letter == "t" else 1900.0
        burst = filtered(noise(rng, count), cut(middle_hz * 0.7, low=True), cut(middle_hz * 1.9, low=False))
        return burst * decay(count, 0.008) * np.float32(0.16)
    return np.zeros(0, dtype=np.float32)


def sing(rng: np.random.Generator, notes: list[Syllable], count: int) -> Samples:
    """Sing notes one after another onto a track.

    Of ``count`` frames; both channels are equal.
    """
    line = silence(count)[:1]
    before: Syllable | None = None
    for note in notes:
        joined = before is not None and note.start_s - (before.start_s + before.length_s) < 0.08
        came_from = before.pitch if before is not None and joined else None
        vowel_before = before.text[-1] if before is not None and joined else note.text[-1]
        place(line, _sung(rng, note, vowel_before, came_from), note.start_s)
        noise_part = _consonant(rng, note.text[0])
        lead_s = 0.75 * noise_part.size / RATE_HZ
        place(line, noise_part, note.start_s - lead_s, 0.6 + 0.4 * note.velocity)
        before = note
    return np.repeat(line, 2, axis=0)
