"""Sections and the densest stretch, on songs whose boundaries are known because they are made here."""

from collections.abc import Sequence
from functools import cache

import numpy as np
import pytest

from features.loudness.level import LevelMeter, LevelTrace, measure_level
from features.records.sections import Sections
from features.song.sections import measure_sections
from features.sound.signal import Samples
from features.sound.spectrogram import Spectrogram, SpectrogramMeter
from tests import signals

RATE_HZ = 44100


def traces(samples: Samples, rate_hz: int = RATE_HZ) -> tuple[LevelTrace, Spectrogram]:
    level, spectrogram = LevelMeter(rate_hz, len(samples)), SpectrogramMeter(rate_hz, len(samples))
    for start in range(0, samples.shape[1], 1 << 17):
        level.push(samples[:, start : start + (1 << 17)])
        spectrogram.push(samples[:, start : start + (1 << 17)])
    return level.finish(), spectrogram.finish()


def sections(samples: Samples, rate_hz: int = RATE_HZ) -> Sections:
    return measure_sections(*traces(samples, rate_hz))


def starts(measured: Sections) -> list[float]:
    return [section.start_s for section in measured.sections]


def pad(duration_s: float, rate_hz: int, level_db: float, notes_hz: Sequence[float]) -> Samples:
    wave = signals.chord_wave(duration_s, rate_hz, notes_hz) * signals.amplitude(level_db)
    swell = 1 + 0.2 * np.sin(2 * np.pi * 0.5 * np.arange(wave.shape[0]) / rate_hz)
    return signals.stereo(wave * swell)


