"""The main job with stems, from files to the report: elements in the document, in findings and in the plan; bad stems in one sentence."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest

import advisor
from advisor.app.errors import RequestError
from advisor.app.settings import Settings
from advisor.critique import CritiqueInputs, critique
from features.sound.load import LoadError
from features.sound.signal import Samples
from tests import signals
from tests.sounds import stem_song
from tests.sounds.stem_song import mixed, write, write_one

SCHEMA = json.loads((Path(str(advisor.__file__)).parents[1] / "docs" / "report.schema.json").read_text(encoding="utf-8"))
STEMS = stem_song.stems()
PLANTED_DB = 14.0
Report = dict[str, Any]


def judged(folder: Path, stems: dict[str, Samples], mix: Samples | None, *, quick: bool = True) -> Report:
    """Write stems and mix, and return the report of their critique as it stands in the file."""
    inputs = CritiqueInputs(stems=write(folder / "stems", stems))
    file = None if mix is None else write_one(folder / "mix.wav", mix)
    critique(file, Settings(quick=quick, audition=False), folder / "report", inputs=inputs)
    report: Report = json.loads((folder / "report" / "report.json").read_text(encoding="utf-8"))
    return report


@pytest.fixture(scope="module")
def loud_pluck(tmp_path_factory: pytest.TempPathFactory) -> Report:
    """Return the report on the song with the pluck far too loud, tried and planned."""
    stems = {**STEMS, "pluck": STEMS["pluck"] * np.float32(signals.amplitude(PLANTED_DB))}
    return judged(tmp_path_factory.mktemp("loud"), stems, mixed(stems), quick=False)


@pytest.fixture(scope="module")
def odd_folder(tmp_path_factory: pytest.TempPathFactory) -> Report:
    """Return the report on stems of which one is silent, one a copy, one short, one at 48 kHz and one damaged; without a mix."""
    soxr = pytest.importorskip("soxr")
    folder = tmp_path_factory.mktemp("odd")
    stems = {**STEMS, "spare": np.zeros_like(STEMS["pad"]), "kick again": STEMS["kick"].copy()}
    stems["pluck"] = stems["pluck"][:, : 6 * stem_song.RATE_HZ]
    del stems["hats"]
    write(folder / "stems", stems)
    write_one(folder / "stems" / "hats.wav", np.ascontiguousarray(soxr.resample(STEMS["hats"].T, stem_song.RATE_HZ, 48000).T), 48000)
    (folder / "stems" / "broken.wav").write_bytes(b"RIFF\x00\x00")
    critique(None, Settings(quick=True, audition=False), folder / "report", inputs=CritiqueInputs(stems=folder / "stems"))
    report: Report = json.loads((folder / "report" / "report.json").read_text(encoding="utf-8"))
    return report


def about(report: Report, stem: str) -> list[Report]:
    """Return the findings on an element, those that share a card included."""
    cards = [finding for finding in report["findings"] if finding["stem"] == stem]
    return [*cards, *(its for finding in cards for its in finding["also"])]


def test_the_document_has_every_element_with_all_its_readings(loud_pluck: Report) -> None:
    jsonschema.validate(loud_pluck, SCHEMA)
    assert {stem["name"] for stem in loud_pluck["stems"]} == set(STEMS)
    keys = {"role", "group", "integrated_lufs", "in_mix_lu", "audible_share", "covered_by", "over_target_db", "target_fader_db", "usual_lu",
            "off_db", "headroom_lu_per_db", "headroom_lu_out", "dynamics", "plays", "crest_db", "silent", "copy_of"}  # fmt: skip
    for element in loud_pluck["stems"]:
        assert keys <= set(element), element["name"]
        assert 0.0 <= element["audible_share"] <= 1.0
        assert element["headroom_lu_out"] is not None
        assert len(element["parts_lu"]) == len(loud_pluck["measurements"]["sections"]["sections"])
    assert {stem["name"]: stem["group"] for stem in loud_pluck["stems"]}["vox"] == "vocals"


def test_what_concerns_all_elements_stands_among_the_measurements(loud_pluck: Report) -> None:
    together = loud_pluck["measurements"]["elements"]
    assert together["mixture"]["residual_db"] < -100.0
    assert "sum exactly" in together["mixture"]["meaning"]
    assert {group["name"]: group["members"] for group in together["groups"]}["drums"] == ["hats", "kick", "snare"]
    assert (together["kick_and_bass"]["kick"], together["kick_and_bass"]["bass"]) == ("kick", "bassline")
    assert together["lead"] == "vox"


def test_the_planted_element_is_named_with_its_direction(loud_pluck: Report) -> None:
    finding = next(finding for finding in about(loud_pluck, "pluck") if finding["rule"] == "mixing/element_too_loud")
    assert "'pluck' seems too loud" in finding["message"]
    likeliest = loud_pluck["measurements"]["elements"]["moves"][0]
    assert likeliest["names"] == ["pluck"]
    assert 0.0 < likeliest["expected_db"] < likeliest["off_db"]


def test_the_plan_moves_that_element_in_small_steps_and_the_move_was_measured(loud_pluck: Report) -> None:
    step = next(step for step in loud_pluck["plan"] if step["remedy"]["part"] == "pluck")
    assert step["remedy"]["kind"] == "gain"
    assert -6.0 <= step["remedy"]["gain_db"] < 0.0
    assert step["benefit"] > 0.0
    assert step["outcomes"]["audibility"] > 1.0
    assert loud_pluck["plan_check"]["after"]["clean_lufs"] > loud_pluck["settings"]["target_lufs"] + 2.0


def test_an_element_that_the_stems_lack_shows_in_the_residual_and_is_said(tmp_path: Path) -> None:
    lacking = {name: sound for name, sound in STEMS.items() if name not in {"pad", "hats", "pluck", "snare"}}
    both = {**lacking, "hats": STEMS["hats"]}
    report = judged(tmp_path, lacking, mixed(both))
    missing, whole = (float(np.sum(np.square(samples, dtype=np.float64))) for samples in (mixed({"hats": both["hats"]}), mixed(both)))
    mixture = report["measurements"]["elements"]["mixture"]
    assert mixture["residual_db"] == pytest.approx(10.0 * np.log10(missing / whole), abs=0.5)
    assert mixture["residual_band_hz"][0] > 1000.0
    assert [finding["stem"] for finding in report["findings"] if finding["rule"] == "delivery/stems_do_not_sum"] == [None]


def test_without_a_mix_the_sum_is_the_mix(odd_folder: Report) -> None:
    assert odd_folder["mix"]["name"] == "stems"
    assert odd_folder["mix"]["duration_s"] == pytest.approx(stem_song.SECONDS)
    assert odd_folder["measurements"]["elements"]["mixture"]["residual_db"] is None


def test_silent_and_copied_stems_are_named(odd_folder: Report) -> None:
    elements = {stem["name"]: stem for stem in odd_folder["stems"]}
    named = {(finding["rule"], finding["stem"]) for finding in odd_folder["findings"]}
    assert elements["spare"]["silent"]
    assert ("delivery/silent_stem", "spare") in named
    copies = {name for name, stem in elements.items() if stem["copy_of"] is not None}
    assert len(copies & {"kick", "kick again"}) == 1
    assert ("delivery/copied_stem", copies.pop()) in named


@pytest.mark.parametrize("words", [("differ in length", "silent after its end"), ("hats", "48"), ("broken.wav",)])
def test_each_odd_stem_has_its_sentence(odd_folder: Report, words: tuple[str, ...]) -> None:
    assert any(all(word in note for word in words) for note in odd_folder["notes"]), odd_folder["notes"]
    assert "broken" not in {stem["name"] for stem in odd_folder["stems"]}
    assert "hats" in {stem["name"] for stem in odd_folder["stems"]}


def empty(folder: Path) -> None:
    folder.mkdir()


def no_sound(folder: Path) -> None:
    folder.mkdir()
    (folder / "notes.txt").write_text("nothing to hear")


def damaged(folder: Path) -> None:
    folder.mkdir()
    (folder / "kick.wav").write_bytes(b"RIFF\x00\x00")


def two_hundred(folder: Path) -> None:
    write(folder, {f"take {number}": STEMS["kick"][:, :8] for number in range(200)})


def silent(folder: Path) -> None:
    write(folder, {"pad": np.zeros_like(STEMS["pad"]), "vox": np.zeros_like(STEMS["vox"])})


def absent(folder: Path) -> None:
    assert not folder.exists()


@pytest.mark.parametrize("bad", [empty, no_sound, damaged, two_hundred, silent, absent])
def test_a_folder_that_cannot_serve_ends_with_one_sentence_that_says_what_to_do(bad: Callable[[Path], None], tmp_path: Path) -> None:
    folder = tmp_path / "my stems"
    bad(folder)
    with pytest.raises((RequestError, LoadError)) as error_info:
        critique(None, Settings(quick=True, audition=False), tmp_path / "report", inputs=CritiqueInputs(stems=folder))
    sentence = str(error_info.value)
    assert len(sentence) < 300
    assert sentence.endswith((".", "?"))
    assert "\n" not in sentence
    assert not (tmp_path / "report" / "report.json").exists()
