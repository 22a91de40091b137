"""The shapes that are looked for, and the matched filter over them."""

import numpy as np
import pytest
from scipy import signal

from features.sound.bands import third_octaves
from features.tone.matched_filter import Filter, bells, high_pass_db, high_shelf_db, low_shelf_db, precision_of, search, shelves

HZ = third_octaves(48000).centre_hz[1:30]
ALIKE = Filter(HZ, precision_of(9.0 * np.eye(len(HZ)), np.ones((len(HZ), 1))), lambda template: template)


def test_a_high_pass_is_a_butterworth_s_of_order_4() -> None:
    """Against the design of another library."""
    numerator, denominator = signal.butter(4, 2 * np.pi * 80.0, "highpass", analog=True)
    _, response = signal.freqs(numerator, denominator, 2 * np.pi * np.array([50.0, 80.0, 200.0]))
    assert high_pass_db(np.array([50.0, 80.0, 200.0]), 80.0) == pytest.approx(20 * np.log10(np.abs(response)), abs=1e-9)


@pytest.mark.parametrize("gain_db", [8.0, -12.0])
def test_shelves_have_half_of_their_gain_at_the_corner_and_mirror_each_other(gain_db: float) -> None:
    assert low_shelf_db(np.array([1.0, 100.0, 10000.0]), 100.0, gain_db) == pytest.approx([gain_db, gain_db / 2, 0.0], abs=0.02)
    assert high_shelf_db(np.array([1.0, 100.0, 10000.0]), 100.0, gain_db) == pytest.approx([0.0, gain_db / 2, gain_db], abs=0.02)


@pytest.mark.parametrize("shape", [shelf for shelf in shelves(HZ) if shelf.frequency_hz in (60.0, 65.0, 3500.0)])
@pytest.mark.parametrize("gain", [1.0, -1.0])
def test_a_planted_shelf_is_the_first_found_and_a_high_pass_only_where_lows_are_missing(shape: object, gain: float) -> None:
    shelf_planted = next(shelf for shelf in shelves(HZ) if shelf.kind == shape.kind and shelf.frequency_hz == shape.frequency_hz)  # type: ignore[attr-defined]
    planted = gain * (1.0 if shelf_planted.kind == "high_pass" else 9.0) * shelf_planted.template
    first = search(ALIKE, planted, [*bells(HZ, 65.0, 12000.0), *shelves(HZ)])[0]
    if shelf_planted.kind == "high_pass" and gain < 0.0:
        assert first.shape.kind != "high_pass"
    else:
        assert (first.shape.kind, first.shape.frequency_hz) == (shelf_planted.kind, shelf_planted.frequency_hz)
        assert first.gain_db * gain > 0.0


def test_nothing_is_found_where_nothing_differs() -> None:
    assert search(ALIKE, np.full(len(HZ), 7.0), bells(HZ, 65.0, 12000.0)) == []
