"""The line: one at a time, stopped, killed, begun anew, and shared by two servers."""

import os
import signal
from pathlib import Path

import pytest

from advisor.page import queue
from advisor.page.queue import ENDED_EARLY
from advisor.page.runs import LOG, REFUSAL, Run
from tests.advisor.page.sites import DONE, ENDLESS, Page, page, wait_until


def begun(there: Page, run: Run) -> bool:
    return (there.runs.place(run) / "begun").exists()


def test_runs_are_done_in_the_order_in_which_they_came(tmp_path: Path) -> None:
    log = tmp_path / "log"
    note = f"log = open({str(log)!r}, 'a', buffering=1); log.write(folder.name + chr(10))"
    there = page(tmp_path, f"{note}; {DONE}; time.sleep(0.05); log.write('end' + chr(10))")
    runs = [there.asked(), there.asked(), there.asked()]
    with there.working():
        wait_until(lambda: there.now(runs[-1]).state == "done")
    first, second, third = (run.id for run in runs)
    assert log.read_text().split() == [first, "end", second, "end", third, "end"]


@pytest.mark.parametrize(
    ("code", "said"),
    [
        ("(folder / 'refused.txt').write_text('This is no sound.'); sys.exit(2)", "This is no sound."),
        ("raise SystemError('unforeseen')", ENDED_EARLY),
        ("sys.exit(2)", ENDED_EARLY),
    ],
)
def test_what_a_worker_refuses_or_breaks_on_is_said(tmp_path: Path, code: str, said: str) -> None:
    there = page(tmp_path, code)
    run = there.asked()
    with there.working():
        wait_until(lambda: there.now(run).state == "failed")
        assert there.now(run).said.startswith(said)
        assert said.split(":", maxsplit=1)[0] in there.client.get(f"/runs/{run.id}").text


FIRST_HANGS = f"""
pid = folder.parent / "pid"
if not pid.exists():
    pid.write_text(str(os.getpid()))
    time.sleep(60)
{DONE}"""


def test_a_killed_worker_is_said_and_the_next_is_done(tmp_path: Path) -> None:
    there = page(tmp_path, FIRST_HANGS)
    first, second = there.asked(), there.asked()
    with there.working():
        pid = there.runs.folder / "pid"
        wait_until(lambda: pid.exists() and pid.read_text() != "")
        os.kill(int(pid.read_text()), signal.SIGKILL)
        wait_until(lambda: there.now(second).state == "done")
        assert there.now(first).state == "failed"
        there.post(f"/runs/{first.id}/start")  # once more
        wait_until(lambda: there.now(first).state == "done")


def test_a_run_is_stopped_whether_it_works_or_waits(tmp_path: Path) -> None:
    there = page(tmp_path, ENDLESS)
    working, waiting = there.asked(), there.asked()
    with there.working():
        wait_until(lambda: begun(there, working))
        there.post(f"/runs/{waiting.id}/stop")
        there.post(f"/runs/{working.id}/stop")
        wait_until(lambda: there.now(working).state == there.now(waiting).state == "stopped")
    assert not begun(there, waiting)


def test_what_is_deleted_while_it_is_worked_on_leaves_nothing(tmp_path: Path) -> None:
    there = page(tmp_path, ENDLESS)
    run = there.asked()
    with there.working():
        wait_until(lambda: begun(there, run))
        there.post(f"/runs/{run.id}/delete")
        wait_until(lambda: not there.runs.place(run).exists())
        assert there.client.get(f"/runs/{run.id}").status_code == 404


def test_the_next_server_begins_anew_what_was_under_way(tmp_path: Path) -> None:
    there = page(tmp_path, ENDLESS)
    run = there.asked()
    with there.working():
        wait_until(lambda: begun(there, run))
    assert there.now(run).state == "running"
    again = page(tmp_path)
    with again.working():
        wait_until(lambda: again.now(run).state == "done")


def test_two_servers_share_one_line(tmp_path: Path) -> None:
    first, second = page(tmp_path, ENDLESS), page(tmp_path, ENDLESS)
    run = first.asked()
    with first.working():
        wait_until(lambda: begun(first, run))
        with second.working():
            other = second.asked()
            second.queue.wake()
            assert second.client.get(f"/runs/{run.id}").status_code == 200
            second.post(f"/runs/{run.id}/stop")  # seen by the server that works
            wait_until(lambda: first.now(run).state == "stopped")
            first.queue.wake()
            wait_until(lambda: begun(first, other))
            assert [there.state for there in first.runs.all()].count("running") == 1


def test_uploads_are_deleted_after_the_work_where_that_was_asked_for(tmp_path: Path) -> None:
    there = page(tmp_path)
    run = there.receiving()
    there.put(f"/runs/{run.id}/mix?name=mix.wav", b"sound")
    there.post(f"/runs/{run.id}/start")
    kept = there.asked()
    with there.working():
        wait_until(lambda: there.now(kept).state == "done")
    assert not (there.runs.place(run) / "mix").exists()
    assert (there.runs.place(run) / "report" / "report.html").is_file()
    assert (there.runs.place(kept) / "mix" / "mix.wav").is_file()


def test_a_worker_ends_with_its_server(tmp_path: Path) -> None:
    there = page(tmp_path, f"(folder / 'pid').write_text(str(os.getpid())); {ENDLESS}")
    run = there.asked()
    with there.working():
        wait_until(lambda: begun(there, run))
    pid = int((there.runs.place(run) / "pid").read_text())
    with pytest.raises(ProcessLookupError):
        os.kill(pid, 0)


def test_a_run_stays_in_line_while_the_disk_refuses(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(queue, "LOOK_EVERY_S", 0.05)
    there = page(tmp_path)
    refused, run = there.asked(), there.asked()
    log = there.runs.place(refused) / LOG
    log.mkdir()  # nothing can be written there
    old = there.runs.place(refused) / REFUSAL
    old.touch()
    with there.working():
        wait_until(lambda: not old.exists())  # it was tried
        assert {there.now(refused).state, there.now(run).state} == {"waiting"}
        log.rmdir()
        wait_until(lambda: there.now(run).state == "done")
    assert there.now(refused).state == "done"
