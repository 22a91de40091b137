"""A fault at every file operation of a recorded critique: the old report or the new one, and a history that says the same."""

import json
import shutil
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import pytest

from advisor.app.errors import RequestError
from advisor.critique import write_recorded
from advisor.history import recorder as recorder_module
from advisor.history import store
from advisor.history.recorder import has_bounce, recorded
from advisor.history.story import BounceStory
from advisor.report import files, html, markdown
from advisor.report_model.report import Report
from advisor.store.database import open_database
from advisor.store.writer import mend
from tests.advisor.history.bounces import bounce, found, recorder
from tests.advisor.store.faults import KINDS, KilledError, Kind, faults

NO_STORY = BounceStory((), (), (), (None, 0.0), (), ())
NEVER = -1
EVERY = 5  # of the faults that a further critique follows
TEXTS = ("report.md", "details.md", "report.html", "report.json")


@dataclass(frozen=True, slots=True)
class Place:
    """The user's data and a folder of reports."""

    home: Path
    folder: Path


@pytest.fixture
def quick_pages(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave the making of pages out: it opens no files."""
    for page, name in ((markdown, "render"), (markdown, "details"), (html, "render")):
        monkeypatch.setattr(page, name, lambda report, *_: f"{report.mix.name} {report.history.number}")
    monkeypatch.setattr(
        files, "to_json", lambda report: json.dumps({"mix": {"name": report.mix.name}, "history": {"number": report.history.number}})
    )
    monkeypatch.setattr(recorder_module, "tell", lambda *_: NO_STORY)


def critiqued(place: Place, take: int, *, project: bool = True) -> None:
    """Write the report of one bounce as a critique does, with clips."""
    made = recorder(place.home) if project else None
    with files.aside(place.folder, has_bounce(made)) as aside:
        (aside / "audition").mkdir()
        for name in ("step-1-before.flac", f"step-{take}-after.flac"):
            (aside / "audition" / name).write_text(f"take-{take}.wav", encoding="utf-8")
        write_recorded(recorded(REPORTS[take], (), made), place.folder, aside)


REPORTS: dict[int, Report] = {take: bounce(take, ("one", found(float(take)))) for take in (1, 2, 3)}


def names(place: Place) -> dict[str, str]:
    """Return which bounce every file in the folder is of."""
    takes_by_name = {}
    for path in sorted(place.folder.rglob("*")):
        assert not path.name.startswith(".new-"), "litter"
        if path.is_file():
            text = path.read_text(encoding="utf-8")
            takes_by_name[path.name] = json.loads(text)["mix"]["name"] if path.suffix == ".json" else text.split()[0]
    return takes_by_name


def recorded_names(place: Place) -> list[str]:
    with open_database(place.home) as opened, opened.reading() as read:
        project = store.project_id(read, "Harbour")
        return [] if project is None else [kept.file_name for kept in store.bounces(read, project)]


def is_whole(place: Place, takes: list[str], *, alone: bool = True) -> None:
    """Check that folder and history speak of the same bounce, the last one recorded; ``alone`` where nothing older lies beside it."""
    takes_by_name = names(place)
    assert set(takes_by_name) >= set(TEXTS)
    assert {take for name, take in takes_by_name.items() if alone or name in TEXTS} == {takes[-1]}, takes_by_name
    document = json.loads((place.folder / "report.json").read_text(encoding="utf-8"))
    assert document["history"]["number"] == len(takes)
    assert recorded_names(place) == takes


def struck(tmp_path: Path, kind: Kind) -> Iterator[tuple[Place, str]]:
    """Yield the place after a fault at one operation after another of the second bounce's critique."""
    first = Place(tmp_path / "first" / "home", tmp_path / "first" / "take-critique")
    with faults("error", NEVER):
        critiqued(first, 1)
    at, hit = 0, True
    while hit:
        root = tmp_path / f"{at}"
        shutil.copytree(tmp_path / "first", root)
        place = Place(root / "home", root / "take-critique")
        with faults(kind, at) as shim, suppress(RequestError, KilledError, OSError):
            critiqued(place, 2)
        hit = shim.struck is not None
        if hit:
            yield place, f"{shim.struck} ({at})"
        shutil.rmtree(root)
        at += 1
    assert at > 40, "the shim sees what is done"


@pytest.mark.usefixtures("quick_pages")
@pytest.mark.parametrize("kind", KINDS)
def test_old_or_new_report_after_a_fault_at_every_operation(tmp_path: Path, kind: Kind) -> None:
    for number, (place, where) in enumerate(struck(tmp_path, kind)):
        if kind != "kill" and not list(place.folder.glob(".new-*")):
            is_whole(place, recorded_names(place), alone=False)
        if (place.folder / "report.json").exists():
            json.loads((place.folder / "report.json").read_text(encoding="utf-8"))
        assert all((place.folder / name).exists() for name in TEXTS), f"{where}: one is missing"
        mend(place.folder, has_bounce(recorder(place.home)))
        takes = recorded_names(place)
        assert takes in (["take-1.wav"], ["take-1.wav", "take-2.wav"]), where
        takes_by_name = {name: take for name, take in names(place).items() if name in TEXTS}
        assert set(takes_by_name.values()) == {takes[-1]}, f"{where}: {takes_by_name}"
        if number % EVERY == 0:
            with faults("error", NEVER):
                critiqued(place, 3)
            is_whole(place, [*takes, "take-3.wav"])


@pytest.mark.usefixtures("quick_pages")
def test_a_fault_in_the_first_report_leaves_nothing_or_all_of_it(tmp_path: Path) -> None:
    at, hit = 0, True
    while hit:
        place = Place(tmp_path / f"{at}-home", tmp_path / f"{at}-critique")
        with faults("error", at) as shim, suppress(RequestError, OSError):
            critiqued(place, 1)
        hit = shim.struck is not None
        there = place.folder.exists() and any(place.folder.iterdir())
        assert there == bool(recorded_names(place)), shim.struck
        at += 1


def test_a_link_named_like_ours_is_replaced_and_not_followed(tmp_path: Path) -> None:
    strange = tmp_path / "strange"
    strange.mkdir()
    (strange / "mine.json").write_text("mine", encoding="utf-8")
    place = Place(tmp_path / "home", tmp_path / "critique")
    place.folder.mkdir()
    (place.folder / "report.json").symlink_to(strange / "mine.json")
    critiqued(place, 1)
    assert not (place.folder / "report.json").is_symlink()
    assert (strange / "mine.json").read_text(encoding="utf-8") == "mine"


def test_a_linked_audition_is_refused_and_nothing_of_a_stranger_is_touched(tmp_path: Path) -> None:
    strange = tmp_path / "strange"
    strange.mkdir()
    (strange / "step-1-before.flac").write_text("mine", encoding="utf-8")
    place = Place(tmp_path / "home", tmp_path / "critique")
    place.folder.mkdir()
    (place.folder / "audition").symlink_to(strange)
    with pytest.raises(RequestError, match="is a link to another place"):
        files.check_apart(None, place.folder)
    with pytest.raises(RequestError, match="is a link to another place"):
        critiqued(place, 1, project=False)
    assert [path.read_text(encoding="utf-8") for path in strange.iterdir()] == ["mine"]
    assert [path.name for path in place.folder.iterdir()] == ["audition"]


def test_a_living_run_is_left_alone(tmp_path: Path) -> None:
    with files.aside(tmp_path) as place:
        mend(tmp_path)
        assert place.is_dir()
    assert list(tmp_path.iterdir()) == []


def test_what_is_not_ours_is_not_swept(tmp_path: Path) -> None:
    for name in (".new-ideas", ".new-UPPERCAS", "new-abcdefgh"):
        (tmp_path / name).mkdir()
    (tmp_path / ".new-abcdefgh").symlink_to(tmp_path / ".new-ideas")
    mend(tmp_path)
    assert len(list(tmp_path.iterdir())) == 4


@pytest.mark.parametrize("name", ["../notes.txt", "/etc/passwd", "a/../../b", "audition/../../b", ".hidden"])
def test_a_stranger_s_plan_for_moving_files_is_not_followed(tmp_path: Path, name: str) -> None:
    place = tmp_path / "critique" / ".new-abcdefgh"
    place.mkdir(parents=True)
    (tmp_path / "notes.txt").write_text("mine", encoding="utf-8")
    (place / "ready.json").write_text(json.dumps({"names": [name], "entry": None}), encoding="utf-8")
    mend(tmp_path / "critique")
    assert (tmp_path / "notes.txt").read_text(encoding="utf-8") == "mine"
    assert list((tmp_path / "critique").iterdir()) == []
