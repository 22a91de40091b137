"""Sections are found by themselves, in the order of their places; what is put into their templates is made safe."""

import importlib
import pkgutil
import re
from dataclasses import replace
from pathlib import Path

import advisor
from advisor.report import sections
from advisor.report.filling import filled
from advisor.report.markdown import render, report_sections
from advisor.report_model.parts import ChangedLimit, FailedPart, OpenRule, UsedSettings
from tests.advisor.samples import finding, report, rule_that

NAMES = [info.name for info in pkgutil.iter_modules(sections.__path__)]
TEMPLATES = Path(str(advisor.__file__)).parent / "report" / "templates"
EVIL = "<b>*a*</b>`_|"


def test_every_section_has_a_place_of_its_own() -> None:
    places = [importlib.import_module(f"advisor.report.sections.{name}").PLACE for name in NAMES]
    assert len(set(places)) == len(places) == len(report_sections())


def test_the_text_runs_from_the_title_to_the_cautions() -> None:
    headings = re.findall(r"^#{1,2} (.+)$", render(report(rule_that(finding(1.0)))), flags=re.MULTILINE)
    assert headings[0].startswith("Critique of")
    assert headings[1:3] == ["What to do first", "Findings"]
    assert headings[-1] == "Cautions"


def test_every_template_belongs_to_a_section_or_is_the_page() -> None:
    assert {path.stem for path in TEMPLATES.iterdir()} <= {*NAMES, "page"}


def test_what_is_put_into_a_template_is_made_safe() -> None:
    (line,) = [line for line in filled("good", topics=[(EVIL, EVIL)]) if line.startswith("- ")]
    assert not set("<>`_|") & set(line)


def test_what_is_open_is_told_once_a_reason_and_never_obeyed() -> None:
    changed = ChangedLimit("mixing/a_b", "at_db", 1.0, 2.5, "dB", EVIL)
    rules = (OpenRule("mixing/a", "Too loud", "no kick"), OpenRule("mixing/b", "Too soft", "no kick"), OpenRule("mixing/c", "DC", EVIL))
    text = render(
        replace(
            report(), not_applicable=rules, failed=(FailedPart("mixing/d_e", EVIL),),
            settings=UsedSettings(-13.0, -1.0, disabled_rules=("mixing/f_g",), changed_limits=(changed,)),
        )
    )  # fmt: skip
    assert "- Too loud; too soft: no kick." in text
    assert "- mixing/a_b: at_db = 2.5 dB instead of 1 (&lt;b&gt;" in text
    assert "- mixing/f_g: switched off" in text
    assert "<b>" not in text
