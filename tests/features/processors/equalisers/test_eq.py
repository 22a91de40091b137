"""The equaliser against the analogue formulas, an independent library, and itself in blocks."""

from typing import Literal

import numpy as np
import pytest
from scipy.signal import butter, freqs, freqz, sosfreqz

from features.processors.equalisers import eq
from features.processors.equalisers.filters import Filter
from features.sound.signal import Signal
from tests import signals

RATE = signals.RATE_HZ
Floats = np.ndarray


def response_db(sections: Floats, frequency_hz: Floats, rate_hz: int = RATE) -> Floats:
    total = np.ones(len(frequency_hz), complex)
    for b0, b1, b2, a1, a2 in sections:
        total *= freqz([b0, b1, b2], [1, a1, a2], frequency_hz, fs=rate_hz)[1]
    return np.asarray(20 * np.log10(np.abs(total)))


def analogue_db(numerator: list[float], denominator: list[float], frequency_hz: Floats, centre_hz: float, rate_hz: int = RATE) -> Floats:
    """Response of a prototype, highest power first, at the frequencies the bilinear transform bends to."""
    warped = np.tan(np.pi * frequency_hz / rate_hz) / np.tan(np.pi * centre_hz / rate_hz)
    return np.asarray(20 * np.log10(np.abs(freqs(numerator, denominator, warped)[1])))


FREQUENCIES = np.geomspace(20.0, 20000.0, 60)


@pytest.mark.parametrize("gain_db", [-12.0, -3.0, 6.0])
@pytest.mark.parametrize("q", [0.5, 1.0, 8.0])
def test_bell_is_its_analogue_prototype(gain_db: float, q: float) -> None:
    a = 10 ** (gain_db / 40)
    expected = analogue_db([1, a / q, 1], [1, 1 / (a * q), 1], FREQUENCIES, 1200.0)
    assert response_db(eq.bell_sections(RATE, 1200.0, gain_db, q), FREQUENCIES) == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize("gain_db", [-9.0, 4.0])
def test_shelves_are_their_analogue_prototypes(gain_db: float) -> None:
    a, q = 10 ** (gain_db / 40), np.sqrt(0.5)
    low = analogue_db([a, a * np.sqrt(a) / q, a * a], [a, np.sqrt(a) / q, 1], FREQUENCIES, 150.0)
    high = analogue_db([a * a, a * np.sqrt(a) / q, a], [1, np.sqrt(a) / q, a], FREQUENCIES, 6000.0)
    assert response_db(eq.low_shelf_sections(RATE, 150.0, gain_db), FREQUENCIES) == pytest.approx(low, abs=1e-6)
    assert response_db(eq.high_shelf_sections(RATE, 6000.0, gain_db), FREQUENCIES) == pytest.approx(high, abs=1e-6)


@pytest.mark.parametrize("gain_db", [-9.0, 4.0])
def test_shelves_end_at_their_gain_and_have_half_of_it_at_their_frequency(gain_db: float) -> None:
    low = response_db(eq.low_shelf_sections(RATE, 1000.0, gain_db), np.array([5.0, 1000.0, 23900.0]))
    high = response_db(eq.high_shelf_sections(RATE, 1000.0, gain_db), np.array([5.0, 1000.0, 23900.0]))
    assert low == pytest.approx([gain_db, gain_db / 2, 0.0], abs=0.01)
    assert high == pytest.approx([0.0, gain_db / 2, gain_db], abs=0.01)


@pytest.mark.parametrize("order", [1, 2, 3, 4])
@pytest.mark.parametrize("kind", ["high", "low"])
def test_passes_are_butterworth(order: int, kind: Literal["high", "low"]) -> None:
    make = eq.high_pass_sections if kind == "high" else eq.low_pass_sections
    expected = 20 * np.log10(np.abs(sosfreqz(butter(order, 400.0, kind, output="sos", fs=RATE), FREQUENCIES, fs=RATE)[1]))
    assert response_db(make(RATE, 400.0, order), FREQUENCIES) == pytest.approx(expected, abs=1e-6)
    assert response_db(make(RATE, 400.0, order), np.array([400.0])) == pytest.approx([-3.0103], abs=1e-3)  # by definition


@pytest.mark.parametrize("order", [1, 2, 3, 4])
def test_high_pass_falls_six_db_per_octave_and_order(order: int) -> None:
    two = response_db(eq.high_pass_sections(RATE, 1000.0, order), np.array([20.0, 40.0]))
    assert two[1] - two[0] == pytest.approx(6.02 * order, abs=0.05)


def test_measured_gain_of_a_tone() -> None:
    tone = signals.signal(signals.sine(1000.0, 1.0, peak_dbfs=-12.0))
    done = eq.bell(tone, 1000.0, 6.0, 2.0).samples[:, RATE // 2 :]
    assert 20 * np.log10(np.abs(done).max()) == pytest.approx(-6.0, abs=0.02)


def test_boost_and_cut_undo_one_another() -> None:
    noise = signals.signal(signals.pink(0.5))
    back = eq.bell(eq.bell(noise, 500.0, 6.0, 1.4), 500.0, -6.0, 1.4)
    assert np.abs(back.samples - noise.samples).max() < 1e-6


def test_neutral_settings_return_the_same_samples() -> None:
    noise = signals.signal(signals.pink(0.2))
    for done in (
        eq.bell(noise, 100.0, 0.0), eq.low_shelf(noise, 100.0, 0.0), eq.high_shelf(noise, 100.0, 0.0),
        eq.high_pass(noise, 0.0), eq.low_pass(noise, RATE / 2), eq.filtered(noise, eq.bell_sections(RATE, 100.0, 0.0, 1.0)),
    ):  # fmt: skip
        assert np.array_equal(done.samples, noise.samples)


@pytest.mark.parametrize("block", [1, 97, 5000])
def test_blocks_give_what_one_piece_gives(block: int) -> None:
    noise = signals.pink(0.1 if block == 1 else 0.5)
    sections = eq.high_pass_sections(RATE, 90.0, 3)
    whole = Filter(sections, 2).process(noise)
    tool = Filter(sections, 2)
    parts = [tool.process(noise[:, at : at + block]) for at in range(0, noise.shape[1], block)]
    assert np.array_equal(np.concatenate(parts, axis=1), whole)


@pytest.mark.parametrize("rate_hz", [8000, 44100, 96000])
def test_rates(rate_hz: int) -> None:
    assert response_db(eq.bell_sections(rate_hz, 500.0, -4.0, 1.0), np.array([500.0]), rate_hz) == pytest.approx([-4.0], abs=1e-6)


def test_frequency_above_the_rate_stays_finite() -> None:
    noise = signals.signal(signals.pink(0.1, 8000), 8000)
    for done in (eq.bell(noise, 12000.0, 6.0), eq.high_shelf(noise, 12000.0, 6.0), eq.high_pass(noise, 12000.0)):
        assert np.isfinite(done.samples).all()


def test_order_out_of_range_is_refused() -> None:
    with pytest.raises(ValueError, match="order 5"):
        eq.high_pass(signals.signal(signals.silence(0.1)), 100.0, 5)


@pytest.mark.parametrize("frames", [0, 1])
def test_short_and_mono(frames: int) -> None:
    assert eq.bell(Signal(np.ones((1, frames), np.float32), RATE), 100.0, 3.0).samples.shape == (1, frames)
