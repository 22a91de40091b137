"""Stereo readings: faults planted and absent, invariants, and sounds with nothing to measure."""

import numpy as np
import pytest

from features.records.stereo import Stereo
from features.sound.signal import Samples
from features.stereo.delay import fixed_delay_ms
from tests import signals
from tests.sounds.meters import spectrogram_of, stereo_of


def song(rate_hz: int = signals.RATE_HZ, duration_s: float = 16.0) -> Samples:
    """Centred drums, a chord a little to the left, decorrelated room."""
    room = signals.pink(duration_s, rate_hz, rms_dbfs=-34.0, seed=3)
    chord = 0.1 * signals.chord_wave(duration_s, rate_hz)
    return np.asarray(0.6 * signals.drums(duration_s, rate_hz) + room + signals.stereo(chord, 0.7 * chord), np.float32)


def test_a_plain_song_has_no_faults() -> None:
    stereo = stereo_of(song())
    assert not stereo.polarity_inverted
    assert stereo.delay_ms is None
    assert stereo.worst == ()
    assert stereo.mono_loss_db is not None
    assert 0.0 < stereo.mono_loss_db < 1.0


def test_an_inverted_channel_is_found_even_when_a_little_turned_down() -> None:
    samples = song()
    samples[1] *= -0.8
    stereo = stereo_of(samples)
    assert stereo.polarity_inverted
    assert stereo.correlation is not None
    assert stereo.correlation < -0.8


@pytest.mark.parametrize("correlation", [0.0, -0.3, -0.6])
def test_a_very_wide_song_is_not_an_inverted_one(correlation: float) -> None:
    assert not stereo_of(signals.pink(12.0, correlation=correlation)).polarity_inverted


def test_an_upside_down_bass_alone_is_not_an_inverted_channel() -> None:
    bass = signals.sine_wave(55.0, 12.0, peak_dbfs=-6.0)
    assert not stereo_of(song(duration_s=12.0) + signals.stereo(bass, -bass)).polarity_inverted


def test_one_inverted_element_in_its_band_is_not_an_inverted_channel_but_shows_in_the_band() -> None:
    chord = 0.2 * signals.sine_wave(440.0, 12.0)
    samples = signals.pink(12.0, rms_dbfs=-30.0, correlation=1.0) + signals.stereo(chord, -chord)
    stereo = stereo_of(samples)
    band = int(np.argmin(np.abs(np.array(stereo.band_hz) - 440.0)))
    assert not stereo.polarity_inverted
    assert stereo.band_negative_share[band] == 1.0
    assert stereo.band_negative_share[band + 6] == 0.0
    loss = stereo.band_mono_loss_db[band]
    assert loss is not None
    assert loss > 15.0


def test_negative_share_counts_the_time_in_which_a_band_plays() -> None:
    wave = signals.pink_wave(30.0, rms_dbfs=-20.0)
    right = wave.copy()
    right[: 9 * signals.RATE_HZ] *= -1.0  # 9 of the 20 s that sound
    wave[20 * signals.RATE_HZ :] = 0.0
    right[20 * signals.RATE_HZ :] = 0.0
    share = stereo_of(signals.stereo(wave, right)).band_negative_share[15]
    assert share == pytest.approx(9.0 / 20.0, abs=0.05)


def test_the_stretch_that_loses_most_in_mono_is_named() -> None:
    samples = song(duration_s=30.0)
    samples[1, 12 * signals.RATE_HZ : 18 * signals.RATE_HZ] *= -1.0
    stereo = stereo_of(samples)
    assert len(stereo.worst) == 1
    worst = stereo.worst[0]
    assert worst.value > 6.0
    assert worst.start_s == pytest.approx(12.0, abs=3.0)
    assert worst.end_s == pytest.approx(18.0, abs=3.0)
    band = stereo.band_worst[17]
    assert band is not None
    assert 11.0 <= band.start_s <= 14.0


def test_worst_stretches_are_at_most_five_and_sorted() -> None:
    samples = song(duration_s=64.0)
    for start in range(4, 64, 8):
        samples[1, start * signals.RATE_HZ : (start + 2) * signals.RATE_HZ] *= -1.0
    values = [moment.value for moment in stereo_of(samples).worst]
    assert len(values) == 5
    assert values == sorted(values, reverse=True)


def room(seed: int, seconds: float = 1.0) -> Samples:
    """Return a decaying noise tail after a direct sound."""
    time = np.arange(round(seconds * signals.RATE_HZ)) / signals.RATE_HZ
    tail = np.random.default_rng(seed).standard_normal(len(time)) * np.exp(-time / 0.15)
    return np.asarray(0.5 * tail / np.sqrt(np.sum(tail**2)), np.float32)


