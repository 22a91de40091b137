"""Filters, room and echo of the demo.

scipy.signal takes a second to import, so each function asks for it when it runs.

The second-order sections follow the well-known bilinear-transform formulas for audio equalisers (R. Bristow-Johnson).
"""

import numpy as np
from numpy.typing import NDArray

from demo.tones import RATE_HZ, Curve, amplitude_of, clock, frames_of, noise
from features.sound.signal import Samples

Section = NDArray[np.float64]
_PIECE = 1 << 16


def _section(b: tuple[float, float, float], a: tuple[float, float, float]) -> Section:
    return np.array([*b, *a], dtype=np.float64) / a[0]


def bell(frequency_hz: float, gain_db: float, q: float) -> Section:
    """Return a bell: boost or cut around one frequency."""
    w = 2.0 * np.pi * frequency_hz / RATE_HZ
    slope, amount = np.sin(w) / (2.0 * q), 10.0 ** (gain_db / 40.0)
    middle = -2.0 * np.cos(w)
    return _section((1 + slope * amount, middle, 1 - slope * amount), (1 + slope / amount, middle, 1 - slope / amount))


def shelf(frequency_hz: float, gain_db: float, *, low: bool) -> Section:
    """Return a shelf of moderate slope.

    Below (``low``) or above a frequency.
    """
    w = 2.0 * np.pi * frequency_hz / RATE_HZ
    amount, sign = 10.0 ** (gain_db / 40.0), 1.0 if low else -1.0
    cos, side = np.cos(w), 2.0 * np.sqrt(amount) * np.sin(w) / np.sqrt(2.0)
    up, down = amount + 1.0, (amount - 1.0) * sign
    b = (amount * (up - down * cos + side), 2.0 * amount * (down - up * cos), amount * (up - down * cos - side))
    a = (up + down * cos + side, -2.0 * (down + up * cos), up + down * cos - side)
    return _section(b, a)


def cut(frequency_hz: float, *, low: bool, q: float = 0.7071) -> Section:
    """Return a 12 dB per octave pass filter.

    It takes away what lies below (``low``) or above a frequency.
    """
    w = 2.0 * np.pi * frequency_hz / RATE_HZ
    cos, slope = np.cos(w), np.sin(w) / (2.0 * q)
    edge = (1.0 + cos) / 2.0 if low else (1.0 - cos) / 2.0
    return _section((edge, -2.0 * edge if low else 2.0 * edge, edge), (1.0 + slope, -2.0 * cos, 1.0 - slope))


def filtered(sound: Samples, *sections: Section) -> Samples:
    """Run a sound through sections one after the other."""
    from scipy.signal import sosfilt  # noqa: PLC0415

    sections_f32 = np.stack(sections).astype(np.float32)
    return np.asarray(sosfilt(sections_f32, sound), dtype=np.float32)


def swept(sound: Samples, cutoff_hz: Curve, q: float, block: int = 96) -> Samples:
    """Low-pass a track with a cutoff that moves.

    ``cutoff_hz`` holds one value per block of frames.
    """
    from scipy.signal import lfilter  # noqa: PLC0415

    w = 2.0 * np.pi * np.clip(cutoff_hz.astype(np.float64), 20.0, 18_000.0) / RATE_HZ
    cos, slope = np.cos(w), np.sin(w) / (2.0 * q)
    edge = (1.0 - cos) / 2.0
    b = (np.stack([edge, 2.0 * edge, edge], axis=1) / (1.0 + slope)[:, None]).astype(np.float32)
    a = (np.stack([1.0 + slope, -2.0 * cos, 1.0 - slope], axis=1) / (1.0 + slope)[:, None]).astype(np.float32)
    result = np.empty_like(sound)
    state = np.zeros((sound.shape[0], 2), dtype=np.float32)
    for index in range(b.shape[0]):
        span = slice(index * block, (index + 1) * block)
        if not sound[:, span].any() and np.abs(state).max() < 1e-6:
            result[:, span] = 0.0
            continue
        result[:, span], state = lfilter(b[index], a[index], sound[:, span], zi=state)
    return result


