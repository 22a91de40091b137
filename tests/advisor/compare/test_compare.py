"""Differences beyond their reporting steps, findings of both, the advised way, and the words: from records, and once from sound."""

import json
from pathlib import Path

import numpy as np
import pytest
import soundfile

from advisor.cli.main import main
from advisor.compare import differences, text
from advisor.compare.compare import BouncePair, compare
from advisor.history.reading import record_of
from advisor.judging.reporting import ComparedReading, all_compared_readings
from advisor.report_model.codec import from_json, to_json
from advisor.report_model.comparison import Comparison, Way
from advisor.report_model.report import Report
from advisor.sources.alignment import Alignment
from features.records.base import Course
from rules.remedy import Remedy
from tests import records
from tests.advisor.cli.test_command_line import RATE_HZ, music
from tests.advisor.history.bounces import bounce, found
from tests.sounds import stem_song

SAME = Alignment(same=True, offset_s=0.0, upside_down=False, matched=5, tried=5)
LEFT_DOWN = Remedy("gain", part="left", gain_db=-2.0)


def comparison(earlier: Report, later: Report, alignment: Alignment = SAME) -> Comparison:
    made = compare(BouncePair(earlier, later, alignment))
    assert from_json(Comparison, to_json(made)) == made
    return made


def test_two_like_bounces_differ_in_nothing() -> None:
    made = comparison(bounce(1, ("one", found(1.0))), bounce(2, ("one", found(1.1))))
    assert (made.readings, made.bands, made.stretches) == ((), (), ())
    assert [finding.state for finding in made.findings] == ["still there"]
    for words in ("No third octave changed", "No stretch", "Nothing."):
        assert words in text.render(made)


@pytest.mark.parametrize("compared", all_compared_readings(), ids=lambda compared: f"{compared.family}.{compared.field}")
def test_every_reading_is_told_from_its_step_on_and_not_before(compared: ComparedReading) -> None:
    make = getattr(records, compared.family)
    start = getattr(make(), compared.field) or 0
    for share, is_told in ((0.9, False), (1.1, True)):
        later = {compared.family: make(**{compared.field: start + compared.step * share})}
        earlier = {compared.family: make(**{compared.field: start})}
        names = [change.field for change in differences.readings(bounce(1, **earlier), bounce(2, **later))]
        assert (compared.field in names) == is_told


def test_every_step_is_of_a_reading_that_a_report_holds() -> None:
    report = bounce(1)
    for compared in all_compared_readings():
        assert hasattr(record_of(report, compared.kind), compared.field)
        assert compared.step > 0.0


def test_a_mere_fader_changes_no_tone() -> None:
    louder = bounce(2, level=records.level(integrated_lufs=-12.0), spectrum=records.spectrum(level_db=-52.0))
    made = comparison(bounce(1), louder)
    assert made.louder_by_lu == pytest.approx(6.0)
    assert made.bands == ()
    assert all(reading.fader for reading in made.readings if reading.family == "level")
    assert "6.0 LU louder" in text.render(made)


def test_neighbouring_bands_that_moved_alike_are_one_region() -> None:
    change = [3.0 if 190.0 < hz < 420.0 else -2.0 if 3000.0 < hz < 4200.0 else 0.0 for hz in records.BANDS_HZ]
    curve = tuple(a + b for a, b in zip(records.CURVE_DB, change, strict=True))
    found_bands = differences.bands(bounce(1), bounce(2, spectrum=records.spectrum(third_octave_db=curve)))
    assert [(round(band.low_hz), round(band.high_hz), round(band.change_db, 1)) for band in found_bands] == [
        (178, 447, 3.0),
        (2818, 4467, -2.0),
    ]


def test_a_stretch_that_was_raised_is_found_in_the_later_files_time() -> None:
    def level(raised_db: float, shift: int) -> Course:
        values = [-18.0 - 3.0 * (place % 40 > 20) for place in range(200)]
        values = [value + (raised_db if 60 <= place < 75 else 0.0) for place, value in enumerate(values)]
        return Course("LUFS", 0.5, 1.0, (*([None] * shift), *values))

    earlier = bounce(1, level=records.level(short_term=level(0.0, 0)))
    later = bounce(2, level=records.level(short_term=level(3.0, 7)))
    (stretch,) = differences.stretches(earlier, later, 7.0)
    assert (stretch.start_s, stretch.end_s) == (67.5, 81.5)
    assert stretch.change_lu == pytest.approx(3.0)


