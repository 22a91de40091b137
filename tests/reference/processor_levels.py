"""Compressor, limiter, saturation, waveshaper, pan and delay against published values and closed forms.

Compressor: Giannoulis, Massberg and Reiss, JAES 60(6), 399-408 (2012): static curve (equation 4), one pole with
``alpha = exp(-1 / (tau rate))``, smooth branching. Harmonics of a clipped sine: Fourier series; of a smooth curve ``f``: its
Fourier integral ``(2/pi) integral of f(A sin t) sin(n t) over 0..pi``, done numerically.
"""

import itertools
from collections.abc import Callable, Iterator
from functools import partial

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import quad
from scipy.optimize import brentq

from features.processors.dynamics.compressor import Curve, Timing, compress, parallel, reduction_db
from features.processors.dynamics.curves import Singles, shaped
from features.processors.dynamics.limiter import GENTLE, gain_curve
from features.processors.dynamics.saturation import saturate
from features.processors.dynamics.waveshaper import raise_body
from features.processors.placement.delay import delay
from features.processors.placement.pan import pan
from features.sound.signal import Samples, Signal
from tests import signals
from tests.reference.processor_line import Line

Floats = NDArray[np.float64]

RATES_HZ = (44100, 48000, 96000)
PAPER = "Giannoulis et al. 2012"
# Equation 4 at T = -20 dB, worked out from the formula: ratio, knee, level in, level out.
STATIC = (
    *((4.0, 10.0, level, out) for level, out in (
        (-40, -40), (-25, -25), (-22.5, -22.734375), (-20, -20.9375), (-17.5, -19.609375), (-15, -18.75), (-10, -17.5), (0, -15),
    )),
    (1e9, 10.0, -20, -21.25), (1e9, 10.0, -15, -20.0), (4.0, 0.0, -10, -17.5),
)  # fmt: skip
ALPHAS = ((1, 0.979382), (5, 0.995842), (10, 0.997919), (50, 0.999583), (100, 0.999792))  # at 48 kHz


def steady(level_db: float, rate_hz: int, duration_s: float = 1.0) -> Floats:
    return np.full(round(duration_s * rate_hz), 10 ** (level_db / 20))


def static_lines() -> Iterator[Line]:
    """Read the settled output of a steady level off the compressor itself."""
    for ratio, knee_db, level_db, out_db in STATIC:
        sound = signals.signal(signals.mono(steady(level_db, 48000)))
        done = compress(sound, Curve(-20.0, ratio, knee_db), Timing(5.0, 50.0))
        settings = f"-20 dB, {'limit' if ratio > 1e6 else f'{ratio:g}:1'}, knee {knee_db:g} dB, in {level_db:g}"
        yield Line("compressor, curve", settings, f"{PAPER}, eq. 4", out_db, 20 * float(np.log10(done.samples[0, -1])), 0.001, "dB")
    for level_db in (-60.0, -10.0):
        curve, timing, blend_db = Curve(-40.0, 10.0, 0.0), Timing(5.0, 50.0), -3.0
        done = parallel(signals.signal(signals.mono(steady(level_db, 48000))), curve, timing, blend_db)
        squeezed = level_db if level_db < -40.0 else -40.0 + (level_db + 40.0) / 10.0
        expected = 20 * float(np.log10(10 ** (level_db / 20) + 10 ** ((squeezed + blend_db) / 20)))
        measured = 20 * float(np.log10(done.samples[0, -1]))
        yield Line("parallel, curve", f"-40 dB, 10:1, blend -3 dB, in {level_db:g}", "sum of both", expected, measured, 0.001, "dB")


def crossing(values: Floats, level: float) -> float:
    """Return the time in frames, counted from the step, at which ``values`` first reach ``level``, between frames by a line."""
    values = np.concatenate((values[:1] * 0.0, values)) if values[0] < level else values
    at = int(np.argmax(values >= level))
    return float(at - (values[at] - level) / (values[at] - values[at - 1]))


def timing_lines(rates_hz: tuple[int, ...]) -> Iterator[Line]:
    """Take steps up and down by 20 dB: time to 63.2 %, and from 10 to 90 %; allowed is one frame."""
    curve = Curve(-20.0, 4.0, 0.0)
    for rate_hz in rates_hz:
        for tau_ms in (1.0, 10.0, 100.0):
            level = np.concatenate((steady(0.0, rate_hz, 0.02 * tau_ms), steady(-100.0, rate_hz, 0.02 * tau_ms)))
            taken = reduction_db(signals.signal(signals.mono(level), rate_hz), curve, Timing(tau_ms, tau_ms)).astype(float)
            half, full = level.size // 2, 15.0
            rise, fall = taken[:half], full - taken[half:]
            settings, frame_ms = f"{tau_ms:g} ms, {rate_hz / 1000:g} kHz", 1000 / rate_hz
            for name, course in (("attack", rise), ("release", fall)):
                to_63 = crossing(course, full * (1 - np.exp(-1))) * frame_ms
                spread = (crossing(course, 0.9 * full) - crossing(course, 0.1 * full)) * frame_ms
                yield Line(f"compressor, {name}", settings, f"{PAPER}, to 63.2 %", tau_ms, to_63, frame_ms, "ms")
                yield Line(f"compressor, {name}", settings, "one pole, 10-90 %: ln(9) tau", np.log(9) * tau_ms, spread, frame_ms, "ms")


