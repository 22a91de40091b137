"""What the pages show and change, and that no address becomes a path."""

import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from advisor.page.progress import FileProgress, RunProgress
from advisor.page.runs import Asked, Run, read_value
from advisor.page.watched import WatchAsked
from advisor.report_model.codec import to_json
from advisor.store.database import open_database
from advisor.store.home import VARIABLE
from advisor.watching.folder import REST_S
from rules.remedy import Remedy
from tests.advisor.history.bounces import bounce, found, planned, record, recorder
from tests.advisor.page.sites import TOKEN, Page, page, wait_until

NASTY = "<img src=x onerror=alert(1)> & co"
CLIMBS = [
    "../run.json",
    "%2e%2e/run.json",
    "..%2frun.json",
    "....//run.json",
    "/etc/passwd",
    "audition/../../run.json",
    "report.html%00.wav",
    "",
]


@pytest.fixture
def there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Page:
    monkeypatch.setenv(VARIABLE, str(tmp_path))
    return page(tmp_path)


def done(there: Page, name: str = "mix.wav") -> Run:
    run = there.asked(name)
    with there.working():
        wait_until(lambda: there.now(run).state == "done")
    return run


@pytest.mark.parametrize("address", ["/", "/projects", "/references", "/compare", "/master"])
def test_each_page_is_there_and_looking_makes_no_file(there: Page, tmp_path: Path, address: str) -> None:
    assert there.client.get(address).status_code == 200
    assert list(tmp_path.iterdir()) == []


def test_a_finished_report_is_read_with_a_way_back(there: Page) -> None:
    run = done(there)
    assert "Read the result" in there.client.get(f"/runs/{run.id}").text
    answer = there.client.get(f"/runs/{run.id}/report/report.html")
    assert "read me" in answer.text
    assert f'href="/runs/{run.id}"' in answer.text
    assert "form-action 'none'" in answer.headers["content-security-policy"]


def test_a_clip_is_served_in_parts(there: Page) -> None:
    run = done(there)
    clips = there.runs.place(run) / "report" / "audition"
    clips.mkdir()
    (clips / "step-1-before.flac").write_bytes(bytes(range(100)))
    answer = there.client.get(f"/runs/{run.id}/report/audition/step-1-before.flac", headers={"range": "bytes=10-19"})
    assert (answer.status_code, answer.content, answer.headers["content-type"]) == (206, bytes(range(10, 20)), "audio/flac")


@pytest.mark.parametrize("climb", CLIMBS)
def test_no_address_of_a_report_leads_out_of_it(there: Page, climb: str) -> None:
    run = done(there)
    for part in ("report", "first", "mix"):
        answer = there.client.get(f"/runs/{run.id}/{part}/{climb}")
        assert answer.status_code in (404, 405)
        assert '"state"' not in answer.text


def test_only_known_types_are_served_and_no_folder_is_listed(there: Page, tmp_path: Path) -> None:
    run = done(there)
    report = there.runs.place(run) / "report"
    for name in ("notes.exe", ".secret.wav", "page.svg"):
        (report / name).write_text("hidden", encoding="utf-8")
    (tmp_path / "outside.wav").write_text("hidden", encoding="utf-8")
    (report / "link.wav").symlink_to(tmp_path / "outside.wav")
    for name in ("notes.exe", ".secret.wav", "page.svg", "link.wav", "", "%2e"):
        assert there.client.get(f"/runs/{run.id}/report/{name}").status_code == 404
    assert there.client.get("/critiques/").status_code == 404


@pytest.mark.parametrize("number", ["%2e%2e", "0" * 16, "A" * 16, "0" * 17, "x%00", "line.sqlite3"])
def test_a_run_that_there_is_not_is_not_there(there: Page, number: str) -> None:
    done(there)
    assert there.client.get(f"/runs/{number}", follow_redirects=False).status_code in (404, 307)
    for change in ("start", "stop", "delete", "drop-sounds"):
        there.post(f"/runs/{number}/{change}", 404)
    assert len(there.runs.all()) == 1


@pytest.mark.parametrize(
    "fields",
    [{"target": "loud"}, {"target": "5"}, {"target": "nan"}, {"references": "../../etc"}, {"kind": "rm"}, {"quick": "on", "render": "on"}],
)
def test_what_a_form_cannot_mean_is_refused(there: Page, fields: dict[str, str]) -> None:
    answer = there.client.post("/runs", data={"token": TOKEN, **fields}, headers={"accept": "application/json"})
    assert answer.status_code == 400
    assert answer.json()["refused"]
    assert there.runs.all() == []


def test_a_start_without_sound_is_refused(there: Page) -> None:
    for kind in ("critique", "compare", "master"):
        there.post(f"/runs/{there.receiving(kind=kind).id}/start", 400)


