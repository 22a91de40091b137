"""Moves put in place by sox or ffmpeg instead of our own processors, at the settings a report states.

What such a tool cannot do is said by `by_whom`: ``ours`` is our own processor; a star marks a move on what strikes or sustains, which
neither tool can take apart: the split is ours there, what is done to the part is the tool's. Sound goes in and out as 32-bit float.
"""

import subprocess
from collections.abc import Callable
from dataclasses import dataclass, replace
from math import log10, sqrt
from typing import Literal

import numpy as np

from advisor.remedies.apply import apply
from advisor.remedies.parts import part_of
from features.sound.signal import Samples, Signal
from rules.remedy import Remedy

Tool = Literal["ffmpeg", "sox"]
Chain = list[str]

SHELF_Q = sqrt(0.5)
SOX_HEADROOM = 8.0  # sox works in integers up to full scale, so the sound goes through it softer
SOX_HEADROOM_DB = 20 * log10(SOX_HEADROOM)
FOUR_TIMES = 4.0  # ffmpeg's compressor counts four time constants as its attack and release
BUTTERWORTH_Q = {1: (), 2: (SHELF_Q,), 3: (1.0,), 4: (0.5412, 1.3066)}  # Q of each pair of poles; textbook values


@dataclass(frozen=True, slots=True)
class Delivered:
    """The sound with a move in place, and who did it: ``ffmpeg``, ``sox``, either with a star, or ``ours``."""

    sound: Signal
    by_whom: str

    @property
    def counts(self) -> bool:
        """Whether the move itself was another tool's."""
        return self.by_whom != "ours"


def _passes(kind: str, remedy: Remedy, tool: Tool) -> Chain:
    hz, order = remedy.frequency_hz or 0.0, remedy.order or 2
    name = "highpass" if kind == "high_pass" else "lowpass"
    if tool == "sox":
        single = [name, "-1", f"{hz}"] if order % 2 else []
        return [*single, *(word for q in BUTTERWORTH_Q[order] for word in (name, "-2", f"{hz}", f"{q}q"))]
    sections = [f"{name}=f={hz}:p=1"] if order % 2 else []
    return [*sections, *(f"{name}=f={hz}:p=2:t=q:w={q}" for q in BUTTERWORTH_Q[order])]


def _compressor(remedy: Remedy, tool: Tool) -> Chain:
    threshold, ratio = remedy.threshold_dbfs or 0.0, remedy.ratio or 2.0
    attack_ms, release_ms = remedy.attack_ms or 30.0, remedy.release_ms or 100.0
    knee_db = 6.0 if remedy.knee_db is None else remedy.knee_db
    makeup = remedy.gain_db or 0.0
    if tool == "sox":
        at = threshold - SOX_HEADROOM_DB
        points = f"{knee_db}:{at:.4f},{at:.4f},0,{at - at / ratio:.4f}"
        return ["compand", f"{attack_ms / 1000},{release_ms / 1000}", points, f"{makeup}", "-90", "0"]
    timing = f"attack={FOUR_TIMES * attack_ms}:release={FOUR_TIMES * release_ms}"
    curve = f"threshold={10 ** (threshold / 20):.8f}:ratio={ratio}:knee={10 ** (knee_db / 20):.6f}"
    return [f"acompressor={curve}:{timing}:detection=peak:link=maximum", f"volume={makeup}dB"]


def chain(remedy: Remedy, tool: Tool) -> Chain | None:
    """Return the tool's own filters for a move on one stream of sound; None when it has none that does the same."""
    hz, gain, q = remedy.frequency_hz, remedy.gain_db or 0.0, remedy.q
    sox = tool == "sox"
    match remedy.kind:
        case "gain":
            return ["vol", f"{gain}dB"] if sox else [f"volume={gain}dB"]
        case "bell":
            return ["equalizer", f"{hz}", f"{q or 1.0}q", f"{gain}"] if sox else [f"equalizer=f={hz}:t=q:w={q or 1.0}:g={gain}"]
        case "low_shelf" | "high_shelf":
            name, width = ("bass", "lowshelf") if remedy.kind == "low_shelf" else ("treble", "highshelf"), q or SHELF_Q
            return [name[0], f"{gain}", f"{hz}", f"{width}q"] if sox else [f"{name[1]}=f={hz}:t=q:w={width}:g={gain}"]
        case "high_pass" | "low_pass":
            return _passes(remedy.kind, remedy, tool)
        case "compressor":
            return _compressor(remedy, tool)
        case _:
            return None