def smoothing_lines() -> Iterator[Line]:
    """Coefficients, and the whole course on moving levels against a plain loop in double precision."""
    for tau_ms, published in ALPHAS:
        fading = np.concatenate((steady(0.0, 48000, 0.001), steady(-100.0, 48000, 0.01)))
        taken = reduction_db(signals.signal(signals.mono(fading)), Curve(-20.0, 4.0, 0.0), Timing(0.0, tau_ms)).astype(np.float64)
        measured = (taken[247] / taken[47]) ** (1 / 200)  # 200 frames after the step down
        yield Line("compressor, alpha", f"{tau_ms} ms, 48 kHz", f"{PAPER}, exp(-1/(tau fs))", published, measured, 1e-6, "")
    moving = 10 ** (np.repeat(np.random.default_rng(4).uniform(-60, 0, 400), 60) / 20)
    smoothed = reduction_db(signals.signal(signals.mono(moving)), Curve(-30.0, 3.0, 6.0), Timing(3.0, 40.0))
    expected = branching(moving, -30.0, 3.0, 6.0, 3.0, 40.0)
    at = int(np.argmax(np.abs(smoothed - expected)))
    yield Line(
        "compressor, course", "-30 dB, 3:1, knee 6, 3/40 ms", f"{PAPER}, smooth branching", expected[at], float(smoothed[at]), 0.001, "dB"
    )


def branching(level: Floats, threshold: float, ratio: float, knee: float, attack_ms: float, release_ms: float) -> Floats:
    """Reduction in dB by the smooth branching detector on the curve's gain, frame by frame at 48 kHz."""
    attack, release = (np.exp(-1 / (tau / 1000 * 48000)) for tau in (attack_ms, release_ms))
    reduction, course = 0.0, []
    for x in 20 * np.log10(level):
        if 2 * (x - threshold) < -knee:
            y = x
        elif 2 * abs(x - threshold) <= knee:
            y = x + (1 / ratio - 1) * (x - threshold + knee / 2) ** 2 / (2 * knee)
        else:
            y = threshold + (x - threshold) / ratio
        wanted = x - y
        share = attack if wanted > reduction else release
        reduction = share * reduction + (1 - share) * wanted
        course.append(reduction)
    return np.array(course)


