"""How songs of one kind differ: collections with known differences, the odd song, and the table that is kept."""

import numpy as np
import pytest

from features.comparison.song_kind import kinds, kinds_from_json, kinds_to_json, tabulate_kinds
from features.tone.target import Floats, general_target

HZ = np.array(general_target().record.third_octave_hz)


def collection(count: int, spread_db: float, middle_db: float, seed: int) -> Floats:
    return middle_db * np.log2(HZ / 1000) + np.random.default_rng(seed).normal(0, spread_db, (count, HZ.size))


def test_only_differences_within_a_collection_count() -> None:
    curves = np.vstack([collection(60, 2.0, -6.0, 1), collection(60, 2.0, 6.0, 2), collection(3, 9.0, 0.0, 3)])
    groups = ["dark"] * 60 + ["bright"] * 60 + ["few"] * 3
    table = tabulate_kinds(curves, np.repeat([-9.0, 3.0, 0.0], [60, 60, 3]), HZ, groups)
    assert (table.songs, table.collections) == (120, 2)
    assert table.spread_db == pytest.approx([2.0] * HZ.size, rel=0.15)
    assert table.tilt_spread_db_per_octave == 0.0
    assert np.abs(table.correlation - np.eye(HZ.size)).max() < 0.4


def test_an_odd_song_says_where_and_not_how_far() -> None:
    curves = collection(16, 2.0, 0.0, 4)
    tables = []
    for far_db in (30.0, 300.0):
        odd = curves.copy()
        odd[0, 20:] -= far_db
        tables.append(tabulate_kinds(odd, np.zeros(16), HZ, ["one"] * 16))
    assert tables[0].spread_db == pytest.approx(tables[1].spread_db, rel=0.1)
    assert tables[0].spread_db.max() < 4.0


def test_a_table_is_read_as_it_was_written() -> None:
    table = kinds()
    again = kinds_from_json(kinds_to_json(table))
    assert (again.songs, again.collections) == (table.songs, table.collections)
    np.testing.assert_array_equal(again.correlation, table.correlation)
    np.testing.assert_array_equal(again.spread_db, table.spread_db)


def test_songs_of_a_kind_differ_less_at_both_ends_than_songs_in_general() -> None:
    table, general = kinds(), np.array(general_target().record.spread_db)
    assert (table.spread_db / general)[(HZ > 40) & (HZ < 150)].max() < 0.85
    assert (table.spread_db / general)[(HZ > 4000) & (HZ < 13000)].max() < 0.9
    assert table.tilt_spread_db_per_octave < general_target().record.tilt_spread_db_per_octave
    correlation = table.prior_correlation()
    assert np.linalg.eigvalsh(correlation).min() > 0.01
    np.testing.assert_allclose(np.diag(correlation), 1.0, atol=0.01)
