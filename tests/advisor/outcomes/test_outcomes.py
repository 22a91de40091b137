"""Outcomes of sound whose truth is known by construction."""

from collections.abc import Callable
from functools import cache

import numpy as np
import pytest
from scipy import signal as filters

from advisor.app.settings import Settings
from advisor.app.yardstick import yardstick_of
from advisor.measuring.measure import measure_excerpt
from advisor.outcomes.benefit import benefit
from advisor.outcomes.moved import distance_moved
from advisor.outcomes.outcomes import Outcomes, outcomes_of
from features.records.elements import Elements
from features.sound.signal import Samples
from features.tone.target import general_target
from tests import records, signals

SECONDS = 10.0
TARGET = general_target()


@cache
def song() -> Samples:
    chord = 0.15 * signals.chord_wave(SECONDS)
    bed = signals.pink(SECONDS, rms_dbfs=-32.0, correlation=0.5)
    return 0.3 * signals.drums(SECONDS) + signals.stereo(chord, np.roll(chord, 200)) + bed


def outcomes(samples: Samples) -> Outcomes:
    return outcomes_of(measure_excerpt(signals.signal(samples), yardstick_of(Settings())).records, TARGET)


def bell(samples: Samples, hz: float, gain_db: float, q: float = 1.0) -> Samples:
    """Audio EQ cookbook: peaking equaliser, by scipy."""
    a, w = 10 ** (gain_db / 40), 2 * np.pi * hz / signals.RATE_HZ
    alpha = np.sin(w) / (2 * q)
    above, below = [1 + alpha * a, -2 * np.cos(w), 1 - alpha * a], [1 + alpha / a, -2 * np.cos(w), 1 - alpha / a]
    return np.asarray(filters.lfilter(above, below, samples, axis=1), np.float32)


def known(value: float | None) -> float:
    assert value is not None
    return value


def test_a_fader_on_the_whole_mix_changes_nothing() -> None:
    plain, louder = outcomes(song()), outcomes(song() * np.float32(signals.amplitude(1.0)))
    moved = distance_moved(plain, louder)
    assert moved.steps < 0.02
    assert known(louder.room_lu) == pytest.approx(known(plain.room_lu), abs=0.05)
    assert benefit(plain, louder).total == pytest.approx(0.0, abs=0.1)


def test_a_bell_moves_pink_noise_by_a_known_distance() -> None:
    noise = signals.pink(SECONDS, rms_dbfs=-20.0, correlation=1.0)
    plain, raised = outcomes(noise), outcomes(bell(noise, 1000.0, 6.0))
    fine = np.geomspace(31.62 / 10**0.15, 15848.9 * 10**0.15, 3001)
    s = 1j * fine / 1000.0
    a = 10 ** (6.0 / 40)
    power = np.abs((s**2 + s * a + 1) / (s**2 + s / a + 1)) ** 2
    by_octave = np.array([10 * np.log10(part.mean()) for part in np.array_split(power, 10)])  # pink: the mean over log frequency
    louder = known_loudness_change(noise, bell(noise, 1000.0, 6.0))
    expected = float(np.sqrt(np.mean((by_octave - louder) ** 2)))
    assert distance_moved(plain, raised).tone_db == pytest.approx(expected, abs=0.1)
    assert expected > 1.5


def known_loudness_change(before: Samples, after: Samples) -> float:
    import pyloudnorm  # noqa: PLC0415 - an independent meter, slow to import

    meter = pyloudnorm.Meter(signals.RATE_HZ)
    return float(meter.integrated_loudness(after.T.astype(np.float64)) - meter.integrated_loudness(before.T.astype(np.float64)))


@pytest.mark.parametrize("hz", [250.0, 3200.0])
def test_more_of_a_bell_moves_further(hz: float) -> None:
    plain = outcomes(song())
    distances = [distance_moved(plain, outcomes(bell(song(), hz, gain))).tone_db for gain in (2.0, 4.0, 8.0)]
    assert distances == sorted(distances)
    assert distances[-1] > 2.5 * distances[0]


