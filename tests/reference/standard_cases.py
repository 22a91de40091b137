"""The test signals of the loudness standards that are defined in words, made anew; each with its published value.

Not made here: EBU Tech 3341 cases 7 and 8 and Tech 3342 cases 5 and 6 (authentic programmes, published as recordings), and
the speech, music, sweep and multichannel files of ITU-R BS.2217. Case 6 of Tech 3341 (5.0 channels) is summed from single channels.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from features.loudness.gating import BLOCK_STEPS, SHORT_TERM_STEPS, integrated_from_steps, sliding_means
from features.loudness.level import LevelMeter, LevelTrace, measure_level
from features.sound.k_weighting import STEPS_PER_S
from features.sound.signal import Samples
from tests import signals

RATE_HZ = 48000


@dataclass(frozen=True)
class Case:
    """What the standard expects, and how to read it. ``read`` returns one or more readings, each of which must fit."""

    name: str
    unit: str
    expected: tuple[float, ...]
    below: float
    above: float
    read: Callable[[], Sequence[float]]

    def readings(self) -> list[tuple[float, float, bool]]:
        """Pairs of expected and measured value, and whether they agree."""
        measured = list(self.read())
        expected = list(self.expected) * (len(measured) if len(self.expected) == 1 else 1)
        assert len(expected) == len(measured)
        return [(want, got, want - self.below <= got <= want + self.above) for want, got in zip(expected, measured, strict=True)]


def trace(samples: Samples, rate_hz: int = RATE_HZ) -> LevelTrace:
    meter = LevelMeter(rate_hz, samples.shape[0])
    for start in range(0, samples.shape[1], 1 << 17):
        meter.push(samples[:, start : start + (1 << 17)])
    return meter.finish()


def _db(energy: float) -> float:
    return float(-0.691 + 10 * np.log10(energy))


def _number(value: float | None) -> float:
    assert value is not None
    return value


def _tone(peak_dbfs: float) -> list[float]:
    level = measure_level(trace(signals.sine(1000, 20, RATE_HZ, peak_dbfs)))
    return [_number(value) for value in (level.momentary_max_lufs, level.short_term_max_lufs, level.integrated_lufs)]


def _integrated(steps: Sequence[tuple[float, float | None]]) -> list[float]:
    return [_number(measure_level(trace(signals.tone_steps(steps, RATE_HZ))).integrated_lufs)]


def _five_channels() -> list[float]:
    weights = {"L": 1.0, "R": 1.0, "C": 1.0, "Ls": 1.41, "Rs": 1.41}  # BS.1770-5, table 3
    peaks = {"L": -28.0, "R": -28.0, "C": -24.0, "Ls": -30.0, "Rs": -30.0}
    sums = [weights[name] * trace(signals.sine(1000, 20, RATE_HZ, peak, 1)).k_sum() for name, peak in peaks.items()]
    return [_number(integrated_from_steps(np.sum(sums, axis=0)))]


def _steady(pattern: Sequence[tuple[float, float]], times: int, width: int, after_s: float) -> list[float]:
    """Lowest and highest loudness of the windows that end later than ``after_s``."""
    k_sum = trace(signals.tone_steps(list(pattern) * times, RATE_HZ)).k_sum()
    means = sliding_means(k_sum, width)[round(after_s * STEPS_PER_S) - width :]
    return [_db(means.min()), _db(means.max())]


def _segments(wait_s: float, tone_s: float, *, short_term: bool) -> list[float]:
    """Measure twenty files, each with its tone a little later."""
    segments = []
    for i in range(20):
        level = measure_level(trace(signals.tone_steps([(i * wait_s, None), (tone_s, -23.0), (1.0, None)], RATE_HZ)))
        segments.append(_number(level.short_term_max_lufs if short_term else level.momentary_max_lufs))
    return segments


def _successive(wait_s: float, tone_s: float, width: int) -> list[float]:
    """Measure twenty rising tones in one run: the highest reading up to the end of each."""
    steps: list[tuple[float, float | None]] = []
    for i in range(20):
        steps += [(i * wait_s, None), (tone_s, -38.0 + i), (tone_s - i * wait_s, None)]
    means = sliding_means(trace(signals.tone_steps(steps, RATE_HZ)).k_sum(), width)
    ends = [round(2 * tone_s * (i + 1) * STEPS_PER_S) - width for i in range(20)]
    return [_db(means[: end + 1].max()) for end in ends]


def peak_sine(part: int, amplitude: float, phase_degrees: float, rate_hz: int = RATE_HZ) -> Samples:
    wave = amplitude * signals.sine_wave(rate_hz / part, 0.5, rate_hz, 0.0, phase_degrees)
    return signals.stereo(signals.fade(wave, rate_hz, 0.01))


def burst(offset: int) -> tuple[Samples, float]:
    """Return case 20 to 23: the decimated wave, and the peak of the wave it was made of (linear)."""
    slow = 0.5 * np.sin(2 * np.pi * np.arange(24 * 400) / 24)  # fs/6 at four times the rate: whole periods, so phases meet
    fast = np.sin(2 * np.pi * np.arange(16) / 16)
    wave = signals.fade(np.concatenate([slow, fast, slow]), 4 * RATE_HZ, 0.002)
    taps = np.arange(-200, 201)
    low_pass = 0.25 * 0.96 * np.sinc(0.25 * 0.96 * taps) * np.kaiser(401, 9.0)  # -6 dB at 0.48 of the low rate
    filtered = np.convolve(wave, low_pass / low_pass.sum(), mode="same")
    spectrum = np.fft.rfft(filtered)
    exact = np.fft.irfft(spectrum, 16 * len(filtered)) * 16
    return signals.stereo(filtered[offset::4]), float(np.max(np.abs(exact)))


def _peak(samples: Samples) -> list[float]:
    return [_number(measure_level(trace(samples)).true_peak_dbtp)]


def _range(levels: Sequence[float], repeats: int = 1) -> list[float]:
    steps = [(20.0, level) for level in levels] * repeats
    return [_number(measure_level(trace(signals.tone_steps(steps, RATE_HZ))).loudness_range_lu)]


def ebu_tech_3341() -> list[Case]:
    """EBU Tech 3341 (2023), table 1."""
    loud = partial(Case, unit="LUFS", below=0.1, above=0.1)
    peak = partial(Case, unit="dBTP", below=0.4, above=0.2)
    rising = tuple(-38.0 + i for i in range(20))
    short, momentary = SHORT_TERM_STEPS, BLOCK_STEPS
    cases = [
        loud("1 M, S, I", expected=(-23.0,), read=partial(_tone, -23.0)),
        loud("2 M, S, I", expected=(-33.0,), read=partial(_tone, -33.0)),
        loud("3 I", expected=(-23.0,), read=partial(_integrated, [(10, -36.0), (60, -23.0), (10, -36.0)])),
        loud(
            "4 I",
            expected=(-23.0,),
            read=partial(_integrated, [(10, -72.0), (10, -36.0), (60, -23.0), (10, -36.0), (10, -72.0)]),
        ),
        loud("5 I", expected=(-23.0,), read=partial(_integrated, [(20, -26.0), (20.1, -20.0), (20, -26.0)])),
        loud("6 I, five channels", expected=(-23.0,), read=_five_channels),
        loud("9 S, lowest and highest", expected=(-23.0,), read=partial(_steady, [(1.34, -20.0), (1.66, -30.0)], 5, short, 3.0)),
        loud("10 max S of 20 files", expected=(-23.0,), read=partial(_segments, 0.15, 3.0, short_term=True)),
        loud("11 max S, rising", expected=rising, read=partial(_successive, 0.15, 3.0, short)),
        loud("12 M, lowest and highest", expected=(-23.0,), read=partial(_steady, [(0.18, -20.0), (0.22, -30.0)], 25, momentary, 1.0)),
        loud("13 max M of 20 files", expected=(-23.0,), read=partial(_segments, 0.02, 0.4, short_term=False)),
        loud("14 max M, rising", expected=rising, read=partial(_successive, 0.02, 0.4, momentary)),
    ]
    sines = [
        (15, 4, 0.5, 0.0, -6.0),
        (16, 4, 0.5, 45.0, -6.0),
        (17, 6, 0.5, 60.0, -6.0),
        (18, 8, 0.5, 67.5, -6.0),
        (19, 4, 1.41, 45.0, 3.0),
    ]
    for number, part, amplitude, phase, expected in sines:
        cases.append(peak(f"{number} true peak", expected=(expected,), read=partial(_sine_peak, part, amplitude, phase)))
    cases += [peak(f"{20 + offset} true peak", expected=(0.0,), read=partial(_burst_peak, offset)) for offset in range(4)]
    return cases


def _sine_peak(part: int, amplitude: float, phase_degrees: float) -> list[float]:
    return _peak(peak_sine(part, amplitude, phase_degrees))


def _burst_peak(offset: int) -> list[float]:
    return _peak(burst(offset)[0])


def ebu_tech_3342() -> list[Case]:
    """EBU Tech 3342 (2023), cases 1 to 4, each also played twice: the standard says that repeating changes nothing."""
    table = [(1, (-20.0, -30.0), 10.0), (2, (-20.0, -15.0), 5.0), (3, (-40.0, -20.0), 20.0), (4, (-50.0, -35.0, -20.0, -35.0, -50.0), 15.0)]
    return [
        Case(f"{number}{' twice' if repeats > 1 else ''}", "LU", (expected,), 1.0, 1.0, partial(_range, levels, repeats))
        for number, levels, expected in table
        for repeats in (1, 2)
    ]


def itu_bs_2217() -> list[Case]:
    """Report ITU-R BS.2217-2 (2016): the tone and gate files, made anew from their measured composition."""
    case = partial(Case, unit="LUFS", below=0.1, above=0.1)
    idle = -90.31  # one step of 16 bits
    gates = [(0.5, idle), (0.9, -19.90), (1.3, -7.10), (0.8, -19.90), (0.5, idle)]
    bursts = [(0.8, idle), (0.5, -69.48), (0.5, idle), (0.5, -69.48), (0.5, idle), (0.5, -69.48), (0.7, idle)]
    cases = [
        case("relative gate", expected=(-10.0,), read=partial(_integrated, gates)),
        case("absolute gate", expected=(-69.5,), read=partial(_integrated, bursts)),
    ]
    tones = {25: -12.91, 100: -22.17, 500: -23.35, 1000: -24.00, 2000: -26.37, 10000: -27.34}
    for frequency, peak in tones.items():
        cases += [
            case(f"{frequency} Hz at {level}", expected=(float(level),), read=partial(_both, frequency, peak + 24 + level))
            for level in (-24, -23)
        ]
    cases += [case(f"{side} only", expected=(-24.0,), read=partial(_one_side, side)) for side in ("left", "right")]
    return cases


def _both(frequency_hz: float, peak_dbfs: float) -> list[float]:
    return [_number(measure_level(trace(signals.sine(frequency_hz, 29, RATE_HZ, peak_dbfs))).integrated_lufs)]


def _one_side(side: str) -> list[float]:
    samples = signals.sine(1000, 20, RATE_HZ, -20.99)
    samples[1 if side == "left" else 0] = 0.0
    return [_number(measure_level(trace(samples)).integrated_lufs)]