def run(tool: Tool, filters: Chain, samples: Samples, rate_hz: int) -> Samples:
    """Return ``samples`` through the tool's filters."""
    form = ["-f", "f32le", "-ar", f"{rate_hz}", "-ac", f"{len(samples)}"]
    raw = ["-t", "raw", "-e", "floating-point", "-b", "32", "-c", f"{len(samples)}", "-r", f"{rate_hz}", "-"]
    scale = np.float32(SOX_HEADROOM if tool == "sox" else 1.0)
    command = ["sox", "-V1", "-D", *raw, *raw, *filters] if tool == "sox" else [
        "ffmpeg", "-v", "error", *form, "-i", "pipe:0", "-af", ",".join(filters), "-f", "f32le", "pipe:1",
    ]  # fmt: skip
    done = subprocess.run(command, input=(samples / scale).T.astype("<f4").tobytes(), stdout=subprocess.PIPE, check=True)
    return np.ascontiguousarray(np.frombuffer(done.stdout, "<f4").reshape(-1, len(samples)).T * scale)


def _on_side(sound: Signal, change: Callable[[Samples], Samples]) -> Signal:
    left, right = sound.samples
    middle, side = (left + right) * np.float32(0.5), (left - right) * np.float32(0.5)
    new = change(side[None])[0]
    return Signal(np.stack((middle + new, middle - new)), sound.rate_hz)


def _on_channels(sound: Signal, channels: tuple[int, ...], change: Callable[[Samples], Samples]) -> Signal:
    samples = sound.samples.copy()
    for number in channels:
        samples[number] = change(samples[number : number + 1])[0]
    return Signal(samples, sound.rate_hz)


def _on_part(part: str, sound: Signal, change: Callable[[Samples], Samples]) -> Signal:
    if part == "side":
        return _on_side(sound, change)
    if part in ("left", "right"):
        return _on_channels(sound, (0,) if part == "left" else (1,), change)
    if part == "mid":
        middle = sound.samples.mean(axis=0, keepdims=True, dtype=np.float32)
        return Signal(sound.samples + (change(middle) - middle), sound.rate_hz)
    some = part_of(part, sound)
    return sound if some is None else Signal(sound.samples + (change(some) - some), sound.rate_hz)


def _late(samples: Samples, frames: int) -> Samples:
    return np.pad(samples, ((0, 0), (frames, 0)))[:, : samples.shape[1]]


def _moves_of_channels(remedy: Remedy, sound: Signal, tool: Tool) -> Signal | None:
    """Return what the tool does to the stereo picture, or None when the move is of another kind."""
    if sound.channels == 1:
        return None
    channel = 0 if remedy.part == "left" else 1
    if remedy.kind == "side_gain":
        return _on_side(sound, lambda side: run(tool, chain(Remedy("gain", gain_db=remedy.gain_db), tool) or [], side, sound.rate_hz))
    if remedy.kind == "mono_below":
        cut = Remedy("high_pass", frequency_hz=remedy.frequency_hz, order=2)
        return _on_side(sound, lambda side: run(tool, chain(cut, tool) or [], side, sound.rate_hz))
    if remedy.kind == "polarity":
        flip = ["vol", "-1"] if tool == "sox" else ["aeval=-val(0)"]
        return _on_channels(sound, (channel,), lambda samples: run(tool, flip, samples, sound.rate_hz))
    if remedy.kind == "delay":  # whole frames; earlier is what the other channel is later
        frames = round((remedy.delay_ms or 0.0) / 1000 * sound.rate_hz)
        late = channel if frames > 0 else 1 - channel
        filters = ["delay", f"{abs(frames)}s"] if tool == "sox" else [f"adelay={abs(frames)}S"]
        return _on_channels(sound, (late,), lambda samples: run(tool, filters, samples, sound.rate_hz)[:, : sound.frames])
    return None


def dialled(remedy: Remedy) -> Remedy:
    """Return the settings as the report's sentence shows them, which is what somebody dials in: three digits of hertz, two of Q."""
    hz, q = remedy.frequency_hz, remedy.q
    return replace(remedy, frequency_hz=None if hz is None else float(f"{hz:.3g}"), q=None if q is None else float(f"{q:.2g}"))


def put_in_place(remedy: Remedy, sound: Signal, tool: Tool) -> Delivered:
    """Return ``sound`` with the move in place at the settings the sentence shows, by the tool where it can."""
    remedy = dialled(remedy)
    picture = _moves_of_channels(remedy, sound, tool)
    if picture is not None:
        return Delivered(picture, tool)
    wet = replace(remedy, kind="compressor") if remedy.kind == "parallel" else remedy
    filters = chain(wet, tool)
    if filters is None:
        return Delivered(apply(remedy, sound), "ours")

    def change(samples: Samples) -> Samples:
        done = run(tool, filters, samples, sound.rate_hz)
        if remedy.kind == "parallel":
            return samples + np.float32(10 ** ((-10.0 if remedy.blend_db is None else remedy.blend_db) / 20)) * done
        return done

    if remedy.part == "mix":
        return Delivered(Signal(change(sound.samples), sound.rate_hz), tool)
    star = "*" if remedy.part in ("percussive", "sustained") else ""
    return Delivered(_on_part(remedy.part, sound, change), tool + star)
