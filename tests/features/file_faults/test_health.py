"""Faults of the file, each planted and each absent."""

import numpy as np
import pytest

from features.records.file import Health
from features.sound.signal import Samples
from tests import signals
from tests.sounds.meters import health_of

RATE_HZ = signals.RATE_HZ


def song(duration_s: float = 8.0, rate_hz: int = RATE_HZ) -> Samples:
    """Drums, chord and a little noise, faded at both ends, on a 24-bit grid."""
    chord = 0.15 * signals.chord_wave(duration_s, rate_hz)
    plain = 0.7 * signals.drums(duration_s, rate_hz) + signals.stereo(chord) + signals.pink(duration_s, rate_hz, rms_dbfs=-45.0)
    return on_grid(signals.fade(plain.astype(np.float64), rate_hz, 0.3), 24)


def on_grid(samples: np.ndarray[tuple[int, ...], np.dtype[np.float64]], bits: int) -> Samples:
    steps = 2.0 ** (bits - 1)
    return np.asarray(np.round(samples * steps) / steps, np.float32)


@pytest.fixture(scope="module")
def plain() -> Health:
    return health_of(song())


def test_a_plain_song_has_no_faults(plain: Health) -> None:
    assert plain.clipped_runs == plain.clipped_longest == plain.inter_sample_overs == plain.click_count == plain.not_finite == 0
    for places in (plain.clipped, plain.clicks, plain.gaps, plain.silent_channels):
        assert places == ()
    for name in ("clip_level_dbfs", "bandwidth_hz", "bandwidth_wall_db", "hum_hz", "hum_dbfs", "head_cut_dbfs", "tail_cut_dbfs"):
        assert getattr(plain, name) is None
    assert plain.effective_bits == 24
    assert not plain.silent
    assert not plain.identical_channels


def test_every_missing_reading_has_a_reason(plain: Health) -> None:
    named = {absence.field for absence in plain.absent}
    assert {"clip_level_dbfs", "bandwidth_hz", "bandwidth_wall_db", "hum_hz", "hum_dbfs", "noise_floor_dbfs"} <= named
    assert all(absence.reason for absence in plain.absent)


@pytest.mark.parametrize("block", [997, 65536, 200000])
def test_blocks_of_any_size_give_the_same_record(block: int) -> None:
    samples = np.clip(3.0 * song(5.0), -0.8, 0.8)
    samples[0, 100000] = -0.7
    samples[:, 150000:150960] = 0.0
    assert health_of(samples, block=block) == health_of(samples, block=samples.shape[1])


def test_clicks_are_found_where_they_were_planted() -> None:
    samples = song(12.0)
    planted = (1.7, 3.33, 6.85, 9.4)
    for number, time_s in enumerate(planted):
        samples[number % 2, round(time_s * RATE_HZ)] += 0.5
    health = health_of(samples)
    assert sorted(round(moment.start_s, 3) for moment in health.clicks) == list(planted)
    assert health.click_count == 4
    assert all(moment.value > 15.0 for moment in health.clicks)


def test_a_bad_edit_is_a_click() -> None:
    samples = signals.stereo(signals.fade(signals.sine_wave(220.0, 4.0, peak_dbfs=-6.0), RATE_HZ, 0.2))
    edited = np.concatenate([samples[:, :90000], samples[:, 90055:]], axis=1)  # a quarter of a period missing, from a zero on
    assert [round(moment.start_s, 3) for moment in health_of(edited).clicks] == [1.875]