def test_names_are_shown_and_never_obeyed(there: Page) -> None:
    run = there.asked("mix.wav", project=NASTY)
    for address in ("/", f"/runs/{run.id}"):
        text = there.client.get(address).text
        assert "<img" not in text
        assert "&lt;img" in text


def test_progress_is_shown_with_what_is_left(there: Page) -> None:
    run = there.asked()
    times = iter([0.0, 1.0, 2.0, 10.0, 11.0])
    progress = FileProgress(there.runs.place(run), lambda: next(times))
    progress.step("Listening")
    progress.step("Trying: boomy low mids")
    progress.advance(0.01)
    progress.advance(0.5)
    state = read_value(RunProgress, there.runs.place(run) / "progress.json")
    assert state is not None
    assert (state.done, state.now, state.share, state.left_s()) == (("Listening",), "Trying: boomy low mids", 0.5, 9.0)


def test_uploads_can_be_deleted_and_the_report_stays(there: Page) -> None:
    run = done(there)
    assert "mix.wav" in there.client.get(f"/runs/{run.id}").text
    assert str(there.runs.place(run)) in there.client.get(f"/runs/{run.id}").text
    there.post(f"/runs/{run.id}/drop-sounds")
    assert not (there.runs.place(run) / "mix").exists()
    assert "were deleted" in there.client.get(f"/runs/{run.id}").text
    there.post(f"/runs/{run.id}/delete")
    assert there.runs.all() == []


def test_a_finding_is_set_aside_and_taken_back(there: Page, tmp_path: Path) -> None:
    record(tmp_path, bounce(1, ("mono_loss", found(2.0))), name=NASTY)
    record(tmp_path, bounce(2, ("mono_loss", found(2.0))), name=NASTY)
    page_text = there.client.get("/projects/1").text
    assert "take-2.wav" in page_text
    assert "<img" not in page_text
    there.post("/projects/1/set-aside", 400, rule="mixing/mono_loss", because=" ")
    there.post("/projects/1/set-aside", 400, rule="../../etc", because="meant")
    there.post("/projects/1/set-aside", 303, rule="mixing/mono_loss", because=f"meant {NASTY}")
    assert "because “meant &lt;img" in there.client.get("/projects/1").text
    with open_database(tmp_path) as opened, opened.reading() as read:
        assert read.execute("SELECT rule FROM set_asides").fetchall() == [("mixing/mono_loss",)]
    there.post("/projects/1/take-back", 303, rule="mixing/mono_loss")
    assert "Set aside</h2>" not in there.client.get("/projects/1").text
    assert there.client.get("/projects/2").status_code == 404


def test_the_first_findings_are_read_while_the_trials_run(there: Page) -> None:
    run = there.asked()
    first = there.runs.place(run) / "first"
    first.mkdir()
    (first / "report.json").write_text(to_json(bounce(1, ("mono_loss", found(2.0)))), encoding="utf-8")
    (first / "report.html").write_text("<body>measured so far</body>", encoding="utf-8")
    there.runs.put(replace(run, state="running"))
    text = there.client.get(f"/runs/{run.id}").text
    assert "First findings" in text
    assert "Title of mono_loss" in text
    assert "still being tried" in text
    assert "measured so far" in there.client.get(f"/runs/{run.id}/first/report.html").text


def test_a_finished_critique_says_its_moves_and_what_became_of_the_findings(there: Page, tmp_path: Path) -> None:
    run = done(there)
    record(tmp_path, bounce(1, ("mono_loss", found(2.0))))
    second = planned(bounce(2, ("mono_loss", None)), "mixing/mono_loss", Remedy("gain", gain_db=-1.0))
    with recorder(tmp_path).recording(second, ()) as whole:
        (there.runs.place(run) / "report" / "report.json").write_text(to_json(whole), encoding="utf-8")
    text = there.client.get(f"/runs/{run.id}").text
    assert "Title of mono_loss: solved" in text
    assert "<strong>Title of mono_loss</strong>: Move it" in text


def test_a_bounce_of_the_watched_folder_waits_in_line(tmp_path: Path) -> None:
    folder = tmp_path / "bounces"
    (folder / "take-stems").mkdir(parents=True)
    there = page(tmp_path, watched=WatchAsked(folder, Asked(project="Harbour")))
    assert "for “Harbour”" in there.client.get("/").text
    for path in (folder / "take.wav", folder / "take-stems" / "kick.wav"):
        path.write_bytes(b"sound")
    there.watch.look(0.0)
    there.watch.look(REST_S)
    (run,) = there.runs.all()
    assert (run.state, run.mix, run.stems) == ("waiting", str(folder / "take.wav"), str(folder / "take-stems"))
    there.post(f"/runs/{run.id}/delete")
    assert (folder / "take.wav").is_file()
    shutil.rmtree(folder)
    there.watch.look(100.0)
    assert "cannot be looked into" in there.client.get("/").text
