"""The page as a person uses it: drop a mix, read, play, set aside, drop the next bounce."""

import http.client
import shutil
from base64 import b64encode
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from queue import Queue
from threading import Thread
from typing import TYPE_CHECKING, Any

import pytest
import soundfile

from advisor.page.server import listening, server
from advisor.store.home import VARIABLE
from tests.advisor.cli.test_command_line import RATE_HZ, music
from tests.advisor.page.sites import wait_until

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

playwright = pytest.importorskip("playwright.sync_api", reason="Playwright, which drives the browser, is not installed")
axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe-core is not installed")
CHROMIUM = shutil.which("chromium")
pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="Chromium is not installed")
PATIENT_MS = 180_000.0  # the first critique on a machine compiles
PROJECT = "Harbour <b>lights</b> & co"


@dataclass(frozen=True, slots=True)
class Served:
    """A page that is served, and where its sounds lie."""

    address: str
    sounds: Path

    @property
    def port(self) -> int:
        return int(self.address.rstrip("/").rpartition(":")[2])


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """Serve the page with a history of its own and real workers."""
    folder, addresses = tmp_path_factory.mktemp("served"), Queue[str]()
    soundfile.write(folder / "bounce a.wav", music(4.0), RATE_HZ, subtype="PCM_24")
    soundfile.write(folder / "bounce b.wav", music(4.0)[:, :1].repeat(2, axis=1) * 0.9, RATE_HZ, subtype="PCM_24")
    (folder / "archive.wav").write_bytes(b"PK\x03\x04" + bytes(5000))
    with pytest.MonkeyPatch.context() as patch, listening(0) as opened:
        patch.setenv(VARIABLE, str(folder / "home"))
        patch.delenv("NUMBA_CACHE_DIR", raising=False)  # the workers use what the tests compiled
        served_page = server(opened, None, addresses.put)
        thread = Thread(target=served_page.run, kwargs={"sockets": [opened]})
        thread.start()
        yield Served(addresses.get(timeout=20.0), folder)
        served_page.should_exit = True
        thread.join()


@pytest.fixture(scope="module")
def browser() -> "Iterator[Browser]":
    with playwright.sync_playwright() as driver:
        started = driver.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", "--mute-audio"])
        yield started
        started.close()


@pytest.fixture
def page(browser: "Browser", served: Served) -> "Iterator[Page]":
    """Return a page in the browser, which must not complain of anything."""
    complaints: list[str] = []
    with browser.new_context(viewport={"width": 390, "height": 844}) as context:
        opened = context.new_page()
        opened.set_default_timeout(PATIENT_MS)
        opened.on("console", lambda message: complaints.append(message.text))
        opened.on("pageerror", lambda error: complaints.append(str(error)))
        opened.goto(served.address)
        yield opened
    assert complaints == []


def objections(page: "Page", **options: object) -> list[str]:
    """Return what axe finds wrong with a page."""
    violations: list[dict[str, Any]] = axe.Axe().run(page, options=options).response["violations"]
    return [f"{violation['id']}: {violation['nodes'][0]['html']}" for violation in violations]


def check(page: "Page") -> None:
    """Want no objection of axe, in the light and in the dark, and no scrolling sideways."""
    page.evaluate("document.querySelectorAll('details').forEach(part => part.open = true)")
    assert objections(page) == []
    page.emulate_media(color_scheme="dark")
    assert objections(page, runOnly=["color-contrast"]) == []
    page.emulate_media(color_scheme="light")
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


def heading(page: "Page") -> str:
    return page.locator("h1").inner_text()


def send(page: "Page", name: str) -> None:
    """Fill the form and send it by keyboard, and wait until it is done."""
    page.locator("#project").fill(PROJECT)
    page.keyboard.press("Enter")
    page.wait_for_url("**/runs/*")
    assert heading(page) == name
    other = page.context.new_page()
    other.goto(page.url)
    page.reload()
    for tab in (page, other):  # each follows for itself
        tab.get_by_text("Read the report and listen").wait_for(timeout=PATIENT_MS)
    other.close()


