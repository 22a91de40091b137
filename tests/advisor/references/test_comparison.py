"""A mix against references: the same song, few songs, unmastered against mastered, and the nearest."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from advisor.references.comparison import (
    Asked,
    Comparison,
    Limiting,
    compare,
    compare_with_song,
    drive_to,
    loudness_at,
    prior_spreads,
    usual_of,
)
from advisor.references.records import Reference, Song
from features.comparison.moderated_statistics import moderated_spread
from features.records.headline import FEATURES, Headline
from features.records.outlook import DrivePoint
from tests.reference_shelf import GENERAL, ORDINARY, readings, reference, shelf, song

ASKED = Asked(target_lufs=-13.0, ceiling_dbtp=-1.0)
CURVE = tuple(
    DrivePoint(drive, -20.0 + 0.9 * drive, 0.5 * drive, -20.0, 0.1 * drive, 0.2 * drive, 15.0 - 0.6 * drive)
    for drive in (0.0, 2.0, 4.0, 8.0, 12.0)
)


def unlimited(made: Song) -> Limiting:
    return Limiting(made.headline, (), 0.0, None)


def compared(mix: Song, songs: Sequence[Reference], limiting: Limiting | None = None) -> Comparison:
    return compare(limiting or unlimited(mix), mix.third_octave_db, mix.bandwidth_hz, songs, ASKED)


def level(comparison: Comparison, name: str) -> str:
    return next(row.level for row in comparison.rows if row.feature.name == name)


@pytest.mark.parametrize("count", [1, 3, 8, 20])
def test_a_mix_equal_to_one_of_the_references_reports_no_difference(count: int) -> None:
    songs = shelf(count, spread=2.0)
    comparison = compared(songs[-1].song, songs)
    assert comparison.pairs[0].reference == songs[-1]
    assert comparison.pairs[0].same
    assert comparison.pairs[0].differences == (0.0,) * len(FEATURES)
    assert {row.level for row in comparison.rows} == {"like"}
    assert comparison.more_unusual_than == (0 if count >= 5 else None)


def test_below_five_songs_nothing_is_called_anything() -> None:
    comparison = compared(song({"tilt_db_per_octave": 5.0, "psr_db": 30.0}), shelf(4))
    assert {row.level for row in comparison.rows} == {""}
    assert comparison.more_unusual_than is None


@pytest.mark.parametrize(("spreads", "word"), [(0.3, "like"), (1.5, "little"), (2.6, "noticeable"), (6.0, "outside")])
def test_how_far_out_a_reading_lies_has_its_word(spreads: float, word: str) -> None:
    songs = [reference(f"{number}") for number in range(8)]
    songs = [replace(reference, song=song({"bass_db": 1.5 + 4.0 * (number % 2 * 2 - 1)})) for number, reference in enumerate(songs)]
    spread = moderated_spread([reference.song.headline.bass_db or 0.0 for reference in songs], prior_spreads()[1])
    assert level(compared(song({"bass_db": 1.5 + spreads * spread * np.sqrt(1 + 1 / 8)}), songs), "bass_db") == word


def test_a_difference_below_its_step_is_like_the_references() -> None:
    songs = [reference(f"{number}") for number in range(40)]
    assert level(compared(song({"width_db": -5.6}), songs), "width_db") == "like"


def test_a_reading_that_is_missing_is_left_out_not_guessed() -> None:
    comparison = compared(song({"hit_lift_db": None}), shelf(6))
    assert "hit_lift_db" not in {row.feature.name for row in comparison.rows}
    none = compared(song(), [reference("mono", song({"width_db": None, "low_width_db": None}))])
    assert "width_db" not in {row.feature.name for row in none.rows}
    assert not none.pairs[0].same


def test_a_mix_is_driven_as_loud_as_a_master_and_never_above_the_target() -> None:
    loud, quiet = song(integrated_lufs=-8.0, true_peak_dbtp=0.0), song(integrated_lufs=-16.0, true_peak_dbtp=-2.0)
    assert loudness_at(loud, -1.0, -13.0) == -13.0
    assert loudness_at(quiet, -1.0, -13.0) == pytest.approx(-15.0)  # its peak brought up to the ceiling


def test_peaks_are_compared_behind_the_limiter_and_tone_as_it_is() -> None:
    mix = song({"psr_db": 15.0, "hit_lift_db": 6.0, "crest_balance_db": 8.0})
    drive = drive_to(CURVE, -13.0)
    assert drive == pytest.approx(7.0 / 0.9)
    limiting = Limiting(mix.headline, CURVE, drive, 4.0)
    comparison = compared(mix, [reference(f"{number}", song(integrated_lufs=-9.0)) for number in range(5)], limiting)
    by_name = {row.feature.name: row for row in comparison.rows}
    assert comparison.compared_at_lufs == -13.0
    assert by_name["psr_db"].mix == pytest.approx(15.0 - 0.6 * drive)
    assert by_name["hit_lift_db"].mix == pytest.approx(6.0 - 0.2 * drive)
    assert by_name["crest_balance_db"].mix == pytest.approx(4.0)
    assert by_name["psr_db"].raw == 15.0
    assert by_name["tilt_db_per_octave"].mix == by_name["tilt_db_per_octave"].raw


def test_against_a_quieter_reference_the_limiter_works_less_and_against_a_quiet_one_not_at_all() -> None:
    mix = song({"psr_db": 15.0, "crest_balance_db": 8.0})
    limiting = Limiting(mix.headline, CURVE, drive_to(CURVE, -13.0), 4.0)
    half = limiting.at(-20.0 + 7.0 / 2)
    assert half.psr_db == pytest.approx(15.0 - 0.6 * 7.0 / 1.8)
    assert half.crest_balance_db == pytest.approx(6.0)
    assert limiting.at(-25.0) == mix.headline
    assert drive_to(CURVE, -2.0) == 12.0  # out of reach: the highest drive that was measured
    assert drive_to((), -2.0) == 0.0


def test_the_nearest_come_first_whatever_the_order() -> None:
    songs = shelf(9)
    mix = song(ORDINARY)
    forwards, backwards = compared(mix, songs), compared(mix, songs[::-1])
    assert [pair.reference.name for pair in forwards.pairs] == [pair.reference.name for pair in backwards.pairs]
    assert forwards.rows == backwards.rows
    near = reference("near", song({"bass_db": 1.6}))
    assert compared(mix, [*songs, near]).pairs[0].reference == near


def test_above_where_a_file_ends_nothing_is_compared() -> None:
    cut = np.where(np.array(GENERAL.third_octave_hz) > 9000, -50.0, 0.0)
    mix = song()
    whole = compare_with_song(mix.headline, mix.third_octave_db, None, reference("cut", song(curve_db=cut)))
    walled = compare_with_song(mix.headline, mix.third_octave_db, None, reference("cut", song(curve_db=cut, bandwidth_hz=9000.0)))
    assert max(whole.curve_db) > 40.0
    assert not whole.same
    assert max(walled.curve_db) == 0.0
    assert walled.same


def test_what_is_usual_has_the_spread_of_a_further_song() -> None:
    songs = shelf(7)
    usual = {usual.name: usual for usual in usual_of(songs)}
    values = [reference.song.headline.psr_db or 0.0 for reference in songs]
    assert usual["psr_db"].median == pytest.approx(float(np.median(values)))
    assert usual["psr_db"].spread == pytest.approx(moderated_spread(values, prior_spreads()[5]) * np.sqrt(8 / 7))
    assert usual["psr_db"].songs == 7
    lacking = usual_of([reference("mono", song({"width_db": None}))])
    assert "width_db" not in {usual.name for usual in lacking}


def test_readings_are_never_compared_by_level() -> None:
    assert Headline.__dataclass_fields__.keys() - {"absent"} == {feature.name for feature in FEATURES}
    assert readings({}) == readings(ORDINARY)
    assert not any("lufs" in feature.name or "dbfs" in feature.name for feature in FEATURES)
