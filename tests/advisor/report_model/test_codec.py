"""A report survives JSON exactly, keeps the keys that others rely on, and is refused where it does not fit."""

import json
import subprocess
import sys
from dataclasses import replace
from typing import Any

import jsonschema
import pytest

from advisor.report_model.codec import from_json, json_schema, to_json
from advisor.report_model.findings import ComparedReadings, FindingCard, RemedyTrial
from advisor.report_model.measurements import Measurements
from advisor.report_model.parts import Tool, UsedSettings, Verdict
from advisor.report_model.report import Report
from features.records.elements import Elements
from features.records.level import Level
from rules.remedy import Remedy
from tests import records

BELL = Remedy("bell", frequency_hz=930.0, gain_db=-1.8, q=2.0)
READINGS = ComparedReadings(0.1 + 0.2, -11.0, None, -5.0, 0.8, 1.0, (-20.25,))


def sample() -> Report:
    """Return a report with stems, one finding and its trial."""
    mixture = records.elements(records.element("kick"), records.element("lead"))
    card = FindingCard(
        rank=1, rule="mixing/a", stage="mixing", topic="tone", title="A", message="m", advice="Cut it",
        numbers={"db": 3.25, "word": "x", "of": 3},
        confidence="high", excess=1.0, remedy=BELL, sure_because="it was measured", cause="excess", why="w", check_by_ear="c", fine_if="f",
        trial=RemedyTrial(BELL, "Less", READINGS, READINGS, 0.5, helps=True),
    )  # fmt: skip
    return Report(
        tool=Tool("mixproof", "1"), settings=UsedSettings(-13.0, -1.0), mix=records.file(), verdict=Verdict(ready=True, sentence="Ready."),
        outlook=records.outlook(), measurements=Measurements.of_records((records.level(), records.low_end(), records.file(), mixture)),
        findings=(card,), stems=mixture.elements,
    )  # fmt: skip


def written() -> Any:  # noqa: ANN401 - JSON
    return json.loads(to_json(sample()))


def test_a_report_read_back_is_the_one_that_was_written() -> None:
    assert from_json(Report, to_json(sample())) == sample()


def test_the_types_of_numbers_survive() -> None:
    numbers = from_json(Report, to_json(sample())).findings[0].numbers
    assert {name: type(value) for name, value in numbers.items()} == {"db": float, "word": str, "of": int}


def test_families_stand_under_their_names_and_mix_and_outlook_beside_them() -> None:
    document = written()
    assert list(document["measurements"]) == ["level", "low_end", "elements"]
    assert document["mix"]["name"] == records.file().name
    assert "absent" not in document["mix"]
    assert document["outlook"]["clean_lufs"] == records.outlook().clean_lufs


def test_an_element_is_one_flat_object_and_stands_under_stems_alone() -> None:
    document, element = written(), records.element("kick")
    assert "elements" not in document["measurements"]["elements"]
    stem = document["stems"][0]
    assert not {"level", "masking", "level_plan", "headroom"} & set(stem)
    assert stem["integrated_lufs"] == element.level.integrated_lufs
    assert stem["audible_share"] == element.masking.audible_share
    assert {"headroom_lu_per_db", "headroom_lu_out", "over_pink_db"} <= set(stem)


def test_a_remedy_names_only_the_settings_it_uses() -> None:
    remedy = written()["findings"][0]["remedy"]
    assert remedy == {"kind": "bell", "part": "mix", "frequency_hz": 930.0, "gain_db": -1.8, "q": 2.0}


def test_what_was_not_measured_is_none() -> None:
    measured = sample().measurements
    level = measured.get(Level)
    assert level is not None
    assert level is measured.named("level")
    assert measured.without(Level, Elements).get(Level) is None


def test_a_number_that_is_none_is_not_written() -> None:
    with pytest.raises(ValueError, match="JSON"):
        to_json(replace(sample(), settings=UsedSettings(float("nan"), -1.0)))


@pytest.mark.parametrize(
    ("key", "wrong"), [("verdict", {"ready": "perhaps", "sentence": "x"}), ("mix", None), ("findings", [{"rule": "a"}])]
)
def test_a_document_that_does_not_fit_is_refused_by_name(key: str, wrong: object) -> None:
    with pytest.raises(ValueError, match=key):
        from_json(Report, json.dumps({**written(), key: wrong}))


def test_the_schema_requires_what_is_always_written() -> None:
    schema = json_schema(Report, "report")
    assert set(schema["required"]) == set(written())


@pytest.mark.parametrize(
    ("place", "wrong"),
    [
        (("mix", "sha256"), "x"),
        (("findings", 0, "rank"), 0),
        (("findings", 0, "rule"), "a"),
        (("findings", 0, "excess"), -1.0),
        (("findings", 0, "remedy", "kind"), "prayer"),
        (("findings", 0, "trial", "before"), {}),
        (("measurements", "level", "integrated_lufs"), "loud"),
        (("schema_version",), 2),
        (("stems", 0, "audible_share"), "half"),
    ],
)
def test_the_schema_refuses_what_does_not_fit(place: tuple[str | int, ...], wrong: object) -> None:
    document = written()
    schema = json_schema(Report, "report")
    jsonschema.validate(document, schema)
    inside = document
    for key in place[:-1]:
        inside = inside[key]
    inside[place[-1]] = wrong
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(document, schema)


def test_the_model_does_not_import_the_library_that_writes_it() -> None:
    code = "import sys, advisor.report_model.report, advisor.report_model.codec; sys.exit('pydantic' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
