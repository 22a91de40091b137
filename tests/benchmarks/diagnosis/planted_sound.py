"""What a planted fault does to the sound: numpy and scipy alone. Samples are of shape ``(frames, channels)``, float64."""

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage, signal

Floats = NDArray[np.float64]

LOOK_AHEAD_S = 0.005
RELEASE_S = 0.08
DIP_RELEASE_S = 0.2
FIR_FRAMES = 8191
STEEP_ORDER = 12
MAINS_HZ, HARMONICS = 50.0, 8
HALVINGS = 9


def db(ratio: float) -> float:
    return float(20 * np.log10(ratio))


def times(samples: Floats, gain_db: float) -> Floats:
    done: Floats = samples * float(10 ** (gain_db / 20))
    return done


def high_shelf(samples: Floats, rate_hz: int, hz: float, gain_db: float, q: float = 0.71) -> Floats:
    """Audio EQ cookbook (R. Bristow-Johnson): high shelf, half of its gain in dB at ``hz``."""
    a, w = 10 ** (gain_db / 40), 2 * np.pi * hz / rate_hz
    root, cosine = 2 * np.sqrt(a) * np.sin(w) / (2 * q), np.cos(w)
    above = a * np.array([a + 1 + (a - 1) * cosine + root, -2 * (a - 1 + (a + 1) * cosine), a + 1 + (a - 1) * cosine - root])
    below = np.array([a + 1 - (a - 1) * cosine + root, 2 * (a - 1 - (a + 1) * cosine), a + 1 - (a - 1) * cosine - root])
    done: Floats = signal.lfilter(above / below[0], below / below[0], samples, axis=0)
    return done


def high_pass(samples: Floats, rate_hz: int, hz: float, order: int = 4) -> Floats:
    done: Floats = signal.sosfilt(signal.butter(order, hz, "highpass", fs=rate_hz, output="sos"), samples, axis=0)
    return done


def wall(samples: Floats, rate_hz: int, hz: float) -> Floats:
    """Cut everything above ``hz``, 100 dB down within a tenth of it: what a converter or an encoder leaves."""
    sections = signal.ellip(STEEP_ORDER, 0.05, 50, hz, "lowpass", fs=rate_hz, output="sos")  # twice, forwards and backwards
    done: Floats = signal.sosfiltfilt(sections, samples, axis=0)
    return done


def lows(samples: Floats, rate_hz: int, hz: float) -> Floats:
    """Return what lies below ``hz``, in phase with the rest."""
    taps = signal.firwin(FIR_FRAMES, hz, fs=rate_hz)
    done: Floats = signal.fftconvolve(samples, taps[:, None], mode="same", axes=0)
    return done


def turned_apart(samples: Floats, rate_hz: int, below_hz: float, degrees: float) -> Floats:
    """Turn left and right ``degrees`` apart each from the middle below ``below_hz``: side/mid is tan(degrees)."""
    low = lows(samples, rate_hz, below_hz)
    middle = low.mean(axis=1)
    quarter = np.imag(signal.hilbert(middle))
    angle = np.deg2rad(degrees)
    turned = np.stack((np.cos(angle) * middle + np.sin(angle) * quarter, np.cos(angle) * middle - np.sin(angle) * quarter), axis=1)
    done: Floats = samples - low + turned
    return done


def narrowed(samples: Floats, side_db: float) -> Floats:
    middle = samples.mean(axis=1, keepdims=True)
    done: Floats = middle + times(samples - middle, side_db)
    return done


def share_clipped(samples: Floats, share: float) -> Floats:
    """Clip at the level that the loudest ``share`` of the samples passes."""
    level = float(np.quantile(np.abs(samples).max(axis=1), 1.0 - share))
    return np.clip(samples, -level, level)


