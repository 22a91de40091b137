"""What one part leaves audible of another."""

import numpy as np
import pytest

from features.hearing.masking import FORWARD_S, audible_parts, ear, forward_decay
from features.hits.separation import sixth_octaves

HOP_S = 0.005
EAR = ear(44100, sixth_octaves(44100))
BANDS = len(EAR.centre_hz)


def heard_share(hit: float, masker: float, before: float = 0.0, gap_s: float = 0.0) -> float:
    """Share heard of a 50 ms hit over a steady masker; ``before`` sounded until ``gap_s`` before it."""
    frames, start = 100, 50
    power = np.zeros((3, frames, BANDS), np.float32)
    power[0, start : start + 10] = hit
    power[1] = masker
    power[2] = power[0] + power[1]
    power[2, : start - round(gap_s / HOP_S)] += before
    audible, weight = np.zeros((1, BANDS)), np.zeros((1, BANDS))
    starts = np.array([start], np.int64)
    audible_parts(power[0], power[1], power[2], starts, (10, 0, 40), forward_decay(HOP_S), audible, weight)
    return float(audible.sum() / weight.sum())


def test_a_flat_spectrum_stays_flat() -> None:
    per_hz = np.diff(np.stack([sixth_octaves(44100).low_hz, sixth_octaves(44100).high_hz]), axis=0)[0]
    excitation = per_hz @ EAR.spread
    widths = np.gradient(EAR.centre_hz)
    middle = (EAR.centre_hz > 300) & (EAR.centre_hz < 8000)
    assert np.ptp(10 * np.log10(excitation[middle] / widths[middle])) < 2.0


def test_spreading_reaches_further_up_than_down() -> None:
    power = np.zeros(len(sixth_octaves(44100)), np.float32)
    power[np.argmin(np.abs(sixth_octaves(44100).centre_hz - 1000.0))] = 1.0
    excitation = 10 * np.log10(power @ EAR.spread)
    at = int(np.argmax(excitation))
    assert excitation[at] > excitation[at + 4] > excitation[at - 4] + 6.0


@pytest.mark.parametrize(("over_db", "share"), [(10.0, 1.0), (-1.0, 1.0), (-4.0, 0.5), (-7.0, 0.0), (-20.0, 0.0)])
def test_threshold_lies_4_db_below_the_masker(over_db: float, share: float) -> None:
    assert heard_share(10 ** (over_db / 10), 1.0) == pytest.approx(share, abs=0.02)


def test_what_has_just_sounded_masks_and_fades_by_25_db_in_200_ms() -> None:
    hit = 10 ** (-20 / 10)
    assert heard_share(hit, 1e-9, before=1.0, gap_s=0.0) < 0.1
    assert heard_share(hit, 1e-9, before=1.0, gap_s=0.16) > 0.9
    assert 10 * np.log10(forward_decay(HOP_S)) * FORWARD_S / HOP_S == pytest.approx(-25.0)


def test_nothing_to_hear_weighs_nothing() -> None:
    audible, weight = np.ones((1, BANDS)), np.ones((1, BANDS))
    zeros = np.zeros((20, BANDS), np.float32)
    audible_parts(zeros, zeros, zeros, np.array([5], np.int64), (8, 2, 10), forward_decay(HOP_S), audible, weight)
    assert not audible.any()
    assert not weight.any()
