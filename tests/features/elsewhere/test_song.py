"""What is left of a whole song, by closed forms."""

from dataclasses import replace
from math import inf

import numpy as np
import pytest

from features.elements.levels.level_plan import k_response
from features.elsewhere.conditions import CONDITIONS, DESK, FLAT, Condition
from features.elsewhere.song import Listening, measure_elsewhere
from features.records.ear import SongElsewhere
from features.records.spectrum import Spectrum
from tests import records

BANDS = np.array(records.BANDS_HZ)


def there(condition: Condition, spectrum: Spectrum | None = None, balance_db: float = 0.0) -> SongElsewhere:
    measured = measure_elsewhere(
        spectrum or records.spectrum(), records.hits(), records.stereo(balance_db=balance_db), records.target(), Listening((condition,))
    )
    return measured.conditions[0]


def only(band_hz: float) -> Spectrum:
    curve = tuple(0.0 if abs(np.log2(hz / band_hz)) < 0.1 else -120.0 for hz in records.BANDS_HZ)
    return records.spectrum(third_octave_db=curve, mid_db=curve)


def test_the_desk_changes_nothing() -> None:
    its = there(DESK)
    assert its.loudness_lu == pytest.approx(0.0)
    assert its.audible_share == pytest.approx(1.0, abs=0.03)  # the threshold in quiet takes the lowest bands
    assert its.unusual == pytest.approx(0.0)


@pytest.mark.parametrize(("hz", "gain_db"), [(100.0, -12.0), (1000.0, -3.0)])
def test_a_single_band_loses_what_the_transfer_takes(hz: float, gain_db: float) -> None:
    condition = Condition("own", "own", "there", ((100.0, -12.0), (1000.0, -3.0)), 80.0, ())
    assert there(condition, only(hz)).loudness_lu == pytest.approx(gain_db, abs=1e-3)


def test_loudness_is_the_k_weighted_sum() -> None:
    phone = CONDITIONS[0]
    power = 10 ** (np.array(records.CURVE_DB) / 10) * BANDS * k_response(BANDS, 48000)
    expected = 10 * np.log10(np.sum(power * 10 ** (phone.gain_db(BANDS) / 10)) / np.sum(power))
    assert there(replace(phone, mono_below_hz=0.0)).loudness_lu == pytest.approx(expected)


def test_what_mono_takes_is_read_off_the_middle() -> None:
    assert there(Condition("m", "m", "m", FLAT, 80.0, (), mono_below_hz=inf)).loudness_lu == pytest.approx(-0.5)
    lows = records.spectrum(mid_db=tuple(level - (20.0 if hz < 120.0 else 0.0) for hz, level in zip(BANDS, records.CURVE_DB, strict=True)))
    club = there(next(condition for condition in CONDITIONS if condition.key == "club"), lows)
    assert club.low_mono_loss_db == pytest.approx(20.0)
    assert there(DESK, lows).low_mono_loss_db is None


def test_noise_takes_from_the_share_and_more_level_gives_it_back() -> None:
    street = next(condition for condition in CONDITIONS if condition.key == "street")
    shares = [there(replace(street, level_db=level_db)).audible_share for level_db in (50.0, 65.0, 80.0, 95.0)]
    assert shares == sorted(shares)
    assert shares[0] < 0.1
    assert shares[-1] > 0.95


def test_hits_of_the_lows_are_gone_on_a_phone() -> None:
    its = there(CONDITIONS[0]).hits_share
    assert its is not None
    assert its < (there(DESK).hits_share or 0.0)


def test_a_thin_song_is_unusual_where_lows_are_missing() -> None:
    """A song with 12 dB more below 200 Hz loses more of its loudness on a phone than its references do."""
    curve = tuple(level + (12.0 if hz < 200.0 else 0.0) for hz, level in zip(BANDS, records.CURVE_DB, strict=True))
    assert there(CONDITIONS[0], records.spectrum(third_octave_db=curve, mid_db=curve)).unusual > 1.0
    assert abs(there(CONDITIONS[0]).unusual) < 1.0


def test_with_one_ear_the_louder_left_side_is_louder() -> None:
    ear = next(condition for condition in CONDITIONS if condition.key == "one-ear")
    assert there(ear, balance_db=0.0).loudness_lu == pytest.approx(0.0)
    assert there(ear, balance_db=60.0).loudness_lu == pytest.approx(3.01, abs=0.01)


def test_silence_has_no_conditions_and_says_why() -> None:
    silent = measure_elsewhere(records.spectrum(third_octave_db=()), records.hits(), records.stereo(), records.target())
    assert silent.conditions == ()
    assert silent.absent[0].reason == "the file is silent"
