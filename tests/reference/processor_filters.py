"""Filters against two truths of their own: the digital design computed another way, and the analogue formula.

The digital truth: coefficients in the form of Robert Bristow-Johnson's audio EQ cookbook (sines and cosines of the digital frequency; ours
come from the prototype through ``tan``), and scipy's Butterworth designs. The analogue truth: the prototype in ``s``, once
at the frequency the bilinear transform bends each digital one to, where both must agree everywhere; once at the true frequency, below an
eighth of the rate. There the bending, ``tan(pi/8) / (pi/8)``, is at most 0.078 octaves, so an edge of order n may be off by
``0.078 * 6.02 n`` dB; a bell or shelf of up to 12 dB by 0.5 dB.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, freqs, freqz, sosfreqz

from features.processors.dynamics.compressor import Curve, Timing
from features.processors.dynamics.duck import duck
from features.processors.dynamics.dynamic_band import DynamicBell
from features.processors.equalisers import eq
from features.processors.placement.mono_below import mono_below
from features.sound.signal import Signal
from tests.reference.processor_line import Line

Floats = NDArray[np.float64]
Spectrum = NDArray[np.complex128]
Process = Callable[[Signal], Signal]
Prototype = list[tuple[list[float], list[float]]]  # sections: numerator and denominator in s, highest power first

RATES_HZ = (44100, 48000, 96000)
FRAMES = 1 << 18
START = 1 << 16  # where the impulse stands, so that detectors have settled
DEEPEST_DB = -80.0  # below it single precision decides
POINTS = 200
WARP_OCTAVES = float(np.log2(np.tan(np.pi / 8) / (np.pi / 8)))


@dataclass(frozen=True)
class Filter:
    """A setting of a filter, with its independent digital response and its prototype."""

    name: str
    settings: str
    centre_hz: float
    process: Process
    digital: Callable[[Floats, int], Spectrum]
    prototype: Prototype
    order: int | None = None  # of an edge; None: bells and shelves

    @property
    def bending_db(self) -> float:
        """What the bilinear transform may be off by below an eighth of the rate."""
        return 0.5 if self.order is None else 6.02 * self.order * WARP_OCTAVES


def impulse_response_db(process: Process, frequency_hz: Floats, rate_hz: int) -> Floats:
    """Response of the processor itself to an impulse, mono or its left channel."""
    samples = np.zeros((1, FRAMES), np.float32)
    samples[0, START] = 1.0
    done = process(Signal(samples, rate_hz)).samples[0, START:].astype(np.float64)
    grid = np.fft.rfftfreq(done.size, 1 / rate_hz)
    return np.asarray(20 * np.log10(np.abs(np.fft.rfft(done)[np.round(frequency_hz / grid[1]).astype(int)])))


def on_grid(rate_hz: int) -> Floats:
    """About 200 frequencies from 20 Hz to 0.45 of the rate, each on the grid of the impulse response."""
    step = rate_hz / (FRAMES - START)
    return np.unique(np.round(np.geomspace(20.0, 0.45 * rate_hz, POINTS) / step)) * step


def cookbook(kind: str, centre_hz: float, gain_db: float, q: float) -> Callable[[Floats, int], Spectrum]:
    """Response of the cookbook's biquad, written with cosine and alpha as published there."""

    def response(frequency_hz: Floats, rate_hz: int) -> Spectrum:
        a, w0 = 10 ** (gain_db / 40), 2 * np.pi * centre_hz / rate_hz
        cos, alpha = np.cos(w0), np.sin(w0) / (2 * q)
        if kind == "bell":
            b = [1 + alpha * a, -2 * cos, 1 - alpha * a]
            d = [1 + alpha / a, -2 * cos, 1 - alpha / a]
        else:
            sign = 1.0 if kind == "low shelf" else -1.0
            slope = 2 * np.sqrt(a) * alpha
            b = [
                a * (a + 1 - sign * (a - 1) * cos + slope),
                sign * 2 * a * (a - 1 - sign * (a + 1) * cos),
                a * (a + 1 - sign * (a - 1) * cos - slope),
            ]
            d = [a + 1 + sign * (a - 1) * cos + slope, -sign * 2 * (a - 1 + sign * (a + 1) * cos), a + 1 + sign * (a - 1) * cos - slope]
        return np.asarray(freqz(b, d, frequency_hz, fs=rate_hz)[1])

    return response


