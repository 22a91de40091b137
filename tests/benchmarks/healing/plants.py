"""Every fault that a plan can mend, planted in three ways by different code.

``own`` is the project's own plant (`faults`, its clear size), ``ffmpeg`` that tool's filters on the sound, ``other`` sox or numpy
with another design: a shelf that is a slope, a lean that is a rotation, an element other than the lead. A fault of the whole mix is put on
every stem, so that the stems still add up to the mix.
"""

from collections.abc import Callable, Mapping
from typing import Literal, get_args

import numpy as np
from scipy import ndimage, signal

from tests.benchmarks.diagnosis import faults as diagnosis_faults
from tests.benchmarks.diagnosis.planted_sound import lows
from tests.benchmarks.plans import planting
from tests.benchmarks.plans.other_tools import Tool, run
from tests.benchmarks.plans.planting import Floats, Stems

Way = Literal["own", "ffmpeg", "other"]
Planted = dict[str, Floats]
Plant = Callable[[Stems], Planted | None]
Change = Callable[[Floats, int], Floats]

WAYS: tuple[Way, ...] = get_args(Way)
OWN = {fault.id: fault for fault in diagnosis_faults.FAULTS}
CLEAR = 1
LOUD_DB, LOST_DB, BURIED_DB = 8.0, -10.0, -10.0
TURN_DEGREES = 12.75  # leaves 4 dB between the channels of what was in the middle
BASS_LATE_S = 0.005
LATE_FRAMES = 16.4
HITS = 5
POP_S, POP_OVER_DB = 0.004, 5.0
SLOPE_FROM_HZ, SLOPE_DB, SLOPE_MOST_DB = 1500.0, 3.0, 9.0
HUMP_HZ, HUMP_DB = 400.0, 8.0
TAPS = 4097


def with_tool(samples: Floats, rate_hz: int, tool: Tool, *filters: str) -> Floats:
    """Return the samples through a tool's filters, as long as they were."""
    done = run(tool, list(filters), np.ascontiguousarray(samples.T, np.float32), rate_hz)
    return np.asarray(done[:, : len(samples)].T, np.float64)


def on_every_stem(change: Change) -> Plant:
    return lambda song: {name: change(samples, song.rate_hz) for name, samples in song.stems.items()}


def by(tool: Tool, *filters: str) -> Plant:
    return on_every_stem(lambda samples, rate_hz: with_tool(samples, rate_hz, tool, *filters))


def own(fault: str, size: int = CLEAR) -> Plant:
    """Plant a linear fault of the whole mix, as the diagnosis does, stem by stem."""

    def change(samples: Floats, rate_hz: int) -> Floats:
        planted = OWN[fault].plant(Stems(fault, rate_hz, {"mix": samples}, frozenset()), OWN[fault].amounts[size])
        if planted is None:
            raise ValueError(f"the fault {fault} is no fault of the whole mix")
        return planted.mix

    return on_every_stem(change)


def main_element(song: Stems) -> str:
    """Return the lead, or the loudest stem that is no drum."""
    loudest = by_loudness(song)
    others = [name for name in loudest if name not in song.drum_stems] or loudest
    return diagnosis_faults.LEADS.get(song.name, others[0])


def second_element(song: Stems) -> str:
    """Return the loudest stem that is not the main element, no drum where there is another."""
    rest = [name for name in by_loudness(song) if name != main_element(song)]
    return ([name for name in rest if name not in song.drum_stems] or rest)[0]


def by_loudness(song: Stems) -> list[str]:
    return sorted(song.stems, key=lambda name: -diagnosis_faults.lu(song.stems[name], song.rate_hz))


def changed(song: Stems, change: Callable[[Floats], Floats], *names: str) -> Planted:
    return {name: change(samples) if name in names else samples for name, samples in song.stems.items()}


def brought(fault: str, *, up: bool) -> Plant:
    """Bring the main element to a level against the rest, as the diagnosis does."""

    def plant(song: Stems) -> Planted | None:
        level_lu = OWN[fault].amounts[CLEAR] if up else -OWN[fault].amounts[CLEAR]
        planted = diagnosis_faults.brought_to(song, frozenset((main_element(song),)), level_lu, up=up)
        return None if planted is None or planted.stems is None else dict(planted.stems)

    return plant


