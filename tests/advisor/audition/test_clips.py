"""Clips of a step: equally loud by an independent reader, never above the song, in time with it, whole at every rate."""

from collections.abc import Iterator, Sequence
from functools import partial
from pathlib import Path

import numpy as np
import pyloudnorm
import pytest
import soundfile
from numpy.typing import NDArray

from advisor.audition.clips import make_clips
from advisor.audition.matching import FADE_S, alike, match
from advisor.audition.records import Clips
from advisor.planning.processed import states
from advisor.remedies.apply import apply
from features.loudness.true_peak import true_peaks
from features.records.base import Span
from features.sound.decibels import db_to_amplitude
from features.sound.signal import Samples, Signal
from rules.remedy import Remedy

RATE_HZ = 44100
BELL = Remedy("bell", frequency_hz=250.0, gain_db=-6.0, q=1.0)
SQUASH = Remedy("compressor", threshold_dbfs=-30.0, ratio=4.0, attack_ms=30.0, release_ms=100.0)
LOUDER = Remedy("gain", gain_db=5.0)
BRIGHTER = Remedy("high_shelf", frequency_hz=3000.0, gain_db=9.0)


def song(seconds: float, rate_hz: int = RATE_HZ, channels: int = 2, peak: float = 0.5) -> Signal:
    """Return kicks, a bass and hats on the grid of 24 bits."""
    time_s = np.arange(int(seconds * rate_hz)) / rate_hz
    beat = time_s % 0.5
    noise = np.random.default_rng(5).normal(size=(channels, time_s.size))
    tune = 0.5 * np.sin(2 * np.pi * 60 * beat) * np.exp(-beat * 14) + 0.15 * np.sin(2 * np.pi * 250 * time_s) * (1 + np.sin(time_s))
    sound = tune + 0.05 * noise * np.exp(-((time_s + 0.25) % 0.5) * 30)
    return Signal((np.rint(sound / np.abs(sound).max() * peak * 2**23) / 2**23).astype(np.float32), rate_hz)


def states_of(sound: Signal, remedies: Sequence[Remedy], start: int, count: int) -> Iterator[Samples]:
    return states(sound, remedies, apply, start, count)


def clips_alone(sound: Signal, remedy: Remedy, folder: Path) -> Clips | None:
    return make_clips(sound, [remedy], partial(states_of, sound), Span(0.0, 6.0), folder)


def clips_of(sound: Signal, steps: list[Remedy], folder: Path, where: Span | None = None) -> tuple[Clips, Samples, Samples, Samples]:
    """Return the record, both clips as read from their files, and the song's stretch."""
    where = where or Span(0.0, sound.duration_s)
    made = make_clips(sound, steps, partial(states_of, sound), where, folder)
    assert made is not None
    clips = [
        np.ascontiguousarray(soundfile.read(folder / name, dtype="float32", always_2d=True)[0].T) for name in (made.before, made.after)
    ]
    start = round(where.start_s * sound.rate_hz)
    return made, clips[0], clips[1], sound.samples[:, start : start + clips[0].shape[1]]


def independent_lufs(clip: Samples, rate_hz: int = RATE_HZ) -> float:
    """Return the integrated loudness as pyloudnorm reads it."""
    return float(pyloudnorm.Meter(rate_hz).integrated_loudness(clip.T.astype(np.float64)))


@pytest.mark.parametrize("steps", [[BELL], [BELL, SQUASH], [LOUDER, BRIGHTER], [SQUASH, LOUDER]], ids=["cut", "squash", "bright", "gain"])
def test_both_clips_are_equally_loud_and_nothing_passes_the_song(tmp_path: Path, steps: list[Remedy]) -> None:
    made, before, after, there = clips_of(song(20.0), steps, tmp_path, Span(4.0, 16.0))
    assert before.shape == after.shape == (2, 12 * RATE_HZ)
    assert independent_lufs(before) == pytest.approx(independent_lufs(after), abs=0.1)  # the promise
    assert made.lufs == pytest.approx(independent_lufs(before), abs=0.1)
    assert (made.start_s, made.end_s) == (4.0, 16.0)
    for clip in (before, after):
        assert np.abs(clip).max() <= np.abs(there).max()
        assert max(true_peaks(clip, RATE_HZ)) <= max(true_peaks(there, RATE_HZ)) * 1.00001
        assert independent_lufs(clip) <= independent_lufs(there) + 0.01


