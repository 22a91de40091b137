"""What mastering did, found from mix and master alone, against the processing that was really done."""

import numpy as np
import pytest

from features.limiting.drive import STEPS_PER_S, hit_loss_db, hit_losses_db, lost_share, pumping_db
from features.master_against_mix.comparison import fades_s, reader
from features.master_against_mix.equaliser import estimate_filter, half_sample_mode, mid_side
from features.master_against_mix.moving_gain import GainCurve, gain_between, part
from features.master_against_mix.tone_change import changes, k_power
from features.processors.dynamics.compressor import Curve, Timing, reduction_db
from features.processors.dynamics.limiter import FAST, GENTLE, Setting, limit
from features.processors.equalisers import eq
from features.sound.signal import Samples, Signal
from tests.sounds.master_song import HITS_S, RATE, SECONDS, song


def equalised(signal: Signal) -> Signal:
    return eq.high_shelf(eq.bell(signal, 300.0, -2.0, 1.0), 8000.0, 2.0)


def steps(gain: Samples) -> Samples:
    edges = np.arange(SECONDS * STEPS_PER_S) * RATE // STEPS_PER_S
    return (np.add.reduceat(gain, edges) / np.diff(np.append(edges, gain.size))).astype(np.float32)


@pytest.mark.parametrize("setting", [GENTLE, FAST])
@pytest.mark.parametrize("drive_db", [4.0, 8.0])
def test_drive_and_pumping_of_a_limiter_are_found_behind_an_equaliser(drive_db: float, setting: Setting) -> None:
    mix = song()
    made = limit(mix, drive_db, -1.0, setting)
    comparison = part(reader(mix, equalised(made.signal)), mix.frames, RATE)
    assert comparison is not None
    assert comparison[1].raise_db == pytest.approx(drive_db, abs=0.5)
    assert pumping_db(comparison[1].reduction()) == pytest.approx(pumping_db(steps(made.gain)), abs=0.1)


def test_the_equaliser_is_found_behind_a_limiter() -> None:
    mix = song()
    comparison = part(reader(mix, equalised(limit(mix, 6.0, -1.0).signal)), mix.frames, RATE)
    assert comparison is not None
    wanted = (-2.0, 0.0, 1.0, 2.0)
    assert comparison[0].curve_db(np.array([300.0, 1500.0, 8000.0, 16000.0])) == pytest.approx(wanted, abs=0.4)


def test_glue_and_lost_hits_are_found_together() -> None:
    mix = song()
    glue = (10 ** (-reduction_db(mix, Curve(-14.0, 2.0), Timing(30.0, 100.0)) / 20)).astype(np.float32)
    made = limit(Signal(mix.samples * glue, RATE), 7.0, -1.0)
    comparison = part(reader(mix, made.signal), mix.frames, RATE)
    assert comparison is not None
    hits = np.round(HITS_S[HITS_S < SECONDS - 0.5] * STEPS_PER_S).astype(np.intp)
    energy = steps(np.square(mix.samples).sum(axis=0))
    lost = []
    for gain in (steps(glue * made.gain), comparison[1].reduction()):
        loss, weight, _ = hit_losses_db(energy, gain, hits)
        lost.append((hit_loss_db(energy, gain, hits), lost_share(loss, weight)))
    assert lost[0][0] > 0.5
    assert lost[1][0] == pytest.approx(lost[0][0], abs=0.3)
    assert lost[1][1] == pytest.approx(lost[0][1], abs=0.05)


def test_only_louder_is_no_gain_that_moves() -> None:
    mix = song()
    comparison = part(reader(mix, Signal(mix.samples * np.float32(2.0), RATE)), mix.frames, RATE)
    assert comparison is not None
    assert comparison[1].raise_db == pytest.approx(6.02, abs=0.02)
    assert pumping_db(comparison[1].reduction()) < 0.01
    assert comparison[1].unexplained < 1e-4


def test_wider_sides_belong_to_the_equaliser() -> None:
    mix = song()
    middle, side = mid_side(mix.samples)
    wide = Signal(np.stack((middle + 2 * side, middle - 2 * side)), RATE)
    linear = estimate_filter(reader(mix, wide), mix.frames, RATE)
    assert linear is not None
    assert linear.curve_db(np.array([3000.0]), 1)[0] - linear.curve_db(np.array([3000.0]), 0)[0] == pytest.approx(6.02, abs=0.1)


@pytest.mark.parametrize("rate_hz", [8000, 48000, 96000])
def test_other_rates_give_the_same_drive(rate_hz: int) -> None:
    mix = song(rate_hz, 6)
    comparison = part(reader(mix, limit(mix, 6.0, -1.0).signal), mix.frames, rate_hz)
    assert comparison is not None
    assert comparison[1].raise_db == pytest.approx(6.0, abs=0.5)


def test_silence_and_shortness_are_absence() -> None:
    silent = Signal(np.zeros((2, RATE), np.float32), RATE)
    assert part(reader(silent, silent), RATE, RATE) is None
    short = Signal(song().samples[:, :1000], RATE)
    assert part(reader(short, short), 1000, RATE) is None


def test_mono_is_one_channel() -> None:
    mix = Signal(song().samples[:1], RATE)
    comparison = part(reader(mix, limit(mix, 6.0, -1.0).signal), mix.frames, RATE)
    assert comparison is not None
    assert comparison[1].raise_db == pytest.approx(6.0, abs=0.4)


def test_a_fade_is_told_with_its_length() -> None:
    mix = song()
    ramp = np.ones(mix.frames, np.float32)
    ramp[-3 * RATE :] = np.linspace(1.0, 0.0, 3 * RATE)
    faded = Signal(mix.samples * ramp, RATE)
    linear = estimate_filter(reader(mix, mix), mix.frames, RATE)
    assert linear is not None
    fade_in_s, fade_out_s = fades_s(gain_between(reader(mix, faded), mix.frames, linear))
    assert fade_in_s == 0.0
    assert fade_out_s == pytest.approx(3.0, abs=0.5)


def test_no_fade_where_there_is_too_little_to_tell() -> None:
    ones = np.ones(100, np.float32)
    assert fades_s(GainCurve(ones, ones, ones)) == (0.0, 0.0)


def test_mode_ignores_what_an_equaliser_moved() -> None:
    untouched = np.random.default_rng(1).normal(scale=0.05, size=30)
    assert half_sample_mode(np.concatenate((untouched, np.linspace(0.5, 4.0, 25)))) == pytest.approx(0.0, abs=0.1)


def test_k_power_is_that_of_the_standard() -> None:
    # BS.1770-5, Annex 1: 0.691 dB at 997 Hz is what its offset takes off again
    assert 10 * np.log10(k_power(np.array([997.0]))[0]) == pytest.approx(0.691, abs=0.02)


def test_a_change_of_two_stretches_gives_both() -> None:
    bands = tuple(100.0 * 2 ** (step / 3) for step in range(24))
    change = (0.0,) * 4 + (-1.5,) * 3 + (0.0,) * 8 + (3.0,) * 4 + (0.0,) * 5
    tone_changes = changes(bands, change)
    assert [round(tone_change.gain_db, 1) for tone_change in tone_changes] == [3.0, -1.5]
    assert changes(bands, (0.2,) * 24) == ()
