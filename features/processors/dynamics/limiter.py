"""The reference limiter.

Look-ahead, linked stereo, held to a ceiling in true peak.

For every frame the *envelope* is the highest of all channels' samples and of the values between them (interpolated).
From it the gain follows in three steps, each at or below what the envelope asks for, so that nothing passes:

1. needed gain ``r[n] = min(1, ceiling / envelope[n])``;
2. ``m[n]`` = the smallest ``r`` of the look-ahead window ``n .. n + W - 1``, let go with one pole:
   ``m[n] = min(m[n], m[n] + (m[n-1] - m[n]) exp(-1 / (release * rate)))``;
3. ``g[n]`` = mean of the last ``W`` values of ``m`` under a triangle (two boxes of ``(W + 1) / 2``): a smooth attack.

The delay of the look-ahead is taken out: ``g[n]`` belongs to frame ``n``. Only step 1 depends on the drive, so one envelope serves
every drive. Interpolation after ITU-R BS.1770-5 Annex 2 (over-sampling), with a longer filter of our own (Kaiser-windowed sinc).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from features.sound.compiled import kernel
from features.sound.interpolation import interpolation_taps
from features.sound.signal import Samples, Signal

Singles = NDArray[np.float32]

BLOCK = 512
SILENT = 1e-9
MARGIN_DB = 0.01  # what the gain computer stays below the ceiling
ENVELOPE_FILTER = (4, 24, 8.0)  # over-sampling, taps per phase, Kaiser beta
CHECK_FILTERS = (
    (8, 20, 5.0),
    (8, 40, 8.0),
    (8, 96, 10.0),
)  # gentle to steep: converters differ in the last octave, by up to 0.4 dB on a hot master
MOST_PASSES = 6


@dataclass(frozen=True, slots=True)
class Setting:
    """How a limiter moves.

    ``look_ahead_s`` is its attack, ``release_s`` the time constant (63 %) of letting go.
    """

    look_ahead_s: float
    release_s: float


GENTLE = Setting(look_ahead_s=0.005, release_s=0.080)  # common practice, no published source
FAST = Setting(look_ahead_s=0.005, release_s=0.003)  # the same; with the look-ahead's own smoothing it is back after about 8 ms


@dataclass(frozen=True, slots=True)
class Limited:
    """The limited sound and the gain that made it.

    Shape ``(frames,)``, at most 1, the drive not counted.
    """

    signal: Signal
    gain: Singles


@kernel
def fill_envelope(padded: Samples, taps: Singles, floor: float, envelope: Singles) -> None:  # noqa: C901 - one loop nest
    """Write the true-peak envelope.

    Blocks that cannot reach ``floor`` keep their sample peaks.
    """
    channels = padded.shape[0]
    phases, width = taps.shape
    lead = width // 2 - 1
    bound = np.float32(0.0)
    for p in range(phases):
        bound = max(bound, np.abs(taps[p]).sum())
    sums = np.empty(BLOCK, np.float32)
    for start in range(0, envelope.shape[0], BLOCK):
        out = envelope[start : start + BLOCK]
        size = out.shape[0]
        out[:] = 0.0
        for c in range(channels):
            own = padded[c, start + lead : start + lead + size]
            for i in range(size):
                out[i] = max(out[i], abs(own[i]))
        for c in range(channels):
            around = padded[c, start : start + size + width - 1]
            loudest = np.float32(0.0)
            for i in range(around.shape[0]):
                loudest = max(loudest, abs(around[i]))
            if loudest * bound < floor:
                continue
            for p in range(phases):
                sums[:size] = 0.0
                for k in range(0, width, 4):
                    h0, h1, h2, h3 = taps[p, k], taps[p, k + 1], taps[p, k + 2], taps[p, k + 3]
                    piece = padded[c, start + k : start + k + size + 3]
                    for i in range(size):
                        sums[i] += h0 * piece[i] + h1 * piece[i + 1] + h2 * piece[i + 2] + h3 * piece[i + 3]
                for i in range(size):
                    out[i] = max(out[i], abs(sums[i]))


def true_peak_envelope(samples: Samples, floor: float = 0.0, design: tuple[int, int, float] = ENVELOPE_FILTER) -> Singles:
    """Return the true peak from each frame to the next.

    The highest of all channels' samples and inter-sample values.

    Parameters
    ----------
    samples
        Shape ``(channels, frames)``.
    floor
        Where nothing can reach this, the sample peaks alone are returned (quicker, and never below the floor if above it).
    design
        Over-sampling factor, length of each interpolation filter (a multiple of 4), and beta of its Kaiser window.

    Returns
    -------
    Shape ``(frames,)``, linear.
    """
    envelope = np.empty(samples.shape[1], np.float32)
    padded = np.pad(samples, ((0, 0), (design[1] // 2 - 1, design[1] // 2)))
    fill_envelope(padded, interpolation_taps(*design), floor, envelope)
    return envelope


@kernel
def _fill_gain(envelope: Singles, ceiling: float, window: int, release: float, gain: Singles) -> None:  # noqa: C901, PLR0915 - one pass
    frames = envelope.shape[0]
    box = (window + 1) // 2
    first, second = np.ones(box), np.ones(box)
    first_sum = second_sum = float(box)
    slot = 0
    size = 1
    while size <= window:
        size *= 2
    mask = size - 1
    queue, places = np.empty(size), np.empty(size, np.int64)
    head = tail = 0
    released = 1.0
    quiet = 2 * box
    for frame in range(frames + window - 1):
        if frame < frames and envelope[frame] > ceiling:
            needed = ceiling / envelope[frame]
            while tail > head and queue[(tail - 1) & mask] >= needed:
                tail -= 1
            queue[tail & mask], places[tail & mask] = needed, frame
            tail += 1
        n = frame - window + 1
        if tail > head and places[head & mask] < n:
            head += 1
        smallest = queue[head & mask] if tail > head else 1.0
        released = min(smallest, smallest + (released - smallest) * release)
        if released > 1.0 - 1e-6:
            released = 1.0
            quiet += 1
        else:
            quiet = 0
        if quiet > 2 * box:  # both boxes hold nothing but ones
            if quiet == 2 * box + 1:
                first[:], second[:] = 1.0, 1.0
                first_sum = second_sum = float(box)
            if n >= 0:
                gain[n] = 1.0
            continue
        first_sum += released - first[slot]
        first[slot] = released
        middle = first_sum / box
        second_sum += middle - second[slot]
        second[slot] = middle
        slot = slot + 1 if slot + 1 < box else 0
        if n >= 0:
            gain[n] = second_sum / box


def gain_curve(envelope: Singles, ceiling: float, rate_hz: float, setting: Setting) -> Singles:
    """Return the limiter's gain for an envelope.

    Shape ``(frames,)``, at most 1 (formula: the module's docstring).

    Parameters
    ----------
    envelope
        Shape ``(frames,)``, linear, at ``rate_hz``; it may be as coarse as 1 kHz (the highest value of each step).
    ceiling
        Linear. A drive of ``d`` dB is a ceiling lower by ``d`` dB.

    Examples
    --------
    >>> gain_curve(np.full(1000, 2.0, np.float32), 1.0, 1000, GENTLE).max()
    np.float32(0.5)
    """
    gain = np.empty(envelope.shape[0], np.float32)
    window = max(round(setting.look_ahead_s * rate_hz), 1)
    _fill_gain(envelope, ceiling, window, float(np.exp(-1 / (setting.release_s * rate_hz))), gain)
    return gain


def limit(signal: Signal, drive_db: float, ceiling_dbtp: float, setting: Setting = GENTLE) -> Limited:
    """Drive a signal into a true-peak ceiling.

    Raised by ``drive_db``, its true peak held at or below ``ceiling_dbtp``.

    The gain computed from the input's envelope leaves small overs, because a moving gain bends the wave between the
    samples; the output is therefore measured again at eight-fold over-sampling and the rest taken off the same way.

    Returns
    -------
    The limited sound, as long as the input and not delayed; identical to the raised input where nothing exceeds the ceiling.
    """
    ceiling = 10 ** (ceiling_dbtp / 20)
    driven = signal.samples * np.float32(10 ** (drive_db / 20))
    gain = np.ones(signal.frames, np.float32)
    output = driven
    for number in range(MOST_PASSES):
        designs = CHECK_FILTERS if number else (ENVELOPE_FILTER,)
        over = [true_peak_envelope(output, ceiling, design) for design in designs]
        envelope = np.maximum.reduce(over)
        if number and (not envelope.size or envelope.max() <= ceiling):
            break
        gain *= gain_curve(envelope, ceiling * 10 ** (-MARGIN_DB / 20), signal.rate_hz, setting)
        output = driven * gain
    return Limited(Signal(output, signal.rate_hz), gain)
