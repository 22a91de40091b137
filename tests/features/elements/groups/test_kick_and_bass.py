"""Kick against bass: closed forms for waves that are related, nothing for waves that are not."""

import numpy as np
import pytest

from features.elements.dynamics.envelope import EnvelopeMeter, EnvelopeTrace
from features.elements.groups.kick_and_bass import measure_kick_and_bass
from features.processors.placement.delay import delay
from features.processors.placement.polarity import invert
from features.records.elements import KickAndBass
from features.sound.signal import Samples
from tests import signals
from tests.signals import Floats

RATE = 16000
BEAT_S = 0.5
BEATS = 24


def traced(samples: Samples, rate_hz: int = RATE, size: int = 1 << 17) -> EnvelopeTrace:
    meter = EnvelopeMeter(rate_hz, samples.shape[0])
    for at in range(0, samples.shape[1], size):
        meter.push(samples[:, at : at + size])
    return meter.finish()


def strokes(hz: float, decay_s: float, phases: Floats | None = None, rate_hz: int = RATE) -> Floats:
    """Return a decaying tone on each beat, starting at the phase given for it (0 = zero, going up)."""
    frames = round(BEAT_S * rate_hz)
    time = np.arange(frames) / rate_hz
    starts = np.zeros(BEATS) if phases is None else phases
    rise = np.minimum(time / 0.005, 1.0)
    wave = rise * np.exp(-time / decay_s) * np.sin(2 * np.pi * hz * time + starts[:, None])
    return np.asarray(0.5 * wave.reshape(-1))


def measured(kick: Floats, bass: Floats, rate_hz: int = RATE) -> KickAndBass:
    pair = measure_kick_and_bass(traced(signals.mono(kick), rate_hz), traced(signals.mono(bass), rate_hz), "boom", "low")
    assert pair is not None
    return pair


@pytest.mark.parametrize("share", [1.0, 0.5, -0.5, -1.0])
def test_copies_follow_the_closed_form(share: float) -> None:
    kick = strokes(60.0, 0.08)
    pair = measured(kick, share * kick)
    assert pair.sum_gain_db == pytest.approx(max(10 * np.log10((1 + share) ** 2 / (1 + share**2) + 1e-12), -40.0), abs=0.01)
    assert pair.flipped_gain_db == pytest.approx(max(10 * np.log10((1 - share) ** 2 / (1 + share**2) + 1e-12), -40.0), abs=0.01)
    assert pair.gain_spread_db == pytest.approx(0.0, abs=0.1)
    assert pair.flip_helps_share == (1.0 if share < 0 else 0.0)
    assert BEATS - 2 <= pair.hits <= BEATS
    assert (pair.kick, pair.bass) == ("boom", "low")


@pytest.mark.parametrize("loud_db", [0.0, 12.0, 24.0])
def test_what_the_bass_takes_of_the_kick_shows_however_loud_it_is(loud_db: float) -> None:
    kick = strokes(60.0, 0.08)
    phases = np.random.default_rng(4).uniform(0, 2 * np.pi, BEATS)
    bass = 10 ** (loud_db / 20) * strokes(97.0, 0.3, phases)
    alone, taken = measured(kick, bass), measured(kick, bass - 0.5 * kick)
    assert taken.kick_left_db is not None
    assert alone.kick_left_db is not None
    left_alone, left_taken = (10 ** (pair.kick_left_db / 20) - 1 for pair in (alone, taken) if pair.kick_left_db is not None)
    assert left_taken - left_alone == pytest.approx(-0.5, abs=0.02), "half of the wave, whatever else the bass plays"
    assert loud_db > 12.0 or taken.kick_left_db == pytest.approx(-6.0, abs=2.0)


@pytest.mark.parametrize("share", [0.5, -0.5, -1.0])
def test_what_is_left_of_the_kick_follows_the_closed_form(share: float) -> None:
    kick = strokes(60.0, 0.08)
    pair = measured(kick, share * kick)
    assert pair.kick_left_db == pytest.approx(max(20 * np.log10(abs(1 + share) + 1e-12), -40.0), abs=0.01)
    assert pair.kick_flipped_db == pytest.approx(20 * np.log10(abs(1 - share)), abs=0.01)


