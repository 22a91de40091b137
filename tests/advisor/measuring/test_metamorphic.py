"""The same song in another dress: quieter, swapped, resampled, trimmed, at fewer bits. What is said of it must not change."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray
from scipy.signal import resample_poly

from advisor.app.settings import Settings
from advisor.critique import critique
from demo.arrangement import make_song
from demo.mixdown import mix_bounce_a
from demo.song import HARBOUR
from tests.advisor.samples import written

Sound = NDArray[np.float32]
RATE_HZ = 44100

# reading, its reporting step
STEPS = {
    ("level", "plr_db"): 0.15, ("level", "loudness_range_lu"): 0.2,
    ("spectrum", "tilt_db_per_octave"): 0.1,
    ("ear", "share_2k_5k"): 0.01,
    ("hits", "audible_share_median"): 0.02, ("hits", "buried_share"): 0.05,
    ("stereo", "correlation"): 0.01, ("stereo", "mono_loss_db"): 0.1,
    ("low_end", "side_level_db"): 0.3, ("low_end", "kick_lift_db"): 0.5, ("crest", "stray_height_db"): 0.3,
}  # fmt: skip


@pytest.fixture(scope="module")
def song() -> Sound:
    plan = HARBOUR.shortened(4)
    return np.ascontiguousarray(mix_bounce_a(make_song(1, plan), plan).samples)


def said(samples: Sound, folder: Path, rate_hz: int = RATE_HZ, subtype: str = "PCM_24") -> dict[str, object]:
    folder.mkdir(exist_ok=True)
    soundfile.write(folder / "song.wav", samples.T, rate_hz, subtype=subtype)
    return written(critique(folder / "song.wav", Settings(quick=True), folder / "out").report)


@pytest.fixture(scope="module")
def plain(song: Sound, tmp_path_factory: pytest.TempPathFactory) -> dict[str, object]:
    return said(song, tmp_path_factory.mktemp("plain"))


def readings(report: dict[str, object]) -> dict[tuple[str, str], float]:
    families: dict[str, dict[str, float]] = report["measurements"]  # type: ignore[assignment]
    return {(family, name): families[family][name] for family, name in STEPS}


def rules_of(report: dict[str, object]) -> set[str]:
    findings: list[dict[str, str]] = report["findings"]  # type: ignore[assignment]
    return {finding["rule"] for finding in findings if finding["stage"] == "mixing"}


def quieter(samples: Sound) -> Sound:
    return samples * np.float32(10 ** (-6 / 20))


def padded(samples: Sound) -> Sound:
    return np.concatenate((np.zeros((2, RATE_HZ // 2), np.float32), samples, np.zeros((2, RATE_HZ), np.float32)), axis=1)


@pytest.mark.parametrize("change", [quieter, padded], ids=["6 dB quieter", "silence around it"])
def test_level_and_silence_change_nothing(song: Sound, plain: dict[str, object], tmp_path: Path, change: Callable[[Sound], Sound]) -> None:
    compare(plain, said(change(song), tmp_path))


def test_sixteen_bits_change_nothing_but_the_bits(song: Sound, plain: dict[str, object], tmp_path: Path) -> None:
    report = said(song, tmp_path, subtype="PCM_16")
    compare(plain, report)
    findings: list[dict[str, str]] = report["findings"]  # type: ignore[assignment]
    assert "delivery/effective_bit_depth" in {finding["rule"] for finding in findings}


def test_another_rate_changes_nothing(song: Sound, plain: dict[str, object], tmp_path: Path) -> None:
    compare(plain, said(resample_poly(song, 160, 147, axis=1).astype(np.float32), tmp_path, rate_hz=48000))


def test_swapped_channels_only_swap_sides(song: Sound, plain: dict[str, object], tmp_path: Path) -> None:
    report = said(song[::-1].copy(), tmp_path)
    compare(plain, report)
    stereo: tuple[dict[str, dict[str, float]], ...] = (plain["measurements"], report["measurements"])  # type: ignore[assignment]
    assert stereo[0]["stereo"]["balance_db"] == pytest.approx(-stereo[1]["stereo"]["balance_db"], abs=0.02)


def compare(first: dict[str, object], second: dict[str, object]) -> None:
    before, after = readings(first), readings(second)
    for key, step in STEPS.items():
        assert after[key] == pytest.approx(before[key], abs=step), key
    assert rules_of(first) == rules_of(second)
    outlooks: tuple[dict[str, float], ...] = (first["outlook"], second["outlook"])  # type: ignore[assignment]
    assert outlooks[1]["clean_lufs"] == pytest.approx(outlooks[0]["clean_lufs"], abs=0.15)
