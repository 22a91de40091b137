"""Gain on what strikes or sustains within a mix.

A stroke is short and broad, a held sound long and narrow: medians of the spectrogram over time and over frequency estimate both,
and a soft mask shares each bin out (Fitzgerald, DAFx 2010). The masks come from all channels together, so the stereo picture stays.
Unlike `features.hits.separation`, which measures in bands, this works bin by bin, as sound needs it. Both parts add up to the input.
"""

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from features.hits.separation import running_median
from features.sound import fourier
from features.sound.signal import Samples, Signal

Singles = NDArray[np.float32]
Complexes = NDArray[np.complex64]

FRAME_S = 2048 / 48000
OVERLAP = 4
HALF_FRAMES = 15  # of the median over time: 31 frames, a third of a second
HALF_BINS = 15  # of the median over frequency: 31 groups of bins, from 700 Hz in the lows to 2.9 kHz in the highs
TINY = np.float32(1e-20)
BATCH_FRAMES = 64
CONTEXT_S = 0.25  # what a piece of a longer sound needs on both sides

Part = Literal["percussive", "sustained"]


def _size(rate_hz: int) -> int:
    return int(2 ** max(round(np.log2(FRAME_S * rate_hz)), 6))


def _spectra(wave: Singles, window: Singles, hop: int) -> Complexes:
    frames = np.lib.stride_tricks.sliding_window_view(wave, window.size)[::hop]
    out = np.empty((frames.shape[0], window.size // 2 + 1), np.complex64)
    for start in range(0, frames.shape[0], BATCH_FRAMES):
        out[start : start + BATCH_FRAMES] = fourier.rfft(frames[start : start + BATCH_FRAMES] * window, axis=1)
    return out


def _sound(spectra: Complexes, window: Singles, hop: int, frames: int) -> Singles:
    """Return the overlap-added waves; the squared windows add up to ``1.5`` (Hann, four-fold overlap)."""
    wave = np.zeros(frames, np.float32)
    scaled = window / np.float32(1.5)
    for start in range(0, spectra.shape[0], BATCH_FRAMES):
        for number, piece in enumerate(fourier.irfft(spectra[start : start + BATCH_FRAMES], window.size, axis=1), start):
            wave[number * hop : number * hop + window.size] += piece * scaled
    return wave


def _groups(bins: int) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return the first bin of each group, and each bin's group: single bins up to 64, then pairs, then fours from 256 on.

    Up there a bin is far narrower than anything the ear tells apart, and the medians are what takes the time.
    """
    first = np.concatenate((np.arange(min(64, bins)), np.arange(64, min(256, bins), 2), np.arange(256, bins, 4)))
    return first, np.searchsorted(first, np.arange(bins), side="right") - 1


def percussive_mask(power: Singles) -> Singles:
    """Return the percussive share of each bin.

    0 to 1, from a power spectrogram ``(frames, bins)``: ``P / (P + H)``.

    ``H`` is the median over a third of a second, ``P`` that over 31 neighbouring groups of bins.
    """
    first, group = _groups(power.shape[1])
    width = np.diff(np.append(first, power.shape[1])).astype(np.float32)
    grouped: Singles = (np.add.reduceat(power, first, axis=1) / width).astype(np.float32)
    lying = np.ascontiguousarray(grouped.T)
    sustained = np.empty_like(lying)
    running_median(lying, HALF_FRAMES, sustained)
    broad = np.empty_like(grouped)
    running_median(grouped, HALF_BINS, broad)
    mask: Singles = broad / (broad + sustained.T + TINY)
    return mask[:, group]


def percussive(samples: Samples, rate_hz: int) -> Samples:
    """Return the percussive part, shape ``(channels, frames)``.

    What is missing to ``samples`` is the sustained part.
    """
    size = _size(rate_hz)
    hop = size // OVERLAP
    window = (np.sin(np.pi * (np.arange(size) + 0.5) / size) ** 2).astype(np.float32)
    count = samples.shape[1]
    padded = np.pad(samples, ((0, 0), (size, size + (-count) % hop)))
    spectra = [_spectra(wave, window, hop) for wave in padded]
    power = np.add.reduce([np.square(spectrum.real) + np.square(spectrum.imag) for spectrum in spectra])
    mask = percussive_mask(power)
    return np.stack([_sound(spectrum * mask, window, hop, padded.shape[1])[size : size + count] for spectrum in spectra])


def split(signal: Signal) -> tuple[Signal, Signal]:
    """Return the percussive and the sustained part.

    Together they are ``signal``.
    """
    struck = percussive(signal.samples, signal.rate_hz)
    return Signal(struck, signal.rate_hz), Signal(signal.samples - struck, signal.rate_hz)


def part_gain(signal: Signal, part: Part, gain_db: float) -> Signal:
    """Raise or lower one part of ``signal``.

    ``x + (g - 1) part``; 0 dB returns the same samples.

    Examples
    --------
    >>> tone = np.sin(2 * np.pi * 500 * np.arange(48000) / 48000).astype(np.float32)[None]
    >>> softer = part_gain(Signal(tone, 48000), "sustained", -6.0)
    >>> round(float(np.abs(softer.samples[0, 10000:38000]).max()), 1)
    0.5
    """
    if gain_db == 0.0 or not signal.frames:
        return signal
    percussive, sustained = split(signal)
    chosen = percussive if part == "percussive" else sustained
    return Signal(signal.samples + np.float32(10 ** (gain_db / 20) - 1) * chosen.samples, signal.rate_hz)