def test_a_step_that_raises_peaks_turns_both_clips_down(tmp_path: Path) -> None:
    clicky = Remedy("high_pass", frequency_hz=400.0, order=4)  # takes the bass, which carries the loudness, and leaves the peaks
    _, before, after, there = clips_of(song(12.0), [clicky], tmp_path)
    assert independent_lufs(before) < independent_lufs(there) - 1.0
    assert independent_lufs(before) == pytest.approx(independent_lufs(after), abs=0.1)
    assert max(true_peaks(after, RATE_HZ)) <= max(true_peaks(there, RATE_HZ)) * 1.00001


def test_the_first_clip_is_the_mix_itself_up_to_one_gain_and_the_fades(tmp_path: Path) -> None:
    _, before, _, there = clips_of(song(20.0), [SQUASH], tmp_path, Span(3.0, 15.0))
    edge = round(FADE_S * RATE_HZ)
    inner, original = before[:, edge:-edge].astype(np.float64), there[:, edge:-edge].astype(np.float64)
    gain = float((inner * original).sum() / np.square(original).sum())
    assert 0.1 < gain <= 1.0
    assert np.abs(inner - gain * original).max() <= 2.0**-23  # half a step of 24 bits, and as much for the reading of the gain
    assert np.abs(before[:, 0]).max() < 1e-3 * np.abs(before).max() + 2.0**-20
    assert np.abs(before[:, -1]).max() < 1e-3 * np.abs(before).max() + 2.0**-20


def test_where_nothing_needs_to_be_turned_down_the_mix_is_untouched(tmp_path: Path) -> None:
    quieter_peaks = Remedy("peak_limiter", ceiling_dbfs=-9.0)
    _, before, _, there = clips_of(song(12.0), [quieter_peaks], tmp_path)
    edge = round(FADE_S * RATE_HZ)
    loss = 20 * np.log10(np.abs(before[:, edge:-edge]).max() / np.abs(there[:, edge:-edge]).max())
    assert loss <= 0.0
    untouched = match(there, there, there * np.float32(0.5), RATE_HZ)
    assert untouched is not None
    assert np.array_equal(untouched.before[:, edge:-edge], np.rint(there[:, edge:-edge] * 2.0**23).astype(np.int32))


def test_the_clips_are_in_time_with_each_other(tmp_path: Path) -> None:
    _, before, after, _ = clips_of(song(20.0), [BELL, SQUASH, Remedy("peak_limiter", ceiling_dbfs=-9.0)], tmp_path, Span(4.0, 16.0))
    spectra = [np.fft.rfft(clip.mean(axis=0), 2 * clip.shape[1]) for clip in (before, after)]
    crossed = np.fft.irfft(spectra[0] * spectra[1].conj())
    assert int(np.argmax(crossed)) == 0


def test_earlier_steps_are_in_both_clips(tmp_path: Path) -> None:
    _, before, _, there = clips_of(song(12.0), [BELL, SQUASH], tmp_path)
    whole = apply(BELL, song(12.0)).samples.astype(np.float64)
    edge = round(FADE_S * RATE_HZ)
    inner = before[:, edge:-edge].astype(np.float64)
    rests = []
    for candidate in (whole, there.astype(np.float64)):
        part = candidate[:, edge:-edge]
        gain = (inner * part).sum() / np.square(part).sum()
        rests.append(np.square(inner - gain * part).sum() / np.square(inner).sum())
    assert rests[0] < 1e-8 < rests[1]