def test_unrelated_phases_give_nothing() -> None:
    phases = np.random.default_rng(4).uniform(0, 2 * np.pi, BEATS)
    pair = measured(strokes(55.0, 0.08), strokes(58.0, 0.3, phases))
    assert abs(pair.sum_gain_db) < 0.7
    assert abs(pair.flipped_gain_db) < 0.7
    assert pair.flip_helps_share is not None
    assert 0.2 < pair.flip_helps_share < 0.8
    assert pair.gain_spread_db is not None
    assert pair.gain_spread_db > 1.0


def test_reversed_polarity_is_found_and_turning_it_back_restores_the_low_end() -> None:
    kick, bass = signals.signal(signals.mono(strokes(55.0, 0.08)), RATE), signals.signal(signals.mono(strokes(55.0, 0.25)), RATE)
    wrong = invert(bass, (0,))
    pair = measured(kick.samples[0], wrong.samples[0])
    assert pair.sum_gain_db < -1.0
    assert pair.flipped_gain_db > 1.0
    assert pair.where
    assert all(span.end_s > span.start_s for span in pair.where)
    right = measured(kick.samples[0], invert(wrong, (0,)).samples[0])
    assert right.sum_gain_db == pytest.approx(pair.flipped_gain_db, abs=1e-6)
    assert right.where == ()
    power = [float(np.mean((kick.samples + sound.samples) ** 2)) for sound in (wrong, bass)]
    assert 10 * np.log10(power[1] / power[0]) > 2.0


@pytest.mark.parametrize("late_ms", [-6.0, -2.5, 0.0, 4.0])
def test_best_delay_undoes_a_shift(late_ms: float) -> None:
    kick = strokes(70.0, 0.05)
    bass = delay(signals.signal(signals.mono(kick), RATE), late_ms, (0,)).samples[0].astype(np.float64)
    pair = measured(kick, bass)
    assert pair.best_delay_ms == pytest.approx(-late_ms, abs=0.15)
    assert pair.best_gain_db == pytest.approx(3.01, abs=0.1)
    assert pair.best_gain_db >= pair.sum_gain_db - 1e-6


def test_only_kicks_under_which_the_bass_plays_count() -> None:
    kick, bass = strokes(60.0, 0.08), strokes(60.0, 0.25)
    bass[len(bass) // 2 :] = 0.0
    assert BEATS // 2 - 2 <= measured(kick, bass).hits <= BEATS // 2
    bass[len(bass) // 8 :] = 0.0
    assert measure_kick_and_bass(traced(signals.mono(kick)), traced(signals.mono(bass))) is None


def test_overlap_and_what_stays_audible() -> None:
    kick = strokes(50.0, 0.1)
    near, far = measured(kick, strokes(52.0, 0.3)), measured(kick, strokes(140.0, 0.3))
    assert near.overlap is not None
    assert far.overlap is not None
    assert near.overlap > 0.8
    assert far.overlap < 0.4
    shares = [measured(kick, gain * strokes(52.0, 0.3)).kick_audible_share for gain in (0.2, 1.0, 5.0)]
    assert shares[0] is not None
    assert shares[1] is not None
    assert shares[2] is not None
    assert shares[0] > 0.9
    assert shares[0] > shares[1] > shares[2]
    assert shares[2] < 0.2


def test_gain_of_both_rate_and_channels_do_not_matter() -> None:
    kick, bass = strokes(55.0, 0.08), strokes(55.0, 0.25)
    own = measured(kick, bass)
    assert measured(0.1 * kick, 0.1 * bass).sum_gain_db == pytest.approx(own.sum_gain_db, abs=1e-3)
    pair = [strokes(55.0, decay, rate_hz=44100) for decay in (0.08, 0.25)]
    assert measured(pair[0], pair[1], 44100).sum_gain_db == pytest.approx(own.sum_gain_db, abs=0.05)
    doubled = measure_kick_and_bass(traced(signals.stereo(kick), size=999), traced(signals.stereo(bass)))
    assert doubled is not None
    assert doubled.sum_gain_db == pytest.approx(own.sum_gain_db, abs=1e-6)


@pytest.mark.parametrize("samples", [signals.silence(5.0, RATE), signals.silence(0.0, RATE), signals.mono(np.ones(1))])
def test_bad_input(samples: Samples) -> None:
    bass = traced(signals.mono(strokes(55.0, 0.25)))
    assert measure_kick_and_bass(traced(samples), bass) is None
    assert measure_kick_and_bass(bass, traced(samples)) is None
