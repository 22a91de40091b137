"""Resonances are found; held notes, tunes and plain noise are not taken for them."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import signal as scipy_signal

from features.records.spectrum import Resonance
from features.sound.signal import Signal
from features.sound.spectrogram import SpectrogramMeter
from features.tone.resonance import find_resonances
from features.tone.spectrum import measure_spectrum
from tests import signals

RATE_HZ = signals.RATE_HZ
Floats = NDArray[np.float64]


def resonances_of(wave: Floats) -> tuple[Resonance, ...]:
    meter = SpectrogramMeter(RATE_HZ, 2)
    for block in Signal(signals.stereo(wave), RATE_HZ).blocks():
        meter.push(block)
    return measure_spectrum(meter.finish()).resonances


def bell(wave: Floats, frequency_hz: float, q: float, gain_db: float) -> Floats:
    """Bell of the audio EQ cookbook (Bristow-Johnson), by an independent filter."""
    a, w = 10 ** (gain_db / 40), 2 * np.pi * frequency_hz / RATE_HZ
    alpha = np.sin(w) / (2 * q)
    top = [1 + alpha * a, -2 * np.cos(w), 1 - alpha * a]
    return np.asarray(scipy_signal.lfilter(top, [1 + alpha / a, -2 * np.cos(w), 1 - alpha / a], wave), np.float64)


def music(duration_s: float = 24.0) -> Floats:
    """Drums and changing chords over a bed of noise: what a filter would pass."""
    drums = signals.drums(duration_s)[0].astype(np.float64)
    chords = [
        signals.chord_wave(2.0, notes_hz=tuple(110 * 2 ** (n / 12) for n in notes)) for notes in ((0, 7, 16), (5, 12, 21), (-2, 9, 14))
    ]
    tune = np.concatenate([chords[number % 3] for number in range(int(duration_s / 2))])
    return np.asarray(drums + 0.15 * tune + 2 * signals.pink_wave(duration_s, rms_dbfs=-30.0), np.float64)


@pytest.mark.parametrize(("frequency_hz", "q"), [(700.0, 8.0), (2500.0, 8.0), (5000.0, 12.0)])
def test_a_ringing_filter_is_found(frequency_hz: float, q: float) -> None:
    wave = bell(signals.pink_wave(20.0) * (1 + 0.5 * np.sin(np.arange(20 * RATE_HZ) / RATE_HZ * 3)), frequency_hz, q, 10.0)
    (resonance,) = resonances_of(wave)
    assert resonance.frequency_hz == pytest.approx(frequency_hz, rel=0.03)
    assert resonance.prominence_db == pytest.approx(9.0, abs=2.0)
    assert resonance.q == pytest.approx(q, rel=0.4)
    assert resonance.present_share > 0.9
    assert 1 <= len(resonance.where) <= 3


def pictured(gain_db: float, *, unrest_db: float, q: float = 8.0, wall_db: float = 0.0) -> tuple[Resonance, ...]:
    """Resonances of a picture in which each region moves by itself, one of them lifted by a bell at 2.24 kHz."""
    random = np.random.default_rng(5)
    meter = SpectrogramMeter(RATE_HZ, 2)
    meter.push(signals.pink(40.0))
    plain = meter.finish()
    near = int(np.argmin(np.abs(np.log2(plain.detail_hz / 2240.0))))
    lift = gain_db / (1.0 + (2 * q * np.log2(plain.detail_hz / plain.detail_hz[near])) ** 2)
    lift[near + 2 :] -= wall_db
    unrest = random.normal(0.0, 4.0, plain.detail_db.shape)
    unrest[:, near] *= unrest_db / 4.0
    shared = random.normal(0.0, 1.0, (len(plain.detail_db), 1))
    fine = 10 ** (gain_db / 10 / (1.0 + (2 * q * np.log2(np.maximum(plain.fine_hz, 1.0) / plain.detail_hz[near])) ** 2))
    moved = replace(plain, detail_db=(-50.0 + lift + unrest + shared).astype(np.float16), fine_left=fine, fine_right=fine)
    return find_resonances(moved, np.ones(len(plain.detail_db), np.bool_))


def test_what_is_always_there_and_hardly_less_steady_than_its_neighbours_is_found_though_it_does_not_follow_them() -> None:
    (resonance,) = pictured(14.0, unrest_db=3.4)
    assert resonance.frequency_hz == pytest.approx(2240.0, rel=0.03)
    assert pictured(14.0, unrest_db=5.6) == ()  # far less steady than its neighbours: it comes and goes
    assert pictured(14.0, unrest_db=3.4, q=40.0) == ()  # as narrow as a note
    assert pictured(0.0, unrest_db=3.4) == ()


def test_the_shoulder_of_a_wall_is_no_resonance() -> None:
    assert len(pictured(12.0, unrest_db=3.4)) == 1
    assert pictured(12.0, unrest_db=3.4, wall_db=60.0) == ()


def test_it_is_found_in_music_and_only_it() -> None:
    clean = music()
    assert not [resonance for resonance in resonances_of(clean) if abs(np.log2(resonance.frequency_hz / 3000)) < 0.2]
    rung = resonances_of(bell(clean, 3000.0, 8.0, 10.0))
    assert [resonance for resonance in rung if abs(np.log2(resonance.frequency_hz / 3000)) < 0.08]


@pytest.mark.parametrize("note_hz", [110.0, 220.0, 440.0, 1760.0])
def test_a_note_held_all_song_is_no_resonance(note_hz: float) -> None:
    wave = music() + signals.sine_wave(note_hz, 24.0, peak_dbfs=-14.0)
    assert not [resonance for resonance in resonances_of(wave) if abs(np.log2(resonance.frequency_hz / note_hz)) < 0.15]


def test_a_tune_has_none_and_noise_has_none() -> None:
    assert resonances_of(signals.pink_wave(20.0)) == ()
    assert resonances_of(signals.white_wave(20.0)) == ()
