"""The page in a browser: by keyboard alone, without scripts, on paper and on a phone; nothing that axe-core objects to."""

import shutil
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from advisor.compare.text import render as comparison_text
from advisor.report import html
from tests.advisor.compare.test_compare import comparison
from tests.advisor.history.bounces import bounce, found
from tests.advisor.report.page.pages import CLIP_S, EVIL, with_clips, write_clips

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

playwright = pytest.importorskip("playwright.sync_api", reason="Playwright, which drives the browser, is not installed")
axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe-core is not installed")
CHROMIUM = shutil.which("chromium")
pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="Chromium is not installed")

FOLD = '# A report\n\n<details markdown="1">\n<summary>The trial</summary>\n\n| reading | |\n|---|---|\n| *room* | 0.2 LU |\n\n</details>\n'
Open = Callable[..., "Page"]


@pytest.fixture(scope="module")
def browser() -> "Iterator[Browser]":
    with playwright.sync_playwright() as driver:
        started = driver.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", "--mute-audio"])
        yield started
        started.close()


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder of pages, one of them with clips."""
    made = tmp_path_factory.mktemp("pages")
    write_clips(made)
    pages = {
        "report": html.render(with_clips()),
        "names": html.render(with_clips(EVIL, EVIL)),
        "folds": html.page(FOLD, "Folds"),
        "compare": html.page(comparison_text(comparison(bounce(1, ("one", found(1.0))), bounce(2, ("two", found(1.1))))), "Two bounces"),
    }
    for name, page in pages.items():
        (made / f"{name}.html").write_text(page, encoding="utf-8")
    return made


@pytest.fixture
def opened(browser: "Browser", folder: Path) -> Iterator[Open]:
    """Return a function that opens a page; the browser must not complain of anything."""
    complaints: list[str] = []
    with ExitStack() as stack:

        def run(name: str, **options: Any) -> "Page":  # noqa: ANN401 - whatever the browser takes
            page = browser.new_page(**options)
            stack.callback(page.close)
            page.on("console", lambda message: complaints.append(message.text))
            page.on("pageerror", lambda error: complaints.append(str(error)))
            page.on("dialog", lambda dialog: complaints.append(dialog.message))
            page.goto((folder / f"{name}.html").as_uri())
            return page

        yield run
    assert complaints == []


def objections(page: "Page", **options: object) -> list[str]:
    """Return what axe-core finds wrong with a page on which everything is open."""
    page.evaluate("document.querySelectorAll('details, .blind').forEach(part => part.click(part.open = true))")
    violations: list[dict[str, Any]] = axe.Axe().run(page, options=options).response["violations"]
    return [f"{violation['id']}: {violation['help']}: {violation['nodes'][0]['html']}" for violation in violations]


@pytest.mark.parametrize("name", ["report", "folds", "compare"])
def test_axe_has_no_objection(opened: Open, name: str) -> None:
    assert objections(opened(name, bypass_csp=True)) == []  # the page's own policy would keep axe out


def test_contrast_holds_in_the_dark(opened: Open) -> None:
    assert objections(opened("report", bypass_csp=True, color_scheme="dark"), runOnly=["color-contrast"]) == []


def state(page: "Page") -> dict[str, Any]:
    """Return what the first player does: whether it plays, where, and which clip is heard."""
    states: dict[str, Any] = page.evaluate(
        """() => {
        const clips = [...document.querySelector(".player").querySelectorAll("audio")];
        const heard = clips.filter((clip) => !clip.muted);
        return {playing: !heard[0].paused, time: heard[0].currentTime, heard: heard.map((clip) => clips.indexOf(clip))};
        }"""
    )
    return states


def wait_for(page: "Page", condition: str) -> None:
    page.wait_for_function(f"() => {{ const clips = [...document.querySelectorAll('.player audio')]; return {condition}; }}")


# How far apart the two are at a switch, all in one turn of the browser, so that no load matters.
SWITCH = """() => {
    const clips = document.querySelector(".player").querySelectorAll("audio");
    const before = clips[0].currentTime;
    document.activeElement.dispatchEvent(new KeyboardEvent("keydown", {key: "b", bubbles: true}));
    return Math.abs(clips[1].currentTime - before);
}"""


def test_a_pair_is_played_and_switched_by_keyboard_at_one_position(opened: Open) -> None:
    page = opened("report")
    press = page.keyboard.press
    page.locator(".player .play").first.focus()
    press("Space")
    wait_for(page, "clips[0].currentTime > 0.2 && clips[1].currentTime > 0.1")
    assert state(page)["heard"] == [0]
    assert page.evaluate(SWITCH) < 0.05
    assert state(page)["heard"] == [1]
    assert state(page)["playing"]
    press("Space")
    wait_for(page, "clips[0].paused && clips[1].paused")
    before = state(page)["time"]
    press("ArrowRight")
    press("ArrowRight")
    press("ArrowLeft")
    assert state(page)["time"] == pytest.approx(before + 1.0, abs=0.1)
    press("a")
    assert state(page)["heard"] == [0]
    assert state(page)["time"] == pytest.approx(before + 1.0, abs=0.1)
    assert not state(page)["playing"]


def test_one_sound_at_a_time_and_a_pair_goes_round(opened: Open) -> None:
    page = opened("report")
    first, second = page.locator(".player .play").all()[:2]
    first.press("Enter")
    wait_for(page, "!clips[0].paused")
    second.press("Space")
    wait_for(page, "clips[0].paused && clips[1].paused && !clips[2].paused")
    page.locator(".seek").nth(1).evaluate(
        "(slider, time) => { slider.value = time; slider.dispatchEvent(new Event('input')); }", CLIP_S - 0.2
    )
    wait_for(page, f"clips[2].currentTime < {CLIP_S / 2} && !clips[2].paused")


def test_the_blind_test_counts_and_says_when_it_is_guessing(opened: Open) -> None:
    page = opened("report")
    player = page.locator(".player").first
    player.locator(".blind").focus()
    for right, verdict in ((10, "you hear it"), (9, "you hear it"), (8, "this may be guessing"), (0, "this may be guessing")):
        page.keyboard.press("Enter")
        assert "Round 1 of 10" in player.locator(".said").inner_text()
        for number in range(10):
            hidden = state(page)["heard"][0]
            player.locator(".answer").nth(hidden if number < right else 1 - hidden).press("Enter")
        assert player.locator(".said").inner_text().startswith(f"{right} of 10: {verdict}")
        assert page.evaluate("document.activeElement.textContent") == "Test again"


def test_x_is_drawn_anew_and_nothing_shows_which_it_is(opened: Open) -> None:
    page = opened("report")
    page.evaluate("(() => { let turn = 0; Math.random = () => (turn += 1) % 3 / 3; })()")
    page.locator(".blind").first.press("Enter")
    player, drawn, looks = page.locator(".player").first, set(), set()
    for _ in range(3):
        page.keyboard.press("a")
        page.keyboard.press("x")
        drawn.add(state(page)["heard"][0])
        looks.add(player.locator(".row").inner_text())
        player.locator(".answer").first.press("Enter")
    assert drawn == {0, 1}
    assert len(looks) == 1
    player.locator(".stop").press("Enter")
    assert not player.locator(".test").is_visible()


def test_a_fold_is_opened_by_keyboard(opened: Open) -> None:
    page = opened("folds")
    page.keyboard.press("Tab")
    assert not page.locator("table").is_visible()
    page.keyboard.press("Enter")
    assert page.locator("table").is_visible()


def test_a_time_is_followed_by_keyboard(opened: Open) -> None:
    page = opened("report")
    page.locator("a.time", has_text="1:01").first.press("Enter")
    wait_for(page, "!clips.at(-1).paused && clips.at(-1).currentTime >= 61")
    whole = page.locator(".player.whole")
    assert whole.locator(".place").inner_text() == "1:01 Title of one"
    assert whole.locator(".seek").get_attribute("aria-valuetext") == "1:01, in Title of one"
    assert whole.evaluate("player => player.getBoundingClientRect().bottom") == page.viewport_size["height"]  # type: ignore[index]
    page.keyboard.press("Space")
    wait_for(page, "clips.at(-1).paused")
    page.keyboard.press("Escape")
    assert page.locator(":focus").inner_text() == "1:01-1:10"
    assert whole.locator(".close").count() == 0


def test_without_scripts_each_clip_has_the_browsers_own_player(opened: Open) -> None:
    page = opened("report", java_script_enabled=False)
    assert [clip.is_visible() for clip in page.locator("audio[controls]").all()] == [True] * 5
    assert page.locator("button, input").count() == 0
    assert page.locator("a.time", has_text="1:01").first.get_attribute("href") == "audio/mix-marked.wav#t=61,70".replace(
        "audio/", "audition/"
    )


def test_a_page_that_holds_its_clips_plays_them_anywhere(opened: Open, folder: Path) -> None:
    (folder / "elsewhere").mkdir()
    (folder / "elsewhere" / "report.html").write_text(html.render(with_clips(), folder), encoding="utf-8")
    page = opened("elsewhere/report")
    page.locator(".player .play").first.press("Enter")
    wait_for(page, "clips.length === 4 && clips[0].currentTime > 0.1 && clips[1].readyState > 0")
    assert page.locator("a.time, a[href^=audition]").count() == 0


def test_paper_has_no_players_and_a_phone_no_sideways_scrolling(opened: Open) -> None:
    page = opened("report", viewport={"width": 390, "height": 844})
    assert page.evaluate("document.documentElement.scrollWidth") == 390
    page.emulate_media(media="print")
    assert not page.locator(".player").first.is_visible()


def test_the_focus_is_seen(opened: Open) -> None:
    page = opened("report")
    for _ in range(6):
        page.keyboard.press("Tab")
        styles = "e => { const seen = getComputedStyle(e.matches('.switch input') ? e.nextSibling : e); return seen.outlineStyle; }"
        assert page.locator(":focus").evaluate(styles) == "solid"


def test_names_are_shown_and_never_obeyed(opened: Open) -> None:
    page = opened("names")
    assert page.title() == f"Critique of {EVIL}"
    assert EVIL in page.locator("h1").inner_text()
    assert page.locator(".player").first.get_attribute("aria-label") == f"Step 1: {EVIL}"
    assert page.locator("main script, main strong:text-is('bold'), a[href^=javascript]").count() == 0
