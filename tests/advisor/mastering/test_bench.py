"""The bench against the real thing: loudness, peaks and damage of chains, and the chain that is found."""

from dataclasses import replace
from functools import cache

import numpy as np
import pyloudnorm
import pytest

from advisor.app.progress import Quiet
from advisor.app.settings import Settings
from advisor.app.yardstick import yardstick_of
from advisor.mastering.bench import ChainBench, Damage, Premaster, premaster
from advisor.mastering.brightness import tone_of, tone_step
from advisor.mastering.chain import Chain, Glue
from advisor.mastering.finding import find_chain, gained, glue_thresholds, refitted
from advisor.measuring.measure import measure_again
from advisor.outcomes.steps import LEAST_BENEFIT
from features.elements.groups.glue import NeedleReader
from features.processors.dynamics.compressor import Curve
from features.processors.dynamics.limiter import GENTLE, true_peak_envelope
from features.processors.equalisers import eq
from features.sound.signal import Signal
from tests.sounds.master_song import RATE, song

CEILING = -1.0


@cache
def ready() -> Premaster:
    sound = Signal(song().samples * np.float32(0.4), RATE)
    measured = measure_again(sound, yardstick_of(Settings()), Quiet())
    prepared = premaster(sound, dict(measured.records), measured.trace)
    assert prepared is not None
    return prepared


@cache
def bench() -> ChainBench:
    return ChainBench(ready(), CEILING)


def plain() -> Chain:
    return Chain(CEILING, 0.0, 4.0, 0.04)


def lufs_of(signal: Signal) -> float:
    return float(pyloudnorm.Meter(signal.rate_hz).integrated_loudness(signal.samples.T.astype(np.float64)))


def chains() -> dict[str, Chain]:
    glue = Glue(glue_thresholds(bench())[2.0], 2.0, 2.0)
    return {
        "limiter": plain(),
        "glue": replace(plain(), glue=glue),
        "saturation": replace(plain(), saturation=bench().saturation(None, 3.0)),
        "waveshaper": replace(plain(), raise_db=1.0),
        "all": replace(plain(), glue=glue, saturation=bench().saturation(glue, 2.0), raise_db=1.0),
    }


@pytest.mark.parametrize("name", ["limiter", "glue", "saturation", "waveshaper", "all"])
def test_the_chain_reaches_the_loudness_that_the_bench_foresees(name: str) -> None:
    target = lufs_of(Signal(ready().source.read(0, 1 << 30), RATE)) + 7.0
    reached = bench().reach(chains()[name], target)
    made = reached.chain.process(Signal(ready().source.read(0, 1 << 30), RATE))
    assert reached.lufs == pytest.approx(target, abs=0.02)
    assert lufs_of(made) == pytest.approx(target, abs=0.25)
    # our interpolator reads a waveshaped peak up to some tenths higher where the song's is not on the stretch
    assert 20 * np.log10(true_peak_envelope(made.samples).max()) <= CEILING + 0.15


def test_damage_grows_with_loudness_and_density_falls() -> None:
    quiet, loud = (bench().reach(plain(), target).damage for target in (-15.0, -10.0))
    assert loud.distortion_nmr_db > quiet.distortion_nmr_db
    assert loud.pumping_db > quiet.pumping_db
    assert loud.density < quiet.density
    assert loud.steps > quiet.steps


def test_only_gain_is_no_damage() -> None:
    reached = bench().reach(plain(), -30.0)
    assert not reached.chain.limits
    assert reached.lufs == pytest.approx(-30.0, abs=0.02)
    assert reached.damage.distortion_nmr_db == pytest.approx(-100.0, abs=20.0)
    assert reached.damage.pumping_db < 1e-3


def test_glue_swings_to_two_decibels() -> None:
    sound = bench().stretch()
    for ratio, threshold in glue_thresholds(bench()).items():
        assert NeedleReader(sound).swing(Curve(threshold, ratio)).both_db == pytest.approx(2.0, abs=0.05)


def test_shares_are_one_at_the_limits() -> None:
    damage = Damage(1.5, 1.0, 3.0, 0.5, 9.0)
    assert list(damage.shares.values()) == pytest.approx([1.0] * 4)
    assert damage.clean
    assert not replace(damage, pumping_db=1.01).clean
    assert replace(damage, hit_loss_db=4.0).worst == "hits"


