"""Need for compression: made sounds whose state is known, and settings that do on the sound what they promise."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from features.elements.dynamics.attacks import alike_spread_db, find_attacks
from features.elements.dynamics.compression import timing_from_crest
from features.elements.dynamics.dynamics import Reading, judge, measure_dynamics
from features.elements.dynamics.envelope import EnvelopeMeter, EnvelopeTrace
from features.processors.dynamics.compressor import Curve, Timing, compress, reduction_db, threshold_for
from features.records.base import Span
from features.records.elements import ElementDynamics, Role
from features.sound.signal import Samples
from tests import signals
from tests.signals import Floats

RATE = 22050
BEAT_S = 0.4
BEATS = 60


def traced(samples: Samples, rate_hz: int = RATE, size: int = 1 << 17) -> EnvelopeTrace:
    meter = EnvelopeMeter(rate_hz, samples.shape[0])
    for at in range(0, samples.shape[1], size):
        meter.push(samples[:, at : at + size])
    return meter.finish()


def measured(wave: Floats | Samples, role: Role, rate_hz: int = RATE) -> ElementDynamics:
    samples = signals.mono(wave) if np.ndim(wave) == 1 else np.asarray(wave, np.float32)
    return measure_dynamics(traced(samples, rate_hz), (), role)


def jumps(seed: int = 2, count: int = BEATS) -> Floats:
    """Return gains that jump by 6 to 10 dB from one to the next."""
    random = np.random.default_rng(seed)
    level, levels = 0.0, []
    for _ in range(count):
        step = random.uniform(6.0, 10.0) * random.choice((-1.0, 1.0))
        level += step if -12.0 <= level + step <= 2.0 else -step
        levels.append(level)
    return np.asarray(10 ** (np.array(levels) / 20))


def kicks(gains: Floats, rate_hz: int = RATE) -> Floats:
    beat = np.zeros(round(BEAT_S * rate_hz))
    hit = 0.4 * signals.kick_wave(rate_hz, decay_s=0.06)[: len(beat)]
    beat[: len(hit)] = hit
    return np.asarray((gains[:, None] * beat).reshape(-1))


def bass(gains: Floats) -> Floats:
    """Return plucked notes of four pitches, each ringing until the next."""
    time = np.arange(round(BEAT_S * RATE)) / RATE
    notes = []
    for number, gain in enumerate(gains):
        hz = (55.0, 65.4, 49.0, 73.4)[number % 4]
        tone = sum(np.sin(2 * np.pi * hz * k * time) / k for k in range(1, 6))
        notes.append(gain * np.minimum(time / 0.004, 1.0) * (0.25 + np.exp(-time / 0.1)) * tone * 0.15)
    return np.asarray(np.concatenate(notes))


def voice(gains: Floats) -> Floats:
    """Return syllables that swell and fade, of many lengths."""
    random = np.random.default_rng(9)
    parts = []
    for gain in gains:
        length = random.uniform(0.15, 0.6)
        time = np.arange(round(length * RATE)) / RATE
        hz = random.uniform(180.0, 320.0)
        tone = sum(np.sin(2 * np.pi * hz * k * time + k) / k for k in range(1, 12))
        swell = np.sin(np.pi * np.minimum(time / length, 1.0)) ** 0.7
        parts += [0.1 * gain * swell * tone, np.zeros(round(random.uniform(0.05, 0.15) * RATE))]
    return np.asarray(np.concatenate(parts))


def squashed(wave: Floats) -> Samples:
    sound = signals.signal(signals.mono(wave), RATE)
    timing = Timing(0.2, 60.0)
    threshold = threshold_for(sound, 12.0, 20.0, timing)
    assert threshold is not None
    return compress(sound, Curve(threshold, 20.0), timing, 6.0).samples


EVEN = np.ones(BEATS)
NEAR = np.asarray(10 ** (np.random.default_rng(8).uniform(-1.0, 1.0, BEATS) / 20))


@pytest.mark.parametrize(("role", "make"), [("kick", kicks), ("bass", bass)])
def test_programmed_is_finished_and_with_jumps_raw(role: Role, make: Callable[[Floats], Floats]) -> None:
    finished, raw = measured(make(EVEN), role), measured(make(jumps()), role)
    assert finished.state == "finished"
    assert finished.threshold_dbfs is None
    assert finished.where == ()
    assert finished.hits in range(BEATS - 2, BEATS + 1)
    assert raw.state == "raw"
    assert len(raw.signs) >= 2
    assert raw.hit_spread_db == pytest.approx(float(np.std(20 * np.log10(jumps()))), abs=0.6)
    assert raw.where


def test_a_recorded_voice_that_jumps_is_raw() -> None:
    element_dynamics = measured(voice(jumps(5)), "vocal")
    assert element_dynamics.state == "raw"
    assert element_dynamics.ratio is not None
    assert 2.0 <= element_dynamics.ratio <= 4.0


def test_an_even_voice_is_neither_raw_nor_accused() -> None:
    assert measured(voice(EVEN), "vocal").state in {"finished", "unclear"}


def test_settings_do_on_the_sound_what_they_promise() -> None:
    wave = bass(jumps())
    element_dynamics = measured(wave, "bass")
    assert element_dynamics.threshold_dbfs is not None
    assert element_dynamics.ratio is not None
    assert element_dynamics.attack_ms is not None
    assert element_dynamics.release_ms is not None
    assert 5.0 <= element_dynamics.attack_ms <= 50.0
    assert 50.0 <= element_dynamics.release_ms <= 300.0
    sound = signals.signal(signals.mono(wave), RATE)
    curve, timing = (
        Curve(element_dynamics.threshold_dbfs, element_dynamics.ratio),
        Timing(element_dynamics.attack_ms, element_dynamics.release_ms),
    )
    assert element_dynamics.reduction_db == pytest.approx(float(np.quantile(reduction_db(sound, curve, timing), 0.95)), abs=0.7)
    assert element_dynamics.jumps_db is not None
    assert element_dynamics.jumps_after_db is not None
    spreads = [note_spread(notes.samples[0]) for notes in (sound, compress(sound, curve, timing))]
    assert spreads[0] == pytest.approx(element_dynamics.jumps_db, abs=0.5)
    assert spreads[1] == pytest.approx(element_dynamics.jumps_after_db, abs=0.5)
    assert spreads[1] < 0.85 * spreads[0]


def note_spread(wave: Samples) -> float:
    notes = wave[: BEATS * round(BEAT_S * RATE)].reshape(BEATS, -1)[:, : RATE // 5]
    return float(np.std(10 * np.log10(np.mean(notes.astype(np.float64) ** 2, axis=1))))


def test_squashed_is_over_compressed_and_a_generator_is_not_accused() -> None:
    done = measured(squashed(bass(EVEN)), "bass")
    assert done.state == "over-compressed"
    assert len(done.signs) >= 2
    assert done.ratio is None
    organ = 0.3 * np.concatenate([signals.fade(signals.sine_wave(hz, 1.0, RATE), RATE, 0.005) for hz in (220.0, 262.0, 330.0) * 8])
    assert measured(organ, "keys").state != "over-compressed"
    assert measured(organ, "bass").state != "over-compressed"


def test_accents_and_mixed_sounds_of_a_programmed_kit_are_no_jumps() -> None:
    kit = signals.drums(20.0, RATE)
    element_dynamics = measured(kit, "drums")
    assert element_dynamics.state == "finished"
    attacks = find_attacks(traced(kit).peak, traced(kit).mean_square)
    alike = alike_spread_db(attacks)
    assert alike is not None
    assert alike < 1.0
    assert np.ptp(attacks.peaks_dbfs) > 1.5  # kick and snare are not of one height


@pytest.mark.parametrize("gains", [EVEN, jumps()])
def test_gain_channels_and_blocks_do_not_matter(gains: Floats) -> None:
    wave = bass(gains)
    own = measured(wave, "bass")
    soft = measured(0.05 * wave, "bass")
    assert soft.state == own.state
    assert soft.hits == own.hits
    if own.threshold_dbfs is not None:
        assert soft.threshold_dbfs == pytest.approx(own.threshold_dbfs + 20 * np.log10(0.05), abs=0.2)
    assert measured(signals.stereo(wave), "bass") == own
    assert measured(signals.stereo(wave, np.zeros_like(wave)), "bass") == own
    assert measure_dynamics(traced(signals.mono(wave), size=777), (), "bass") == own


@pytest.mark.parametrize("rate_hz", [8000, 44100, 96000])
def test_rate_does_not_matter(rate_hz: int) -> None:
    own, other = measured(kicks(jumps()), "kick"), measured(kicks(jumps(), rate_hz), "kick", rate_hz)
    assert other.state == own.state == "raw"
    assert other.hit_spread_db == pytest.approx(own.hit_spread_db, abs=0.5)
    assert other.threshold_dbfs == pytest.approx(own.threshold_dbfs, abs=1.0)


def test_what_lies_outside_its_playing_is_left_out() -> None:
    wave = np.concatenate([kicks(EVEN), kicks(jumps())])
    half_s = BEATS * BEAT_S
    assert measure_dynamics(traced(signals.mono(wave)), (Span(0.0, half_s),), "kick").state == "finished"
    late = measure_dynamics(traced(signals.mono(wave)), (Span(half_s, 2 * half_s),), "kick")
    assert late.state == "raw"
    assert all(span.end_s > half_s for span in late.where)


def test_where_the_jumps_are() -> None:
    wave = np.concatenate([kicks(NEAR[:12]), kicks(jumps()), kicks(NEAR[:12])])
    element_dynamics = measure_dynamics(traced(signals.mono(wave)), (), "kick")
    assert element_dynamics.state == "raw"
    assert all(span.start_s > 2.0 and span.end_s < (BEATS + 24) * BEAT_S - 2.0 for span in element_dynamics.where)


BASE = Reading(40, 1.5, 1.0, 3.0, 7.0, 4.0, 9.0, 5.0, 0.1, 100.0)


@pytest.mark.parametrize(
    ("read", "role", "state"),
    [
        (BASE, "bass", "unclear"),
        (replace(BASE, alike=3.0), "bass", "unclear"),  # one sign is not enough
        (replace(BASE, alike=3.0, hits=5.0), "bass", "raw"),
        (replace(BASE, alike=3.0, level=10.0), "bass", "raw"),
        (replace(BASE, alike=3.0, repeats=4.0, level=10.0), "bass", "unclear"),  # accents at set levels
        (replace(BASE, alike=3.0, level=10.0), "kick", "unclear"),  # drums fall silent in between
        (replace(BASE, alike=0.5, hits=5.0, level=10.0), "bass", "unclear"),  # what sounds alike does not differ
        (replace(BASE, hits=5.0, level=10.0), "bass", "raw"),
        (replace(BASE, hits=5.0, level=10.0), "pad", "unclear"),
        (replace(BASE, alike=None, level=10.0, phrase=6.0), "vocal", "raw"),
        (replace(BASE, alike=None, level=10.0, phrase=6.0), "pad", "unclear"),  # a pad swells by arrangement
        (replace(BASE, alike=0.2), "bass", "unclear"),
        (replace(BASE, alike=0.2, hits=1.0), "bass", "finished"),
        (replace(BASE, still=1.2, still_share=0.7), "synth", "over-compressed"),
        (replace(BASE, still=1.2, still_share=0.7, notes=1.0), "synth", "unclear"),  # a held tone
        (replace(BASE, still=0.3, still_share=0.9), "synth", "unclear"),  # a generator
        (replace(BASE, still=2.5, still_share=0.4, phrase=1.0), "kick", "over-compressed"),
        (replace(BASE, still=2.5, still_share=0.4, phrase=1.0), "pad", "unclear"),
    ],
)
def test_two_signs_must_agree(read: Reading, role: Role, state: str) -> None:
    verdict, signs = judge(read, role)
    assert verdict == state
    assert state == "unclear" or len(signs) >= 2
    assert all(any(letter.isdigit() for letter in sign) for sign in signs)


@pytest.mark.parametrize(
    ("crest_db", "attack_ms", "release_ms"),
    [
        (9.0309, 20.0, 230.0),
        (3.0, 50.0, 300.0),
        (25.0, 5.0, 50.0),
    ],  # C = 2.83: 160 / 8 and 2000 / 8 - 20 (Giannoulis et al. 2013, recalled)
)
def test_timing_follows_the_crest(crest_db: float, attack_ms: float, release_ms: float) -> None:
    timing = timing_from_crest(crest_db)
    assert timing.attack_ms == pytest.approx(attack_ms, abs=0.01)
    assert timing.release_ms == pytest.approx(release_ms, abs=0.1)


@pytest.mark.parametrize(
    "samples",
    [
        signals.silence(5.0, RATE),
        signals.silence(0.0, RATE),
        signals.mono(np.ones(1)),
        signals.drums(0.3, RATE),
        signals.drums(6.0, RATE) * 4,
    ],
)
def test_bad_input(samples: Samples) -> None:
    element_dynamics = measure_dynamics(traced(samples), (), "drums")
    for value in (
        element_dynamics.hit_spread_db,
        element_dynamics.phrase_spread_db,
        element_dynamics.crest_200ms_db,
        element_dynamics.threshold_dbfs,
        element_dynamics.reduction_db,
    ):
        assert value is None or np.isfinite(value)
    if samples.shape[1] < RATE or not samples.any():
        assert element_dynamics.state == "unclear"
