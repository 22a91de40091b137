"""What the benchmark of the diagnosis plants is what it says it plants: levels and frequency responses against closed forms."""

import numpy as np
import pytest
from scipy import signal

from tests.benchmarks.diagnosis import planted_sound as sound
from tests.benchmarks.plans.planting import Floats, Stems, bell, low_shelf, strays_above

RATE_HZ = 44100


def tone(hz: float, seconds: float = 2.0, level: float = 0.5) -> Floats:
    wave = level * np.sin(2 * np.pi * hz * np.arange(round(seconds * RATE_HZ)) / RATE_HZ)
    return np.stack((wave, wave), axis=1)


def noise(seconds: float = 3.0, level: float = 0.1) -> Floats:
    return np.random.default_rng(8).normal(0.0, level, (round(seconds * RATE_HZ), 2))


def gain_db(before: Floats, after: Floats) -> float:
    middle = slice(len(before) // 4, 3 * len(before) // 4)
    return float(10 * np.log10(np.mean(after[middle] ** 2) / np.mean(before[middle] ** 2)))


@pytest.mark.parametrize(("hz", "wanted_db"), [(100.0, 0.0), (4000.0, 4.0), (15000.0, 8.0)])
def test_a_high_shelf_lifts_the_highs_and_half_of_it_at_its_corner(hz: float, wanted_db: float) -> None:
    wave = tone(hz)
    assert gain_db(wave, sound.high_shelf(wave, RATE_HZ, 4000.0, 8.0)) == pytest.approx(wanted_db, abs=0.15)


@pytest.mark.parametrize(("hz", "wanted_db"), [(300.0, 7.0), (30.0, 0.1), (10000.0, 0.0)])
def test_a_bell_has_its_gain_at_its_centre(hz: float, wanted_db: float) -> None:
    wave = tone(hz)
    assert gain_db(wave, bell(wave, RATE_HZ, 300.0, 7.0, 1.0)) == pytest.approx(wanted_db, abs=0.1)


@pytest.mark.parametrize(("hz", "wanted_db"), [(20.0, 7.8), (60.0, 4.0), (2000.0, 0.0)])
def test_a_low_shelf_lifts_the_lows_and_half_of_it_at_its_corner(hz: float, wanted_db: float) -> None:
    wave = tone(hz, 4.0)
    assert gain_db(wave, low_shelf(wave, RATE_HZ, 60.0, 8.0)) == pytest.approx(wanted_db, abs=0.2)


@pytest.mark.parametrize(("hz", "wanted_db"), [(65.0, -3.01), (32.5, -24.1), (1000.0, 0.0)])
def test_the_high_pass_falls_24_db_per_octave(hz: float, wanted_db: float) -> None:
    wave = tone(hz, 4.0)
    assert gain_db(wave, sound.high_pass(wave, RATE_HZ, 65.0)) == pytest.approx(wanted_db, abs=0.15)


def test_a_wall_leaves_what_lies_below_and_nothing_above() -> None:
    assert gain_db(tone(11500.0), sound.wall(tone(11500.0), RATE_HZ, 12000.0)) == pytest.approx(0.0, abs=1.0)
    assert gain_db(tone(13500.0), sound.wall(tone(13500.0), RATE_HZ, 12000.0)) < -80.0


@pytest.mark.parametrize("degrees", [30.0, 45.0, 60.0])
def test_turning_apart_widens_the_lows_alone_and_costs_mono_what_it_should(degrees: float) -> None:
    wave = tone(60.0, 4.0)
    turned = sound.turned_apart(wave, RATE_HZ, 150.0, degrees)
    middle, side = turned.mean(axis=1, keepdims=True), (turned[:, :1] - turned[:, 1:]) / 2
    assert gain_db(middle, side) == pytest.approx(20 * np.log10(np.tan(np.deg2rad(degrees))), abs=0.1)
    assert gain_db(wave[:, :1], middle) == pytest.approx(20 * np.log10(np.cos(np.deg2rad(degrees))), abs=0.1)
    assert gain_db(wave, turned) == pytest.approx(0.0, abs=0.1)
    high = tone(1000.0)
    np.testing.assert_allclose(sound.turned_apart(high, RATE_HZ, 150.0, degrees)[20000:-20000], high[20000:-20000], atol=2e-3)


def test_narrowing_lowers_the_side_alone() -> None:
    both = noise()
    done = sound.narrowed(both, -14.0)
    np.testing.assert_allclose(done.sum(axis=1), both.sum(axis=1), atol=1e-12)
    np.testing.assert_allclose(done[:, 0] - done[:, 1], (both[:, 0] - both[:, 1]) * 10 ** (-14 / 20), atol=1e-12)


def test_the_share_asked_for_is_clipped() -> None:
    both = noise()
    done = sound.share_clipped(both, 0.01)
    top = np.abs(done).max()
    assert np.mean(np.abs(done).max(axis=1) >= top * (1 - 1e-9)) == pytest.approx(0.01, abs=1e-4)
    assert np.all(done[np.abs(both) < top] == both[np.abs(both) < top])


def test_the_limiter_holds_its_top_and_leaves_what_lies_below() -> None:
    quiet, loud = tone(500.0, 1.0, 0.1), tone(500.0, 1.0, 0.8)
    done = sound.limited(np.concatenate((quiet, loud)), RATE_HZ, 0.4)
    assert np.abs(done).max() <= 0.4 + 1e-9
    assert gain_db(quiet, done[: len(quiet)]) == pytest.approx(0.0, abs=0.01)
    assert gain_db(loud, done[len(quiet) :]) == pytest.approx(20 * np.log10(0.5), abs=0.1)


@pytest.mark.parametrize("by_db", [3.0, 6.0, 9.0])
def test_the_crest_falls_by_what_is_asked_for(by_db: float) -> None:
    struck = noise() * np.exp(-(np.arange(3 * RATE_HZ) % (RATE_HZ // 2)) / 4000.0)[:, None]
    assert sound.crest_db(struck) - sound.crest_db(sound.crest_lowered(struck, RATE_HZ, by_db)) == pytest.approx(by_db, abs=0.3)


def test_a_dip_is_as_deep_as_asked_and_comes_back() -> None:
    flat = np.ones((2 * RATE_HZ, 1))
    done = 20 * np.log10(sound.dipped(flat, RATE_HZ, [RATE_HZ // 2], 8.0)[:, 0])
    assert done.min() == pytest.approx(-8.0, abs=0.1)
    assert done[RATE_HZ // 2 + round(0.2 * RATE_HZ)] == pytest.approx(-8.0 / np.e, abs=0.1)
    assert done[RATE_HZ // 4] == 0.0


def test_strikes_are_found_where_they_are() -> None:
    stem = np.zeros((3 * RATE_HZ, 2))
    starts = [round(second * RATE_HZ) for second in (0.5, 1.1, 1.9, 2.5)]
    for start in starts:
        stem[start : start + 4000] = np.exp(-np.arange(4000) / 800.0)[:, None] * 0.5
    strikes = sound.strikes_of(stem, RATE_HZ)
    assert len(strikes) == len(starts)
    assert np.abs(np.array(strikes) - np.array(starts)).max() < 0.012 * RATE_HZ


def test_a_drum_that_booms_on_strikes_once() -> None:
    seconds = np.arange(RATE_HZ) / RATE_HZ
    boom = np.where(seconds < 0.9, np.exp(-2.0 * seconds) * (1.0 + 0.2 * np.sin(2 * np.pi * 3.0 * seconds)), 0.0) * np.sin(300.0 * seconds)
    stem = np.concatenate((np.zeros(RATE_HZ // 2), boom, boom))[:, None]
    assert [round(place / RATE_HZ, 1) for place in sound.strikes_of(stem, RATE_HZ)] == [0.5, 1.5]


def test_a_stretch_is_moved_and_no_more() -> None:
    done = sound.stretch_moved(np.ones((4 * RATE_HZ, 1)), RATE_HZ, 1.0, 2.0, -8.0)[:, 0]
    assert 20 * np.log10(done[round(1.5 * RATE_HZ)]) == pytest.approx(-8.0, abs=1e-6)
    assert done[round(0.9 * RATE_HZ)] == pytest.approx(1.0)
    assert done[round(2.1 * RATE_HZ)] == pytest.approx(1.0)


def test_hum_has_the_level_asked_for_and_lines_at_the_mains_alone() -> None:
    done = sound.hummed(np.zeros((4 * RATE_HZ, 2)), RATE_HZ, -48.0)
    assert 10 * np.log10(np.mean(done**2)) == pytest.approx(-48.0, abs=1e-6)
    hz, power = signal.periodogram(done[:, 0], RATE_HZ)
    on_lines = np.isin(np.round(hz, 3), [50.0 * n for n in range(1, 9)])
    assert power[on_lines].sum() / power.sum() > 0.999


def test_an_end_is_left_standing() -> None:
    done = sound.ended_at(np.ones((3 * RATE_HZ, 1)), RATE_HZ, 1.0, -18.0)
    assert 20 * np.log10(done[-1, 0]) == pytest.approx(-18.0, abs=1e-6)
    assert done[2 * RATE_HZ - 1, 0] == 1.0


def test_softened_edges_begin_and_end_in_silence() -> None:
    done = sound.edges_softened(np.ones((5 * RATE_HZ, 2)), RATE_HZ)
    assert np.all(done[: round(0.1 * RATE_HZ)] == 0.0)
    assert np.all(done[-round(0.1 * RATE_HZ) :] == 0.0)
    assert np.all(done[RATE_HZ : 3 * RATE_HZ] == 1.0)


def test_true_peak_lies_above_the_samples_by_what_theory_says() -> None:
    wave = np.sin(2 * np.pi * np.arange(RATE_HZ) / 4 + np.pi / 4)[:, None]  # samples at 0.707 of the peak
    assert sound.db(sound.true_peak(wave[:, :]) / float(np.abs(wave).max())) == pytest.approx(3.01, abs=0.3)


@pytest.mark.parametrize("above_db", [2.0, 4.0, 7.0])
@pytest.mark.parametrize("drum_level", [0.8, 0.1])
def test_stray_peaks_cost_what_they_are_said_to_cost(above_db: float, drum_level: float) -> None:
    """Also where the drum is softer than what plays over it."""
    drum = np.zeros((20 * RATE_HZ, 2))
    drum[RATE_HZ::RATE_HZ] = drum_level
    song = Stems("a", RATE_HZ, {"kick": drum, "pad": noise(20.0, 0.05)}, frozenset(("kick",)))
    before = float(np.abs(song.mix).max())
    assert sound.db(float(np.abs(strays_above(song, above_db)).max()) / before) == pytest.approx(above_db, abs=0.01)
    changed = np.flatnonzero(np.any(strays_above(song, above_db) != song.mix, axis=1))
    assert np.all(np.abs(changed[:, None] - np.arange(1, 20) * RATE_HZ).min(axis=1) < 0.35 * RATE_HZ)  # only around strokes