def test_drum_hits_saw_waves_and_kinks_are_no_clicks() -> None:
    time = np.arange(6 * RATE_HZ) / RATE_HZ
    saw = 0.3 * (2.0 * ((55.0 * time) % 1.0) - 1.0)
    bare_kicks = signals.placed(signals.kick_wave(), signals.beat_times(6.0), 6.0)
    triangle = 0.4 * (2.0 * np.abs(2.0 * ((2.0 * time) % 1.0) - 1.0) - 1.0)
    steps = np.repeat(np.random.default_rng(2).uniform(-0.2, 0.2, 6 * 480), RATE_HZ // 480)[: len(time)]
    for wave in (saw, bare_kicks, triangle, steps):
        assert health_of(signals.stereo(wave)).click_count == 0


def test_a_dropout_is_a_gap_and_its_edges_are_no_clicks() -> None:
    samples = signals.pink(6.0, rms_dbfs=-16.0)
    samples[:, 2 * RATE_HZ : 2 * RATE_HZ + 1440] = 0.0
    samples[1, 4 * RATE_HZ : 4 * RATE_HZ + 4800] = 0.0
    health = health_of(samples)
    assert [(round(span.start_s, 3), round(span.end_s, 3)) for span in health.gaps] == [(2.0, 2.03), (4.0, 4.1)]
    assert health.click_count == 0


def test_pauses_that_fade_and_short_or_long_silences_are_no_gaps() -> None:
    wave = signals.pink_wave(12.0, rms_dbfs=-16.0)
    quiet = wave.copy()
    quiet[3 * RATE_HZ : 4 * RATE_HZ] = 0.0
    quiet[3 * RATE_HZ - 9600 : 3 * RATE_HZ] *= np.linspace(1.0, 0.0, 9600)
    too_short, too_long = wave.copy(), wave.copy()
    too_short[RATE_HZ : RATE_HZ + 100] = 0.0
    too_long[RATE_HZ : 4 * RATE_HZ] = 0.0
    for silence in (quiet, too_short, too_long):
        assert health_of(signals.stereo(silence)).gaps == ()


@pytest.mark.parametrize("offset", [0.1, -0.01])
def test_offset_is_the_mean(offset: float) -> None:
    samples = song()
    samples[0] += offset
    means = np.abs(samples.mean(axis=1, dtype=np.float64))
    assert health_of(samples).dc_dbfs == pytest.approx(20.0 * np.log10(means), abs=0.01)
    assert means[0] == pytest.approx(abs(offset), rel=0.06)


@pytest.mark.parametrize(("bits", "effective"), [(8, 16), (12, 24), (16, 24), (16, 16), (20, 24), (24, 24)])
def test_effective_bits_are_those_of_the_grid(bits: int, effective: int) -> None:
    samples = on_grid(signals.pink(4.0).astype(np.float64), bits)
    assert health_of(samples, bits=effective, subtype=f"PCM_{effective}").effective_bits == bits
    if effective == 24:
        assert health_of(samples, bits=32, subtype="FLOAT").effective_bits == bits


def test_dithered_16_bit_is_16_bit() -> None:
    dither = np.random.default_rng(3).uniform(-0.5, 0.5, (2, 4 * RATE_HZ)) + np.random.default_rng(4).uniform(-0.5, 0.5, (2, 4 * RATE_HZ))
    samples = on_grid(signals.pink(4.0).astype(np.float64) + dither / 32768.0, 16)
    assert health_of(samples).effective_bits == 16


@pytest.mark.parametrize("gain_db", [-1.0, -5.9, 2.5])
def test_16_bit_sound_shows_through_a_gain(gain_db: float) -> None:
    coarse = on_grid(signals.pink(6.0).astype(np.float64), 16).astype(np.float64) * signals.amplitude(gain_db)
    effective_bits = health_of(on_grid(coarse, 24)).effective_bits
    assert effective_bits in {15, 16}
    assert health_of(np.asarray(coarse, np.float32), bits=32, subtype="FLOAT").effective_bits == effective_bits


def test_24_bit_sound_at_minus_6_db_stays_24_bit_and_float_sound_has_no_grid() -> None:
    fine = signals.pink(4.0).astype(np.float64)
    assert health_of(on_grid(on_grid(fine, 24).astype(np.float64) * 0.5012, 24)).effective_bits == 24
    assert health_of(np.asarray(fine, np.float32), bits=32, subtype="FLOAT").effective_bits is None
    assert health_of(on_grid(fine, 16), bits=None, subtype="VORBIS", lossy=True).effective_bits is None


def low_passed(samples: Samples, edge_hz: float, rate_hz: int, transition_hz: float = 400.0) -> Samples:
    frequency = np.fft.rfftfreq(samples.shape[1], 1.0 / rate_hz)
    gain = np.clip((edge_hz + transition_hz - frequency) / transition_hz, 0.0, 1.0)
    return np.asarray(np.fft.irfft(np.fft.rfft(samples, axis=1) * gain, samples.shape[1]), np.float32)


@pytest.mark.parametrize(
    ("edge_hz", "rate_hz"), [(16000.0, 44100), (11025.0, 44100), (11025.0, 48000), (5512.0, 44100), (22050.0, 96000), (4000.0, 32000)]
)
def test_a_wall_is_found_where_it_stands(edge_hz: float, rate_hz: int) -> None:
    health = health_of(low_passed(signals.white(6.0, rate_hz), edge_hz, rate_hz), rate_hz)
    assert health.bandwidth_hz == pytest.approx(edge_hz, abs=450.0)
    assert health.bandwidth_wall_db is not None
    assert health.bandwidth_wall_db > 24.0


def test_sound_up_to_the_top_and_natural_roll_off_have_no_wall() -> None:
    sounds = [signals.white(5.0, 44100), low_passed(signals.pink(5.0, 44100), 20000.0, 44100)]
    white = signals.white(5.0, 44100)
    frequency = np.fft.rfftfreq(white.shape[1], 1.0 / 44100)
    for corner_hz, order in ((1000.0, 4), (4000.0, 4), (8000.0, 2), (12000.0, 4), (300.0, 2)):
        gain = 1.0 / np.sqrt(1.0 + (frequency / corner_hz) ** (2 * order))
        rolled = np.fft.irfft(np.fft.rfft(white, axis=1) * gain, white.shape[1])
        sounds.append(on_grid(rolled, 24))
    sounds.append(signals.stereo(0.5 * signals.chord_wave(5.0, 44100)))  # dull: nothing above 2.3 kHz
    for sound in sounds:
        assert health_of(sound, 44100).bandwidth_hz is None


def hum(mains_hz: float, duration_s: float, level: float = 0.002) -> Samples:
    waves = [level / number * signals.sine_wave(mains_hz * number, duration_s, phase_degrees=30.0 * number) for number in (1, 2, 3, 4, 5)]
    return signals.stereo(np.sum(waves, axis=0))


def with_pauses(duration_s: float = 16.0) -> Samples:
    samples = song(duration_s)
    samples[:, 4 * RATE_HZ : 10 * RATE_HZ] = 0.0
    return np.asarray(samples + signals.pink(duration_s, rms_dbfs=-75.0, seed=9), np.float32)


@pytest.mark.parametrize(("mains_hz", "off_hz"), [(50.0, 0.0), (60.0, 0.05), (50.0, -0.1)])
def test_hum_is_found_in_the_pause(mains_hz: float, off_hz: float) -> None:
    health = health_of(with_pauses() + hum(mains_hz + off_hz, 16.0))
    assert health.hum_hz == mains_hz
    expected = 10.0 * np.log10(sum((0.002 / number) ** 2 / 2.0 for number in (1, 2, 3, 4, 5)))
    assert health.hum_dbfs == pytest.approx(expected, abs=1.5)


@pytest.mark.parametrize("note_hz", [49.0, 51.91, 58.27, 61.74])
def test_a_held_bass_note_is_no_hum(note_hz: float) -> None:
    note = 50.0 * hum(note_hz, 16.0)
    assert health_of(with_pauses() + note).hum_hz is None


def test_a_bass_that_plays_50_hz_but_rests_in_the_pause_is_no_hum() -> None:
    played = 50.0 * hum(50.0, 16.0)
    played[:, 4 * RATE_HZ : 10 * RATE_HZ] = 0.0
    assert health_of(with_pauses() + played).hum_hz is None


def test_the_noise_floor_is_the_level_of_the_pause() -> None:
    assert health_of(with_pauses()).noise_floor_dbfs == pytest.approx(-75.0, abs=1.0)
    digital = song(8.0)
    digital[:, 3 * RATE_HZ : 5 * RATE_HZ] = 0.0
    assert health_of(digital).noise_floor_dbfs is None


def test_silence_before_and_after() -> None:
    samples = np.concatenate([signals.silence(0.75), signals.pink(3.0), signals.silence(1.5)], axis=1)
    health = health_of(samples)
    assert health.head_silence_s == pytest.approx(0.75, abs=0.005)
    assert health.tail_silence_s == pytest.approx(1.5, abs=0.005)


def test_a_cut_head_and_a_cut_tail() -> None:
    wave = (signals.sine_wave(220.0, 4.0) + signals.sine_wave(331.0, 4.0))[3081:-17]
    health = health_of(signals.stereo(0.4 * wave))
    assert health.head_cut_dbfs == pytest.approx(10.0 * np.log10(np.mean((0.4 * wave[:96]) ** 2)), abs=0.1)
    assert health.tail_cut_dbfs == pytest.approx(10.0 * np.log10(np.mean((0.4 * wave[-2400:]) ** 2)), abs=0.1)


def test_a_note_that_dies_while_the_file_is_cut_is_still_cut() -> None:
    wave = 0.4 * signals.chord_wave(4.0)
    wave[-960:] *= 10 ** (np.linspace(0.0, -14.0, 960) / 20)  # over the last 20 ms, but far from silence
    assert health_of(signals.stereo(wave)).tail_cut_dbfs is not None


def test_an_offset_at_the_end_is_no_sound_and_hides_none() -> None:
    padded = np.concatenate([song(4.0), signals.silence(0.2)], axis=1)
    assert health_of(padded + np.float32(0.05)).tail_cut_dbfs is None
    wave = 0.02 * signals.chord_wave(4.0)
    assert health_of(signals.stereo(wave) + np.float32(0.05)).tail_cut_dbfs == pytest.approx(
        health_of(signals.stereo(wave)).tail_cut_dbfs, abs=0.2
    )


@pytest.mark.parametrize("offset", [0.05, -0.3])
def test_an_offset_at_the_start_is_no_sound_and_hides_none(offset: float) -> None:
    silent_first = np.concatenate([signals.silence(0.2), song(4.0)], axis=1) + np.float32(offset)
    assert health_of(silent_first).head_cut_dbfs is None
    leaning = np.concatenate([signals.silence(0.2), song(4.0) + np.float32(0.1)], axis=1) + np.float32(offset)
    assert health_of(leaning).head_cut_dbfs is None  # two offsets, one of them in the song alone
    faded = signals.fade((0.2 * signals.chord_wave(4.0))[::-1], RATE_HZ, 0.5)[::-1]
    assert health_of(signals.stereo(faded) + np.float32(offset)).head_cut_dbfs is None
    assert health_of(signals.stereo(faded + offset * np.minimum(np.arange(len(faded)) / 4800.0, 1.0))).head_cut_dbfs is None
    wave = (signals.sine_wave(220.0, 4.0) + signals.sine_wave(331.0, 4.0))[3081:-17]
    assert health_of(signals.stereo(0.4 * wave + offset)).head_cut_dbfs == pytest.approx(
        health_of(signals.stereo(0.4 * wave)).head_cut_dbfs, abs=0.2
    )


def test_an_attack_at_once_and_fades_are_no_cuts() -> None:
    drums = signals.drums(4.0)
    assert health_of(drums).head_cut_dbfs is None  # the first kick starts at the first sample, from zero
    faded = signals.stereo(signals.fade(0.4 * signals.chord_wave(6.0), RATE_HZ, 2.0))
    assert health_of(faded).tail_cut_dbfs is None
    short = signals.stereo(signals.fade(0.4 * signals.chord_wave(6.0), RATE_HZ, 0.03))
    assert health_of(short).tail_cut_dbfs is None
    padded = np.concatenate([song(4.0), signals.silence(0.2)], axis=1)
    assert health_of(padded).tail_cut_dbfs is None


@pytest.mark.parametrize("fade_s", [0.03, 0.1, 0.3, 1.0])
@pytest.mark.parametrize("shape", [1.0, 2.0])
def test_a_fade_that_reaches_silence_is_no_cut_however_short(fade_s: float, shape: float) -> None:
    """As a straight line or its square; half of it is one."""
    gain = np.ones(6 * RATE_HZ)
    gain[-round(fade_s * RATE_HZ) :] = np.linspace(1.0, 0.0, round(fade_s * RATE_HZ)) ** shape
    wave = 0.4 * signals.chord_wave(6.0)[: len(gain)]
    assert health_of(signals.stereo(wave * gain)).tail_cut_dbfs is None
    assert health_of(signals.stereo((wave * gain)[: -round(fade_s * RATE_HZ / 2)])).tail_cut_dbfs is not None


def test_same_and_silent_channels() -> None:
    wave = signals.pink_wave(3.0)
    same = health_of(signals.stereo(wave))
    assert same.identical_channels
    nearly = signals.stereo(wave)
    nearly[1, 70000] += 1e-4
    assert not health_of(nearly).identical_channels
    health = health_of(signals.stereo(wave, 0.0 * wave))
    assert health.silent_channels == ("right",)
    assert not health.identical_channels
    assert health.dc_dbfs[1] is None
    assert health_of(signals.mono(wave)).silent_channels == ()


def test_overs_between_samples_are_counted_by_place() -> None:
    wave = 0.5 * signals.sine_wave(RATE_HZ / 4, 3.0, phase_degrees=45.0)  # samples at +-0.354, the wave reaches 0.5
    envelope = np.ones(len(wave))
    for start in (40000, 90000):
        envelope[start : start + 200] = 2.6
    health = health_of(signals.stereo(wave * envelope))
    assert health.inter_sample_overs == 2
    assert health.clipped_runs == 0


@pytest.mark.parametrize("samples", [signals.silence(0.0), signals.silence(2.0), signals.silence(0.1, channels=1)])
def test_silence(samples: Samples) -> None:
    health = health_of(samples)
    assert health.silent
    assert set(health.dc_dbfs) == {None}
    assert len(health.silent_channels) == samples.shape[0]
    assert health.effective_bits is None
    assert health.noise_floor_dbfs is None
    assert health.head_silence_s == pytest.approx(samples.shape[1] / RATE_HZ)
    assert {"effective_bits", "noise_floor_dbfs", "hum_hz", "bandwidth_hz"} <= {absence.field for absence in health.absent}


@pytest.mark.parametrize("frames", [1, 2, 63, 500])
@pytest.mark.parametrize("rate_hz", [8000, 44100, 192000])
def test_very_short_files_are_no_error(frames: int, rate_hz: int) -> None:
    health = health_of(np.full((2, frames), 0.5, np.float32), rate_hz)
    assert health.click_count == 0
    assert not health.silent
    assert health.identical_channels


def test_far_above_full_scale_is_no_error() -> None:
    health = health_of(np.asarray(20.0 * song(2.0), np.float32), bits=32, subtype="FLOAT")
    assert health.clipped_runs == 0
    assert health.inter_sample_overs > 0
