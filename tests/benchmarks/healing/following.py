"""A plan followed to the letter by ffmpeg: the steps of the mixing stage in turn.

With stems a move on an element or a group is done on it, and the stems are summed. A linear move on the whole mix is done on every stem,
which is the same and keeps the elements apart; any other goes on the sum, and what it changes is kept beside the elements. ``ours`` marks
moves that ffmpeg has no filter for, a star those on what strikes or sustains, which only our own separation takes apart.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from advisor.remedies.apply import apply
from advisor.remedies.parts import PARTS_OF_A_MIX
from features.processors.placement.pan import pan_gains
from features.sound.signal import Signal
from rules.remedy import Remedy
from tests.benchmarks.plans.other_tools import put_in_place, run
from tests.benchmarks.plans.planting import Floats

BESIDE = "(beside the elements)"
MIX = "(mix)"
LINEAR = frozenset(
    ("gain", "bell", "low_shelf", "high_shelf", "high_pass", "low_pass", "mono_below", "side_gain", "pan", "polarity", "delay")
)
SEPARATED = frozenset(("percussive", "sustained"))
STAGE = "mixing"
SETTINGS = frozenset(field.name for field in fields(Remedy))
HALF_DB = -6.0206


def remedies_of(report: Mapping[str, Any]) -> list[Remedy]:
    """Return the moves of the mixing stage; keys that a remedy does not know are passed over."""
    steps = [step for step in report.get("plan") or () if step.get("stage") == STAGE and step.get("remedy")]
    return [Remedy(**{name: value for name, value in step["remedy"].items() if name in SETTINGS}) for step in steps]


def groups_of(report: Mapping[str, Any]) -> dict[str, list[str]]:
    """Return the elements of each group, by the names of their files."""
    groups: dict[str, list[str]] = {}
    for stem in report.get("stems") or ():
        groups.setdefault(str(stem.get("group")), []).append(file_name(str(stem.get("name"))))
    return groups


def file_name(element: str) -> str:
    """Return the file's name of an element that is renamed apart from a group."""
    return element.removesuffix(" stem")


