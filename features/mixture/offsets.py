"""How far one sound lies behind another.

Coarsely by their envelopes, then to the sample by their waveforms.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from features.sound import fourier
from features.sound.signal import Samples

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]

WEAKEST = 1e-4  # of the strongest bin's power: what lies below it has a phase of noise
RIVALS = 0.25  # of the highest: what is lower is no rival
NEARLY = 0.97  # repeated music fits at several lags; among equals the nearest to home is taken
STEPS_APART = 2
TOP_FRAMES = 500  # around a top: what is higher there belongs to it
FLOOR_SHARE = 0.01  # of the mean power: keeps the division finite
CHANCE = 8.0
RIVAL = 1.5


@dataclass(frozen=True, slots=True)
class Lag:
    """How far, and how clearly, a sound lies behind another.

    Attributes
    ----------
    frames
        Positive: the sound must be moved later.
    height
        Correlation at that lag, 1 = the same sound and nothing else.
    at_home
        Correlation where the sound is expected.
    spread
        Standard deviation of the correlation over all lags: what chance gives.
    """

    frames: int
    height: float
    at_home: float
    spread: float

    @property
    def clear(self) -> bool:
        """Whether the peak is beyond doubt.

        Far above chance, and clearly above the place where the sound is expected.
        """
        return self.height > CHANCE * self.spread and self.height > RIVAL * max(self.at_home, 0.0)


def envelope_lags(sound: Singles, reference: Singles, most: int = 8) -> list[int]:
    """Return the likeliest lags between two envelopes.

    By how many steps the reference's may lie behind the sound's, over any distance, the likeliest first.

    Parameters
    ----------
    sound, reference
        Mean squares in short steps, any lengths.
    most
        How many lags are wanted: music repeats, so the likeliest is not always the right one.

    Notes
    -----
    What is compared is the rise of the level (square root of the mean square, positive differences), since attacks tell places apart
    and steady loudness does not. Cross-correlation by FFT, mean removed.

    Examples
    --------
    >>> knock = np.zeros(400, np.float32)
    >>> knock[[30, 90, 250]] = 1.0
    >>> envelope_lags(knock, np.roll(knock, 17), 1)
    [17]
    """
    own_rises, reference_rises = (_rises(envelope) for envelope in (sound, reference))
    if own_rises.size == 0 or reference_rises.size == 0:
        return []
    size = fourier.next_fast_len(own_rises.size + reference_rises.size, real=True)
    product = np.conj(fourier.rfft(own_rises, size)) * fourier.rfft(reference_rises, size)
    likeness = fourier.irfft(product, size)
    lags: list[int] = []
    for place in np.argsort(likeness)[::-1]:
        lag = int(place) if place < reference_rises.size else int(place) - size
        if all(abs(lag - its) > STEPS_APART for its in lags):
            lags.append(lag)
        if len(lags) == most:
            break
    return lags


def _rises(envelope: Singles) -> Floats:
    level = np.sqrt(envelope.astype(np.float64))
    rise = np.maximum(np.diff(level, prepend=level[:1]), 0.0)
    return rise - rise.mean() if rise.size else rise


def waveform_lag(sound: Samples, reference: Samples, first: int, last: int, home: int = 0) -> Lag:
    """Return the lag at which a sound lies in another.

    Of places that fit as well, the nearest to home. See `waveform_lags`.

    Examples
    --------
    >>> noise = np.random.default_rng(1).normal(size=(1, 4096)).astype(np.float32)
    >>> waveform_lag(noise[:, 100:2000], noise, 0, 400).frames
    100
    """
    lags = waveform_lags(sound, reference, first, last, home)
    clearest = lags[0].height / max(lags[0].spread, 1e-9)
    equals = [lag for lag in lags if lag.height >= NEARLY * clearest * lag.spread]
    return min(equals, key=lambda lag: abs(lag.frames - home)) if equals else lags[0]


def waveform_lags(sound: Samples, reference: Samples, first: int, last: int, home: int = 0, most: int = 128) -> list[Lag]:
    """Return the likeliest lags of a sound in another.

    Those between ``first`` and ``last`` frames, the likeliest first.

    Parameters
    ----------
    sound, reference
        Shape ``(channels, n)`` each, starting at the same moment; the number of frames may differ. One channel is compared with both.
    first, last
        The lags to search, in frames.
    home
        Where the sound is expected.
    most
        How many are wanted: music repeats.

    Notes
    -----
    Generalised cross-correlation with phase transform (Knapp and Carter 1976): each bin of the cross-spectrum, summed over channels,
    is divided by its magnitude, so that the peak is one sample wide whatever the spectrum. Bins in which the sound has next to
    nothing are left out: there the phase is that of everything else.

    A sound that the reference repeats spoils the phase, so the tops of a second curve are returned too: divided by the power of the
    sound alone (Roth 1971), each repeat keeps a peak of its own.
    """
    size = fourier.next_fast_len(sound.shape[1] + max(reference.shape[1], last - first), real=True)
    channels = max(sound.shape[0], reference.shape[0])
    cross = np.zeros(size // 2 + 1, np.complex64)
    power = np.zeros(size // 2 + 1, np.float32)
    for channel in range(channels):
        own_bins = fourier.rfft(sound[min(channel, sound.shape[0] - 1)], size)
        reference_bins = fourier.rfft(reference[min(channel, reference.shape[0] - 1)], size)
        cross += np.conj(own_bins) * reference_bins
        power += own_bins.real**2 + own_bins.imag**2
    magnitude = np.abs(cross)
    strong = (power > WEAKEST * float(power.max(initial=0.0))) & (magnitude > 0.0)
    if not strong.any():
        return [Lag(home, 0.0, 0.0, 0.0)]
    phase = np.zeros_like(cross)
    phase[strong] = cross[strong] / magnitude[strong]
    whitened = fourier.irfft(phase, size) * (size / (2.0 * np.count_nonzero(strong)))
    weight = np.where(strong, 1.0 / (power + FLOOR_SHARE * float(power[strong].mean())), 0.0).astype(np.float32)
    repeated = fourier.irfft(cross * weight, size) * (size / (2.0 * float(np.sum(power * weight))))
    lags = [lag for likeness in (whitened, repeated) for lag in _tops(likeness, first, last, home, most)]
    return sorted(lags, key=lambda lag: -lag.height / max(lag.spread, 1e-9))


def _tops(likeness: Singles | Floats, first: int, last: int, home: int, most: int) -> list[Lag]:
    candidates = likeness[np.arange(first, last + 1) % likeness.size].copy()
    at_home, spread = float(likeness[home % likeness.size]), float(candidates.std())
    lags: list[Lag] = []
    while len(lags) < most:
        best = int(np.argmax(candidates))
        if lags and candidates[best] < RIVALS * lags[0].height:
            break
        lags.append(Lag(first + best, float(candidates[best]), at_home, spread))
        candidates[max(best - TOP_FRAMES, 0) : best + TOP_FRAMES + 1] = -np.inf
    return lags
