"""The equaliser between a mix and its master.

The linear part of what turns the one into the other, which is otherwise played at a moving gain.

A master is taken to be ``y = g(t) (h * x) + rest``: an equaliser ``h`` that stands still, a gain ``g`` that moves and is the same for all
channels, and what neither explains. Frame by frame, with ``X`` and ``Y`` the spectra,

    ``H = sum w conj(X) Y / g  /  sum w |X|^2``,   ``g = sum Re(conj(H X) Y) / sum |H X|^2``,

in turns until both stand (least squares; the frames are weighed with ``1 / sum |X|^2``, so that loud ones, which a compressor holds down,
do not decide alone). Done for mid and side apart, so that widening is part of ``h``. The split between ``h`` and ``g`` is settled by taking
as 0 dB the gain that most of the range shares (the half-sample mode of ``|H|`` over sixth octaves from 40 Hz to 12 kHz; Bickel and
Fruehwirth 2006): an equaliser leaves some stretch of the range alone.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from features.sound import fourier
from features.sound.signal import Samples

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex64]
Read = Callable[[int, int], tuple[Samples, Samples]]

FRAME_S = 0.19
MOST_FRAMES = 400
ROUNDS = 4
QUIET_DB = 40.0  # frames this far below the loud ones say nothing
TAPS_S = 0.046  # half the length of the equaliser's response that is kept
REGULAR = 1e-8  # of a channel's mean power: bins in which the mix has nothing stay near 0
USUAL_HZ = (40.0, 12000.0)
LOUD_QUANTILE = 0.9


@dataclass(frozen=True, slots=True)
class Linear:
    """An equaliser as impulse responses of mid and side.

    For ``channels``, of ``2 half + 1`` taps with their middle at lag 0.
    """

    taps: Samples
    half: int
    rate_hz: int

    def curve_db(self, frequency_hz: Floats, channel: int = 0) -> Floats:
        """Return the gain in dB at some frequencies."""
        size = 1 << 15
        response = np.abs(fourier.rfft(self.taps[channel].astype(np.float64), size))
        return np.asarray(20 * np.log10(np.maximum(np.interp(frequency_hz, np.fft.rfftfreq(size, 1 / self.rate_hz), response), 1e-6)))

    def apply(self, samples: Samples) -> Samples:
        """Return the filtered sound without its ends.

        The first and last ``half`` frames go; shape ``(channels, n - 2 half)``.
        """
        count = samples.shape[1]
        size = fourier.next_fast_len(count + self.taps.shape[1], real=True)
        made = fourier.irfft(fourier.rfft(samples, size) * fourier.rfft(self.taps, size), size)
        out: Samples = made[:, 2 * self.half : count].astype(np.float32)
        return out


def mid_side(samples: Samples) -> Samples:
    """Return mid and side of a stereo sound.

    A mono sound is returned as it is.

    Examples
    --------
    >>> mid_side(np.array([[1.0], [0.5]], np.float32)).tolist()
    [[0.75], [0.25]]
    """
    if samples.shape[0] == 1:
        return samples
    half = np.float32(0.5)
    return np.stack(((samples[0] + samples[1]) * half, (samples[0] - samples[1]) * half))


def estimate_filter(read: Read, frames: int, rate_hz: int) -> Linear | None:
    """Return the equaliser between two sounds.

    ``None`` where they share too little.

    Parameters
    ----------
    read
        Returns the same stretch of both sounds, mid and side, for a start and a count.
    frames
        Length of what both share.
    rate_hz
        Sampling rate in Hz.
    """
    size = 1 << round(np.log2(FRAME_S * rate_hz))
    if frames < 2 * size:
        return None
    before, after = _spectra(read, frames, size)
    power = (np.abs(before) ** 2).sum(axis=(1, 2), dtype=np.float64)
    loud = power > np.quantile(power, LOUD_QUANTILE) * 10 ** (-QUIET_DB / 10)
    if not power.max(initial=0.0) > 0.0 or not loud.any():
        return None
    transfer = _solve(before[loud], after[loud], 1.0 / power[loud])
    return _linear(transfer, size, rate_hz)


def _spectra(read: Read, frames: int, size: int) -> tuple[Complexes, Complexes]:
    window = np.hanning(size).astype(np.float32)
    count = min(MOST_FRAMES, max(2 * (frames - size) // size, 1))
    pairs = [read(int(start), size) for start in np.linspace(0, frames - size, count)]
    before, after = (fourier.rfft(np.stack([pair[side] for pair in pairs]) * window) for side in (0, 1))
    return before.astype(np.complex64), after.astype(np.complex64)


def _solve(before: Complexes, after: Complexes, weight: Floats) -> Complexes:
    gain = np.ones(weight.size)
    share = weight.astype(np.float32)[:, None, None]
    below = (np.abs(before) ** 2 * share).sum(axis=0)
    below += REGULAR * below.mean(axis=1, keepdims=True)
    product = np.conj(before) * after
    transfer = np.zeros(before.shape[1:], np.complex64)
    for _ in range(ROUNDS):
        transfer = (product * (share / gain.astype(np.float32)[:, None, None])).sum(axis=0) / below
        wanted = before * transfer
        over = (np.conj(wanted) * after).real.sum(axis=(1, 2), dtype=np.float64)
        own = (np.abs(wanted) ** 2).sum(axis=(1, 2), dtype=np.float64)
        gain = np.maximum(over / np.maximum(own, 1e-20), 1e-3)
    return transfer


def _linear(transfer: Complexes, size: int, rate_hz: int) -> Linear:
    half = min(round(TAPS_S * rate_hz), size // 4)
    response = np.roll(fourier.irfft(transfer, size), half, axis=-1)[..., : 2 * half + 1]
    taper = np.ones(2 * half + 1, np.float32)
    edge = half // 4
    taper[:edge] = np.sin(0.5 * np.pi * (np.arange(edge) + 0.5) / edge) ** 2
    taper[-edge:] = taper[:edge][::-1]
    linear = Linear((response * taper).astype(np.float32), half, rate_hz)
    sixths = USUAL_HZ[0] * 2 ** (np.arange(np.floor(6 * np.log2(USUAL_HZ[1] / USUAL_HZ[0])) + 1) / 6)
    usual = 10 ** (half_sample_mode(linear.curve_db(sixths[sixths < 0.45 * rate_hz])) / 20)
    return Linear((linear.taps / np.float32(usual)).astype(np.float32), half, rate_hz)


def half_sample_mode(values: Floats) -> float:
    """Return where values lie closest.

    The half of them with the least range, halved again and again.

    Examples
    --------
    >>> round(half_sample_mode(np.array([0.0, 0.1, 0.2, 2.0, 3.0, 4.0])), 6)
    0.1
    """
    left = np.sort(values)
    while left.size > 3:
        half = (left.size + 1) // 2
        widths = left[half - 1 :] - left[: left.size - half + 1]
        start = int(np.argmin(widths))
        left = left[start : start + half]
    return float(np.mean(left))
