"""A whole critique: what there is to listen to, that the report speaks of exactly that, and that a failure loses nothing."""

import json
import os
import re
import shutil
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest
import soundfile

import advisor
from advisor.app.errors import RequestError
from advisor.app.settings import Settings, load_settings
from advisor.audition import make
from advisor.audition.names import FOLDER
from advisor.cli.main import main
from advisor.critique import critique
from advisor.elsewhere.section import NO_CLIPS
from advisor.judging.judge import Card, Judged
from advisor.measuring.measured import Measured
from advisor.planning.plan import Plan, Step
from advisor.planning.plan_outcome import PlanOutcome
from advisor.planning.trial_readings import trial_readings
from advisor.planning.trials import Trial
from advisor.report import html, markdown
from features.records.base import Span
from features.sound.signal import Source
from rules.remedy import Remedy
from tests.advisor.audition.test_clips import RATE_HZ, independent_lufs, song
from tests.advisor.audition.test_marked import markers
from tests.advisor.samples import finding, read, rule_that

SCHEMA = json.loads((Path(str(advisor.__file__)).parents[1] / "docs" / "report.schema.json").read_text(encoding="utf-8"))
NAME = 'my "<b>best" mix & 🎛.wav'
MARKED = "my-b-best-mix-marked.wav"


class Messages:
    """Progress that keeps its messages."""

    def __init__(self) -> None:
        self.words: list[str] = []

    def step(self, words: str) -> None:
        self.words.append(words)

    def advance(self, done: float) -> None:
        assert 0.0 <= done <= 1.0

    def announce(self, words: str) -> None:
        self.words.append(words)


def two_moves(_source: Source, measured: Measured, judged: Judged, *_rest: object) -> PlanOutcome:
    """Return a plan of a cut and a gain in place of trials, so that what is tested here does not hang on what rules find."""
    now = trial_readings(dict(measured.records), judged)
    moves = (Remedy("bell", frequency_hz=250.0, gain_db=-6.0, q=1.0), Remedy("gain", gain_db=-3.0))
    cards = [Card(rule_that(None, name), replace(finding(), where=(Span(9.0, 10.0),))) for name in ("one", "two")]
    steps = [Step(Trial(card, move, now, now)) for card, move in zip(cards, moves, strict=True)]
    return PlanOutcome((Span(0.0, 18.0),), Plan(now, steps), now, None)


@pytest.fixture(autouse=True, scope="module")
def plan() -> Iterator[None]:
    """Let every run of this file have that plan, and no clips of other places: these have tests of their own."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("advisor.critique.try_remedies", two_moves)
        patch.setattr("advisor.critique.clips_of", lambda *_: NO_CLIPS)
        yield


@pytest.fixture(scope="module")
def mix(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the file of a song."""
    path = tmp_path_factory.mktemp("song") / NAME
    soundfile.write(path, song(18.0, peak=0.2).samples.T, RATE_HZ, subtype="PCM_24")
    return path


@pytest.fixture(scope="module")
def messages() -> Messages:
    return Messages()


@pytest.fixture(scope="module")
def finished(mix: Path, messages: Messages, plan: None) -> Path:  # noqa: ARG001 - the plan must stand before the run
    """Return the report's folder of a full run; do not change it."""
    return critique(mix, Settings(), None, messages).folder


@pytest.fixture
def folder(finished: Path, tmp_path: Path) -> Path:
    """Return a copy of that folder."""
    shutil.copytree(finished, tmp_path / "out")
    return tmp_path / "out"


def document(folder: Path) -> dict[str, Any]:
    parsed: dict[str, Any] = json.loads((folder / "report.json").read_text(encoding="utf-8"))
    return parsed


