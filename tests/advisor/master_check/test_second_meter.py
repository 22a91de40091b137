"""The second loudness meter: silent where both agree, one sentence where they do not."""

from pathlib import Path

import numpy as np
import pytest
import soundfile

from advisor.app.progress import Quiet
from advisor.app.settings import Settings
from advisor.master_check import check, second_meter
from advisor.master_check.check import check_master
from advisor.master_check.second_meter import loudness_doubt
from features.loudness.level import LevelMeter, integrated_from_steps
from features.sound.signal import Signal
from tests import signals

RATE_HZ = 44100


def source(seconds: float = 8.0, level_db: float = -18.0) -> Signal:
    return Signal(signals.pink(seconds, RATE_HZ, level_db).astype(np.float32), RATE_HZ)


def lufs(signal: Signal) -> float:
    meter = LevelMeter(signal.rate_hz, signal.channels)
    meter.push(signal.samples)
    loudness_lufs = integrated_from_steps(meter.finish().k_sum())
    assert loudness_lufs is not None
    return loudness_lufs


def test_nothing_is_said_where_both_agree() -> None:
    assert loudness_doubt(source(), lufs(source())) is None
    assert loudness_doubt(Signal(source().samples[:1], RATE_HZ), lufs(Signal(source().samples[:1], RATE_HZ))) is None
    assert loudness_doubt(source(), lufs(source()) + 0.09) is None


@pytest.mark.parametrize("error_lu", [-0.12, 0.12, 3.0])
def test_a_tenth_of_a_unit_apart_is_said(error_lu: float) -> None:
    said = loudness_doubt(source(), lufs(source()) + error_lu)
    assert said is not None
    assert f"{lufs(source()):.1f} LUFS" in said
    assert f"{lufs(source()) + error_lu:.1f} LUFS" in said


def test_silence_has_no_loudness_to_doubt() -> None:
    assert loudness_doubt(Signal(np.zeros((2, RATE_HZ), np.float32), RATE_HZ), None) is None


def test_of_a_long_song_both_read_the_first_part(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(second_meter, "MOST_S", 4.0)
    softer_later = Signal(np.concatenate([source(4.0).samples, 0.1 * source(20.0).samples], axis=1), RATE_HZ)
    assert loudness_doubt(softer_later, lufs(softer_later)) is None


def test_the_report_on_a_master_says_it_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "master.wav"
    soundfile.write(path, source(6.0).samples.T, RATE_HZ, subtype="PCM_24")
    monkeypatch.setattr(check, "code", lambda *_: ((), 0.0))
    assert not [note for note in check_master(path, None, Settings(), Quiet()).report.notes if "meter" in note]
    monkeypatch.setattr(second_meter, "MOST_APART_LU", -1.0)
    notes = [note for note in check_master(path, None, Settings(), Quiet()).report.notes if "meter" in note]
    assert len(notes) == 1