def read_and_play(page: "Page") -> None:
    """Read the report, play a clip, and come back, by keyboard."""
    page.get_by_text("Read the report and listen").press("Enter")
    page.locator(".player .play").first.press("Space")
    clip = page.locator(".player audio").first
    wait_until(lambda: bool(clip.evaluate("clip => clip.currentTime > 0.1")))
    page.get_by_text("Back to the page").press("Enter")
    page.wait_for_url("**/runs/*")


def set_aside(page: "Page") -> None:
    """Set a finding aside in the project, by keyboard."""
    page.get_by_text("The project:").press("Enter")
    page.locator("summary", has_text="Ending is cut off").press("Enter")
    page.keyboard.press("Tab")
    page.keyboard.type("a loop <b>ends</b> so")
    page.keyboard.press("Enter")
    page.get_by_text("a loop <b>ends</b> so").wait_for()
    assert heading(page) == PROJECT


def test_the_whole_journey(page: "Page", served: Served) -> None:
    check(page)
    page.set_input_files("#mix", served.sounds / "bounce a.wav")
    send(page, "bounce a.wav")
    check(page)
    assert PROJECT in page.locator("p.quiet").inner_text()
    run_address = page.url
    page.goto(f"{run_address}/first/report.html")
    assert heading(page) == "Critique of bounce a.wav"
    page.goto(run_address)
    read_and_play(page)
    set_aside(page)
    check(page)
    page.goto(served.address)
    drop(page, (served.sounds / "bounce b.wav").read_bytes())
    page.get_by_label("Quick look").check()
    send(page, "bounce b.wav")
    since = page.locator("h2:has-text('Since the bounce before') + ul").inner_text()
    assert "Mix leans left (1.9 dB): solved" in since
    assert "Ending is cut off: set aside" in since
    check(page)
    page.get_by_text("Delete all of this").click()
    page.wait_for_url(served.address)
    assert page.locator(".runs a").all_inner_texts() == ["bounce a.wav"]


DROP = """(sound) => {
    const dropped = new DataTransfer();
    dropped.items.add(new File([Uint8Array.from(atob(sound), (letter) => letter.charCodeAt(0))], "bounce b.wav"));
    document.querySelector(".drop").dispatchEvent(new DragEvent("drop", {dataTransfer: dropped, bubbles: true, cancelable: true}));
}"""


def drop(page: "Page", sound: bytes) -> None:
    """Drop a sound onto the page."""
    page.evaluate(DROP, b64encode(sound).decode())
    page.get_by_text("Dropped: bounce b.wav.").wait_for()


def test_an_archive_with_the_name_of_a_sound_is_refused_in_words(page: "Page", served: Served) -> None:
    page.set_input_files("#mix", served.sounds / "archive.wav")
    page.get_by_text("Critique it").click()
    page.get_by_role("alert").wait_for()
    assert "archive.wav" in page.get_by_role("alert").inner_text()
    check(page)


def test_axe_has_no_objection_to_the_other_pages(page: "Page", served: Served) -> None:
    for name in ("compare", "master", "references", "projects"):
        page.goto(f"{served.address}{name}")
        check(page)


@pytest.mark.parametrize(
    "target", ["/runs/../../../etc/passwd", "/../../etc/passwd", "//etc/passwd", "/runs/%2e%2e/run.json", "http://evil.example/"]
)
def test_a_raw_address_leads_nowhere_else(served: Served, target: str) -> None:
    connection = http.client.HTTPConnection("127.0.0.1", served.port)
    connection.request("GET", target)
    answer = connection.getresponse()
    text = answer.read().decode()
    connection.close()
    assert answer.status in (403, 404, 405) or "What should I fix" in text
    assert "root:" not in text