@cache
def song(rate_hz: int = RATE_HZ) -> tuple[Samples, list[float]]:
    """Intro of held chords, verse with drums, loud chorus, verse, chorus, ending; and where each starts."""
    chord, other = (110.0, 164.81, 220.0), (98.0, 146.83, 246.94)
    low = signals.placed(np.sin(2 * np.pi * 55 * np.arange(rate_hz // 2) / rate_hz) * 0.2, np.arange(0, 24, 0.5).tolist(), 24, rate_hz)

    def part(duration_s: float, drums_db: float | None, pad_db: float, notes: Sequence[float], noise_db: float | None) -> Samples:
        sound = pad(duration_s, rate_hz, pad_db, notes)
        if drums_db is not None:
            sound = sound + signals.drums(duration_s, rate_hz) * np.float32(signals.amplitude(drums_db))
            sound = sound + signals.stereo(low[: sound.shape[1]])
        if noise_db is not None:
            sound = sound + signals.pink(duration_s, rate_hz, noise_db, seed=int(duration_s))
        return sound.astype(np.float32)

    parts = [
        part(12, None, -18, chord, None),
        part(24, -12, -16, chord, None),
        part(20, -6, -10, other, -22),
        part(24, -12, -16, chord, None),
        part(22, -6, -10, other, -22),
        part(14, None, -24, chord, None),
    ]
    lengths = [part.shape[1] / rate_hz for part in parts]
    return np.concatenate(parts, axis=1), [0.0, *np.cumsum(lengths)[:-1].tolist()]


@cache
def sections_of_song(rate_hz: int) -> Sections:
    return sections(song(rate_hz)[0], rate_hz)


@pytest.mark.parametrize("rate_hz", [44100, 48000])
def test_boundaries_of_a_song(rate_hz: int) -> None:
    samples, expected = song(rate_hz)
    measured = sections_of_song(rate_hz)
    assert starts(measured) == pytest.approx(expected, abs=2.0)
    assert measured.sections[-1].end_s == pytest.approx(samples.shape[1] / rate_hz)
    assert all(section.end_s == other.start_s for section, other in zip(measured.sections, measured.sections[1:], strict=False))


def test_densest_and_step_of_that_song() -> None:
    measured = sections_of_song(RATE_HZ)
    assert measured.densest.end_s - measured.densest.start_s == 30.0
    assert measured.densest.start_s >= 70  # over the last chorus, the longer one
    loud, quiet = measured.sections[2], measured.sections[1]
    assert measured.quietest is not None
    assert loud.loudness_lufs is not None
    assert quiet.loudness_lufs is not None
    assert measured.quietest.start_s == pytest.approx(12.0, abs=2.0) or measured.quietest.start_s == pytest.approx(56.0, abs=2.0)
    assert measured.quiet_to_loud_lu == pytest.approx(loud.loudness_lufs - quiet.loudness_lufs, abs=0.5)


def test_a_change_of_colour_alone_is_a_boundary() -> None:
    """The same loudness, other spectrum."""
    dark = signals.pink_wave(25, RATE_HZ, -20.0, seed=1, high_hz=1000.0)
    bright = signals.pink_wave(25, RATE_HZ, -20.0, seed=2, low_hz=500.0)
    loudness = [measure_level(traces(signals.mono(wave))[0]).integrated_lufs for wave in (dark, bright)]
    assert loudness[0] is not None
    assert loudness[1] is not None
    bright *= signals.amplitude(loudness[0] - loudness[1])
    measured = sections(signals.mono(np.concatenate([dark, bright])))
    assert starts(measured) == pytest.approx([0.0, 25.0], abs=2.0)


def test_a_change_of_loudness_alone_is_a_boundary() -> None:
    wave = signals.pink_wave(50, RATE_HZ, -20.0)
    wave[25 * RATE_HZ :] *= signals.amplitude(-5.0)
    assert starts(sections(signals.mono(wave))) == pytest.approx([0.0, 25.0], abs=2.0)


@pytest.mark.parametrize("seed", range(5))
def test_steady_noise_and_a_steady_beat_have_one_section(seed: int) -> None:
    assert len(sections(signals.pink(60, RATE_HZ, seed=seed)).sections) == 1
    if seed == 0:
        assert len(sections(signals.drums(60, RATE_HZ)).sections) == 1


def test_densest_30_s_by_construction() -> None:
    measured = sections(signals.tone_steps([(40, -30.0), (30, -20.0), (40, -26.0)], RATE_HZ))
    assert (measured.densest.start_s, measured.densest.end_s) == (40.0, 70.0)
    assert measured.densest_lufs == pytest.approx(-20.0, abs=0.05)


def test_short_breaks_intro_and_ending_are_not_the_quietest_section() -> None:
    steps = [(12, -50.0), (20, -26.0), (6, -45.0), (20, -20.0), (25, -30.0), (20, -20.0), (15, -48.0)]
    measured = sections(signals.tone_steps(steps, RATE_HZ))
    assert measured.quietest is not None
    assert measured.quietest.start_s == pytest.approx(58.0, abs=2.0)
    assert measured.quiet_to_loud_lu == pytest.approx(10.0, abs=0.3)


def test_a_long_first_section_counts_as_music() -> None:
    measured = sections(signals.tone_steps([(40, -30.0), (40, -20.0)], RATE_HZ))
    assert measured.quiet_to_loud_lu == pytest.approx(10.0, abs=0.3)
    assert measured.quietest is not None
    assert measured.quietest.start_s == 0.0


def test_gain_and_channel_swap_change_no_boundary() -> None:
    samples, _ = song()
    plain, swapped = sections_of_song(RATE_HZ), sections(samples[::-1] * np.float32(0.25))
    assert starts(swapped) == starts(plain)
    assert swapped.quiet_to_loud_lu == pytest.approx(plain.quiet_to_loud_lu, abs=1e-3)


@pytest.mark.parametrize("channels", [1, 2])
@pytest.mark.parametrize("duration_s", [0.0, 1 / RATE_HZ, 0.2, 3.0, 9.0])
def test_short_sounds_are_one_section(duration_s: float, channels: int) -> None:
    samples = signals.sine(440, duration_s, RATE_HZ, -20.0, channels)
    measured = sections(samples)
    assert len(measured.sections) == 1
    assert (measured.densest.start_s, measured.densest.end_s) == (0.0, samples.shape[1] / RATE_HZ)
    assert (measured.densest_lufs is None) == (duration_s < 0.4)
    assert measured.quiet_to_loud_lu is None
    assert {absence.field for absence in measured.absent} >= {"quiet_to_loud_lu", "quietest"}


def test_silence() -> None:
    measured = sections(signals.silence(60, RATE_HZ))
    assert len(measured.sections) == 1
    assert measured.sections[0].loudness_lufs is None
    assert measured.densest_lufs is None
    assert {absence.field for absence in measured.absent} == {"densest_lufs", "quiet_to_loud_lu", "quietest"}
