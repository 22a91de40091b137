"""Parts judged together: what a filter does to them, and what finished songs have in one part only counts little."""

from dataclasses import replace

import numpy as np
import pytest

from features.hits.separation import separate, sixth_octaves
from features.sound.bands import third_octaves
from features.tone.matched_filter import bell_shape
from features.tone.part_covariance import (
    answers,
    covariance_of_parts,
    general_part_covariance,
    layout,
    part_covariance_from_json,
    part_covariance_to_json,
    part_filter,
    stacked,
    tabulate_part_covariance,
)
from tests import records

HZ = third_octaves(48000).centre_hz[:31]


def test_both_curves_are_stacked_and_one_alone_is_not_judged() -> None:
    spectrum = records.spectrum()
    rows = stacked(spectrum)
    assert rows is not None
    assert rows.shape == (3, 31)
    assert stacked(replace(spectrum, sustained_db=None)) is None


def test_a_filter_shows_blurred_in_what_strikes_and_sharpened_in_what_sustains() -> None:
    """Against the separation itself: strokes and held tones with a bell of 6 dB on them."""
    rng = np.random.default_rng(7)
    hz = sixth_octaves(48000).centre_hz
    power = 1e-3 * rng.exponential(1.0, (2000, len(hz))).astype(np.float32)
    power[:, rng.random(len(hz)) < 0.4] += np.float32(0.1)
    power[::50] += np.float32(1.0)
    gains = (10 ** (np.repeat(bell_shape(HZ, 500.0, 1.0).template * 6.0, 2) / 10)).astype(np.float32)[: len(hz)]

    def curves(band_power: np.ndarray) -> np.ndarray:
        parts = separate(band_power.astype(np.float32), 0.0058)
        return np.array([part.sum(axis=0, dtype=np.float64).reshape(-1, 2).sum(axis=1) for part in (parts.percussive, parts.sustained)])

    shown = 10 * np.log10(curves(power * gains) / curves(power))
    answered = answers(bell_shape(HZ, 500.0, 1.0).template * 6.0, HZ)
    peak = int(np.argmax(answered[0]))
    assert shown[0, peak] < answered[0, peak] < shown[1, peak]
    assert answered[1:, peak] == pytest.approx(shown[:, peak], abs=1.0)


def test_a_table_reads_back_as_it_was_written() -> None:
    table = general_part_covariance()
    again = part_covariance_from_json(part_covariance_to_json(table))
    assert again.songs == table.songs
    assert np.array_equal(again.correlation, table.correlation)
    assert np.array_equal(again.correlation, again.correlation.T)
    assert np.linalg.eigvalsh(covariance_of_parts(table)).min() > 0.0


def test_a_rise_that_songs_often_have_in_one_part_counts_less_than_one_in_both() -> None:
    rng = np.random.default_rng(3)
    bell = bell_shape(HZ, 500.0, 1.0).template
    curves = rng.normal(0.0, 1.0, (200, 3, 31))
    curves[:, 2] += rng.normal(0.0, 6.0, (200, 1)) * bell
    table = tabulate_part_covariance(curves, HZ, ["one"] * 200)
    every = np.ones(len(table.band_hz), bool)
    matched = part_filter(table, every)
    template = bell_shape(table.band_hz, 500.0, 1.0).template
    both = matched.answers(template)
    sustained = np.arange(len(both)) >= len(both) - int(layout(table.band_hz)[2].sum())
    assert matched.gain(8.0 * both, template)[0] == pytest.approx(8.0)
    assert abs(matched.gain(np.where(sustained, 8.0 * both, 0.0), template)[0]) < 3.0
