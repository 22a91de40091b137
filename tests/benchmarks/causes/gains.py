"""Gains that move where nothing in the song asks for it, put on stems: by a period of their own, or from passage to passage.

Each way is by other code: numpy, a compressor of scipy's filters keyed by a foreign pulse, ffmpeg, sox. Samples are of shape
``(frames, channels)``, float64. A gain of the whole mix is put on every stem, so that the stems still add up.
"""

import zlib
from collections.abc import Callable

import numpy as np
from scipy import ndimage, signal

from tests.benchmarks.healing.plants import Planted, changed, with_tool
from tests.benchmarks.plans.planting import Floats, Stems

Gain = Callable[[Stems], Floats]  # in dB, shape (frames,)

PERIODS_S = (0.17, 0.29, 0.43, 0.71, 1.13, 1.69)  # no tempo in common
SWING_DB = 6.0
ATTACK_S, RELEASE_S = 0.004, 0.12
PASSAGES_S = (9.0, 11.0, 13.0, 15.0)  # eight bars of 213 to 128 BPM
UNDER_DB = 6.0
RIDE_S = 1.5


def period_s(song: Stems, way: int) -> float:
    """Return a period that differs from song to song and from way to way, always the same."""
    return PERIODS_S[(zlib.crc32(song.name.encode()) + way) % len(PERIODS_S)]


def passage_s(song: Stems, way: int) -> float:
    return PASSAGES_S[(zlib.crc32(song.name.encode()) + way) % len(PASSAGES_S)]


def seconds(song: Stems) -> Floats:
    done: Floats = np.arange(len(song.mix)) / song.rate_hz
    return done


def times_gain(samples: Floats, gain_db: Floats) -> Floats:
    done: Floats = samples * 10 ** (gain_db / 20)[:, None]
    return done


def on_all(gain: Gain) -> Callable[[Stems], Planted | None]:
    def plant(song: Stems) -> Planted | None:
        gain_db = gain(song)
        return changed(song, lambda samples: times_gain(samples, gain_db), *song.stems)

    return plant


def on_rest(gain: Gain) -> Callable[[Stems], Planted | None]:
    """Move all but the drums, as on a bus of the music."""

    def plant(song: Stems) -> Planted | None:
        gain_db = gain(song)
        return changed(song, lambda samples: times_gain(samples, gain_db), *(set(song.stems) - song.drum_stems)) if song.has_drums else None

    return plant


def swung(song: Stems) -> Floats:
    """Swing as a cosine in dB."""
    return (np.cos(2 * np.pi * seconds(song) / period_s(song, 0)) - 1.0) * SWING_DB / 2


def ducked(song: Stems) -> Floats:
    """Fall at once and come back in a straight line of dB."""
    fallen = -SWING_DB * (1.0 - (seconds(song) / period_s(song, 1)) % 1.0)
    smooth: Floats = ndimage.uniform_filter1d(fallen, round(0.01 * song.rate_hz))
    return smooth


def keyed(song: Stems) -> Floats:
    """Compress by a pulse of 60 ms that is nowhere in the song: attack and release of one pole each."""
    key = (signal.square(2 * np.pi * seconds(song) / period_s(song, 2), duty=min(0.06 / period_s(song, 2), 0.5)) + 1.0) / 2
    step = song.rate_hz // 1000
    state, levels = 0.0, []
    for wanted in key[::step]:
        time_s = ATTACK_S if wanted > state else RELEASE_S
        state += (wanted - state) * (1.0 - np.exp(-step / song.rate_hz / time_s))
        levels.append(state)
    fine = np.interp(np.arange(len(key)), np.arange(len(levels)) * step, levels)
    lowest, highest = np.quantile(fine[len(fine) // 2 :], (0.0, 1.0))
    moved_db: Floats = -SWING_DB * (fine - lowest) / (highest - lowest)
    return moved_db


def tremolo(song: Stems) -> Planted | None:
    hz = max(1.0 / period_s(song, 3), 0.1)
    depth = 1.0 - 10 ** (-SWING_DB / 20)
    return changed(song, lambda samples: with_tool(samples, song.rate_hz, "ffmpeg", f"tremolo=f={hz}:d={depth}"), *song.stems)


def locked(song: Stems) -> Floats:
    """Swing twice a second, whatever the tempo: with 120 BPM this is in time."""
    return (np.abs(np.sin(np.pi * 2.0 * seconds(song))) - 1.0) * SWING_DB


def stepped(song: Stems) -> Floats:
    """Lower every other passage, with ramps of 30 ms."""
    under = (seconds(song) // passage_s(song, 0)) % 2
    smooth: Floats = ndimage.uniform_filter1d(-UNDER_DB * under, round(0.03 * song.rate_hz))
    return smooth


def ridden(song: Stems) -> Floats:
    """Lower every other passage by a fader that takes a second and a half."""
    wave = signal.sawtooth(2 * np.pi * seconds(song) / (2 * passage_s(song, 1)), width=0.5)  # -1 to 1 and back
    slope = passage_s(song, 1) / RIDE_S
    return UNDER_DB * (np.clip(wave * slope, -1.0, 1.0) - 1.0) / 2


def by_volume(song: Stems) -> Planted | None:
    """Lower every other passage by ffmpeg's fader, less than the others: 4 dB."""
    filters = f"asetnsamples=n=512,volume=volume='if(mod(floor(t/{passage_s(song, 2)}),2),0.630957,1)':eval=frame"
    return changed(song, lambda samples: with_tool(samples, song.rate_hz, "ffmpeg", filters), *song.stems)


def joined(song: Stems) -> Planted | None:
    """Cut the song into passages, turn every other one down with sox, and join them."""
    frames = round(passage_s(song, 3) * song.rate_hz)

    def change(samples: Floats) -> Floats:
        pieces = [samples[start : start + frames] for start in range(0, len(samples), frames)]
        turned = [with_tool(piece, song.rate_hz, "sox", "vol", "-8dB") if place % 2 else piece for place, piece in enumerate(pieces)]
        return np.concatenate(turned)

    return changed(song, change, *song.stems)
