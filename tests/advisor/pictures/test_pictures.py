"""The pictures of a page together: found by themselves, one style, drawn the same each time, and safe beside each other."""

import importlib.util
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from xml.etree.ElementTree import fromstring

import pytest

import advisor
from advisor.app.settings import Settings
from advisor.pictures import critique, master
from advisor.pictures.colours import AREA, COLOURS, GRID, PAPER, style
from advisor.pictures.discovery import kinds_in, pictures_of
from advisor.pictures.picture import FRONT, Picture
from advisor.report_model.report import Report
from features.records.base import Span
from tests import records
from tests.advisor.pictures.drawings import with_stems
from tests.advisor.samples import finding, report, rule_that
from tests.test_words import MOST_WORDS, SENTENCE_END, dropped_in

ROOT = Path(str(advisor.__file__)).parents[1]
AA = 4.5  # WCAG 2.2, 1.4.3: words of ordinary size
NEW_PICTURE = """
from advisor.pictures.picture import Drawn, PictureKind
from advisor.pictures.sheet import Sheet


def draw(report):
    sheet = Sheet(40.0)
    sheet.words(10.0, 20.0, report.mix.name)
    return Drawn(sheet, "A greeting.", "Hello.")


KIND = PictureKind(place=5, section="findings", draw=draw)
"""


def full_report() -> Report:
    judged = report(rule_that(replace(finding(1.0, band=(200.0, 400.0)), where=(Span(61.0, 70.0),))))
    return replace(with_stems(), findings=judged.findings)


@pytest.fixture(scope="module")
def pictures() -> tuple[Picture, ...]:
    return pictures_of(full_report())