def fader(tool: Tool, gain_db: float, element: Callable[[Stems], str]) -> Plant:
    filters = ("vol", f"{gain_db}dB") if tool == "sox" else (f"volume={gain_db}dB",)
    return lambda song: changed(song, lambda samples: with_tool(samples, song.rate_hz, tool, *filters), element(song))


def drums_by_own(song: Stems) -> Planted | None:
    planted = diagnosis_faults.drums_buried(song, OWN["drums buried"].amounts[CLEAR])
    return None if planted is None or planted.stems is None else dict(planted.stems)


def drums_by_ffmpeg(song: Stems) -> Planted | None:
    if not song.has_drums:
        return None
    return changed(song, lambda samples: with_tool(samples, song.rate_hz, "ffmpeg", f"volume={BURIED_DB}dB"), *song.drum_stems)


def blunted(samples: Floats, rate_hz: int) -> Floats:
    """Lower drums by 8 dB, and their attacks by up to 4 more."""
    level = np.abs(samples).max(axis=1)
    fast = ndimage.maximum_filter1d(level, rate_hz // 100)
    slow = np.sqrt(np.maximum(ndimage.uniform_filter1d(level**2, rate_hz // 5), 1e-12))
    attack = np.clip(20 * np.log10(np.maximum(fast, 1e-9) / slow) / 18.0, 0.0, 1.0)
    gain_db = ndimage.uniform_filter1d(-8.0 - 4.0 * attack, rate_hz // 200)
    return samples * (10 ** (gain_db / 20))[:, None]


def drums_blunted(song: Stems) -> Planted | None:
    return changed(song, lambda samples: blunted(samples, song.rate_hz), *song.drum_stems) if song.has_drums else None


def strays_by_own(song: Stems) -> Planted | None:
    if not song.drum_stems:
        return None
    raised = planting.strays_above(song, OWN["stray peaks"].amounts[CLEAR])
    return changed(song, lambda samples: samples + (raised - song.mix), planting.strongest_drum(song))


def strays_by_ffmpeg(song: Stems) -> Planted | None:
    """Raise five hits of the strongest drum by 14 dB, in steps of the tool's frames."""
    if not song.drum_stems:
        return None
    drum = planting.strongest_drum(song)
    starts = (frame / song.rate_hz for frame in planting.isolated_hits(song.stems[drum], song.rate_hz, HITS))
    inside = "+".join(f"between(t,{start - 0.03:.3f},{start + 0.15:.3f})" for start in starts)
    filters = f"asetnsamples=n=256,volume=volume='if({inside},5,1)':eval=frame"
    return changed(song, lambda samples: with_tool(samples, song.rate_hz, "ffmpeg", filters), drum)


def pops(song: Stems) -> Planted | None:
    """Add five pops of noise to the strongest drum, 5 dB over the song's highest peak."""
    if not song.drum_stems:
        return None
    drum, rate_hz = planting.strongest_drum(song), song.rate_hz
    added = np.zeros_like(song.stems[drum])
    decay = np.exp(-np.arange(round(5 * POP_S * rate_hz)) / (POP_S * rate_hz))
    noise = np.random.default_rng(3).uniform(-1.0, 1.0, len(decay)) * decay
    top = float(np.abs(song.mix).max()) * 10 ** (POP_OVER_DB / 20)
    for frame in planting.isolated_hits(song.stems[drum], rate_hz, HITS):
        stretch = slice(frame, min(frame + len(noise), len(added)))
        added[stretch] += (noise / np.abs(noise).max() * top)[: stretch.stop - frame, None]
    return changed(song, lambda samples: samples + added, drum)


def turned(samples: Floats, _rate_hz: int) -> Floats:
    """Turn the whole stereo picture to the left."""
    angle = np.deg2rad(TURN_DEGREES)
    done: Floats = samples @ np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    return done


def bass_late(samples: Floats, rate_hz: int) -> Floats:
    """Delay the right channel's lows by 5 ms."""
    low = lows(samples, rate_hz, 150.0)
    frames = round(BASS_LATE_S * rate_hz)
    late = np.concatenate((np.zeros((frames, 1)), low[:-frames, 1:]))
    return samples - low + np.concatenate((low[:, :1], late), axis=1)


def late(samples: Floats, frames: float) -> Floats:
    """Delay the right channel by frames, whole or not, by turning phases."""
    size = len(samples) + 64
    turning = np.exp(-2j * np.pi * np.fft.rfftfreq(size) * frames)
    right = np.fft.irfft(np.fft.rfft(samples[:, 1], size) * turning, size)[: len(samples)]
    return np.stack((samples[:, 0], right), axis=1)


def late_by_frames(samples: Floats, rate_hz: int) -> Floats:
    """Delay the right channel by half a millisecond, in whole frames."""
    frames = round(0.0005 * rate_hz)
    right = np.concatenate((np.zeros(frames), samples[:-frames, 1]))
    return np.stack((samples[:, 0], right), axis=1)


def shaped(curve_db: Callable[[Floats], Floats]) -> Change:
    """Return a change by a filter of linear phase with the gains of a curve over hertz."""

    def change(samples: Floats, rate_hz: int) -> Floats:
        hz = np.concatenate(([0.0], np.geomspace(10.0, rate_hz / 2, 400)))
        taps = signal.firwin2(TAPS, hz, 10 ** (curve_db(np.maximum(hz, 1.0)) / 20), fs=rate_hz)
        done: Floats = signal.fftconvolve(samples, taps[:, None], mode="same", axes=0)
        return done

    return change


def hump_db(hz: Floats) -> Floats:
    return HUMP_DB * np.cos(np.pi / 2 * np.clip(np.log2(hz / HUMP_HZ), -1.0, 1.0)) ** 2


def slope_db(sign: float) -> Callable[[Floats], Floats]:
    return lambda hz: sign * np.clip(SLOPE_DB * np.log2(hz / SLOPE_FROM_HZ), 0.0, SLOPE_MOST_DB)


WIDE_LOWS = "asplit[a][b];[a]lowpass=f=150:p=2,pan=stereo|c0=0*c0|c1=-1.4*c1[l];[b][l]amix=inputs=2:normalize=0"
FAULTS: Mapping[str, Mapping[Way, Plant]] = {
    "side-lean": {
        "own": own("one side down"), "ffmpeg": by("ffmpeg", "pan=stereo|c0=0.630957*c0|c1=c1"), "other": on_every_stem(turned),
    },
    "element-loud": {
        "own": brought("lead too loud, stems", up=True), "ffmpeg": fader("ffmpeg", LOUD_DB, main_element),
        "other": fader("sox", LOUD_DB, second_element),
    },
    "element-lost": {
        "own": brought("lead buried, stems", up=False), "ffmpeg": fader("ffmpeg", LOST_DB, main_element),
        "other": fader("sox", LOST_DB, second_element),
    },
    "drums-buried": {"own": drums_by_own, "ffmpeg": drums_by_ffmpeg, "other": drums_blunted},
    "hump": {
        "own": own("low-mid build-up"), "ffmpeg": by("ffmpeg", "equalizer=f=250:t=q:w=1:g=9"), "other": on_every_stem(shaped(hump_db)),
    },
    "wide-lows": {"own": own("low end wide"), "ffmpeg": by("ffmpeg", WIDE_LOWS), "other": on_every_stem(bass_late)},
    "polarity": {
        "own": own("one side inverted", 2), "ffmpeg": by("ffmpeg", "aeval=-val(0)|val(1):c=same"),
        "other": by("sox", "remix", "1v-0.9", "2"),
    },
    "bright": {
        "own": own("shrill"), "ffmpeg": by("ffmpeg", "highshelf=f=4000:t=q:w=0.5:g=8"), "other": on_every_stem(shaped(slope_db(1.0))),
    },
    "dark": {
        "own": own("dull"), "ffmpeg": by("ffmpeg", "highshelf=f=5000:t=q:w=0.5:g=-9"), "other": on_every_stem(shaped(slope_db(-1.0))),
    },
    "stray-peaks": {"own": strays_by_own, "ffmpeg": strays_by_ffmpeg, "other": pops},
    "delay": {
        "own": on_every_stem(late_by_frames), "ffmpeg": by("ffmpeg", "adelay=30S|0S"),
        "other": on_every_stem(lambda samples, _rate_hz: late(samples, LATE_FRAMES)),
    },
}  # fmt: skip
