"""Clips of other places: what they hold, and how loud they are."""

from pathlib import Path

import numpy as np
import pyloudnorm
import pytest
import soundfile
from scipy import signal

from advisor.elsewhere.clips import as_played, elsewhere_clips
from features.elsewhere.conditions import CONDITIONS, DESK, Condition
from features.records.base import Span
from features.sound.bands import third_octaves
from features.sound.signal import Signal

RATE_HZ = 44100
NOISE = (0.1 * np.random.default_rng(3).standard_normal((2, 20 * RATE_HZ))).astype(np.float32)


def named(key: str) -> Condition:
    return next(condition for condition in CONDITIONS if condition.key == key)


def thirds_db(samples: np.ndarray) -> np.ndarray:
    """Return power in third octaves by an independent estimate of the spectrum."""
    hz, density = signal.welch(samples, RATE_HZ, nperseg=1 << 15)
    bands = third_octaves(RATE_HZ)
    inside = (hz[None] >= bands.low_hz[:, None]) & (hz[None] < bands.high_hz[:, None])
    power: np.ndarray = 10 * np.log10(inside @ density * (hz[1] - hz[0]))
    return power


@pytest.mark.parametrize("condition", [condition for condition in CONDITIONS if not condition.noise], ids=lambda condition: condition.key)
def test_a_clip_passes_what_its_condition_states(condition: Condition) -> None:
    same = np.repeat(NOISE[:1], 2, axis=0)
    played = as_played(same, RATE_HZ, condition)[0]
    hz, across = signal.csd(same[0], played, RATE_HZ, nperseg=1 << 15)
    gain_db = 20 * np.log10(np.abs(across) / signal.welch(same[0], RATE_HZ, nperseg=1 << 15)[1])
    bins = [int(np.argmin(np.abs(hz - centre))) for centre in third_octaves(RATE_HZ).centre_hz if centre > 25.0]
    wanted_db = condition.gain_db(hz[bins])
    clear = wanted_db > -60.0
    assert np.abs(gain_db[bins] - wanted_db)[clear].max() < 0.5


@pytest.mark.parametrize("key", ["street", "car"])
def test_noise_has_its_spectrum_and_lies_as_far_under_the_song(key: str) -> None:
    condition = named(key)
    with_noise, without = (as_played(NOISE, RATE_HZ, its) for its in (condition, Condition("x", "x", "x", condition.transfer, 80.0, ())))
    noise = with_noise - without
    bands = third_octaves(RATE_HZ)
    loudness = pyloudnorm.Meter(RATE_HZ).integrated_loudness(without.T.astype(np.float64))
    wanted_db = condition.noise_db(bands.low_hz, bands.high_hz) + loudness - condition.level_db
    both_db = 10 * np.log10(sum(10 ** (thirds_db(channel) / 10) for channel in noise))
    clear = (bands.centre_hz > 90.0) & (bands.centre_hz < 12000.0)
    # a loudness of L LUFS is a K-weighted power of L + 0.691 dB
    assert np.abs(both_db - wanted_db)[clear].max() < 1.0


def test_sides_are_swapped_added_or_left_out() -> None:
    assert np.allclose(as_played(NOISE, RATE_HZ, named("swapped")), NOISE[::-1], atol=1e-5)
    left = as_played(NOISE, RATE_HZ, named("one-ear"))
    assert np.allclose(left[1], NOISE[0], atol=1e-5)
    phone = as_played(NOISE, RATE_HZ, named("phone"))
    assert np.allclose(phone[0], phone[1], atol=1e-6)
    assert np.allclose(as_played(NOISE[:1], RATE_HZ, DESK), NOISE[:1], atol=1e-5)


def test_the_club_is_mono_in_the_lows_alone() -> None:
    club = as_played(NOISE, RATE_HZ, named("club"))
    side_db = thirds_db(club[0] - club[1])
    hz = third_octaves(RATE_HZ).centre_hz
    assert side_db[(hz > 25) & (hz < 80)].max() < side_db[hz > 130].min() - 20.0


def test_clips_are_equally_loud_with_room_under_full_scale(tmp_path: Path) -> None:
    """Held by another loudness meter, and by peaks of the eightfold rate."""
    loud = Signal(np.clip(8 * NOISE, -1, 1).astype(np.float32), RATE_HZ)
    clips = elsewhere_clips(loud, CONDITIONS, Span(2.0, 18.0), None, tmp_path / "elsewhere")
    assert [clip.condition for clip in clips] == ["desk", *(condition.key for condition in CONDITIONS)]
    loudness, peaks = [], []
    for clip in clips:
        sound, rate_hz = soundfile.read(tmp_path / "elsewhere" / Path(clip.file).name)
        assert len(sound) / rate_hz == pytest.approx(12.0, abs=0.01)
        assert clip.file.startswith("audition/elsewhere/")
        loudness.append(pyloudnorm.Meter(rate_hz).integrated_loudness(sound))
        peaks.append(20 * np.log10(np.abs(signal.resample_poly(sound, 8, 1, axis=0)).max()))
    assert max(loudness) - min(loudness) <= 0.1
    assert loudness[0] == pytest.approx(clips[0].lufs, abs=0.1)
    assert max(peaks) <= -1.0


def test_silence_and_no_condition_give_no_clips(tmp_path: Path) -> None:
    silent = Signal(np.zeros((2, RATE_HZ), np.float32), RATE_HZ)
    assert elsewhere_clips(silent, CONDITIONS, None, None, tmp_path / "a") == ()
    assert elsewhere_clips(Signal(NOISE, RATE_HZ), (), None, None, tmp_path / "b") == ()


def test_a_condition_of_the_users_own_has_a_safe_file_name(tmp_path: Path) -> None:
    own = Condition("../My van", "My van", "in my van", ((100.0, 0.0),), 70.0, ())
    clips = elsewhere_clips(Signal(NOISE, RATE_HZ), (own,), None, None, tmp_path / "elsewhere")
    assert Path(clips[1].file).name == "my-van.flac"
