"""Sections are found by themselves, in the order of their places; what is put into their templates is made safe."""

import importlib
import pkgutil
import re
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from advisor.app.settings import ChangedLimit
from advisor.report import filling, sections
from advisor.report.filling import filled
from advisor.report.markdown import render, sections_in, whole
from advisor.report.sections import critique, master
from advisor.report_model.parts import FailedPart, OpenRule, UsedSettings
from tests.advisor.samples import finding, report, rule_that

SHARED = {"card", "card_lines", "card_numbers", "index", "streaming"}  # by several sections, and of several songs
NEW_SECTION = """
from advisor.report.filling import filled

PLACE = 15


def section(report):
    return filled(__name__, name=report.mix.name)
"""


def names_in(package: str) -> list[str]:
    """Return the modules of a document's sections, relative to the sections' package."""
    document = importlib.import_module(f"{sections.__name__}.{package}")
    modules = pkgutil.walk_packages(document.__path__, f"{document.__name__}.")
    return [info.name.removeprefix(f"{sections.__name__}.") for info in modules if not info.ispkg]


EVIL = "<b>*a*</b>`_|"


@pytest.fixture
def more_sections(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """Lend a folder in which sections and templates are found beside our own."""
    monkeypatch.setattr(critique, "__path__", [*critique.__path__, str(tmp_path)])
    monkeypatch.setattr(filling, "TEMPLATES", [*filling.TEMPLATES, tmp_path])
    for cached in (sections_in, filling.environment):
        cached.cache_clear()
    yield tmp_path
    for cached in (sections_in, filling.environment):
        cached.cache_clear()
    sys.modules.pop(f"{critique.__name__}.greeting", None)


def test_a_new_section_is_one_module_and_one_template(more_sections: Path) -> None:
    (more_sections / "greeting.py").write_text(NEW_SECTION, encoding="utf-8")
    (more_sections / "critique").mkdir()
    (more_sections / "critique" / "greeting.md").write_text("## Hello {{ name }}\n\n", encoding="utf-8")
    written = report()
    headings = re.findall(r"^#{1,2} (.+)$", render(replace(written, mix=replace(written.mix, name="Song <b>"))), flags=re.MULTILINE)
    assert headings[0].startswith("Critique of")
    assert headings[1] == "Hello Song &lt;b&gt;"


def test_every_section_has_a_place_of_its_own() -> None:
    for package in (critique, master):
        names = names_in(package.__name__.rpartition(".")[2])
        places = [importlib.import_module(f"{sections.__name__}.{name}").PLACE for name in names]
        assert len(set(places)) == len(places) == len(sections_in(package))


def test_the_text_runs_from_the_title_to_the_cautions() -> None:
    headings = re.findall(r"^#{1,2} (.+)$", render(report(rule_that(finding(1.0)))), flags=re.MULTILINE)
    assert headings[0].startswith("Critique of")
    assert headings[1:] == ["What to do first", "What next", "In the mix", "Before you act on it", "The rest"]


def test_every_template_belongs_to_a_section_or_to_several() -> None:
    (folder,) = filling.TEMPLATES
    templates = {path.relative_to(folder).with_suffix("").as_posix().replace("/", ".") for path in folder.rglob("*") if path.is_file()}
    assert templates == {*names_in("critique"), *names_in("master"), *SHARED}


def test_what_is_put_into_a_template_is_made_safe() -> None:
    (line,) = [line for line in filled("critique.front.good", strengths=[EVIL]) if line.startswith("&lt;")]
    assert line == r"&lt;b&gt;\*a\*&lt;/b&gt;\`\_\|."


def test_what_is_open_is_told_once_a_reason_and_never_obeyed() -> None:
    changed = ChangedLimit("mixing/a_b", "at_db", 1.0, 2.5, "dB", EVIL)
    rules = (OpenRule("mixing/a", "Too loud", "no kick"), OpenRule("mixing/b", "Too soft", "no kick"), OpenRule("mixing/c", "DC", EVIL))
    text = whole(
        replace(
            report(), not_applicable=rules, failed=(FailedPart("mixing/d_e", EVIL),),
            settings=UsedSettings(-13.0, -1.0, disabled_rules=("mixing/f_g",), changed_limits=(changed,)),
        )
    )  # fmt: skip
    assert "- Too loud; too soft: no kick." in text
    assert "- mixing/a_b: at_db = 2.5 dB instead of 1 (&lt;b&gt;" in text
    assert "- mixing/f_g: switched off" in text
    assert "<b>" not in text