@pytest.mark.parametrize("direct", [0.0, 0.5, 1.0])
def test_a_decorrelated_room_is_no_delay(direct: float) -> None:
    size = 12 * signals.RATE_HZ
    dry = signals.drums(12.0)[0].astype(np.float64) + 0.1 * signals.pink_wave(12.0)
    wet = [np.fft.irfft(np.fft.rfft(dry, 2 * size) * np.fft.rfft(room(seed), 2 * size), 2 * size)[:size] for seed in (1, 2)]
    delay_ms, reason = fixed_delay_ms(spectrogram_of(signals.stereo(direct * dry + wet[0], direct * dry + wet[1])))
    assert delay_ms is None
    assert reason


def test_hard_panned_double_tracks_and_one_widened_element_are_no_delay() -> None:
    left_take, right_take, centre = (signals.pink_wave(12.0, rms_dbfs=-24.0, seed=seed) for seed in (1, 2, 3))
    assert stereo_of(signals.stereo(centre + left_take, centre + right_take)).delay_ms is None
    # a widened element under a centre as loud as itself
    assert stereo_of(signals.stereo(centre + left_take, centre + np.roll(left_take, 600))).delay_ms is None


@pytest.mark.parametrize("frequency_hz", [100.0, 440.0, 3000.0])
def test_a_shifted_sine_is_phase_and_no_delay(frequency_hz: float) -> None:
    late = signals.sine_wave(frequency_hz, 10.0, phase_degrees=-70.0)
    assert stereo_of(signals.stereo(signals.sine_wave(frequency_hz, 10.0), late)).delay_ms is None


def test_a_late_channel_in_a_song_is_found_also_upside_down_and_turned_down() -> None:
    left = song()[0]
    late = np.roll(left, 240)
    assert stereo_of(signals.stereo(left, 0.7 * late)).delay_ms == pytest.approx(5.0, abs=0.02)
    assert stereo_of(signals.stereo(left, -late)).delay_ms == pytest.approx(5.0, abs=0.02)


def test_swapped_channels_turn_the_sign_of_balance_and_delay_only() -> None:
    samples = song()
    samples[1] = np.roll(samples[0], 96) * 0.9
    stereo, swapped = stereo_of(samples), stereo_of(np.ascontiguousarray(samples[::-1]))
    assert stereo.balance_db is not None
    assert swapped.balance_db == pytest.approx(-stereo.balance_db, abs=1e-6)
    assert stereo.delay_ms == pytest.approx(2.0, abs=0.02)
    assert swapped.delay_ms == pytest.approx(-2.0, abs=0.02)
    assert swapped.correlation == pytest.approx(stereo.correlation, abs=1e-9)
    assert swapped.mono_loss_db == pytest.approx(stereo.mono_loss_db, abs=1e-6)


def readings(stereo: Stereo) -> list[float]:
    values = (stereo.correlation, stereo.mono_loss_db, stereo.balance_db, stereo.side_share)
    return [value for value in values if value is not None]


def test_gain_changes_nothing() -> None:
    assert readings(stereo_of(0.25 * song())) == pytest.approx(readings(stereo_of(song())), abs=1e-3)


@pytest.mark.parametrize("rate_hz", signals.RATES_HZ)
def test_sampling_rates_agree(rate_hz: int) -> None:
    stereo = stereo_of(song(rate_hz), rate_hz)
    assert stereo.correlation == pytest.approx(0.935, abs=0.01)
    assert stereo.balance_db == pytest.approx(0.1, abs=0.25)


@pytest.mark.parametrize(
    "samples", [signals.silence(0.0), signals.silence(3.0), np.full((2, 1), 0.5, np.float32), signals.silence(3.0, channels=1)]
)
def test_nothing_to_measure_gives_reasons(samples: Samples) -> None:
    stereo = stereo_of(samples)
    named = {absence.field for absence in stereo.absent}
    for name in ("mono_loss_db", "balance_db", "delay_ms"):
        assert getattr(stereo, name) is None
        assert name in named


def test_a_mono_file_and_a_silent_channel_have_no_stereo() -> None:
    wave = signals.pink_wave(5.0)
    for samples, word in ((signals.mono(wave), "one channel"), (signals.stereo(wave, 0.0 * wave), "silent")):
        stereo = stereo_of(samples)
        assert stereo.correlation is None
        assert set(stereo.band_correlation) == {None}
        assert all(word in absence.reason for absence in stereo.absent)
        assert sum(stereo.band_energy_share) == pytest.approx(1.0)


def test_above_full_scale_is_measured_as_it_is() -> None:
    assert readings(stereo_of(30.0 * song())) == pytest.approx(readings(stereo_of(song())), abs=1e-3)
