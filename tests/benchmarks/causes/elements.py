"""Faults of single elements: a channel turned over, a delay that cancels, a clipped or dulled track."""

from collections.abc import Callable, Sequence

import numpy as np
from scipy import signal

from tests.benchmarks.diagnosis.faults import BASSES, KICKS
from tests.benchmarks.elements.kick_and_bass_polarity import AROUND_S, hits, lows, sub_layer
from tests.benchmarks.healing.plants import Planted, by_loudness, changed, main_element, with_tool
from tests.benchmarks.plans.planting import Floats, Stems, strongest_drum

Element = Callable[[Stems], str]
DELAYS_MS = (1.0, 8.0)
LEAST_LOST_DB = 1.0  # a delay that costs less than this is no fault
CLIPPED_UNDER_DB = 8.0
DULL_HZ = 1500.0
UPRIGHT = 0.4


def on_element(element: Element, change: Callable[[Floats, int], Floats]) -> Callable[[Stems], Planted | None]:
    return lambda song: changed(song, lambda samples: change(samples, song.rate_hz), element(song))


def on_upright(element: Element, change: Callable[[Floats, int], Floats]) -> Callable[[Stems], Planted | None]:
    """Change an element of which both channels are alike: one that is wide anyway can lose nothing by it."""

    def plant(song: Stems) -> Planted | None:
        name = element(song)
        left, right = song.stems[name].T
        alike = 2.0 * float(left @ right) / float(left @ left + right @ right)
        return changed(song, lambda samples: change(samples, song.rate_hz), name) if alike >= UPRIGHT else None

    return plant


def any_drum(song: Stems) -> str:
    return strongest_drum(song) if song.drum_stems else by_loudness(song)[0]


def bass_or_main(song: Stems) -> str:
    return BASSES.get(song.name, main_element(song))


def right_over(samples: Floats, _rate_hz: int) -> Floats:
    done: Floats = samples * np.array([1.0, -1.0])
    return done


def by_ffmpeg(samples: Floats, rate_hz: int) -> Floats:
    return with_tool(samples, rate_hz, "ffmpeg", "aeval=-val(0)|val(1):c=same")


def by_sox(samples: Floats, rate_hz: int) -> Floats:
    return with_tool(samples, rate_hz, "sox", "remix", "1", "2v-0.85")


def fake_width(samples: Floats, _rate_hz: int) -> Floats:
    """Turn phases by 160 degrees on one side: what a widener made of all-passes does at its widest."""
    middle = samples.mean(axis=1)
    quarter = np.imag(signal.hilbert(middle))
    angle = np.deg2rad(80.0)
    done: Floats = np.stack((np.cos(angle) * middle + np.sin(angle) * quarter, np.cos(angle) * middle - np.sin(angle) * quarter), axis=1)
    return done


def pair(song: Stems) -> tuple[str, str] | None:
    """Return kick and bass, where a song has both."""
    kick, bass = KICKS.get(song.name), BASSES.get(song.name)
    return None if kick is None or bass is None else (kick, bass)


def moved(samples: Floats, frames: int) -> Floats:
    done: Floats = np.roll(samples, frames, axis=0)
    return done


def sums_db(kick: Floats, bass: Floats, rate_hz: int, frames: Sequence[int]) -> list[float]:
    """Return the energy of kick plus bass around the kicks over the energies of both, for each delay of the bass, in dB."""
    low_kick, low_bass = lows(kick, rate_hz), lows(bass, rate_hz)
    before, after = (round(side * rate_hz) for side in AROUND_S)
    rows = [slice(max(place - before, 0), place + after) for place in hits(kick, rate_hz)]
    inside = np.zeros(len(low_kick), bool)
    for row in rows:
        inside[row] = True
    both = [float(np.sum((low_kick + np.roll(low_bass, shift_frames))[inside] ** 2)) for shift_frames in frames]
    apart = [float(np.sum(low_kick[inside] ** 2) + np.sum(np.roll(low_bass, shift_frames)[inside] ** 2)) for shift_frames in frames]
    return [10 * float(np.log10(total / alone)) for total, alone in zip(both, apart, strict=True)]


