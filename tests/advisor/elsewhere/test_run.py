"""A whole critique: the clips of other places are those its report speaks of, and stale ones go."""

import json
from pathlib import Path
from typing import Any

import jsonschema
import soundfile

import advisor
from advisor.cli.main import main
from tests.advisor.audition.test_clips import RATE_HZ, song

SCHEMA = json.loads((Path(str(advisor.__file__)).parents[1] / "docs" / "report.schema.json").read_text(encoding="utf-8"))


def critiqued(mix: Path, out: Path, elsewhere: str) -> dict[str, Any]:
    assert main(["critique", str(mix), "--quick", "--elsewhere", elsewhere, "--out", str(out)]) == 0
    document: dict[str, Any] = json.loads((out / "report.json").read_text(encoding="utf-8"))
    jsonschema.validate(document, SCHEMA)
    return document


def test_the_report_speaks_of_exactly_the_clips_that_are_there(tmp_path: Path) -> None:
    mix, out = tmp_path / "mix.wav", tmp_path / "out"
    soundfile.write(mix, song(14.0).samples.T, RATE_HZ, subtype="PCM_24")
    document = critiqued(mix, out, "phone,car")
    assert document["failed"] == []
    assert [there["readings"]["condition"] for there in document["elsewhere"]] == ["phone", "car"]
    stated = {there[clip] for there in document["elsewhere"] for clip in ("clip", "desk_clip")}
    assert stated == {path.relative_to(out).as_posix() for path in (out / "audition" / "elsewhere").iterdir()}
    page = (out / "report.html").read_text(encoding="utf-8")
    assert all(f'src="{clip}"' in page for clip in stated)
    (out / "audition" / "elsewhere" / "mine.wav").write_bytes(b"mine")
    assert critiqued(mix, out, "none")["elsewhere"] is None
    assert [path.name for path in (out / "audition" / "elsewhere").iterdir()] == ["mine.wav"]
