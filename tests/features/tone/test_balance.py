"""Balance against the target: level and tilt drop out, planted bells are found, parts are told apart."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from features.records.base import Course, Span
from features.records.spectrum import Spectrum
from features.tone.balance import measure_balance
from features.tone.matched_filter import bell_db, high_pass_db, high_shelf_db, low_shelf_db
from features.tone.part_covariance import answers, layout
from features.tone.target import general_target

MODEL = general_target()
HZ = np.array(MODEL.record.third_octave_hz)
SONG = np.array(MODEL.record.third_octave_db)
Floats = NDArray[np.float64]


def song(added_db: Floats | float = 0.0, bands: int = 31) -> Spectrum:
    """Make a song that lies on the median of the finished ones, plus something."""
    curve = SONG.copy()
    assert MODEL.centre_db is not None
    curve[np.searchsorted(HZ, MODEL.model_hz * 0.99)] = MODEL.centre_db
    values = tuple(float(value) for value in (curve + added_db)[:bands])
    places = tuple(Span(float(10 * band), float(10 * band + 5)) for band in range(bands))
    course = Course("dB/oct", 0.0, 1.0, ())
    tilt = None if bands < 28 else float(np.polyfit(np.log2(HZ[7:28]), np.array(values)[7:28], 1)[0])
    return Spectrum(tuple(HZ[:bands].tolist()), values, values, None, None, None, None, None, places, tilt, course, (), -60.0)


@pytest.mark.parametrize("frequency_hz", [160.0, 250.0, 550.0, 1200.0, 3200.0])
@pytest.mark.parametrize("gain_db", [9.0, -9.0])
def test_a_planted_bell_is_the_first_found(frequency_hz: float, gain_db: float) -> None:
    first = measure_balance(song(bell_db(HZ, frequency_hz, 1.0, gain_db)), MODEL).bells[0]
    assert abs(np.log2(first.frequency_hz / frequency_hz)) < 1 / 6
    assert first.gain_db * gain_db > 0
    assert 4 < abs(first.gain_db) < 11
    assert first.q == pytest.approx(1.0, abs=0.45)
    assert first.strength > 1.5


def test_two_bells_are_both_found() -> None:
    bells = measure_balance(song(bell_db(HZ, 250.0, 1.0, 10.0) + bell_db(HZ, 3000.0, 1.0, -10.0)), MODEL).bells[:3]
    assert any(abs(np.log2(bell.frequency_hz / 250)) < 1 / 3 and bell.gain_db > 4 for bell in bells)
    assert any(abs(np.log2(bell.frequency_hz / 3000)) < 1 / 3 and bell.gain_db < -3 for bell in bells)


def test_a_typical_song_has_none_and_the_strength_grows_with_the_gain() -> None:
    assert measure_balance(song(), MODEL).bells == ()
    strengths = [measure_balance(song(bell_db(HZ, 500.0, 1.0, gain)), MODEL).bells[0].strength for gain in (5.0, 8.0, 12.0)]
    assert strengths == sorted(strengths)


def test_level_and_tilt_are_no_bells() -> None:
    octave = np.log2(HZ / 1000)
    balance = measure_balance(song(-17.0 + 1.5 * octave), MODEL)
    assert balance.bells == ()
    assert max(abs(value) for value in balance.unusual[8:28]) < 1.0
    flat = measure_balance(song(), MODEL)
    assert balance.tilt_deviation_db_per_octave is not None
    assert flat.tilt_deviation_db_per_octave is not None
    assert balance.tilt_deviation_db_per_octave - flat.tilt_deviation_db_per_octave == pytest.approx(1.5, abs=0.01)
    middle = [value for hz, value in zip(balance.third_octave_hz, balance.deviation_db, strict=True) if 190 < hz < 5100]
    assert np.mean(middle) == pytest.approx(0, abs=1e-9)


def test_a_top_cut_off_at_11_khz_is_no_hollow() -> None:
    assert measure_balance(song(np.where(HZ > 11000, -70.0, 0.0)), MODEL).bells == ()


def test_a_bell_in_every_part_is_the_mix_s() -> None:
    spectrum = song(bell_db(HZ, 400.0, 1.0, 10.0))
    curve = spectrum.third_octave_db
    alike = replace(spectrum, percussive_db=curve, sustained_db=curve, dense_db=curve, quiet_db=curve)
    first = measure_balance(alike, MODEL).bells[0]
    assert (first.parts_agree, first.part) == (True, "mix")
    plain = song().third_octave_db
    alone = replace(alike, percussive_db=plain, sustained_db=song(bell_db(HZ, 400.0, 1.0, 14.0)).third_octave_db)
    first = measure_balance(alone, MODEL).bells[0]
    assert (first.parts_agree, first.part) == (False, "sustained")
    assert measure_balance(spectrum, MODEL).bells[0].parts_agree is None


def test_where_is_where_its_bands_are_loudest() -> None:
    rise = measure_balance(song(bell_db(HZ, 500.0, 1.0, 10.0)), MODEL).bells[0]
    centre = int(np.argmin(np.abs(np.log2(HZ / rise.frequency_hz))))
    assert rise.where[0] == Span(10.0 * centre, 10.0 * centre + 5)
    assert measure_balance(song(bell_db(HZ, 500.0, 1.0, -10.0)), MODEL).bells[0].where == ()


def test_silence_and_low_rates() -> None:
    silent = replace(song(), third_octave_db=(), mid_db=(), tilt_db_per_octave=None)
    balance = measure_balance(silent, MODEL)
    assert balance.bells == ()
    assert balance.deviation_db == ()
    assert {absence.field for absence in balance.absent} == {"tilt_deviation_db_per_octave", "bells"}
    low = measure_balance(song(bell_db(HZ, 500.0, 1.0, 10.0), bands=23), MODEL)
    assert low.tilt_deviation_db_per_octave is None
    assert abs(np.log2(low.bells[0].frequency_hz / 500)) < 1 / 3
    assert measure_balance(song(bands=15), MODEL).bells == ()


def together(added_db: Floats | float, sustained_alone_db: Floats | float = 0.0) -> Spectrum:
    """Make a song whose parts lie on the median of finished songs' parts, plus what a filter does to them."""
    assert MODEL.part_covariance is not None
    table, spectrum = MODEL.part_covariance, song(added_db)
    rows = np.searchsorted(HZ, table.band_hz * 0.99)
    curves = np.tile(SONG, (3, 1))
    inside = np.zeros(curves.shape, bool)
    inside[:, rows] = layout(table.band_hz)
    curves[inside] = table.median_db
    mix, percussive, sustained = curves + answers(np.broadcast_to(added_db, HZ.shape), HZ)
    whole = np.where(HZ < 90.0, mix, np.array(spectrum.third_octave_db))
    return replace(
        spectrum,
        third_octave_db=tuple(whole.tolist()),
        percussive_db=tuple(percussive.tolist()),
        sustained_db=tuple((sustained + sustained_alone_db).tolist()),
    )


