"""Distortion by a moving gain, against what music masks.

A split of the gain, then a noise-to-mask ratio.
The gain ``g`` of a limiter is known. Its slow part ``s`` (below 20 Hz) changes loudness, which is heard as pumping, not as distortion;
its fast part multiplies the wave and is heard as roughness:

    ``y = s x + (g - s) x + e``,   noise ``d = (g - s) x + e``   (``e``: error of a clipper, where there is one)

The noise is compared, per band of a quarter Bark and per frame, with the masking threshold of ``s x`` (ITU-R BS.1387-2, basic version):
outer and middle ear, internal noise, spreading with an upper slope that flattens with level, smearing over time, and a threshold
3 dB below the excitation up to 12 Bark, then ``0.25 z`` dB. The frame's reading is its worst band. A plain difference of loudness-matched
signals ranks a gentle limiter below a clipper; this split does not.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from features.sound import fourier
from features.sound.bands import Bands, band_matrix
from features.sound.compiled import kernel
from features.sound.signal import Samples

Singles = NDArray[np.float32]
Floats = NDArray[np.float64]
Complexes = NDArray[np.complex64]

SPLIT_HZ = 20.0  # slower changes of level are heard as fluctuation, faster ones as roughness (Zwicker and Fastl; recalled)
BAND_BARK = 0.25
LOW_HZ, HIGH_HZ = 80.0, 18000.0
FRAME_S = 2048 / 48000
LISTENING_DB_SPL = 80.0  # level the music is taken to be heard at; common practice, no published source
SPREAD_EXPONENT = 0.4
TIME_MIN_S, TIME_100_S = 0.008, 0.030
FLOOR_DB = -100.0
WORST_FROM = 0.95
BATCH_FRAMES = 64


@kernel
def _low_pass_both_ways(gain: Singles, b0: float, a1: float, a2: float, slow: Singles) -> None:
    last = gain.shape[0] - 1
    rest = float(gain[0])
    x1 = x2 = y1 = y2 = rest
    for n in range(last + 1):
        x = float(gain[n])
        y = b0 * (x + 2 * x1 + x2) - a1 * y1 - a2 * y2
        x2, x1, y2, y1 = x1, x, y1, y
        slow[n] = y
    rest = float(slow[last])
    x1 = x2 = y1 = y2 = rest
    for n in range(last, -1, -1):
        x = float(slow[n])
        y = b0 * (x + 2 * x1 + x2) - a1 * y1 - a2 * y2
        x2, x1, y2, y1 = x1, x, y1, y
        slow[n] = y


def slow_gain(gain: Singles, rate_hz: float, split_hz: float = SPLIT_HZ) -> Singles:
    """Return the part of a gain curve below ``split_hz``.

    Shape ``(frames,)``, without delay.
    A second-order Butterworth low-pass (bilinear transform) run forwards and then backwards: half amplitude at ``split_hz``.
    Before its start and after its end the curve is taken to stay as it is there.

    Examples
    --------
    >>> bool(np.allclose(slow_gain(np.full(100, 0.5, np.float32), 1000), 0.5))
    True
    """
    slow = np.empty_like(gain)
    if gain.size:
        warped = np.tan(np.pi * min(split_hz / rate_hz, 0.45))
        scale = 1 / (1 + np.sqrt(2) * warped + warped**2)
        a1, a2 = 2 * (warped**2 - 1) * scale, (1 - np.sqrt(2) * warped + warped**2) * scale
        _low_pass_both_ways(gain, float(warped**2 * scale), float(a1), float(a2), slow)
    return slow


def bark_bands(rate_hz: int) -> Bands:
    """Return the quarter-Bark bands of BS.1387.

    From 80 Hz to 18 kHz or half the rate: ``z = 7 asinh(f / 650)``.

    Examples
    --------
    >>> len(bark_bands(48000))
    109
    """
    low, high = (7 * np.arcsinh(f / 650) for f in (LOW_HZ, min(HIGH_HZ, rate_hz / 2)))
    edges = np.append(np.arange(low, high, BAND_BARK), high)
    hertz = 650 * np.sinh(edges / 7)
    return Bands(650 * np.sinh((edges[:-1] + edges[1:]) / 14), hertz[:-1], hertz[1:])


def bark(frequency_hz: Floats) -> Floats:
    """Return the pitch in Bark as BS.1387 has it.

    ``7 asinh(f / 650)``.
    """
    return 7 * np.arcsinh(frequency_hz / 650)


def ear_weight_db(frequency_hz: Floats) -> Floats:
    """Return the transmission of outer and middle ear in dB.

    ``-2.184 f^-0.8 + 6.5 exp(-0.6 (f - 3.3)^2) - 0.001 f^3.6``, f in kHz.
    """
    f = np.maximum(frequency_hz, 1.0) / 1000
    return -2.184 * f**-0.8 + 6.5 * np.exp(-0.6 * (f - 3.3) ** 2) - 0.001 * f**3.6


def internal_noise(frequency_hz: Floats) -> Floats:
    """Return the ear's own noise as power.

    ``10^(0.1 * 1.456 f^-0.8)``, f in kHz (the rest of the threshold in quiet).
    """
    return 10 ** (0.1456 * (frequency_hz / 1000) ** -0.8)


def mask_offset_db(frequency_hz: Floats) -> Floats:
    """Return how far the threshold lies below the excitation.

    3 dB up to 12 Bark, above ``0.25 z``.
    """
    z = bark(frequency_hz)
    return np.where(z <= 12.0, 3.0, 0.25 * z)


@kernel
def spread(pattern: Floats, centre_hz: Floats, spacing: float, spreaded: Floats) -> None:
    """Spread one frame's band powers (BS.1387).

    Down 27 dB/Bark, up ``24 + 230 / f - 0.2 L``; powers to the 0.4 add up.
    """
    count = pattern.shape[0]
    spreaded[:] = 0.0
    down = 10.0 ** (-2.7 * spacing)
    down_part = down**SPREAD_EXPONENT
    for j in range(count):
        level_db = 10.0 * np.log10(pattern[j])
        slope_db = max(24.0 + 230.0 / centre_hz[j] - 0.2 * level_db, 4.0)
        up = 10.0 ** (-slope_db * spacing / 10.0)
        whole = (1.0 - down ** (j + 1)) / (1.0 - down) + up * (1.0 - up ** (count - 1 - j)) / (1.0 - up)
        own = (pattern[j] / whole) ** SPREAD_EXPONENT
        value = own
        for k in range(j, -1, -1):
            spreaded[k] += value
            value *= down_part
            if value < 1e-4 * own:
                break
        up_part = up**SPREAD_EXPONENT
        value = own * up_part
        for k in range(j + 1, count):
            spreaded[k] += value
            value *= up_part
            if value < 1e-4 * own:
                break
    for k in range(count):
        spreaded[k] **= 1.0 / SPREAD_EXPONENT


@kernel
def fill_excitation(patterns: Singles, noise: Floats, centre_hz: Floats, keep: Floats, spacing: float, excitation: Singles) -> None:
    """Turn band powers ``(frames, bands)`` into excitation.

    Internal noise, spreading, and decay over time with ``keep``.
    """
    frames, count = patterns.shape
    even, flat = np.empty(count), np.empty(count)
    spread(np.ones(count), centre_hz, spacing, even)
    now, lasting = np.empty(count), np.zeros(count)
    for n in range(frames):
        for k in range(count):
            flat[k] = patterns[n, k] + noise[k]
        spread(flat, centre_hz, spacing, now)
        for k in range(count):
            here = now[k] / even[k]
            lasting[k] = keep[k] * lasting[k] + (1.0 - keep[k]) * here
            excitation[n, k] = max(here, lasting[k])


@dataclass(frozen=True, slots=True)
class Ear:
    """What turns samples into weighted band powers.

    Frame length and window, and the bins' weights per band.
    ``weights`` has the shape ``(bands, bins)``; only the bins ``first[k]`` to ``last[k] - 1`` of a row are not zero.
    """

    rate_hz: int
    frame: int
    window: Singles
    weights: Singles
    first: NDArray[np.intp]
    last: NDArray[np.intp]
    bands: Bands


@kernel
def _add_bands(spectra: Complexes, weights: Singles, first: NDArray[np.intp], last: NDArray[np.intp], powers: Singles) -> None:
    power = np.empty(spectra.shape[1], np.float32)
    for n in range(spectra.shape[0]):
        for i in range(power.shape[0]):
            value = spectra[n, i]
            power[i] = value.real * value.real + value.imag * value.imag
        for k in range(weights.shape[0]):
            total = np.float32(0.0)
            for i in range(first[k], last[k]):
                total += weights[k, i] * power[i]
            powers[n, k] += total


def make_ear(rate_hz: int) -> Ear:
    """Return the analysis for a rate.

    Hann frames of 2048 at 44.1 and 48 kHz, of about the same time at other rates, half overlapping.
    """
    frame = 1 << max(round(np.log2(FRAME_S * rate_hz)), 6)
    window = np.sin(np.pi * (np.arange(frame) + 0.5) / frame) ** 2
    bands = bark_bands(rate_hz)
    weight = 10 ** (ear_weight_db(np.arange(frame // 2 + 1) * rate_hz / frame) / 10)
    power = 2 / (frame * float((window**2).sum()))  # a bin's share of the mean square
    matrix = (band_matrix(bands, rate_hz, frame) * (weight * power)[:, None]).T
    used = matrix > 0.0
    first, last = used.argmax(axis=1), matrix.shape[1] - used[:, ::-1].argmax(axis=1)
    return Ear(rate_hz, frame, window.astype(np.float32), np.ascontiguousarray(matrix, np.float32), first, last, bands)


def band_powers(ear: Ear, samples: Samples) -> Singles:
    """Return ear-weighted band powers, channels added up, shape ``(frames, bands)``.

    Frame ``i`` starts at ``i * ear.frame // 2``.
    """
    hop = ear.frame // 2
    short = max(ear.frame - samples.shape[1], 0)
    padded = np.pad(samples, ((0, 0), (0, short))) if short else samples
    frames = np.lib.stride_tricks.sliding_window_view(padded, ear.frame, axis=1)[:, ::hop]
    powers = np.zeros((frames.shape[1], len(ear.bands)), np.float32)
    for channel in frames:
        for start in range(0, channel.shape[0], BATCH_FRAMES):
            spectra = fourier.rfft(channel[start : start + BATCH_FRAMES] * ear.window, axis=1)
            _add_bands(spectra, ear.weights, ear.first, ear.last, powers[start : start + BATCH_FRAMES])
    return powers


class MaskedMusic:
    """Music whose masking threshold is worked out once.

    The noise of many gain curves is weighed against it.

    Parameters
    ----------
    samples
        The music, shape ``(channels, frames)``.
    rate_hz
        Sampling rate in Hz.
    mean_square
        Power that is taken to be heard at `LISTENING_DB_SPL` (for example that of the music's loudness).
    """

    def __init__(self, samples: Samples, rate_hz: int, mean_square: float) -> None:
        self._samples = samples
        self._ear = make_ear(rate_hz)
        centre = self._ear.bands.centre_hz
        self._scale = 10 ** (LISTENING_DB_SPL / 10) / mean_square
        hop_s = self._ear.frame / 2 / rate_hz
        decay_s = TIME_MIN_S + 100 / centre * (TIME_100_S - TIME_MIN_S)
        noise = internal_noise(centre)
        patterns = band_powers(self._ear, samples) * np.float32(self._scale)
        excitation = np.empty_like(patterns)
        fill_excitation(patterns, noise, centre, np.exp(-hop_s / decay_s), BAND_BARK, excitation)
        self._mask = excitation * (10 ** (-mask_offset_db(centre) / 10)).astype(np.float32)

    def noise_to_mask_db(self, noise: Samples, slow: Singles) -> Floats:
        """Return each frame's worst band.

        In dB, of ``noise`` against the music at the gain ``slow``; at least -100.
        ``noise`` has the shape of the music, ``slow`` the shape ``(frames,)``. The gain only shifts the threshold, since music is
        heard at one level whatever the drive.
        """
        powers = band_powers(self._ear, noise) * np.float32(self._scale)
        middle = np.minimum(np.arange(powers.shape[0]) * (self._ear.frame // 2) + self._ear.frame // 2, slow.size - 1)
        ratio = (powers / self._mask).max(axis=1) / np.square(slow[middle])
        decibels: Floats = 10 * np.log10(np.maximum(ratio, 10 ** (FLOOR_DB / 10)).astype(np.float64))
        return decibels

    def distortion_db(self, gain: Singles, error: Samples | None = None) -> float:
        """Return the worst band's noise-to-mask ratio.

        For a gain curve and a clipper's ``error``: mean over the worst 5 % of frames.
        A mean, in dB, over the frames above the P95: a P95 alone cannot see hits that fill fewer than one frame in twenty.
        -100 for no noise.
        """
        if error is None and gain.min(initial=1.0) >= 1.0:
            return FLOOR_DB
        slow = slow_gain(gain, self._ear.rate_hz)
        noise = self._samples * (gain - slow)
        if error is not None:
            noise += error
        ratios = np.sort(self.noise_to_mask_db(noise, slow))
        return float(ratios[int(WORST_FROM * ratios.size) :].mean())