def worst_delay(kick: Floats, bass: Floats, rate_hz: int) -> tuple[int, float]:
    """Return the delay of 1 to 8 ms at which both sum worst, and that sum in dB."""
    frames = [round(ms * rate_hz / 1000) for ms in np.arange(DELAYS_MS[0], DELAYS_MS[1] + 0.1, 0.5)]
    sums = sums_db(kick, bass, rate_hz, frames)
    place = int(np.argmin(sums))
    return frames[place], sums[place]


Shift = Callable[[Floats, int, int], Floats]


def rolled(samples: Floats, frames: int, _rate_hz: int) -> Floats:
    return moved(samples, frames)


def ffmpeg_delay(samples: Floats, frames: int, rate_hz: int) -> Floats:
    return with_tool(samples, rate_hz, "ffmpeg", f"adelay={frames}S:all=1")


def sox_delay(samples: Floats, frames: int, rate_hz: int) -> Floats:
    return with_tool(samples, rate_hz, "sox", "pad", f"{frames}s", "0s")


def delayed(of_kick: Callable[[Floats, Floats, int], Floats], shift: Shift) -> Callable[[Stems], Planted | None]:
    """Put a bass that belongs to the kick in the bass's place, late by the worst of 1 to 8 ms; None where that costs little."""

    def plant(song: Stems) -> Planted | None:
        names = pair(song)
        if names is None:
            return None
        kick, bass = (song.stems[name] for name in names)
        right = of_kick(kick, bass, song.rate_hz)
        frames, left_db = worst_delay(kick, right, song.rate_hz)
        if left_db > -LEAST_LOST_DB:
            return None
        return {**song.stems, names[1]: shift(right, frames, song.rate_hz)}

    return plant


def with_kick_lows(kick: Floats, bass: Floats, rate_hz: int) -> Floats:
    """Layer the kick's lows, at their level, on the bass."""
    return bass + np.repeat(lows(kick, rate_hz)[:, None], bass.shape[1], axis=1)


def best_placed(kick: Floats, bass: Floats, rate_hz: int) -> Floats:
    """Move the bass to where it sums best with the kick."""
    frames = [round(ms * rate_hz / 1000) for ms in np.arange(-10.0, 10.1, 0.5)]
    sums = sums_db(kick, bass, rate_hz, frames)
    return moved(bass, frames[int(np.argmax(sums))])


def with_sub(kick: Floats, bass: Floats, rate_hz: int) -> Floats:
    """Play the bass under a sub that is in step with the kick."""
    return bass / 2 + sub_layer(kick, rate_hz)


def hard_clipped(samples: Floats, _rate_hz: int) -> Floats:
    level = float(np.abs(samples).max()) * 10 ** (-CLIPPED_UNDER_DB / 20)
    return np.clip(samples, -level, level)


def driven(samples: Floats, _rate_hz: int) -> Floats:
    """Drive into a curve that bends softly."""
    level = float(np.abs(samples).max()) * 10 ** (-CLIPPED_UNDER_DB / 20)
    done: Floats = np.tanh(samples / level) * level
    return done


def ffmpeg_clipped(samples: Floats, rate_hz: int) -> Floats:
    top = float(np.abs(samples).max())
    gain = 10 ** (CLIPPED_UNDER_DB / 20) / top
    return with_tool(samples * gain, rate_hz, "ffmpeg", "asoftclip=type=hard") / gain


def sox_overdriven(samples: Floats, rate_hz: int) -> Floats:
    """Drive by sox, which bends and leaves a tail of its own."""
    top = float(np.abs(samples).max())
    return with_tool(samples / top / 8.0, rate_hz, "sox", "overdrive", f"{CLIPPED_UNDER_DB + 18}", "0") * top


def dulled(samples: Floats, rate_hz: int) -> Floats:
    done: Floats = signal.sosfilt(signal.butter(4, DULL_HZ, fs=rate_hz, output="sos"), samples, axis=0)
    return done


def through(tool: str, filters: Sequence[str]) -> Callable[[Floats, int], Floats]:
    return lambda samples, rate_hz: with_tool(samples, rate_hz, "sox" if tool == "sox" else "ffmpeg", *filters)