@pytest.mark.parametrize(
    ("filter_db", "kinds", "sign"),
    [
        (low_shelf_db(HZ, 60.0, 12.0), {"low_shelf"}, 1),
        (high_pass_db(HZ, 75.0), {"high_pass", "low_shelf"}, -1),
        (high_shelf_db(HZ, 4000.0, -12.0), {"high_shelf"}, -1),
        (high_shelf_db(HZ, 6000.0, 12.0), {"high_shelf"}, 1),
    ],
)
def test_an_end_moved_by_a_filter_is_told_as_a_shelf(filter_db: Floats, kinds: set[str], sign: int) -> None:
    first = measure_balance(together(filter_db), MODEL).shelves[0]
    assert first.kind in kinds
    assert first.strength * sign > 0
    assert first.lies_db * sign > 3.0


def test_a_low_bell_is_not_told_as_a_shelf() -> None:
    balance = measure_balance(together(bell_db(HZ, 160.0, 1.0, 9.0)), MODEL)
    assert balance.bells[0].strength > max((abs(shelf.strength) for shelf in balance.shelves), default=0.0)


def test_a_typical_song_with_its_parts_has_neither_bells_nor_shelves() -> None:
    balance = measure_balance(together(0.0), MODEL)
    assert (balance.bells, balance.shelves) == ((), ())
