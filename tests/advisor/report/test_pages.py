"""The pages that are made from the code: complete, up to date, and without a hole in their texts."""

import doctest
import importlib.util
import re
import subprocess
import sys
from dataclasses import fields
from pathlib import Path
from types import ModuleType

import pytest

from advisor.cli.main import main
from advisor.report import pages
from features.records.base import Measurement, record_kinds
from rules.base import Rule, all_rules
from tests.rule_cases import ROOT, source_keys
from tests.walks import for_every

EVERY_RULE = for_every(all_rules(), name=lambda rule: rule.id)


def load_generator() -> ModuleType:
    spec = importlib.util.spec_from_file_location("make_pages", ROOT / "docs" / "make_pages.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


GENERATOR = load_generator()


@pytest.fixture
def docs(tmp_path: Path) -> Path:
    GENERATOR.write(tmp_path)
    return tmp_path


def test_the_pages_in_the_repository_are_up_to_date() -> None:
    done = subprocess.run(
        [sys.executable, str(ROOT / "docs" / "make_pages.py"), "--check"], capture_output=True, text=True, check=False, cwd=ROOT
    )
    assert done.returncode == 0, done.stdout + done.stderr


def test_check_passes_on_what_was_just_written(docs: Path) -> None:
    assert GENERATOR.main(["--check"], docs) == 0


def test_check_names_a_page_that_was_changed_by_hand(docs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    page = docs / "rules" / "mixing-stray_peaks.md"
    page.write_text(page.read_text(encoding="utf-8") + "more", encoding="utf-8")
    assert GENERATOR.main(["--check"], docs) == 1
    assert "docs/rules/mixing-stray_peaks.md" in capsys.readouterr().out
    assert page.read_text(encoding="utf-8").endswith("more"), "a check writes nothing"


def test_check_names_a_missing_page_and_one_whose_rule_is_gone(docs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (docs / "measurements.md").unlink()
    (docs / "rules" / "mixing-gone.md").write_text("old", encoding="utf-8")
    assert GENERATOR.main(["--check"], docs) == 1
    output = capsys.readouterr().out
    assert "docs/measurements.md" in output
    assert "docs/rules/mixing-gone.md" in output


def test_writing_mends_both_and_then_changes_nothing(docs: Path) -> None:
    (docs / "measurements.md").unlink()
    (docs / "rules" / "mixing-gone.md").write_text("old", encoding="utf-8")
    assert GENERATOR.write(docs) == ["measurements.md", "rules/mixing-gone.md"]
    assert GENERATOR.write(docs) == []


def test_an_unknown_option_writes_nothing(tmp_path: Path) -> None:
    assert GENERATOR.main(["--chekc"], tmp_path) == 2
    assert list(tmp_path.iterdir()) == []


@EVERY_RULE
def test_a_page_shows_each_limit_with_unit_range_meaning_and_source(rule: Rule) -> None:
    page = pages.rule_page(rule)
    for limit in fields(rule.limits):
        meta = limit.metadata
        row = next(line for line in page.splitlines() if line.startswith(f"- `{limit.name}` is "))
        assert f"is {pages.amount(getattr(rule.limits(), limit.name), meta['unit'])}:" in row
        assert f"{meta['low']:g} to {meta['high']:g}" in row
        assert meta["says"] in row
        assert meta["source"] in row
    assert f'[rules."{rule.id}"]' in page
    assert all(kind.__name__ in page for kind in rule.looks_at)


@EVERY_RULE
def test_no_placeholder_is_left_on_a_page(rule: Rule) -> None:
    assert not re.search(r"[{}…]", pages.rule_page(rule))


@EVERY_RULE
def test_sections_hold_no_placeholder_but_limits(rule: Rule) -> None:
    named = {name for text in rule.sections.values() for name in re.findall(r"{(\w*)[^}]*}", text)}
    assert named <= {limit.name for limit in fields(rule.limits)}


def test_the_limits_in_force_are_told_with_where_they_were_set(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    stray = next(rule for rule in all_rules() if rule.id == "mixing/stray_peaks")
    assert pages.filled(stray, "more than {height_db} dB") == "more than 4 dB"
    (tmp_path / "mixproof.toml").write_text('[rules."mixing/stray_peaks"]\nheight_db = 6\nenabled = false\n', encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    assert main(["explain", "stray_peaks"]) == 0
    output = capsys.readouterr().out
    assert f"- `height_db` is 6 dB (set in {tmp_path / 'mixproof.toml'}; 4 by default): strays that stand higher are reported." in output
    assert "- `win_db` is 2 dB: strays that stand apart" in output
    assert "switched off in your settings" in output
    assert "…" not in output


def test_the_index_links_every_rule_and_every_link_leads_somewhere(docs: Path) -> None:
    index = (docs / "rules" / "index.md").read_text(encoding="utf-8")
    linked = re.findall(r"\]\(([^)]+)\)", index)
    assert len(linked) == len(all_rules())
    assert all((docs / "rules" / name).is_file() for name in linked)


@EVERY_RULE
def test_the_sources_of_a_page_are_links_to_known_entries(rule: Rule) -> None:
    keys = re.findall(r"\]\(\.\./sources\.md#([^)]+)\)", GENERATOR.rule_document(rule))
    assert keys
    assert set(keys) <= set(source_keys())


@for_every(record_kinds().values(), name=lambda family: family.__name__)
def test_every_measured_field_is_explained(family: type[Measurement]) -> None:
    page = GENERATOR.measurement_document(GENERATOR.record_types())
    part = page.split(f"## {family.__name__}\n")[1].split("\n## ")[0]
    for reading in fields(family):
        assert reading.name == "absent" or f"| `{reading.name}` |" in part


@pytest.mark.parametrize(
    ("field", "row"),
    [
        (
            "short_term_max_lufs",
            "| `short_term_max_lufs` | LUFS | number or none | What a short-term meter shows at most. | Loudest 3 s |  |",
        ),
        ("silent_channels", "| `silent_channels` |  | list of text | Names of channels that hold nothing. |  |  |"),
        (
            "role_from",
            (
                "| `role_from` |  | name, sound, you, open | Whether the role was guessed from the name or the sound, or set; "
                "open where these disagree. |"
            ),
        ),
        ("gaps", "| `gaps` | s | list of Span | Sudden digital silence of 5 ms to 2 s inside the song. |  |  |"),
    ],
)
def test_a_row_gives_unit_kind_and_meaning(field: str, row: str) -> None:
    rows = [line for line in GENERATOR.measurement_document(GENERATOR.record_types()).splitlines() if line.startswith(f"| `{field}` |")]
    assert rows == [row]


def test_the_small_records_are_told_too() -> None:
    page = GENERATOR.measurement_document(GENERATOR.record_types())
    for name in ("Span", "Moment", "Course", "Resonance", "Bell", "HitBand", "Section", "DrivePoint", "PeakShare", "Absence"):
        assert f"| {name} |" in page


def help_of(capsys: pytest.CaptureFixture[str], *command: str) -> str:
    assert main([*command, "--help"]) == 0
    return " ".join(capsys.readouterr().out.split())


def test_every_command_that_help_lists_has_its_part(capsys: pytest.CaptureFixture[str]) -> None:
    listed = help_of(capsys).split("Commands:")[1]
    parts = re.findall(r"^## mixproof (.+)$", GENERATOR.command_line_document(), flags=re.MULTILINE)
    assert parts
    for name in parts:
        first, _, second = name.partition(" ")
        assert f" {first} " in listed
        assert not second or f" {second} " in help_of(capsys, first).split("Commands:")[1]
    assert sorted(parts) == sorted(GENERATOR.commands())


def test_a_command_is_told_as_its_own_help_tells_it(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "200")

    document = GENERATOR.command_line_document()

    @for_every(sorted(GENERATOR.commands()))
    def told_alike(name: str) -> None:
        shown = help_of(capsys, *name.split())
        part = document.split(f"## mixproof {name}\n")[1].split("\n## ")[0]
        rows = re.findall(r"^\| `(\S+?)(?: .*)?` \| (.+) \|$", part, flags=re.MULTILINE)
        options = set(re.findall(r"(?<!\S)--[a-z][a-z-]*", shown)) - {"--help"}
        assert {flag for flag, _ in rows if flag.startswith("--")} == options
        assert all(re.sub(r"\W", "", meaning) in re.sub(r"\W", "", shown) for _, meaning in rows)

    told_alike()


def test_the_examples_in_the_generator_hold() -> None:
    assert doctest.testmod(GENERATOR) == doctest.TestResults(failed=0, attempted=3)
