"""Apply: the one place that turns a remedy, which is data, into calls of the processors."""

from collections.abc import Callable

import numpy as np

from advisor.remedies.usual_settings import ATTACK_MS, BAND_RATIO, BELL_Q, BLEND_DB, KNEE_DB, PASS_ORDER, RATIO, RELEASE_MS, SHELF_Q, given
from features.processors.dynamics import duck, dynamic_band
from features.processors.dynamics.compressor import Curve, Timing, compress, parallel
from features.processors.dynamics.peak_limiter import peak_limiter
from features.processors.dynamics.saturation import saturate
from features.processors.dynamics.waveshaper import raise_body
from features.processors.equalisers import eq
from features.processors.parts import percussive
from features.processors.placement import side_gain
from features.processors.placement.delay import delay
from features.processors.placement.gain import gain
from features.processors.placement.mono_below import mono_below
from features.processors.placement.pan import pan
from features.processors.placement.polarity import invert
from features.sound.signal import Samples, Signal
from rules.remedy import Kind, Remedy

Process = Callable[[Signal], Signal]
SIDES = {"left": (0,), "right": (1,)}
PARTS = frozenset({"mix", "percussive", "sustained", "mid", "side", *SIDES})  # any other part is an element or a group
DUCK_ATTACK_MS, DUCK_RELEASE_MS = 5.0, 120.0


def processor(remedy: Remedy) -> Process:
    """Return the processor of a remedy, with its settings; settings a remedy leaves open take the usual values."""
    make = MAKERS.get(remedy.kind)
    if make is None:
        raise ValueError(f"a remedy of kind {remedy.kind} cannot be applied to a mix")
    return make(remedy)


def _frequency(r: Remedy) -> float:
    if r.frequency_hz is None:
        raise ValueError(f"a remedy of kind {r.kind} needs a frequency")
    return r.frequency_hz


def _curve(r: Remedy) -> Curve:
    if r.threshold_dbfs is None:
        raise ValueError(f"a remedy of kind {r.kind} needs a threshold")
    return Curve(r.threshold_dbfs, r.ratio or RATIO, given(r.knee_db, KNEE_DB))


def _timing(r: Remedy) -> Timing:
    return Timing(given(r.attack_ms, ATTACK_MS), given(r.release_ms, RELEASE_MS))


def _channels(r: Remedy, s: Signal) -> tuple[int, ...]:
    """Return the channels that a remedy turns or delays: one side of a mix, all of an element."""
    return SIDES.get(r.part, (1,)) if r.part in PARTS else tuple(range(s.channels))


MAKERS: dict[Kind, Callable[[Remedy], Process]] = {
    "gain": lambda r: lambda s: gain(s, r.gain_db or 0.0),
    "bell": lambda r: lambda s: eq.bell(s, _frequency(r), r.gain_db or 0.0, r.q or BELL_Q),
    "low_shelf": lambda r: lambda s: eq.low_shelf(s, _frequency(r), r.gain_db or 0.0, r.q or SHELF_Q),
    "high_shelf": lambda r: lambda s: eq.high_shelf(s, _frequency(r), r.gain_db or 0.0, r.q or SHELF_Q),
    "high_pass": lambda r: lambda s: eq.high_pass(s, _frequency(r), r.order or PASS_ORDER),
    "low_pass": lambda r: lambda s: eq.low_pass(s, _frequency(r), r.order or PASS_ORDER),
    "dynamic_bell": lambda r: (
        lambda s: dynamic_band.dynamic_bell(
            s, _frequency(r), r.gain_db or 0.0, r.q or BELL_Q, _curve(r).threshold_dbfs, r.ratio or BAND_RATIO
        )
    ),
    "compressor": lambda r: lambda s: compress(s, _curve(r), _timing(r), r.gain_db or 0.0),
    "parallel": lambda r: lambda s: parallel(s, _curve(r), _timing(r), given(r.blend_db, BLEND_DB)),
    "peak_limiter": lambda r: lambda s: peak_limiter(s, 0.0 if r.ceiling_dbfs is None else r.ceiling_dbfs),
    "saturation": lambda r: lambda s: saturate(s, r.gain_db or 0.0),
    "waveshaper": lambda r: lambda s: raise_body(s, r.gain_db or 0.0),
    "mono_below": lambda r: lambda s: mono_below(s, _frequency(r)),
    "side_gain": lambda r: lambda s: side_gain.side_gain(s, r.gain_db or 0.0),
    "pan": lambda r: lambda s: pan(s, r.gain_db or 0.0),
    "polarity": lambda r: lambda s: invert(s, _channels(r, s)),
    "delay": lambda r: lambda s: delay(s, r.delay_ms or 0.0, _channels(r, s)),
}
WHOLE = frozenset({"mono_below", "side_gain", "polarity", "delay", "pan"})  # these know their channels themselves


def apply(remedy: Remedy, sound: Signal, key: Signal | None = None) -> Signal:
    """Return ``sound`` with the remedy in place, on the part it names; mono sound has no side and no second channel.

    Where the part is an element or a group, ``sound`` is that. ``key`` is the element named by the remedy's ``key``.
    """
    process = processor(remedy) if remedy.key is None else _keyed(remedy, key)
    if remedy.part == "mix" or remedy.part not in PARTS or remedy.kind in WHOLE:
        return process(sound)
    part = part_of(remedy.part, sound)
    if part is None:
        return sound
    done = process(Signal(part, sound.rate_hz)).samples
    return Signal(sound.samples + (done - part), sound.rate_hz)


def _keyed(r: Remedy, key: Signal | None) -> Process:
    if r.kind != "dynamic_bell" or key is None:
        raise ValueError(f"a remedy of kind {r.kind} under “{r.key}” needs a dynamic bell and the sound of “{r.key}”")
    attack = DUCK_ATTACK_MS if r.attack_ms is None else r.attack_ms
    release = DUCK_RELEASE_MS if r.release_ms is None else r.release_ms
    threshold = duck.THRESHOLD_DBFS if r.threshold_dbfs is None else r.threshold_dbfs
    return lambda s: duck.duck(s, key, _frequency(r), r.q or 1.0, r.gain_db or 0.0, attack, release, threshold)


def part_of(name: str, sound: Signal) -> Samples | None:
    """Return a part of the sound in the sound's own channels; None when the sound has no such part."""
    samples = sound.samples
    if name in ("percussive", "sustained"):
        struck = _struck(sound)
        return struck if name == "percussive" else samples - struck
    if name == "mid":
        return np.broadcast_to(samples.mean(axis=0, keepdims=True), samples.shape).astype(np.float32)
    if sound.channels == 1:
        return None
    if name == "side":
        half = (samples[0] - samples[1]) * np.float32(0.5)
        return np.stack((half, -half))
    if name in SIDES:
        alone = np.zeros_like(samples)
        alone[SIDES[name][0]] = samples[SIDES[name][0]]
        return alone
    raise ValueError(f"a mix has no part called {name}")


_latest: list[tuple[Samples, Samples]] = []  # the separation of the sound that several amounts are tried on


def _struck(sound: Signal) -> Samples:
    if not _latest or _latest[0][0] is not sound.samples:
        _latest[:] = [(sound.samples, percussive(sound.samples, sound.rate_hz))]
    return _latest[0][1]
