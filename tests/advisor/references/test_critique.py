"""A critique with references, from the files to the report: shelves, folders, groups, the same song, and what the texts say."""

import json
import shutil
import subprocess
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from advisor.app.errors import RequestError
from advisor.app.progress import Quiet
from advisor.app.settings import Settings
from advisor.critique import CritiqueInputs, critique
from advisor.references import choosing
from advisor.references.adding import add
from advisor.references.choosing import choose
from advisor.references.comparison import compare_with_song
from advisor.references.measuring import measure_song
from advisor.references.records import Reference
from advisor.report import html, markdown
from advisor.store.database import open_database
from features.records.headline import FEATURES
from tests.advisor.samples import read, written
from tests.reference_shelf import write_song

SCHEMA = json.loads((Path(__file__).parents[3] / "docs" / "report.schema.json").read_text(encoding="utf-8"))
QUICK = Settings(quick=True, audition=False)


@pytest.fixture(scope="module")
def music(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Eight songs, a mix that is a ninth, and a home whose shelf 'mine' holds the eight."""
    folder = tmp_path_factory.mktemp("music")
    for seed in range(8):
        write_song(folder / "songs" / f"song {seed}.wav", seed)
    write_song(folder / "mix.wav", 20, gain_db=-10.0)
    with open_database(folder / "home") as opened:
        add(opened, "mine", [folder / "songs"], Quiet())
    return folder


@pytest.fixture(autouse=True)
def home(music: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("MIXPROOF_HOME", str(music / "home"))


def report(mix: Path, out: Path, references: str | None) -> dict[str, Any]:
    return written(critique(mix, QUICK, out, inputs=CritiqueInputs(references=references)).report)


@pytest.fixture(scope="module")
def document(music: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    with pytest.MonkeyPatch.context() as patched:
        patched.setenv("MIXPROOF_HOME", str(music / "home"))
        return report(music / "mix.wav", tmp_path_factory.mktemp("out"), "mine")


def test_the_report_names_the_shelf_the_target_and_the_spread(document: dict[str, Any]) -> None:
    jsonschema.validate(document, SCHEMA)
    references = document["references"]
    assert (references["shelf"], len(references["songs"]), references["on_the_shelf"]) == ("mine", 8, 8)
    assert document["measurements"]["target"]["label"] == "your 8 references"
    assert document["measurements"]["target"]["songs"] == 8
    assert {usual["name"] for usual in document["measurements"]["target"]["usual"]} == {feature.name for feature in FEATURES}
    assert [reading["name"] for reading in references["readings"]] == [feature.name for feature in FEATURES]
    assert len(references["nearest"]) == 2
    assert 0 <= references["more_unusual_than"] <= 8


def test_without_references_there_is_no_section(music: Path, tmp_path: Path) -> None:
    plain = report(music / "mix.wav", tmp_path, None)
    assert plain["references"] is None
    assert plain["measurements"]["target"]["songs"] == 0
    assert "Against your references" not in markdown.render(read(plain))


def test_the_section_reads_in_both_texts(document: dict[str, Any]) -> None:
    section = "".join(part.text for part in markdown.parts(read(document)) if part.name == "references")
    assert "Compared with the shelf 'mine', 8 songs." in section
    assert "judged against your 8 references" in section
    assert "To listen to beside it" in section
    for feature in FEATURES:
        assert feature.words in section
    assert "sigma" not in section
    assert "| 63 Hz | 125 Hz |" in section
    assert "Against your references" in html.render(read(document))


def test_the_offset_makes_both_equally_loud(document: dict[str, Any]) -> None:
    section = markdown.render(read(document)).split("## Against your references")[1]
    own = document["measurements"]["level"]["integrated_lufs"]
    nearest = document["references"]["nearest"][0]
    offset = nearest["integrated_lufs"] - own
    assert offset > 0  # the mix was written 10 dB lower
    assert f"**{nearest['song']}**: turn it down by {offset:.1f} dB" in section


def test_a_mix_that_is_on_the_shelf_shows_no_difference(music: Path, tmp_path: Path) -> None:
    document = report(music / "songs" / "song 3.wav", tmp_path, "mine")
    assert document["references"]["same_as"] == "song 3"
    assert document["references"]["nearest"][0]["song"] == "song 3"
    assert {reading["level"] for reading in document["references"]["readings"]} == {"like"}
    assert "**No difference:**" in markdown.render(read(document))


def test_one_reference_is_a_plain_comparison(music: Path, tmp_path: Path) -> None:
    folder = tmp_path / "one"
    folder.mkdir()
    shutil.copy(music / "songs" / "song 1.wav", folder)
    single = report(music / "mix.wav", tmp_path / "out", str(folder))
    assert (single["references"]["folder"], single["references"]["shelf"]) == ("one", None)
    assert single["measurements"]["target"]["label"] == "your reference 'song 1'"
    text = markdown.whole(read(single))
    assert "| reading | this mix | it | difference |" in text
    assert "outside" not in text.split("## Against your references")[1].split("\n## ")[0]


def test_few_references_are_told_one_by_one_without_claims(music: Path, tmp_path: Path) -> None:
    folder = tmp_path / "three"
    folder.mkdir()
    for number in range(3):
        shutil.copy(music / "songs" / f"song {number}.wav", folder)
    (folder / "broken.mp3").write_bytes(b"\0" * 3000)
    few = report(music / "mix.wav", tmp_path / "out", str(folder))
    section = "".join(part.text for part in markdown.parts(read(few)) if part.name == "references")
    assert "from 'song 0' | from 'song 1' | from 'song 2'" in section or section.count("from 'song") == 3
    assert "nothing is called unusual" in section
    assert "clearly outside" not in section
    assert "broken.mp3" in section


def test_a_folder_is_measured_once(music: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from advisor.references import adding  # noqa: PLC0415

    monkeypatch.setattr(adding, "measure_song", lambda *_: pytest.fail("a known song was measured again"))
    chosen = choose(str(music / "songs"), Quiet())
    assert (len(chosen.songs), chosen.shelf, chosen.folder) == (8, None, "songs")


@pytest.mark.parametrize(("wanted", "words"), [("mien", "Did you mean 'mine'"), ("mine:2", "one group"), ("nothing:1", "no shelf called")])
def test_what_is_not_there_is_refused_with_the_near_name(wanted: str, words: str, music: Path, tmp_path: Path) -> None:
    with pytest.raises(RequestError, match=words):
        report(music / "mix.wav", tmp_path / "out", wanted)
    assert not (tmp_path / "out").exists()


def test_an_empty_folder_is_refused(tmp_path: Path) -> None:
    with pytest.raises(RequestError, match="no sound files"):
        choose(str(tmp_path), Quiet())


def test_the_model_is_kept_and_renewed_when_the_shelf_changes(music: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    choose("mine", Quiet())
    with monkeypatch.context() as patched:
        patched.setattr(choosing, "make_model", lambda _: pytest.fail("the model was made again"))
        choose("mine", Quiet())
    with open_database(music / "home") as opened:
        add(opened, "mine too", [music / "songs", music / "mix.wav"], Quiet())
    assert len(choose("mine too", Quiet()).model.labels) == 9


@pytest.mark.skipif(shutil.which("ffmpeg") is None, reason="no ffmpeg here")
@pytest.mark.parametrize("ending", ["flac", "mp3"])
def test_the_same_song_in_another_format_differs_by_less_than_a_step(music: Path, tmp_path: Path, ending: str) -> None:
    original, other = music / "songs" / "song 2.wav", tmp_path / f"song.{ending}"
    quality = ["-b:a", "320k"] if ending == "mp3" else []
    subprocess.run(["ffmpeg", "-v", "error", "-i", str(original), *quality, str(other)], check=True)
    ours, theirs = measure_song(original), measure_song(other)
    song = compare_with_song(ours.headline, ours.third_octave_db, ours.bandwidth_hz, Reference("0", other.name, str(other), theirs))
    for difference, feature in zip(song.differences, FEATURES, strict=True):
        assert difference is not None
        assert abs(difference) < feature.step
    assert max(abs(level_db) for level_db in song.curve_db) < 1.0
    assert song.same