@dataclass(slots=True)
class Desk:
    """What lies on the faders: elements, and what is beside them; or the mix alone."""

    parts: dict[str, Signal]
    groups: Mapping[str, Sequence[str]]

    @classmethod
    def of(cls, parts: Mapping[str, Floats], rate_hz: int, groups: Mapping[str, Sequence[str]]) -> "Desk":
        """Return a desk with samples of shape ``(frames, channels)`` on it."""
        return cls({name: Signal(np.ascontiguousarray(samples.T, np.float32), rate_hz) for name, samples in parts.items()}, groups)

    @property
    def mix(self) -> Signal:
        """The sum."""
        sounds = list(self.parts.values())
        return Signal(np.sum([sound.samples for sound in sounds], axis=0, dtype=np.float32), sounds[0].rate_hz)

    def samples(self) -> dict[str, Floats]:
        """Return what is on the faders, shape ``(frames, channels)``, without what is beside the elements."""
        return {name: np.asarray(sound.samples.T, np.float64) for name, sound in self.parts.items() if name != BESIDE}

    def follow(self, remedy: Remedy) -> str:
        """Put a move in place and return by whom."""
        if remedy.part in PARTS_OF_A_MIX:
            return self._on_the_mix(remedy)
        name = file_name(remedy.part)
        names = [name] if name in self.parts else [member for member in self.groups.get(remedy.part, ()) if member in self.parts]
        if not names or remedy.kind == "none":
            return "not done"
        if len(names) == 1 or remedy.kind in LINEAR:
            done = [self._on_an_element(remedy, self.parts[member]) for member in names]
            self.parts.update({member: sound for member, (sound, _) in zip(names, done, strict=True)})
            return done[0][1]
        return self._on_a_group(remedy, names)

    def _on_the_mix(self, remedy: Remedy) -> str:
        if remedy.kind == "none":
            return "not done"
        if remedy.kind in LINEAR and remedy.part not in SEPARATED:
            done = {name: _delivered(remedy, sound) for name, sound in self.parts.items()}
            self.parts.update({name: sound for name, (sound, _) in done.items()})
            return next(iter(done.values()))[1]
        before = self.mix
        after, by_whom = _delivered(remedy, before)
        self._keep(after.samples - before.samples)
        return by_whom

    def _keep(self, change: np.ndarray[tuple[int, ...], np.dtype[np.float32]]) -> None:
        """Keep what a move on the sum changed: in the mix where that is all there is, else beside the elements."""
        rate_hz = next(iter(self.parts.values())).rate_hz
        name = MIX if MIX in self.parts else BESIDE
        before = self.parts.get(name, Signal(np.zeros_like(change), rate_hz))
        self.parts[name] = Signal(before.samples + change, rate_hz)

    def _on_an_element(self, remedy: Remedy, sound: Signal) -> tuple[Signal, str]:
        if remedy.key is not None:
            return apply(remedy, sound, self.parts[file_name(remedy.key)]), "ours"
        filters = _all_channels(remedy, sound.rate_hz)
        if filters:
            done = run("ffmpeg", filters, sound.samples, sound.rate_hz)[:, : sound.frames]
            return Signal(np.ascontiguousarray(done), sound.rate_hz), "ffmpeg"
        return _delivered(replace(remedy, part="mix"), sound)

    def _on_a_group(self, remedy: Remedy, names: Sequence[str]) -> str:
        """Treat the sum of several elements; each gets its share of the change by its power."""
        whole = Signal(np.sum([self.parts[name].samples for name in names], axis=0, dtype=np.float32), self.parts[names[0]].rate_hz)
        after, by_whom = self._on_an_element(remedy, whole)
        powers = np.array([float(np.mean(self.parts[name].samples ** 2)) for name in names])
        for name, share in zip(names, powers / max(float(powers.sum()), 1e-20), strict=True):
            samples = self.parts[name].samples + np.float32(share) * (after.samples - whole.samples)
            self.parts[name] = Signal(samples, whole.rate_hz)
        return by_whom


def _all_channels(remedy: Remedy, rate_hz: int) -> list[str]:
    """Return filters for moves that take both channels of an element; none for other kinds."""
    if remedy.kind == "polarity":
        return ["aeval=-val(0)|-val(1):c=same"]
    if remedy.kind == "pan":
        left, right = pan_gains(remedy.gain_db or 0.0)
        return [f"pan=stereo|c0={left:.6f}*c0|c1={right:.6f}*c1"]
    frames = round((remedy.delay_ms or 0.0) / 1000 * rate_hz) if remedy.kind == "delay" else 0
    if frames > 0:
        return [f"adelay={frames}S|{frames}S"]
    return [f"atrim=start_sample={-frames}", "asetpts=N/SR/TB", f"apad=pad_len={-frames}"] if frames < 0 else []


def _delivered(remedy: Remedy, sound: Signal) -> tuple[Signal, str]:
    """Return a whole sound with a move in place, and by whom."""
    if remedy.kind == "peak_limiter" and remedy.part == "mix" and remedy.ceiling_dbfs is not None:
        up_db = HALF_DB - remedy.ceiling_dbfs  # the filter's lowest ceiling is -24 dBFS
        filters = [f"volume={up_db}dB", "alimiter=limit=0.5:attack=2:release=40:level=false:latency=true", f"volume={-up_db}dB"]
        done = run("ffmpeg", filters, sound.samples, sound.rate_hz)
        short = sound.frames - done.shape[1]
        return Signal(np.pad(done, ((0, 0), (0, max(short, 0))))[:, : sound.frames], sound.rate_hz), "ffmpeg"
    if remedy.kind == "pan":
        left, right = pan_gains(remedy.gain_db or 0.0)
        return Signal(
            run("ffmpeg", [f"pan=stereo|c0={left:.6f}*c0|c1={right:.6f}*c1"], sound.samples, sound.rate_hz), sound.rate_hz
        ), "ffmpeg"
    delivered = put_in_place(remedy, sound, "ffmpeg")
    return delivered.sound, delivered.by_whom