def listing(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


def test_the_document_speaks_of_exactly_what_is_there(finished: Path, messages: Messages) -> None:
    report = document(finished)
    jsonschema.validate(report, SCHEMA)
    assert report["failed"] == []
    assert [step["audition"]["same"] for step in report["plan"]] == [False, True]
    named = [report["audition"]["marked_mix"], *(step["audition"][which] for step in report["plan"] for which in ("before", "after"))]
    assert report["audition"]["marked_mix"] == f"{FOLDER}/{MARKED}"
    assert sorted(named) == sorted(f"{FOLDER}/{path.name}" for path in (finished / FOLDER).iterdir())
    assert sorted(path.name for path in finished.iterdir()) == [FOLDER, "details.md", "report.html", "report.json", "report.md"]
    assert [words for words in messages.words if "clips" in words] == [
        "Making the clips for step 1 of 2",
        "Making the clips for step 2 of 2",
    ]
    for step in report["plan"]:
        clips = step["audition"]
        pair = [soundfile.read(finished / clips[which], dtype="float32", always_2d=True)[0].T for which in ("before", "after")]
        assert pair[0].shape[1] == pytest.approx((clips["end_s"] - clips["start_s"]) * RATE_HZ, abs=1)
        assert 10.0 <= clips["end_s"] - clips["start_s"] <= 15.0
        assert independent_lufs(pair[0]) == pytest.approx(independent_lufs(pair[1]), abs=0.1)


def test_the_marked_copy_has_a_marker_for_every_finding(finished: Path, mix: Path) -> None:
    report = document(finished)
    points, labels, _ = markers(finished / FOLDER / MARKED)
    assert report["audition"]["cues"] == len(report["findings"]) == len(points)
    places = {finding["rank"]: round(finding["where"][0]["start_s"] * RATE_HZ) if finding["where"] else 0 for finding in report["findings"]}
    assert {int(labels[number].split(".")[0]): frame for number, frame in points} == places
    copy, original = (soundfile.read(path, dtype="int32")[0] for path in (finished / FOLDER / MARKED, mix))
    assert np.array_equal(copy, original)


def test_the_page_has_a_player_for_every_clip_and_nothing_unsafe(finished: Path) -> None:
    page = (finished / "report.html").read_text(encoding="utf-8")
    text, details = ((finished / name).read_text(encoding="utf-8") for name in ("report.md", "details.md"))
    played = re.findall(r'<audio aria-label="[^"]+, (?:before|after|the clip|the mix)" controls="" preload="none" src="([^"]+)"', page)
    first, second = (step["audition"] for step in document(finished)["plan"])
    # the second step is the same sound twice
    assert played == [first["before"], first["after"], f"{FOLDER}/{MARKED}", second["after"]]
    assert page.count('role="group"') - page.count('class="wide"') == 3
    assert "nothing to compare" in details
    assert f'<a href="{FOLDER}/{MARKED}"' in page
    assert all(f"]({name})" in text for name in played[:2]), "the players of a move stand beside it"
    assert f"]({played[3]})" in details
    assert "<b>" not in page
    assert "tired ears judge worse" in details
    assert "louder sounds better for the first minute" in text


def test_a_document_from_elsewhere_plays_and_links_nothing_else(finished: Path) -> None:
    report = document(finished)
    report["plan"][0]["audition"]["before"] = "javascript:alert(1)"
    report["plan"][0]["audition"]["after"] = 'audition/x" onplay="alert(1)'
    report["audition"]["marked_mix"] = "https://example.org/x-marked.wav"
    page = html.render(read(report))
    assert "javascript" not in page
    assert "onplay" not in page
    assert "example.org" not in re.sub(r">[^<]*<", "><", page)
    assert page.count("<audio") == 1


def test_clips_that_had_to_be_wav_are_explained_and_played(finished: Path) -> None:
    report = document(finished)
    assert "FLAC does not know" not in markdown.details(read(report))
    report["plan"][0]["audition"].update(before="audition/step-1-before.wav", after="audition/step-1-after.wav")
    assert "FLAC does not know this sampling rate" in markdown.details(read(report))
    assert 'src="audition/step-1-after.wav"' in html.render(read(report))


def test_a_step_without_clips_says_so(finished: Path) -> None:
    report = document(finished)
    report["plan"][0]["audition"] = None
    assert "has no clips" in markdown.details(read(report))
    assert html.render(read(report)).count("<audio") == 2
    report["plan"][1]["audition"] = None
    assert html.render(read(report)).count("<audio") == 1
    report["audition"] = None
    assert "<audio" not in html.render(read(report))


def test_stale_clips_go_and_nothing_else_does(folder: Path, mix: Path) -> None:
    others = {"mine.wav": b"mine", "other-marked.wav": b"from elsewhere", "step-9-before.flac.bak": b"mine too"}
    for name, content in {**others, "step-9-before.flac": b"old", "step-1-after.wav": b"old"}.items():
        (folder / FOLDER / name).write_bytes(content)
    (folder / FOLDER / "step-8-after.flac").mkdir()
    (folder / "notes.txt").write_text("mine", encoding="utf-8")
    critique(mix, Settings(quick=True), folder)
    names = sorted(path.name for path in (folder / FOLDER).iterdir())
    assert names == sorted([*others, MARKED, "step-8-after.flac"])
    assert all((folder / FOLDER / name).read_bytes() == content for name, content in others.items())
    assert (folder / "notes.txt").read_text(encoding="utf-8") == "mine"
    assert document(folder)["plan"] == []


def test_another_song_into_the_same_folder_takes_the_first_ones_copy_away(folder: Path, tmp_path: Path) -> None:
    soundfile.write(tmp_path / "second.wav", song(4.0).samples.T, RATE_HZ, subtype="PCM_16")
    critique(tmp_path / "second.wav", Settings(quick=True), folder)
    assert [path.name for path in (folder / FOLDER).iterdir()] == ["second-marked.wav"]


def test_without_audition_nothing_is_written_and_nothing_stale_stays(folder: Path, mix: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["critique", str(mix), "--quick", "--no-audition", "--out", str(folder)]) == 0
    assert sorted(path.name for path in folder.iterdir()) == ["details.md", "report.html", "report.json", "report.md"]
    report = document(folder)
    jsonschema.validate(report, SCHEMA)
    assert report["audition"] is None
    assert report["settings"]["audition"] is False
    assert "audition/" not in (folder / "report.md").read_text(encoding="utf-8")
    assert "To listen to" not in capsys.readouterr().out


def test_the_setting_is_read_from_the_file_and_must_be_a_switch(tmp_path: Path) -> None:
    (tmp_path / "mixproof.toml").write_text("audition = false\n", encoding="utf-8")
    assert load_settings([tmp_path], {"audition": None}).audition is False
    assert load_settings([], {}).audition is True
    (tmp_path / "mixproof.toml").write_text('audition = "no"\n', encoding="utf-8")
    with pytest.raises(RequestError, match="must be true or false"):
        load_settings([tmp_path], {})


def test_a_full_disk_while_the_copy_is_written_leaves_all_as_it_was(folder: Path, mix: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = listing(folder)

    def full(path: Path, *_arguments: object) -> bool:
        path.write_bytes(b"half of it")
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(make, "write_marked", full)
    with pytest.raises(RequestError, match=r"No space left on device.*--no-audition"):
        critique(mix, Settings(quick=True), folder)
    assert listing(folder) == before


def test_a_failure_half_way_through_moving_puts_everything_back(folder: Path, mix: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (folder / FOLDER / "step-9-before.flac").write_bytes(b"old")
    before, really, moved = listing(folder), os.replace, 0

    def sometimes(source: Path, target: Path) -> None:
        nonlocal moved
        moved += 1
        if Path(target) == folder / "report.md" and Path(source).parent.name != "old":
            raise PermissionError(13, "Permission denied")
        really(source, target)

    monkeypatch.setattr(os, "replace", sometimes)
    with pytest.raises(RequestError, match="Permission denied"):
        critique(mix, Settings(quick=True), folder)
    assert moved > 4
    assert listing(folder) == before
    assert not list(folder.glob(".new-*"))


def test_a_failure_leaves_no_new_folder_behind(tmp_path: Path, mix: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_arguments: object) -> bool:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(make, "write_marked", full)
    with pytest.raises(RequestError):
        critique(mix, Settings(quick=True), tmp_path / "new")
    assert list(tmp_path.iterdir()) == []


def test_a_crash_in_the_clips_costs_the_clips_alone(mix: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def crash(*_arguments: object) -> None:
        raise ValueError("no such part")

    monkeypatch.setattr(make, "make_clips", crash)
    critique(mix, Settings(), tmp_path / "out")
    report = document(tmp_path / "out")
    assert {"rule": "audition/step-1", "error": "ValueError: no such part"} in report["failed"]
    assert report["plan"][0]["audition"] is None
    assert report["audition"]["cues"] == len(report["findings"])
    jsonschema.validate(report, SCHEMA)


def test_a_song_too_long_for_a_wav_file_gets_a_note(mix: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("advisor.audition.marked.MOST_BYTES", 1_000_000)
    report = critique(mix, Settings(quick=True), tmp_path / "out").report
    assert report.audition is None
    assert any("4 GiB" in note for note in report.notes)
    assert not (tmp_path / "out" / FOLDER).exists()


def test_a_mix_that_the_run_would_replace_is_refused(folder: Path) -> None:
    before = listing(folder)
    for name in (MARKED, "step-1-after.flac"):
        with pytest.raises(RequestError, match=r"write anew.*--out"):
            critique(folder / FOLDER / name, Settings(quick=True), folder)
    assert listing(folder) == before


def test_silence_gets_markers_and_no_clips(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "silence.wav", np.zeros((5 * RATE_HZ, 2)), RATE_HZ)
    critique(tmp_path / "silence.wav", Settings())
    report = document(tmp_path / "silence-critique")
    assert [step["audition"] for step in report["plan"]] == [None, None]
    assert report["audition"]["cues"] == len(report["findings"]) > 0
    assert [path.name for path in (tmp_path / "silence-critique" / FOLDER).iterdir()] == ["silence-marked.wav"]


def test_markers_of_mono_at_a_low_rate(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "low.wav", song(3.0, 8000, 1).samples.T, 8000, subtype="PCM_24")
    report = critique(tmp_path / "low.wav", Settings(quick=True)).report
    points, _, _ = markers(tmp_path / "low-critique" / FOLDER / "low-marked.wav")
    assert len(points) == len(report.findings) > 0