def test_a_gain_on_the_whole_mix_is_told_to_be_the_same_sound(tmp_path: Path) -> None:
    assert clips_of(song(12.0), [LOUDER], tmp_path)[0].same is True
    assert clips_of(song(12.0), [Remedy("bell", frequency_hz=250.0, gain_db=-0.5, q=1.0)], tmp_path)[0].same is False


def test_alike_turns_at_sixty_decibels() -> None:
    samples = np.full((1, 1000), 1_000_000, np.int32)
    assert alike([samples, samples + 900])
    assert not alike([samples, samples + 1100])


@pytest.mark.parametrize("rate_hz", [8000, 22050, 96000, 192000])
def test_every_rate(tmp_path: Path, rate_hz: int) -> None:
    made, before, after, _ = clips_of(song(4.0, rate_hz), [BELL], tmp_path)
    info = soundfile.info(str(tmp_path / made.before))
    assert (info.samplerate, info.format, info.subtype) == (rate_hz, "FLAC", "PCM_24")
    assert independent_lufs(before, rate_hz) == pytest.approx(independent_lufs(after, rate_hz), abs=0.1)


def test_a_rate_that_flac_does_not_know_becomes_wav(tmp_path: Path) -> None:
    made, before, _, _ = clips_of(song(2.0, 96001), [BELL], tmp_path)
    info = soundfile.info(str(tmp_path / made.after))
    assert (made.after, info.samplerate, info.format, info.subtype) == ("step-1-after.wav", 96001, "WAV", "PCM_24")
    assert before.shape == (2, 2 * 96001)


def test_mono_stays_mono(tmp_path: Path) -> None:
    _, before, after, _ = clips_of(song(5.0, channels=1), [BELL], tmp_path)
    assert before.shape[0] == after.shape[0] == 1
    assert independent_lufs(before) == pytest.approx(independent_lufs(after), abs=0.1)


def test_a_very_short_song_is_matched_without_gates(tmp_path: Path) -> None:
    _, before, after, there = clips_of(song(0.2), [BELL], tmp_path)
    assert before.shape == there.shape
    assert np.abs(after).max() <= np.abs(there).max()
    assert np.abs(after).max() > 0.01


def floating(peak: float, seconds: float = 6.0) -> NDArray[np.float32]:
    return (song(seconds).samples / np.float32(0.5) * np.float32(peak)).astype(np.float32)


def test_a_mix_above_full_scale_is_not_cut(tmp_path: Path) -> None:
    made, before, after, _ = clips_of(Signal(floating(2.5), RATE_HZ), [BELL], tmp_path)
    for clip in (before, after):
        assert max(true_peaks(clip, RATE_HZ)) <= 1.0
        flat = np.abs(clip) >= np.abs(clip).max() - 2.0**-22
        assert np.count_nonzero(flat) < 4, "a cut peak stays at the top for many samples"
    assert made.same is False


def test_next_to_nothing_makes_no_clips_and_no_endless_gain(tmp_path: Path) -> None:
    for peak in (0.0, 1e-5):
        assert clips_alone(Signal(floating(peak), RATE_HZ), BELL, tmp_path) is None
    away = Remedy("gain", gain_db=-200.0)
    assert clips_alone(song(6.0), away, tmp_path) is None
    assert list(tmp_path.iterdir()) == []


def test_a_quiet_stretch_is_matched_as_closely(tmp_path: Path) -> None:
    quiet = Signal(song(6.0).samples * np.float32(db_to_amplitude(-38.0)), RATE_HZ)
    _, before, after, there = clips_of(quiet, [SQUASH, BRIGHTER], tmp_path)
    assert independent_lufs(before) == pytest.approx(independent_lufs(after), abs=0.1)
    assert np.abs(after).max() <= np.abs(there).max()