def analogue_db(prototype: Prototype, frequency: Floats) -> Floats:
    """Level of a prototype at frequencies in units of its own."""
    return np.asarray(sum(20 * np.log10(np.abs(freqs(numerator, denominator, frequency)[1])) for numerator, denominator in prototype))


def bell_prototype(gain_db: float, q: float) -> Prototype:
    a = 10 ** (gain_db / 40)
    return [([1, a / q, 1], [1, 1 / (a * q), 1])]


def shelf_prototype(gain_db: float, *, low: bool) -> Prototype:
    a, q = 10 ** (gain_db / 40), float(np.sqrt(0.5))
    part = float(np.sqrt(a)) / q
    top, bottom = [a, a * part, a * a], [a * a, a * part, a]
    return [(top, [a, part, 1])] if low else [(bottom, [1, part, a])]


def edge_prototype(order: int, *, high: bool) -> Prototype:
    """Butterworth, from the poles: ``exp(i pi (2k + n + 1) / (2n))``."""
    poles = np.exp(1j * np.pi * (2 * np.arange(order) + order + 1) / (2 * order))
    return [([1.0] + [0.0] * order if high else [1.0], np.real(np.poly(poles)).tolist())]


def scipys_edge(order: int, centre_hz: float, kind: Literal["high", "low"]) -> Callable[[Floats, int], Spectrum]:
    def response(frequency_hz: Floats, rate_hz: int) -> Spectrum:
        return np.asarray(sosfreqz(butter(order, centre_hz, kind, output="sos", fs=rate_hz), frequency_hz, fs=rate_hz)[1])

    return response


def side_of(process: Process) -> Process:
    """Return what a stereo processor does to sound that is all side."""
    return lambda s: Signal(process(Signal(np.concatenate((s.samples, -s.samples)), s.rate_hz)).samples[:1], s.rate_hz)


def deepest_dynamic_bell(centre_hz: float, gain_db: float, q: float) -> Process:
    """Build the dynamic bell with a threshold so low that it stays down: instant attack, endless release."""
    curve, timing = Curve(-400.0, 4.0, 6.0), Timing(0.0, 1e9)
    return lambda s: Signal(DynamicBell(s.rate_hz, 1, (centre_hz, gain_db, q), curve, timing).process(s.samples), s.rate_hz)


def resting_dynamic_bell(centre_hz: float, gain_db: float, q: float) -> Process:
    """Build the same with a threshold nothing reaches."""
    return lambda s: Signal(DynamicBell(s.rate_hz, 1, (centre_hz, gain_db, q), Curve(60.0, 4.0, 6.0)).process(s.samples), s.rate_hz)


def ducked(centre_hz: float, gain_db: float, q: float) -> Process:
    return lambda s: duck(s, Signal(np.ones_like(s.samples), s.rate_hz), centre_hz, q, gain_db, 5.0, 100.0)


def flat(frequency_hz: Floats, _rate_hz: int) -> Spectrum:
    return np.ones(frequency_hz.size, complex)


def bells() -> Iterator[Filter]:
    for centre_hz, gain_db, q in ((60.0, 6.0, 1.0), (250.0, -3.0, 1.4), (1200.0, -12.0, 8.0), (3000.0, 12.0, 0.5)):
        what = f"{centre_hz:.0f} Hz, {gain_db:+.0f} dB, Q {q:g}"
        process = partial(eq.bell, frequency_hz=centre_hz, gain_db=gain_db, q=q)
        yield Filter("bell", what, centre_hz, process, cookbook("bell", centre_hz, gain_db, q), bell_prototype(gain_db, q))
    centre_hz, gain_db, q = 300.0, -6.0, 2.0
    what, cook, shape = "300 Hz, -6 dB, Q 2", cookbook("bell", centre_hz, gain_db, q), bell_prototype(gain_db, q)
    yield Filter("dynamic bell, deepest", what, centre_hz, deepest_dynamic_bell(centre_hz, gain_db, q), cook, shape)
    yield Filter("dynamic bell, at rest", what, centre_hz, resting_dynamic_bell(centre_hz, gain_db, q), flat, [([1.0], [1.0])])
    yield Filter("duck, deepest", what, centre_hz, ducked(centre_hz, gain_db, q), cook, shape)


