"""`mixproof master` on files: what it says of masters made in known ways, and of what cannot be compared."""

import json
import shutil
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import soundfile

from advisor.app.progress import Quiet
from advisor.app.settings import Settings
from advisor.cli.main import main
from advisor.master_check.check import Checked, check_master
from advisor.mastering import lossy
from advisor.report.markdown import render
from features.processors.dynamics.limiter import limit
from features.processors.equalisers import eq
from features.sound.signal import Signal
from tests.sounds.master_song import RATE, song


@pytest.fixture(autouse=True)
def _two_formats(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(lossy, "FORMATS", lossy.FORMATS[1:2])


def write(path: Path, signal: Signal, subtype: str = "PCM_24") -> Path:
    soundfile.write(path, signal.samples.T, signal.rate_hz, subtype=subtype)
    return path


@cache
def mix() -> Signal:
    """Return the song at half its level, with silence at both ends."""
    return Signal(np.pad(song(seconds=8).samples * np.float32(0.3), ((0, 0), (RATE // 4, RATE // 2))), RATE)


@pytest.fixture(scope="module")
def mix_path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write(tmp_path_factory.mktemp("mix") / "mix.wav", mix())


def checked(master: Path, before: Path | None) -> Checked:
    return check_master(master, before, Settings(), Quiet())


def test_a_limited_and_brightened_master_is_told(mix_path: Path, tmp_path: Path) -> None:
    made = eq.bell(limit(mix(), 18.0, -1.0).signal, 8000.0, 3.0, 1.0)
    later = Signal(np.pad(made.samples, ((0, 0), (3000, 0))), RATE)
    report = checked(write(tmp_path / "master.wav", later, "FLOAT"), mix_path).report
    pair = report.mastered
    assert pair is not None
    assert pair.offset_s == pytest.approx(3000 / RATE, abs=2 / RATE)
    assert pair.raise_db == pytest.approx(18.0, abs=0.6)
    assert pair.won_lu is not None
    assert pair.won_lu > 2.0
    at_8k, at_1k = (min(range(31), key=lambda band: abs(pair.band_hz[band] - hertz)) for hertz in (8000, 1000))
    assert pair.equaliser_db[at_8k] - pair.equaliser_db[at_1k] == pytest.approx(3.0, abs=0.3)
    rules = {card.rule for card in report.findings} | {also.rule for card in report.findings for also in card.also}
    assert {"mastering/hits_lost", "mastering/ceiling_passed"} <= rules
    assert report.failed == ()


def test_only_louder_is_called_so(mix_path: Path, tmp_path: Path) -> None:
    louder = Signal(mix().samples * np.float32(1.25), RATE)
    report = checked(write(tmp_path / "master.wav", louder), mix_path).report
    assert "by level alone" in report.verdict.sentence
    assert report.mastered is not None
    assert report.mastered.tone_changes == ()
    assert report.mastered.louder_lu == pytest.approx(1.94, abs=0.05)
    assert {card.rule for card in report.findings} <= {"delivery/too_short"}  # which it is
    assert "the tone is that of the mix" in render(report)


@pytest.mark.parametrize("kind", ["mono", "rate", "inverted"])
def test_masters_of_another_shape_are_compared(kind: str, mix_path: Path, tmp_path: Path) -> None:
    made = limit(mix(), 14.0, -1.5).signal
    if kind == "mono":
        made = Signal(made.samples.mean(axis=0, keepdims=True), RATE)
    elif kind == "rate":
        import soxr  # noqa: PLC0415

        made = Signal(np.ascontiguousarray(soxr.resample(made.samples.T, RATE, 48000).T), 48000)
    else:
        made = Signal(np.pad(np.negative(made.samples), ((0, 0), (RATE, 2 * RATE))), RATE)
    report = checked(write(tmp_path / "master.wav", made), mix_path).report
    pair = report.mastered
    assert pair is not None
    assert pair.raise_db == pytest.approx(14.0, abs=0.6)
    assert pair.explained_share > 0.98
    assert pair.head_cut_s == pair.tail_cut_s == 0.0
    assert len(report.notes) == 1
    assert (pair.width_change_db is None) == (kind == "mono")


def test_a_cut_start_and_end_are_found(mix_path: Path, tmp_path: Path) -> None:
    short = Signal(mix().samples[:, RATE // 2 : -3 * RATE // 2], RATE)
    report = checked(write(tmp_path / "master.wav", short), mix_path).report
    assert report.mastered is not None
    assert report.mastered.head_cut_s == pytest.approx(0.25, abs=0.25)
    assert report.mastered.tail_cut_s == pytest.approx(1.0, abs=0.3)
    assert "mastering/ends_cut" in {card.rule for card in report.findings}


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    status = main(list(arguments))
    said = capsys.readouterr()
    return status, said.out, said.err


def test_files_that_do_not_belong_together_are_refused(mix_path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    noise = np.random.default_rng(9).normal(size=(2, 10 * RATE)).astype(np.float32) * np.float32(0.1)
    other = write(tmp_path / "other.wav", Signal(noise, RATE))
    status, out, error = run(capsys, "master", str(other), "--mix", str(mix_path))
    assert (status, out) == (2, "")
    assert "does not seem to be a master of mix.wav" in error
    lines = [line for line in error.splitlines() if not line.startswith("First run on this machine")]  # which comes first, where it is
    assert len(lines) == 1
    assert not (tmp_path / "other-check").exists()


def test_silence_and_missing_files_are_one_sentence(mix_path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    silent = write(tmp_path / "silent.wav", Signal(np.zeros((2, 6 * RATE), np.float32), RATE))
    assert run(capsys, "master", str(silent), "--mix", str(mix_path))[0] == 2
    status, out, _ = run(capsys, "master", str(silent))
    assert status == 0
    assert out.startswith("There is nothing to judge: the file is silent.")
    assert run(capsys, "master", str(tmp_path / "none.wav"))[0] == 2


def test_a_file_alone_is_checked_for_release(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    master = write(tmp_path / "master.wav", Signal(limit(mix(), 18.0, -0.2).signal.samples, RATE), "PCM_16")
    status, out, _ = run(capsys, "master", str(master), "--fail-on", "mastering")
    assert status == 1
    assert "true peak over the ceiling" in out
    folder = tmp_path / "master-check"
    report = json.loads((folder / "master-report.json").read_text(encoding="utf-8"))
    assert report["mastered"] is None
    assert [level["target_lufs"] for level in report["release"]["normalised"]] == [-14.0, -16.0]
    assert (folder / "master-report.html").read_text(encoding="utf-8").startswith("<!doctype html>")
    text = (folder / "master-report.md").read_text(encoding="utf-8")
    assert "## After lossy coding" in text
    assert "| -14 LUFS |" in (folder / "master-report-details.md").read_text(encoding="utf-8")
    assert "bits" not in {finding["rule"] for finding in report["findings"]}


def test_other_levels_of_normalisation_come_from_the_settings(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "mixproof.toml").write_text("streaming_lufs = [-18.0]\n", encoding="utf-8")
    master = write(tmp_path / "master.wav", mix())
    assert run(capsys, "master", str(master), "--out", str(tmp_path / "here"))[0] == 0
    report = json.loads((tmp_path / "here" / "master-report.json").read_text(encoding="utf-8"))
    assert [level["target_lufs"] for level in report["release"]["normalised"]] == [-18.0]
    (tmp_path / "mixproof.toml").write_text("streaming_lufs = -18.0\n", encoding="utf-8")
    assert "must be a list" in run(capsys, "master", str(master))[2]


def test_render_writes_the_preview_and_a_later_run_without_it_takes_it_away(
    mix_path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    own = Path(shutil.copy(mix_path, tmp_path / "song.wav"))
    folder = tmp_path / "song-critique"
    assert run(capsys, "critique", str(own), "--render", "--no-audition")[0] == 0
    report = json.loads((folder / "report.json").read_text(encoding="utf-8"))
    assert report["mastering"]["preview"]["file"] == "preview-master.wav"
    assert soundfile.info(folder / "preview-master.wav").subtype == "PCM_24"
    text = (folder / "report.md").read_text(encoding="utf-8")
    assert "## Mastering" in text
    assert "no finished master" in text
    assert run(capsys, "critique", str(own), "--quick", "--no-audition")[0] == 0
    assert not (folder / "preview-master.wav").exists()
    assert json.loads((folder / "report.json").read_text(encoding="utf-8"))["mastering"] is None
    assert "Leave out --quick or --render" in run(capsys, "critique", str(own), "--quick", "--render")[2]