def test_an_upside_down_channel_is_lost_in_mono_and_turning_it_back_is_advised() -> None:
    narrow = 0.3 * signals.drums(SECONDS) + signals.pink(SECONDS, rms_dbfs=-32.0, correlation=0.8)
    flipped = narrow * np.array([[1.0], [-1.0]], np.float32)
    wrong, right = outcomes(flipped), outcomes(narrow)
    assert known(wrong.playback.mono_loss_lu) > known(right.playback.mono_loss_lu) + 5.0
    assert benefit(wrong, right).advised
    assert not benefit(right, wrong).advised
    assert distance_moved(wrong, right).tone_db < 0.05


def test_a_lean_is_read_and_setting_it_right_is_advised() -> None:
    leaning = outcomes(song() * np.array([[1.0], [signals.amplitude(-5.0)]], np.float32))
    right = outcomes(song())
    assert known(leaning.playback.lean_db) - known(right.playback.lean_db) == pytest.approx(5.0, abs=0.1)
    assert benefit(leaning, right).advised
    assert distance_moved(leaning, right).lean_db == pytest.approx(5.0, abs=0.1)


def test_hits_far_above_the_others_cost_room() -> None:
    strays = song().copy()
    for beat in range(0, int(SECONDS), 2):  # every fourth kick 8 dB up
        start = beat * signals.RATE_HZ
        strays[:, start : start + 6000] *= np.float32(signals.amplitude(8.0))
    plain, spoilt = outcomes(song()), outcomes(strays)
    assert known(spoilt.room_lu) < known(plain.room_lu) - 0.3
    assert known(benefit(spoilt, plain).change.room) > 0.5


def test_drums_under_a_louder_bed_are_heard_less() -> None:
    bed = signals.pink(SECONDS, rms_dbfs=-20.0, correlation=0.5)
    shares = [
        known(outcomes(0.3 * signals.drums(SECONDS) + bed * np.float32(signals.amplitude(by))).hits_heard) for by in (-12.0, -6.0, 0.0)
    ]
    assert shares[0] > shares[1] > shares[2]


def test_a_bass_heavy_song_loses_more_on_a_small_speaker() -> None:
    def shelf(samples: Samples) -> Samples:
        low = filters.sosfilt(filters.butter(2, 100.0, fs=signals.RATE_HZ, output="sos"), samples, axis=1)
        return np.asarray(samples + 2.0 * low, np.float32)

    assert known(outcomes(shelf(song())).playback.small_speaker_loss_db) > known(outcomes(song()).playback.small_speaker_loss_db) + 1.0


def test_silence_has_no_outcomes_and_no_distance() -> None:
    silent = outcomes(signals.silence(SECONDS))
    assert (silent.room_lu, silent.hits_heard, silent.tone_nats, silent.damage) == (None, None, None, None)
    assert benefit(silent, silent).total == 0.0


def with_elements(change: Callable[[Elements], Elements]) -> Outcomes:
    elements = change(records.elements())
    return outcomes_of({Elements: elements}, TARGET)


def test_main_elements_are_told_least_audible_first() -> None:
    measured = with_elements(lambda elements: elements)
    assert [element.name for element in measured.elements_heard] == ["pad", "bass", "snare", "kick", "lead"]
    assert known(measured.levels_nats) > 0.0
    assert {element.name for element in measured.stand.elements} == set(records.ORDINARY_ELEMENTS)


def test_an_element_raised_lies_that_far_away() -> None:
    in_mix_lu, playing_lu = records.ORDINARY_ELEMENTS["lead"][2:4]
    louder = records.element("lead", level={"in_mix_lu": in_mix_lu + 6.0, "while_playing_lu": playing_lu + 6.0})
    plain, raised = with_elements(lambda elements: elements), with_elements(lambda _: records.elements(louder))
    assert distance_moved(plain, raised).levels_db == pytest.approx(6.0 / np.sqrt(6.0))
    assert known(raised.levels_nats) > known(plain.levels_nats)
