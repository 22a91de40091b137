"""Delay of single channels, down to fractions of a sample."""

import numpy as np

from features.sound.interpolation import windowed_sinc
from features.sound.signal import Signal

TAPS = 64
BETA = 8.0


def delay(signal: Signal, delay_ms: float, channels: tuple[int, ...]) -> Signal:
    """Delay some channels of a sound.

    Those with these numbers (0 = left) by ``delay_ms`` (negative: earlier); the length stays.

    What is pushed past an end is lost, what comes in is silence. Whole samples are moved bit by bit; the rest of the way is a
    Kaiser-windowed sinc of 64 taps, flat to 0.1 dB up to 0.45 of the rate. No delay returns the same samples.

    Examples
    --------
    >>> click = np.array([[0.0, 1.0, 0.0, 0.0]], np.float32)
    >>> delay(Signal(click, 1000), 2.0, (0,)).samples.tolist()
    [[0.0, 0.0, 0.0, 1.0]]
    """
    frames_late = delay_ms / 1000 * signal.rate_hz
    if frames_late == 0.0 or not channels or not signal.frames:
        return signal
    whole = round(frames_late)
    part = frames_late - whole
    samples = signal.samples.copy()
    for number in channels:
        samples[number] = _moved(samples[number], whole)
        if abs(part) > 1e-6:
            distance = np.arange(-TAPS // 2, TAPS // 2 + 1) - part
            taps = windowed_sinc(distance, TAPS / 2 + 1, BETA)
            wave = np.convolve(samples[number], (taps / taps.sum()).astype(np.float32))
            samples[number] = wave[TAPS // 2 : TAPS // 2 + signal.frames]
    return Signal(samples, signal.rate_hz)


def _moved(wave: np.ndarray[tuple[int], np.dtype[np.float32]], frames: int) -> np.ndarray[tuple[int], np.dtype[np.float32]]:
    moved = np.zeros_like(wave)
    if 0 <= frames < wave.size:
        moved[frames:] = wave[: wave.size - frames]
    elif -wave.size < frames < 0:
        moved[:frames] = wave[-frames:]
    return moved
