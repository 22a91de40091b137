"""How much of the loudness lies in 2-5 kHz.

Where the ear is most sensitive, and where it turns harsh.
"""

import numpy as np
from numpy.typing import NDArray

from features.hearing.equal_loudness import contour
from features.records.base import Absence, Course, Moment
from features.records.ear import Ear
from features.sound.bands import Bands, erb_bands, erb_frequency, overlap
from features.sound.decibels import powers_to_db
from features.sound.measurement import measurement
from features.sound.spectrogram import Spectrogram
from features.tone.spectrum import active_frames, frame_power

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

CONTOUR_PHON = 60.0  # music heard at moderate level, per band
LOUDNESS_EXPONENT = 0.3  # loudness doubles per 10 phon (Stevens 1955)
SENSITIVE_HZ = (2000.0, 5000.0)
STEP_S = 0.5
LOUD_DB = -6.0
LEAST_EXCESS = 0.05
SPREADS = 2.0
LEAST_RISE_DB = 2.0
GAP_S = 1.0
AT_MOST = 8
STEPS_INSIDE_ERB = 8


def _weighting(bands: Bands) -> Floats:
    """Return the power weight of each ERB band: the contour's mean inside it, relative to 1 kHz."""
    inside = bands.low_hz + (bands.high_hz - bands.low_hz) * (np.arange(STEPS_INSIDE_ERB)[:, None] + 0.5) / STEPS_INSIDE_ERB
    weights: Floats = np.mean(10 ** (-(contour(inside, CONTOUR_PHON) - CONTOUR_PHON) / 10), axis=0)
    return weights


def _steps(spectrogram: Spectrogram) -> NDArray[np.intp]:
    """Return the number of the 0.5 s step each frame's centre lies in; the last step ends the song."""
    last = max(int(np.ceil(spectrogram.duration_s / STEP_S)) - 1, 0)
    return np.minimum((spectrogram.times_s() / STEP_S).astype(np.intp), last)


def _step_powers(spectrogram: Spectrogram, bands: Bands) -> Floats:
    """Return the mean weighted power per 0.5 s step and ERB band, shape ``(steps, bands)``."""
    detail_hz = spectrogram.detail_hz
    low, high = detail_hz * 10 ** (-0.0125), detail_hz * 10**0.0125
    matrix = overlap(low, np.minimum(high, spectrogram.rate_hz / 2), bands) * _weighting(bands)
    step = _steps(spectrogram)
    starts = np.flatnonzero(np.diff(step, prepend=-1))
    counts = np.diff(np.append(starts, len(step)))
    powers = np.zeros((int(step[-1]) + 1, len(bands)))
    for start, count in zip(starts, counts, strict=True):
        detail = spectrogram.detail_db[start : start + count].astype(np.float32)
        powers[step[start]] = np.mean(10 ** (detail / 10), axis=0, dtype=np.float64) @ matrix
    return powers


def _sensitive(bands: Bands) -> Floats:
    """Return the share of each ERB band, on the ERB scale, that lies in 2-5 kHz."""
    parts = (np.arange(100) + 0.5) / 100
    numbers = np.arange(1.0, len(bands) + 1)[:, None] - 0.5 + parts[None, :]
    frequency = erb_frequency(numbers)
    share: Floats = np.mean((frequency >= SENSITIVE_HZ[0]) & (frequency < SENSITIVE_HZ[1]), axis=1)
    return share


@measurement
def measure_ear(spectrogram: Spectrogram) -> Ear:
    """Measure the share of 2-5 kHz in the loudness.

    Of ERB bands.

    Parameters
    ----------
    spectrogram
        The whole song.

    Notes
    -----
    Per 0.5 s and ERB band (Glasberg and Moore 1990), the power is weighted by the 60 phon contour of ISO 226:2023 and raised
    to 0.3, the growth of loudness (10 phon double it); the shares are taken over the steps in which the song plays,
    louder steps counting more. A pure power law has no level of its own: the same song 6 dB quieter has the same shares.
    It is no full loudness model: spread of masking and the threshold of hearing are left out.
    """
    bands = erb_bands(spectrogram.rate_hz)
    power = frame_power(spectrogram)
    active = active_frames(power)
    erb_hz = tuple(float(value) for value in bands.centre_hz)
    if not active.any() or bands.high_hz[-1] < SENSITIVE_HZ[1]:
        reason = "the song is silent" if not active.any() else "the sampling rate does not reach 5 kHz"
        absent = (Absence("share_2k_5k", reason), Absence("erb_loudness_share", reason))
        return Ear(None, erb_hz, (), Course("0-1", STEP_S / 2, STEP_S, ()), (), absent=absent)
    powers = _step_powers(spectrogram, bands)
    loudness = powers**LOUDNESS_EXPONENT
    total = loudness.sum(axis=1)
    playing = np.bincount(_steps(spectrogram), active, len(powers)) > 0
    sensitive = _sensitive(bands)
    share = loudness @ sensitive / np.maximum(total, 1e-12)
    shares = loudness[playing].sum(axis=0) / np.sum(total[playing])
    return Ear(
        share_2k_5k=float(shares @ sensitive),
        erb_hz=erb_hz,
        erb_loudness_share=tuple(float(value) for value in shares),
        share=Course("0-1", STEP_S / 2, STEP_S, tuple(float(v) if on else None for v, on in zip(share, playing, strict=True))),
        harsh_moments=_harsh(spectrogram, share, powers, sensitive, playing),
    )


def _harsh(spectrogram: Spectrogram, share: Floats, powers: Floats, sensitive: Floats, playing: Mask) -> tuple[Moment, ...]:
    """Return loud stretches in which the share, and the level of 2-5 kHz itself, stand clearly above the song's median."""
    level = powers_to_db(powers.sum(axis=1))
    sharp = powers_to_db(powers @ sensitive)
    loud = playing & (level > float(powers_to_db(np.mean(powers[playing].sum(axis=1)))) + LOUD_DB)
    median = float(np.median(share[playing]))
    spread = 1.4826 * float(np.median(np.abs(share[playing] - median)))
    harsh = loud & (share > median + max(LEAST_EXCESS, SPREADS * spread)) & (sharp > float(np.median(sharp[playing])) + LEAST_RISE_DB)
    steps = np.flatnonzero(harsh)
    if not len(steps):
        return ()
    groups = np.split(steps, np.flatnonzero(np.diff(steps) > GAP_S / STEP_S + 1) + 1)
    moments = [
        Moment(float(group[0] * STEP_S), min(float((group[-1] + 1) * STEP_S), spectrogram.duration_s), float(np.max(share[group])))
        for group in groups
    ]
    return tuple(sorted(moments, key=lambda moment: -moment.value)[:AT_MOST])