def test_which_findings_each_has_and_which_way_it_went() -> None:
    earlier = bounce(1, ("one", found(1.0, remedy=LEFT_DOWN)), ("two", found(1.0)), stereo=records.stereo(balance_db=2.0))
    ways: tuple[tuple[float, Way], ...] = ((0.0, "advised"), (2.0, "neither"), (4.0, "other"))
    for balance_db, way in ways:
        later = bounce(2, ("one", None), ("two", found(2.0)), ("three", found(1.0)), stereo=records.stereo(balance_db=balance_db))
        made = comparison(earlier, later)
        assert {finding.rule.split("/")[1]: finding.state for finding in made.findings} == {
            "one": "solved",
            "two": "worse",
            "three": "only later",
        }
        assert [(move.rule, move.way) for move in made.moves] == [("mixing/one", way)]
        assert text.WAYS[way] in text.render(made)


def test_two_songs_are_compared_as_two_songs() -> None:
    other = Alignment(same=False, offset_s=0.0, upside_down=False, matched=0, tried=5)
    made = comparison(bounce(1, ("one", found(1.0, remedy=LEFT_DOWN))), bounce(2), other)
    assert made.moves == ()
    assert made.alignment.offset_s is None
    assert "do not seem to hold the same recording" in text.render(made)


def test_names_are_shown_never_obeyed() -> None:
    made = comparison(bounce(1), bounce(2, file=records.file(name="<script>|\x1b[2J.wav", sha256="1" * 64)))
    assert "<script>" not in text.render(made)
    assert "\x1b" not in "".join(text.lines(made)) + text.render(made)


def test_from_sound_through_the_command_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The left side 3 dB up, a quarter of a second of silence in front, 4 dB softer: all three are told apart."""
    sound = music(14.0)
    later = np.concatenate((np.zeros((RATE_HZ // 4, 2)), sound * (0.9, 0.5))) * 0.63
    soundfile.write(tmp_path / "a.wav", sound * (0.7, 0.7), RATE_HZ, subtype="PCM_24")
    soundfile.write(tmp_path / "b.wav", later, RATE_HZ, subtype="PCM_24")
    assert main(["compare", str(tmp_path / "a.wav"), str(tmp_path / "b.wav"), "--out", str(tmp_path / "out")]) == 0
    shown = capsys.readouterr().out
    assert "starts 250.0 ms later in the later file" in shown
    made = json.loads((tmp_path / "out" / "compare.json").read_text(encoding="utf-8"))
    assert made["same_song"]
    balance = next(reading for reading in made["readings"] if reading["field"] == "balance_db")
    assert balance["after"] - balance["before"] == pytest.approx(20 * np.log10(0.9 / 0.5), abs=0.1)
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == ["compare.html", "compare.json", "compare.md"]
    assert not list(tmp_path.glob("*.sqlite3"))


def test_with_the_stems_of_both_each_element_is_compared_with_itself(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    stems = stem_song.stems()
    moved = {**stems, "pluck": stems["pluck"] * np.float32(0.5)}
    moved["warm"] = moved.pop("pad")
    for name, parts in (("a", stems), ("b", moved)):
        stem_song.write(tmp_path / name, parts)
        stem_song.write_one(tmp_path / f"{name}.wav", stem_song.mixed(parts))
    bounces, folders = ([str(tmp_path / f"{name}{ending}") for name in "ab"] for ending in (".wav", ""))
    assert main(["compare", *bounces, "--stems", *folders, "--out", str(tmp_path / "out")]) == 0
    shown = capsys.readouterr().out
    assert "'pluck': down 6.0 dB" in shown
    made = json.loads((tmp_path / "out" / "compare.json").read_text(encoding="utf-8"))
    states = {element["name"]: (element["was"], element["state"]) for element in made["elements"]}
    untouched = {name: (name, "untouched") for name in stems if name not in ("pad", "pluck")}
    assert states == {**untouched, "pluck": ("pluck", "moved"), "warm": ("pad", "untouched")}
    assert "each stem against itself" in (tmp_path / "out" / "compare.md").read_text(encoding="utf-8")


def test_a_missing_file_is_one_sentence(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["compare", str(tmp_path / "no.wav"), str(tmp_path / "none.wav")]) == 2
    assert len(capsys.readouterr().err.strip().splitlines()) == 1