def room(rng: np.random.Generator, time_s: float, predelay_s: float = 0.015) -> Samples:
    """Return the impulse response of an invented room.

    Noise that dies away, the treble sooner than the bass.
    """
    count = frames_of(time_s * 1.1)
    response = np.zeros((2, frames_of(predelay_s) + count), dtype=np.float32)
    fall = np.float32(6.91)  # 60 dB within time_s
    for channel in range(2):
        raw = noise(rng, count)
        dark = filtered(raw, cut(500.0, low=False))
        bright = filtered(raw, cut(4000.0, low=True))
        middle = raw - dark - bright
        tail = sum(
            part * np.exp(-clock(count) * fall / np.float32(time_s * share)) for part, share in ((dark, 0.85), (middle, 1.0), (bright, 0.5))
        )
        response[channel, -count:] = tail
        for _ in range(7):
            response[channel, frames_of(predelay_s * 0.4 + rng.uniform(0.0, 0.05))] += 3.0 * rng.choice([-1.0, 1.0])
    response[:, -frames_of(0.05) :] *= np.linspace(1.0, 0.0, frames_of(0.05), dtype=np.float32)
    return np.asarray(response / np.sqrt(np.sum(response**2) / 2.0), dtype=np.float32)


def reverberant(sound: Samples, response: Samples, level_db: float, low_cut_hz: float = 250.0) -> Samples:
    """Add a room to a track at ``level_db``.

    Kept out of the bass: convolution by overlapping pieces, one transform for both sides.
    """
    from scipy.fft import irfft, next_fast_len, rfft  # noqa: PLC0415

    size = next_fast_len(_PIECE + response.shape[1] - 1, real=True)
    spectrum = rfft(response, size, axis=1) * np.float32(amplitude_of(level_db))
    middle = filtered(sound.mean(axis=0), cut(low_cut_hz, low=True), cut(9000.0, low=False))
    result = sound.copy()
    for start in range(0, middle.size, _PIECE):
        part = middle[start : start + _PIECE]
        if part.any():
            wet = irfft(rfft(part, size) * spectrum, size, axis=1)[:, : middle.size - start]
            result[:, start : start + wet.shape[1]] += wet
    return result


def echoed(sound: Samples, delay_s: float, level_db: float, feedback: float = 0.45) -> Samples:
    """Add echoes that cross over and grow duller.

    From side to side.
    """
    result = sound.copy()
    repeat = filtered(sound, cut(300.0, low=True), cut(4500.0, low=False)) * np.float32(amplitude_of(level_db))
    delay = frames_of(delay_s)
    for number in range(1, 6):
        repeat = repeat[::-1] * np.float32(1.0 if number == 1 else feedback)
        shift = delay * number
        if shift >= sound.shape[1]:
            break
        result[:, shift:] += repeat[:, : sound.shape[1] - shift]
    return result


def widened(sound: Samples, depth_s: float, speed_hz: float, blend: float) -> Samples:
    """Add a slowly moving copy to each side.

    A quarter turn apart.
    """
    count = sound.shape[1]
    result = sound.copy()
    for channel in range(2):
        for start in range(0, count, _PIECE):
            time = np.arange(start, min(start + _PIECE, count), dtype=np.float64)
            swing = np.sin(2.0 * np.pi * speed_hz * time / RATE_HZ + channel * np.pi / 2.0)
            where = np.maximum(time - RATE_HZ * (0.012 + depth_s * swing), 0.0)
            whole = where.astype(np.int32)
            part = (where - whole).astype(np.float32)
            line = sound[channel]
            copy = line[whole] * (1.0 - part) + line[np.minimum(whole + 1, count - 1)] * part
            result[channel, start : start + time.size] += np.float32(blend) * copy
    return result


def ducked(sound: Samples, times_s: list[float], depth_db: float, release_s: float = 0.16) -> Samples:
    """Turn a track down briefly at the given times.

    The way a compressor keyed by the kick does.
    """
    count = frames_of(release_s * 2.0)
    shape = np.exp(-((clock(count) / np.float32(release_s)) ** 2)) * np.float32(depth_db)
    shape[: frames_of(0.004)] *= np.linspace(0.0, 1.0, frames_of(0.004), dtype=np.float32)
    dip_db = np.zeros(sound.shape[1], dtype=np.float32)
    for time_s in times_s:
        start = frames_of(max(time_s - 0.003, 0.0))
        part = dip_db[start : start + count]
        np.maximum(part, shape[: part.size], out=part)
    return np.asarray(sound * np.power(np.float32(10.0), dip_db / np.float32(-20.0)), dtype=np.float32)
