"""Two bounces of the demo song.

A with faults planted on purpose, B with most of them mended.

Every fault is done to a stem, so the stems of a bounce still sum to that bounce.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from demo.filters import bell, cut, filtered, shelf, widened
from demo.plan import Plan, steps
from demo.song import HARBOUR
from demo.tones import RATE_HZ, amplitude_of, frames_of
from features.sound.signal import Samples, Signal

_STRAY_WINDOW_S = 0.24


@dataclass(frozen=True, slots=True)
class PlantedFault:
    """One planted fault, and its size in each bounce.

    What was done, and to which stems.
    """

    name: str
    what: str
    stems: tuple[str, ...]
    unit: str
    in_a: float
    in_b: float
    frequency_hz: float | None = None


_ALL = ("kick", "snare", "hats", "percussion", "bass", "chords", "pad", "lead", "voice", "effects")
PLANTED = (
    PlantedFault("low_mids", "a broad boost around 270 Hz that thickens chords and pad", ("chords", "pad"), "dB", 8.5, 2.5, 270.0),
    PlantedFault("quiet_drums", "the drums turned down", ("kick", "snare", "hats", "percussion"), "dB", -5.0, 0.0),
    PlantedFault("wide_bass", "the bass spread to the sides below 120 Hz, side against middle", ("bass",), "dB", -3.0, -60.0, 120.0),
    PlantedFault("loud_sub", "a shelf that lifts the bass below 80 Hz", ("bass",), "dB", 5.0, 1.5, 80.0),
    PlantedFault(
        "stray_hits",
        "six single hits far louder than their neighbours, as if a sample had come in at full level",
        ("kick", "snare"),
        "dB",
        16.0,
        0.0,
    ),
    PlantedFault("left_heavy", "left louder than right", _ALL, "dB", 3.0, 0.0),
)
_STRAYS = {"snare": (0.13, 0.37, 0.71, 0.93), "kick": (0.31, 0.82)}  # where among the stem's hits, as a share of their number
MASTER_FADER_DB = {"a": -4.0, "b": 0.0}


def planted(name: str) -> PlantedFault:
    """Return the planted fault of that name."""
    return next(fault for fault in PLANTED if fault.name == name)


def stray_times_s(plan: Plan = HARBOUR) -> dict[str, tuple[float, ...]]:
    """Return when the stray hits are, by stem."""
    times: dict[str, tuple[float, ...]] = {}
    for stem, shares in _STRAYS.items():
        hits = [hit.time_s for hit in steps(plan, stem) if hit.mark in "89"]
        times[stem] = tuple(sorted({hits[int(share * len(hits))] for share in shares})) if hits else ()
    return times


def _louder_hits(samples: Samples, times_s: tuple[float, ...], gain_db: float) -> Samples:
    """Raise single hits, fading in just before and out after each."""
    gain = np.zeros(samples.shape[1], dtype=np.float32)
    window = np.ones(frames_of(_STRAY_WINDOW_S), dtype=np.float32)
    edge = frames_of(0.006)
    window[:edge] = np.linspace(0.0, 1.0, edge)
    window[-10 * edge :] = np.linspace(1.0, 0.0, 10 * edge)
    for time_s in times_s:
        start = frames_of(time_s - 0.02)
        part = gain[start : start + window.size]
        np.maximum(part, window[: part.size], out=part)
    return np.asarray(samples * np.power(np.float32(10.0), gain * np.float32(gain_db / 20.0)), dtype=np.float32)


def _widened_below(samples: Samples, frequency_hz: float, side_db: float) -> Samples:
    """Put a chorus on the lows: the difference of two moving copies goes to the sides, ``side_db`` against the middle."""
    if side_db <= -60.0:
        return samples
    middle = samples.mean(axis=0)
    copies = widened(np.stack([middle, middle]), 0.004, 0.4, 1.0)
    lows, side = (filtered(part, cut(frequency_hz, low=False), cut(frequency_hz, low=False)) for part in (middle, copies[0] - copies[1]))
    power = float(np.mean(side**2))
    if power > 0.0:
        side *= np.float32(amplitude_of(side_db) * np.sqrt(np.mean(lows**2) / power))
    return samples + np.stack([side, -side])


def with_faults(stem: str, samples: Samples, bounce: str, plan: Plan = HARBOUR) -> Samples:
    """Return a stem as a bounce has it.

    Bounce ``"a"`` or ``"b"``, master fader included.
    """
    result = samples
    for fault in PLANTED:
        amount = fault.in_a if bounce == "a" else fault.in_b
        if stem not in fault.stems or amount == 0.0:
            continue
        if fault.name == "low_mids":
            result = filtered(result, bell(fault.frequency_hz or 0.0, amount, 0.9))
        elif fault.name == "quiet_drums":
            result = result * np.float32(amplitude_of(amount))
        elif fault.name == "wide_bass":
            result = _widened_below(result, fault.frequency_hz or 0.0, amount)
        elif fault.name == "loud_sub":
            result = filtered(result, shelf(fault.frequency_hz or 0.0, amount, low=True))
        elif fault.name == "stray_hits":
            result = _louder_hits(result, stray_times_s(plan)[stem], amount)
        else:
            result = result * np.array([[amplitude_of(amount / 2.0)], [amplitude_of(-amount / 2.0)]], dtype=np.float32)
    return result * np.float32(amplitude_of(MASTER_FADER_DB[bounce]))


def _sum(parts: Iterable[Samples]) -> Signal:
    total: Samples | None = None
    for part in parts:
        total = part.copy() if total is None else np.add(total, part, out=total)
    if total is None:
        raise ValueError("a mix needs at least one stem")
    return Signal(total, RATE_HZ)


def mix_clean(stems: Mapping[str, Signal]) -> Signal:
    """Return the plain sum of the stems.

    The mix without faults.
    """
    return _sum(signal.samples for signal in stems.values())


def mix_bounce_a(stems: Mapping[str, Signal], plan: Plan = HARBOUR) -> Signal:
    """Return the first bounce, with every planted fault."""
    return _sum(with_faults(name, signal.samples, "a", plan) for name, signal in stems.items())


def mix_bounce_b(stems: Mapping[str, Signal], plan: Plan = HARBOUR) -> Signal:
    """Return the later bounce.

    Most faults mended, the low mids and the sub still a little high.
    """
    return _sum(with_faults(name, signal.samples, "b", plan) for name, signal in stems.items())