@pytest.fixture
def more_pictures(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """Lend a folder in which pictures are found beside our own."""
    monkeypatch.setattr(critique, "__path__", [*critique.__path__, str(tmp_path)])
    kinds_in.cache_clear()
    yield tmp_path
    kinds_in.cache_clear()
    sys.modules.pop(f"{critique.__name__}.greeting", None)


def test_a_new_picture_is_one_module(more_pictures: Path) -> None:
    (more_pictures / "greeting.py").write_text(NEW_PICTURE, encoding="utf-8")
    (greeting,) = [picture for picture in pictures_of(report()) if picture.name == "greeting"]
    assert (greeting.section, greeting.caption) == ("findings", "A greeting.")
    assert ">song.wav<" in greeting.svg


def test_a_module_without_its_kind_is_named(more_pictures: Path) -> None:
    (more_pictures / "greeting.py").write_text("", encoding="utf-8")
    with pytest.raises(TypeError, match=r"greeting must declare KIND"):
        pictures_of(report())


def test_a_crash_costs_one_picture(more_pictures: Path) -> None:
    (more_pictures / "greeting.py").write_text(NEW_PICTURE.replace("Sheet(40.0)", "Sheet(1 / 0)"), encoding="utf-8")
    drawn = {picture.name: picture for picture in pictures_of(report())}
    assert drawn["greeting"].caption == "The picture 'greeting' could not be drawn (ZeroDivisionError: division by zero). The rest stands."
    assert drawn["outlook"].svg


def test_every_kind_has_a_place_of_its_own() -> None:
    for package in (critique, master):
        places = [kind.place for kind in kinds_in(package).values()]
        assert len(set(places)) == len(places) > 0


def test_pictures_are_drawn_the_same_each_time(pictures: tuple[Picture, ...]) -> None:
    assert pictures_of(full_report()) == pictures


def test_ids_belong_to_one_picture_each(pictures: tuple[Picture, ...]) -> None:
    page = fromstring(f"<main>{''.join(picture.svg for picture in pictures)}</main>")  # noqa: S314 - our own drawings
    ids = [name for element in page.iter() if (name := element.get("id"))]
    wanted = {
        value.removeprefix("url(").strip("#)")
        for element in page.iter()
        for value in (element.get("href"), element.get("clip-path"))
        if value
    }
    assert len(set(ids)) == len(ids)
    assert wanted == set(ids)


def test_words_stay_words_and_every_colour_is_the_pages(pictures: tuple[Picture, ...]) -> None:
    for picture in pictures:
        root = fromstring(picture.svg)  # noqa: S314 - our own drawing
        painted = {value for element in root.iter() for paint in ("fill", "stroke") if (value := element.get(paint))}
        assert painted <= {"none", *(colour.variable for colour in COLOURS)}, picture.name
        assert list(root.iter("text")), picture.name
        assert all(element.get("fill") for element in root.iter("text")), picture.name
        assert "font-family" not in picture.svg
        assert not {element.tag for element in root.iter()} & {"metadata", "style", "script"}


def test_each_picture_says_what_to_see_and_holds_its_numbers(pictures: tuple[Picture, ...]) -> None:
    for picture in pictures:
        root = fromstring(picture.svg)  # noqa: S314 - our own drawing
        assert (root.get("role"), root.get("aria-label")) == ("img", picture.alternative)
        assert picture.caption.endswith(".")
        assert any(char.isdigit() for char in picture.alternative), picture.name


def test_captions_speak_the_trades_english(pictures: tuple[Picture, ...]) -> None:
    for picture in pictures:
        assert not dropped_in(f"{picture.caption} {picture.alternative}"), picture.name
        assert all(len(sentence.split()) <= MOST_WORDS for sentence in SENTENCE_END.split(picture.caption)), picture.caption


def test_two_pictures_stand_in_front(pictures: tuple[Picture, ...]) -> None:
    assert [picture.name for picture in pictures if picture.section == FRONT] == ["outlook", "spectrum"]


def test_front_shows_what_the_first_move_is_about() -> None:
    about_width = replace(full_report().findings[0], cause="width", topic="space")
    shown = pictures_of(replace(full_report(), findings=(about_width,)))
    assert [picture.name for picture in shown if picture.section == FRONT] == ["outlook", "width"]
    assert "spectrum" in [picture.name for picture in shown if picture.section == "findings"]


def test_none_are_drawn_for_who_wants_it_quick() -> None:
    assert pictures_of(report(settings=replace(Settings(), quick=True, audition=False))) == ()
    assert pictures_of(report(settings=replace(Settings(), quick=True)))


def test_drawing_is_imported_only_to_draw() -> None:
    code = (
        "import sys; import advisor.report.html; from advisor.pictures import critique, discovery; discovery.kinds_in(critique)\n"
        "sys.exit('imported' if 'matplotlib' in sys.modules else 0)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False, cwd=ROOT).returncode == 0


def luminance(colour: str) -> float:
    """Return the relative luminance of a colour (WCAG 2.2)."""
    parts = [int(colour[place : place + 2], 16) / 255.0 for place in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(colour: str, other: str) -> float:
    """Return the contrast of two colours (WCAG 2.2)."""
    darker, lighter = sorted((luminance(colour), luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def test_the_contrast_of_black_and_white_is_known() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)


@pytest.mark.parametrize("paper", ["light", "dark"])
def test_what_is_read_stands_out_from_paper_and_from_shading(paper: str) -> None:
    for colour in COLOURS:
        if colour not in {PAPER, GRID, AREA}:
            for behind in (getattr(PAPER, paper), getattr(AREA, paper)):
                assert contrast(getattr(colour, paper), behind) >= AA, (colour.name, behind)


def test_the_page_is_told_every_colour_for_both_papers() -> None:
    written = style(".picture")
    assert all(f"--picture-{colour.name}: {value};" in written for colour in COLOURS for value in (colour.light, colour.dark))
    assert written.index("prefers-color-scheme: dark") > written.index(COLOURS[-1].light)


def test_a_report_of_forty_stems_stays_small() -> None:
    stems = [records.element(f"stem {number}") for number in range(40)]
    svgs = [picture.svg for picture in pictures_of(with_stems(*stems))]
    assert sum(map(len, svgs)) < 120_000


def test_the_readmes_pictures_stand_on_their_own(pictures: tuple[Picture, ...]) -> None:
    spec = importlib.util.spec_from_file_location("make_pictures", ROOT / "docs" / "make_pictures.py")
    assert spec is not None
    assert spec.loader is not None
    maker = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(maker)
    root = fromstring(maker.standalone(pictures[0]))  # noqa: S314 - our own drawing
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    assert "--picture-ink" in (root[0].text or "")
    assert all((ROOT / "docs" / "pictures" / f"{name}.svg").is_file() for name in maker.SHOWN)