def shelves() -> Iterator[Filter]:
    q = float(np.sqrt(0.5))
    for gain_db in (-9.0, 4.0):
        yield Filter(
            "low shelf", f"150 Hz, {gain_db:+.0f} dB", 150.0, partial(eq.low_shelf, frequency_hz=150.0, gain_db=gain_db),
            cookbook("low shelf", 150.0, gain_db, q), shelf_prototype(gain_db, low=True),
        )  # fmt: skip
        yield Filter(
            "high shelf", f"4000 Hz, {gain_db:+.0f} dB", 4000.0, partial(eq.high_shelf, frequency_hz=4000.0, gain_db=gain_db),
            cookbook("high shelf", 4000.0, gain_db, q), shelf_prototype(gain_db, low=False),
        )  # fmt: skip


def edges() -> Iterator[Filter]:
    for order in (1, 2, 3, 4):
        yield Filter(
            "high-pass", f"90 Hz, order {order}", 90.0, partial(eq.high_pass, frequency_hz=90.0, order=order),
            scipys_edge(order, 90.0, "high"), edge_prototype(order, high=True), order,
        )  # fmt: skip
        yield Filter(
            "low-pass", f"2500 Hz, order {order}", 2500.0, partial(eq.low_pass, frequency_hz=2500.0, order=order),
            scipys_edge(order, 2500.0, "low"), edge_prototype(order, high=False), order,
        )  # fmt: skip
    yield Filter(
        "mono below, the side", "120 Hz", 120.0, side_of(lambda s: mono_below(s, 120.0)),
        scipys_edge(2, 120.0, "high"), edge_prototype(2, high=True), 2,
    )  # fmt: skip


def worst(tool: Filter, rate_hz: int, truth: str, frequency_hz: Floats, expected_db: Floats, allowed_db: float) -> Line:
    """Return the line of the frequency at which the filter is furthest from ``expected_db``."""
    measured = impulse_response_db(tool.process, frequency_hz, rate_hz)
    deep_enough = expected_db > DEEPEST_DB
    at = int(np.argmax(np.where(deep_enough, np.abs(measured - expected_db), -1.0)))
    settings = f"{tool.settings}, {rate_hz / 1000:g} kHz"
    return Line(tool.name, settings, f"{truth}, {frequency_hz[at]:.0f} Hz", float(expected_db[at]), float(measured[at]), allowed_db, "dB")


def lines_of(tool: Filter, rate_hz: int) -> Iterator[Line]:
    """Compare one filter at one rate with its truths."""
    frequency_hz = on_grid(rate_hz)
    digital = 20 * np.log10(np.abs(tool.digital(frequency_hz, rate_hz)))
    yield worst(tool, rate_hz, "digital design", frequency_hz, digital, 0.001)
    bent = np.tan(np.pi * frequency_hz / rate_hz) / np.tan(np.pi * tool.centre_hz / rate_hz)
    yield worst(tool, rate_hz, "analogue, bent", frequency_hz, analogue_db(tool.prototype, bent), 0.001)
    low = frequency_hz[frequency_hz <= rate_hz / 8]
    yield worst(tool, rate_hz, "analogue, true", low, analogue_db(tool.prototype, low / tool.centre_hz), tool.bending_db)


def filter_lines(rates_hz: tuple[int, ...] = RATES_HZ) -> Iterator[Line]:
    """Compare every filter at every rate."""
    for tool in (*bells(), *shelves(), *edges()):
        for rate_hz in rates_hz:
            yield from lines_of(tool, rate_hz)