def limiter_lines(rates_hz: tuple[int, ...]) -> Iterator[Line]:
    """Read the gain of the limiter: what a steady level needs, and how it lets go."""
    for rate_hz in rates_hz:
        envelope = np.full(rate_hz, 0.5, np.float32)
        envelope[: rate_hz // 10] = 2.0
        gain = gain_curve(envelope, 1.0, rate_hz, GENTLE).astype(np.float64)
        settings = f"6 dB over, {rate_hz / 1000:g} kHz"
        yield Line("limiter, steady", settings, "ceiling over envelope", -6.0206, 20 * float(np.log10(gain[rate_hz // 20])), 0.001, "dB")
        start = rate_hz // 10 + round((GENTLE.look_ahead_s + 0.02) * rate_hz)
        released = (1 - gain)[start:] / (1 - gain[start])
        measured = crossing(1 - released[1:], 1 - np.exp(-1)) * 1000 / rate_hz
        yield Line("limiter, release", f"gentle, {rate_hz / 1000:g} kHz", "one pole, to 63.2 %", 80.0, measured, 0.1, "ms")


def harmonics(samples: Samples) -> Floats:
    """Sine amplitudes, with their sign, of the multiples of 200 Hz in the middle half second."""
    spectrum = -np.fft.rfft(samples[0, 12000:36000].astype(np.float64)).imag / 12000
    return np.asarray(spectrum[::100][:10])


def clipped_harmonic(number: int, top: float) -> float:
    """Fourier series of a unit sine clipped at ``top``: ``t = asin(top)``."""
    angle = np.arcsin(top)
    if number == 1:
        return float(2 / np.pi * (angle + top * np.sqrt(1 - top * top)))
    n = number
    return float(2 / np.pi * (np.sin((n - 1) * angle) / (n - 1) - np.sin((n + 1) * angle) / (n + 1) + 2 * top * np.cos(n * angle) / n))


def shaped_harmonic(number: int, curve: Callable[[float], float], level: float) -> float:
    """Fourier integral of a curve on a sine of amplitude ``level``."""
    value, _ = quad(lambda phase: curve(level * np.sin(phase)) * np.sin(number * phase), 0, np.pi, epsabs=1e-12)
    return float(2 / np.pi * value)


def saturated(x: float, k: float) -> float:
    return float(np.tanh(k * x) / k)


def raised(x: float, k: float) -> float:
    return float(np.tanh(k * x) / np.tanh(k))


def steepness(raised_by: float) -> float:
    """Return ``k`` with ``k / tanh(k) = raised_by``, by another solver than ours."""
    return float(brentq(lambda k: k / np.tanh(k) - raised_by, 1e-6, 20.0, xtol=1e-12))


def harmonic_lines() -> Iterator[Line]:
    """Clipped, saturated and body-raised sines of 200 Hz, 48 kHz: amplitude of each harmonic."""
    tone = signals.sine(200.0, 1.0, channels=1)
    for drive_db in (1.0, 3.0, 6.0206, 10.0):
        top = 10 ** (-drive_db / 20)

        def clip(x: Singles, top: float = top) -> Singles:
            return np.clip(x, -top, top).astype(np.float32)

        lines = harmonics(shaped(tone, clip))
        for n in (1, 3, 5, 7):
            expected = clipped_harmonic(n, top)
            yield Line("clipped sine", f"{drive_db:.1f} dB over, harmonic {n}", "Fourier series", expected, float(lines[n]), 2e-4, "")
    sound = Signal(tone, 48000)
    for drive_db in (3.0, 6.0, 12.0):
        k = 10 ** (drive_db / 20) - 1
        lines = harmonics(saturate(sound, drive_db).samples)
        yield from _of_curve("saturation", f"{drive_db:g} dB", lines, partial(saturated, k=k))
    for raise_db in (1.0, 3.0, 6.0):
        k = steepness(10 ** (raise_db / 20))
        lines = harmonics(raise_body(sound, raise_db, 0.0).samples)
        yield from _of_curve("waveshaper", f"{raise_db:g} dB", lines, partial(raised, k=k))


def _of_curve(name: str, settings: str, levels: Floats, curve: Callable[[float], float]) -> Iterator[Line]:
    for n in (1, 2, 3, 5, 7):
        yield Line(name, f"{settings}, harmonic {n}", "Fourier integral", shaped_harmonic(n, curve, 1.0), float(levels[n]), 1e-5, "")


def stereo_lines() -> Iterator[Line]:
    """Pan keeps power and makes the level difference asked for; a delay delays by what was asked, between samples too."""
    for gain_db in (-6.0, 3.0):
        left, right = pan(Signal(np.ones((1, 1), np.float32), 48000), gain_db).samples[:, 0].astype(np.float64)
        yield Line("pan, right over left", f"{gain_db:+g} dB", "sine-cosine law", gain_db, 20 * float(np.log10(right / left)), 1e-4, "dB")
        yield Line("pan, power", f"{gain_db:+g} dB", "sine-cosine law", 2.0, float(left * left + right * right), 1e-5, "")
    for frequency_hz, delay_ms in itertools.product((200.0, 5000.0), (0.3, -0.11, 2.0)):
        tone = signals.signal(signals.sine(frequency_hz, 1.0, channels=2))
        moved = delay(tone, delay_ms, (1,)).samples[:, 12000:36000].astype(np.float64)
        left_line, right_line = (np.fft.rfft(row)[round(frequency_hz / 2)] for row in moved)
        cycles, wanted = -np.angle(right_line / left_line) / (2 * np.pi), delay_ms * frequency_hz / 1000
        measured = (cycles + round(wanted - cycles)) / frequency_hz * 1000
        settings = f"{delay_ms:g} ms, tone of {frequency_hz:.0f} Hz"
        yield Line("delay", settings, "phase of the tone", delay_ms, float(measured), 1e-4, "ms")
        yield Line("delay, level", settings, "unchanged", 0.0, 20 * float(np.log10(abs(right_line / left_line))), 0.01, "dB")


def level_lines(rates_hz: tuple[int, ...] = RATES_HZ) -> Iterator[Line]:
    """Return every line about levels, times and harmonics."""
    yield from static_lines()
    yield from timing_lines(rates_hz)
    yield from smoothing_lines()
    yield from limiter_lines(rates_hz)
    yield from harmonic_lines()
    yield from stereo_lines()
