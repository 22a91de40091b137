"""A critique against a shelf of two kinds: the group is found or pinned, becomes the target, and is told."""

from pathlib import Path

import pytest

from advisor.app.settings import Settings
from advisor.critique import CritiqueInputs, critique
from advisor.references import shelf
from advisor.report import markdown
from advisor.store.database import open_database
from tests.advisor.references.test_grouping import TWO
from tests.advisor.samples import written
from tests.reference_shelf import write_song


@pytest.fixture
def mix(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("MIXPROOF_HOME", str(tmp_path / "home"))
    with open_database() as opened:
        for reference in TWO:
            shelf.keep(opened, Path(reference.path), reference.sha256, reference.song, "both", (1, 2))
    return write_song(tmp_path / "mix.wav", 3)


@pytest.mark.parametrize(("wanted", "pinned"), [("both", None), ("both:1", 1), ("BOTH:2", 2)])
def test_the_group_is_the_target_and_is_told(mix: Path, wanted: str, pinned: int | None) -> None:
    report = critique(mix, Settings(quick=True, audition=False), mix.parent / "out", inputs=CritiqueInputs(references=wanted)).report
    document = written(report)
    references = document["references"]
    group = references["group"]
    assert [len(group["songs"]) for group in references["groups"]] == [10, 8]
    assert group["pinned"] is (pinned is not None)
    assert pinned is None or group["number"] == pinned
    assert references["songs"] == references["groups"][group["number"] - 1]["songs"]
    assert document["measurements"]["target"]["songs"] == len(references["songs"])
    section = markdown.render(report).split("## Against your references")[1].split("\n## ")[0]
    assert "They fall into 2 groups" in section
    assert f"the group around '{group['name']}'" in section
    assert ("You chose group" in section) is (pinned is not None)
