"""Measurements declared for a test: nothing but this file says that they are there."""

from dataclasses import dataclass

from features.records.base import Measurement
from features.sound.measurement import Given, Trace, measurement, meter
from features.sound.signal import Samples, Source


@dataclass(frozen=True, slots=True)
class PeakTrace(Trace):
    highest: float


@dataclass(frozen=True, slots=True)
class BrokenTrace(Trace):
    frames: int


@dataclass(frozen=True, slots=True)
class Doubled(Trace):
    highest: float


@dataclass(frozen=True, slots=True)
class Ceiling(Given):
    highest: float


@dataclass(frozen=True, slots=True)
class Peak(Measurement):
    highest: float


@dataclass(frozen=True, slots=True)
class Room(Measurement):
    left: float
    frames: int
    doubled: float | None
    peak_known: bool


@dataclass(frozen=True, slots=True)
class Crashed(Measurement):
    peak: float


@dataclass(frozen=True, slots=True)
class AfterCrash(Measurement):
    peak: float


@dataclass(frozen=True, slots=True)
class Unheard(Measurement):
    frames: int


@meter("peaks")
class PeakMeter:
    def __init__(self, rate_hz: int, channels: int) -> None:
        self.rate_hz, self.channels = rate_hz, channels
        self._highest = 0.0

    def push(self, block: Samples) -> None:
        self._highest = max(self._highest, float(abs(block).max()))

    def finish(self) -> PeakTrace:
        return PeakTrace(self._highest)


@meter("broken")
class BrokenMeter:
    def __init__(self, rate_hz: int, channels: int) -> None:
        self.rate_hz, self.channels = rate_hz, channels

    def push(self, block: Samples) -> None:
        raise ArithmeticError(f"{block.shape[1]} frames heard")

    def finish(self) -> BrokenTrace:
        return BrokenTrace(0)


@measurement
def doubled(trace: PeakTrace) -> Doubled:
    return Doubled(2.0 * trace.highest)


@measurement
def measure_peak(trace: PeakTrace) -> Peak:
    return Peak(trace.highest)


@measurement
def measure_room(source: Source, ceiling: Ceiling, twice: Doubled | None, peak: Peak | None) -> Room:
    left = ceiling.highest - (0.0 if peak is None else peak.highest)
    return Room(left, source.frames, None if twice is None else twice.highest, peak is not None)


@measurement
def measure_crashed(peak: Peak) -> Crashed:
    return Crashed(1.0 / (peak.highest - peak.highest))


@measurement
def measure_after_crash(crashed: Crashed) -> AfterCrash:
    return AfterCrash(crashed.peak)


@measurement
def measure_unheard(trace: BrokenTrace) -> Unheard:
    return Unheard(trace.frames)