def test_every_move_that_stays_gains_more_than_a_step() -> None:
    mastering = find_chain(ready(), -11.0, CEILING)
    assert mastering.moves
    for move in mastering.moves:
        before, after = move.before.damage, move.after.damage
        assert move.before.lufs == pytest.approx(move.after.lufs, abs=0.1)
        if move.taken:
            assert after.steps < before.steps - LEAST_BENEFIT
            assert gained(move.before, move.after, move.tone.moved_db, -11.0) > LEAST_BENEFIT
    stages = [move.after for move in mastering.moves if move.taken]
    assert mastering.reached == (stages[-1] if stages else mastering.moves[0].before)


def test_where_nothing_is_near_to_being_heard_the_limiter_stays_alone() -> None:
    mastering = find_chain(ready(), -19.0, CEILING)
    assert mastering.moves
    assert mastering.moves[0].before.damage.steps < LEAST_BENEFIT
    assert not any(move.taken for move in mastering.moves)
    assert mastering.reached.chain.release_s == GENTLE.release_s


def test_tone_moved_is_no_gain_and_loudness_past_the_target_neither() -> None:
    loud = bench().reach(plain(), -11.0)
    assert gained(loud, loud, 0.0, -11.0) == 0.0
    assert gained(loud, loud, 3.0, -11.0) < 0.0
    assert gained(loud, replace(loud, lufs=-10.0), 0.0, -11.0) == pytest.approx(0.0, abs=0.05)
    assert gained(replace(loud, lufs=-12.0), loud, 0.0, -11.0) == pytest.approx(2.0, abs=0.05)


def test_one_more_lu_costs_more() -> None:
    mastering = find_chain(ready(), -12.0, CEILING)
    assert mastering.louder is not None
    assert mastering.louder.lufs == pytest.approx(-11.0, abs=0.05)
    assert mastering.louder.damage.steps > mastering.reached.damage.steps


def test_out_of_reach_is_said_with_the_loudest_clean_level() -> None:
    mastering = find_chain(ready(), -6.0, CEILING)
    assert not mastering.reaches_cleanly
    assert mastering.clean.damage.clean
    assert mastering.clean_lufs < -6.0
    assert not bench().reach(mastering.clean.chain, mastering.clean_lufs + 0.6).damage.clean


def test_a_mix_that_is_loud_enough_needs_no_limiting() -> None:
    mastering = find_chain(ready(), -28.0, CEILING)
    assert not mastering.reached.chain.limits
    assert mastering.moves == ()
    assert mastering.louder is None


def test_the_same_moves_are_set_anew_for_another_state() -> None:
    chain = find_chain(ready(), -11.0, CEILING).reached.chain
    softer = Signal(ready().source.read(0, 1 << 30) * np.float32(0.5), RATE)
    measured = measure_again(softer, yardstick_of(Settings()), Quiet())
    other = premaster(softer, dict(measured.records), measured.trace)
    assert other is not None
    again = refitted(ChainBench(other, CEILING), chain, -11.0)
    gain = again.chain.gain_db + (again.chain.saturation.into_db if again.chain.saturation else 0.0)
    wanted = chain.gain_db + (chain.saturation.into_db if chain.saturation else 0.0)
    assert gain == pytest.approx(wanted + 6.02, abs=0.1)
    assert again.lufs == pytest.approx(-11.0, abs=0.05)


def test_brightness_is_told_at_matched_loudness() -> None:
    sound = bench().stretch()
    before = tone_of(sound.samples, RATE)
    same = tone_step(before, tone_of(sound.samples * np.float32(2.0), RATE))
    assert not same.noticeable
    assert same.changes == ()
    raised = eq.high_shelf(sound, 3000.0, 3.0)
    bright = tone_step(before, tone_of(raised.samples, RATE))
    assert bright.noticeable
    # the shelf is 2.6 dB at 5 kHz and 3 dB above; what it adds to the loudness is taken off (read by another meter)
    assert bright.bright_db == pytest.approx(2.9 - (lufs_of(raised) - lufs_of(sound)), abs=0.25)


def test_the_gentle_limiter_is_where_the_search_starts() -> None:
    mastering = find_chain(ready(), -11.0, CEILING)
    assert mastering.moves[0].kind == "release"
    assert mastering.moves[0].before.chain.release_s == GENTLE.release_s