def limited(samples: Floats, rate_hz: int, top: float) -> Floats:
    """Hold every peak under ``top``: least gain over 5 ms ahead, then rising with a time constant of 80 ms, then smoothed."""
    reach = 2 * round(LOOK_AHEAD_S * rate_hz / 2) + 1
    peak = np.maximum(np.abs(samples).max(axis=1), 1e-9)
    wanted = ndimage.minimum_filter1d(np.minimum(top / peak, 1.0), 2 * reach + 1)
    step = max(rate_hz // 2000, 1)
    coarse = wanted[: len(wanted) // step * step].reshape(-1, step).min(axis=1)
    rise = float(np.exp(-step / (RELEASE_S * rate_hz)))
    envelope, last = np.empty_like(coarse), 1.0
    for place, value in enumerate(coarse):
        last = min(float(value), 1.0 - (1.0 - last) * rise)
        envelope[place] = last
    fine = np.concatenate((np.repeat(envelope, step), np.full(len(wanted) - len(envelope) * step, last)))
    smooth = ndimage.uniform_filter1d(ndimage.minimum_filter1d(fine, reach), reach)
    done: Floats = samples * smooth[:, None]
    return done


def crest_db(samples: Floats) -> float:
    return db(float(np.abs(samples).max()) / float(np.sqrt(np.mean(samples**2))))


def crest_lowered(samples: Floats, rate_hz: int, by_db: float) -> Floats:
    """Limit until peak over RMS has fallen by ``by_db``."""
    before, top_db, bottom_db = crest_db(samples), db(float(np.abs(samples).max())), -60.0
    done = samples
    for _ in range(HALVINGS):
        middle_db = (top_db + bottom_db) / 2
        done = limited(samples, rate_hz, float(10 ** (middle_db / 20)))
        fallen = before - crest_db(done)
        top_db, bottom_db = (middle_db, bottom_db) if fallen < by_db else (top_db, middle_db)
    return done


def dipped(samples: Floats, rate_hz: int, starts: list[int], depth_db: float) -> Floats:
    """Dip by ``depth_db`` at every start, coming back with a time constant of 0.2 s."""
    pulses = np.zeros(len(samples))
    fall = float(np.exp(-1.0 / (DIP_RELEASE_S * rate_hz)))
    curve = depth_db * fall ** np.arange(round(5 * DIP_RELEASE_S * rate_hz))
    for start in starts:
        end = min(start + len(curve), len(pulses))
        pulses[start:end] = np.maximum(pulses[start:end], curve[: end - start])
    smooth = ndimage.uniform_filter1d(pulses, max(rate_hz // 500, 1))
    return samples * (10 ** (-smooth / 20))[:, None]


def strikes_of(stem: Floats, rate_hz: int, apart_s: float = 0.25, within_db: float = 12.0, rise_db: float = 6.0) -> list[int]:
    """Return the frames where a drum strikes: where it rises by 6 dB or more to within 12 dB of its strongest, 0.25 s apart or more.

    Peaks alone, as it was first, are no strikes: those of a drum that booms on lie in its ring, three of five in one song.
    """
    step = rate_hz // 200
    peaks = np.abs(stem[: len(stem) // step * step]).max(axis=1).reshape(-1, step).max(axis=1)
    ahead = ndimage.maximum_filter1d(peaks, 10, origin=-5)  # the 50 ms from here on
    before = np.roll(ndimage.maximum_filter1d(peaks, 10, origin=4), 1)  # and those up to here
    rise = np.where(ahead > float(peaks.max()) * 10 ** (-within_db / 20), peaks / np.maximum(before, 1e-9), 0.0)
    strikes, _ = signal.find_peaks(rise, height=10 ** (rise_db / 20), distance=round(apart_s * 200))
    return [max(int(place) - 1, 0) * step for place in strikes]


def stretch_moved(samples: Floats, rate_hz: int, start_s: float, end_s: float, gain_db: float) -> Floats:
    """Move a stretch by ``gain_db``, with ramps of 30 ms."""
    inside = np.zeros(len(samples))
    inside[round(start_s * rate_hz) : round(end_s * rate_hz)] = 1.0
    inside = ndimage.uniform_filter1d(inside, round(0.03 * rate_hz))
    return samples * (10 ** (inside * gain_db / 20))[:, None]


def hummed(samples: Floats, rate_hz: int, level_dbfs: float) -> Floats:
    """Add mains hum: 50 Hz and its harmonics, each at a level of one over its number; ``level_dbfs`` is their RMS over full scale's 1."""
    seconds = np.arange(len(samples)) / rate_hz
    wave = sum(np.sin(2 * np.pi * MAINS_HZ * n * seconds + n) / n for n in range(1, HARMONICS + 1))
    wave = np.asarray(wave)
    return samples + times((wave / np.sqrt(np.mean(wave**2)))[:, None], level_dbfs)


def ended_at(samples: Floats, rate_hz: int, fade_s: float, left_db: float) -> Floats:
    """Fade over ``fade_s`` in a straight line of dB down to ``left_db``, and stop there."""
    frames = round(fade_s * rate_hz)
    gain = np.ones(len(samples))
    gain[-frames:] = 10 ** (np.linspace(0.0, left_db, frames) / 20)
    return samples * gain[:, None]


def edges_softened(samples: Floats, rate_hz: int, fade_in_s: float = 0.05, fade_out_s: float = 1.5, rest_s: float = 0.1) -> Floats:
    """Give an excerpt a clean beginning and end: fades, and silence around them."""
    done = samples.copy()
    first, last = round(fade_in_s * rate_hz), round(fade_out_s * rate_hz)
    done[:first] *= np.sin(np.linspace(0.0, np.pi / 2, first))[:, None] ** 2
    done[-last:] *= np.cos(np.linspace(0.0, np.pi / 2, last))[:, None] ** 2
    rest = np.zeros((round(rest_s * rate_hz), samples.shape[1]))
    return np.concatenate((rest, done, rest))


def true_peak(samples: Floats) -> float:
    done = signal.resample_poly(samples, 8, 1, axis=0)
    return float(np.abs(done).max())
