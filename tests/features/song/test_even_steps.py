"""Steps that all bands share, told from instruments that come and go, from swells and from ordinary unrest."""

import numpy as np
import pytest

from features.loudness.level import LevelMeter
from features.records.sections import Section
from features.song.even_steps import measure_even_steps
from features.song.sections import measure_sections
from features.sound.spectrogram import Spectrogram, SpectrogramMeter
from tests.signals import pink_wave

RATE_HZ = 44100
PARTS = (Section(0.0, 10.0, -20.0), Section(10.0, 20.0, -20.0))


def spectrogram(gain_db: np.ndarray, high_db: float = 0.0, rate_hz: int = RATE_HZ) -> Spectrogram:
    """Measure 20 s of pink noise under a gain; from 10 s on its highs get another one."""
    sound = pink_wave(20.0, rate_hz, seed=3)
    spectrum = np.fft.rfft(sound)
    spectrum[..., np.fft.rfftfreq(sound.shape[-1], 1 / rate_hz) > 800.0] *= 10 ** (high_db / 20)
    half = sound.shape[-1] // 2
    sound[..., half:] = np.fft.irfft(spectrum, sound.shape[-1])[..., half:]
    curve = np.interp(np.arange(sound.shape[-1]) / rate_hz, np.linspace(0.0, 20.0, len(gain_db)), gain_db)
    planar = np.atleast_2d(sound * 10 ** (curve / 20)).astype(np.float32)
    meter = SpectrogramMeter(rate_hz, planar.shape[0])
    meter.push(planar)
    return meter.finish()


def stepped(db: float) -> np.ndarray:
    return np.where(np.arange(2000) < 1000, 0.0, db)


@pytest.mark.parametrize("rate_hz", [44100, 48000, 96000])
@pytest.mark.parametrize("db", [-14.0, -8.0, -4.0, 6.0])
def test_a_fader_step_is_read_with_size_and_sign(db: float, rate_hz: int) -> None:
    (moment,) = measure_even_steps(PARTS, spectrogram(stepped(db), rate_hz=rate_hz))
    assert moment.value == pytest.approx(db, abs=0.4)
    assert (moment.start_s, moment.end_s) == (6.0, 14.0)


def test_nothing_is_read_without_a_step_or_for_a_small_one() -> None:
    assert measure_even_steps(PARTS, spectrogram(stepped(0.0))) == ()
    assert measure_even_steps(PARTS, spectrogram(stepped(-1.5))) == ()


def test_what_changes_some_bands_alone_is_the_arrangement() -> None:
    assert measure_even_steps(PARTS, spectrogram(stepped(0.0), high_db=-12.0)) == ()
    assert measure_even_steps(PARTS, spectrogram(stepped(-6.0), high_db=-12.0)) == ()


def test_a_swell_is_no_step() -> None:
    assert measure_even_steps(PARTS, spectrogram(np.linspace(0.0, -24.0, 2000))) == ()


def test_unrest_against_the_step_on_one_side_is_no_swell() -> None:
    gain = stepped(-8.0)
    gain[1260:] += 3.5  # two seconds and a half after the step it comes back a little
    (moment,) = measure_even_steps(PARTS, spectrogram(gain))
    assert moment.value == pytest.approx(-6.4, abs=0.6)


def test_music_that_goes_on_beneath_hides_no_large_step() -> None:
    (moment,) = measure_even_steps(PARTS, spectrogram(stepped(-14.0), high_db=3.5))
    assert -14.5 < moment.value < -10.0
    assert measure_even_steps(PARTS, spectrogram(stepped(-5.0), high_db=3.5)) == ()


@pytest.mark.parametrize("late_s", [-0.8, 0.8])
def test_a_boundary_placed_a_little_off_finds_it_whole(late_s: float) -> None:
    sections = (Section(0.0, 10.0 + late_s, -20.0), Section(10.0 + late_s, 20.0, -20.0))
    (moment,) = measure_even_steps(sections, spectrogram(stepped(-8.0)))
    assert moment.value == pytest.approx(-8.0, abs=0.6)


def test_too_little_on_one_side_is_not_judged() -> None:
    sections = (Section(0.0, 1.0, -20.0), Section(1.0, 20.0, -20.0))
    early = np.where(np.arange(2000) < 100, 0.0, -8.0)
    assert measure_even_steps(sections, spectrogram(early)) == ()


def test_a_step_is_found_where_no_section_begins() -> None:
    (step,) = measure_even_steps(PARTS[:1], spectrogram(stepped(-8.0)))
    assert step.value == pytest.approx(-8.0, abs=0.4)
    assert (step.start_s + step.end_s) / 2 == pytest.approx(10.0, abs=0.6)


def test_passages_that_alternate_give_a_step_at_each_turn() -> None:
    gain = np.where((np.arange(2000) // 650) % 2, -5.0, 0.0)
    steps = measure_even_steps((), spectrogram(gain))
    assert [(step.start_s + step.end_s) / 2 for step in steps] == [pytest.approx(6.5, abs=0.6), pytest.approx(13.0, abs=0.6)]
    assert [step.value for step in steps] == [pytest.approx(-5.0, abs=0.6), pytest.approx(5.0, abs=0.6)]


def test_silence_has_no_steps() -> None:
    meter = SpectrogramMeter(RATE_HZ, 2)
    meter.push(np.zeros((2, 20 * RATE_HZ), np.float32))
    assert measure_even_steps(PARTS, meter.finish()) == ()


def test_the_sections_carry_it() -> None:
    sound = np.stack([pink_wave(40.0, seed=5)] * 2)
    sound[:, 20 * RATE_HZ :] *= 10 ** (-10 / 20)
    planar = sound.astype(np.float32)
    level, spectrogram = LevelMeter(RATE_HZ, 2), SpectrogramMeter(RATE_HZ, 2)
    level.push(planar)
    spectrogram.push(planar)
    (moment,) = measure_sections(level.finish(), spectrogram.finish()).even_steps
    assert moment.value == pytest.approx(-10.0, abs=0.4)
    assert moment.start_s < 20.0 < moment.end_s
