"""The fader list: one line for each element, now and with the plan made."""

import csv
import io
from dataclasses import replace
from pathlib import Path

from advisor.audition.names import FADERS, FOLDER
from advisor.report import files
from advisor.report.faders import COLUMNS, FaderRow, csv_text, fader_list, first_guess
from advisor.report_model.measurements import Measurements
from advisor.report_model.report import Report
from features.records.elements import Elements
from rules.remedy import Remedy
from tests import records
from tests.advisor.history.bounces import bounce, planned


def song(*moves: Remedy) -> Report:
    """Return a report with three elements and a plan."""
    pad = records.element("pad")
    panned = replace(pad, level=replace(pad.level, pan_db=-4.4, integrated_lufs=-20.0))
    silent = replace(records.element("spare"), silent=True)
    report = replace(bounce(1), stems=(records.element("kick"), panned, silent))
    for place, move in enumerate(moves):
        report = planned(report, f"mixing/rule_{place}", move)
    return report


def row(report: Report, name: str) -> FaderRow:
    return next(row for row in fader_list(report) if row.element == name)


def test_a_line_for_each_element_that_sounds() -> None:
    assert [row.element for row in fader_list(song())] == ["kick", "pad"]
    assert fader_list(bounce(1)) == ()


def test_without_a_plan_nothing_moves() -> None:
    assert row(song(), "pad") == FaderRow("pad", -20.0, 0.0, "4.4 dB left")


def test_moves_of_the_element_and_of_its_group_add_up() -> None:
    group = records.element("pad").group
    report = song(Remedy("gain", "pad", gain_db=-2.0), Remedy("gain", group, gain_db=-1.5), Remedy("pan", "pad", gain_db=4.4))
    its = row(report, "pad")
    assert (its.move_db, its.then_lufs, its.pan) == (-3.5, -23.5, "centre")
    assert row(report, "kick").move_db == 0.0


def test_what_is_no_fader_is_no_move() -> None:
    assert row(song(Remedy("bell", "pad", frequency_hz=300.0, gain_db=-3.0), Remedy("gain", "mix", gain_db=-1.0)), "pad").move_db == 0.0


def test_the_file_reads_back_and_no_name_is_a_formula() -> None:
    rows = (FaderRow("a,b", -20.04, -2.0, "centre"), FaderRow("=1+1", None, 0.0, "centre"))
    read = list(csv.reader(io.StringIO(csv_text(rows))))
    assert read == [list(COLUMNS), ["a,b", "-20.0", "-2.0", "-22.0", "centre"], ["'=1+1", "", "0.0", "", "centre"]]


def test_it_lies_among_what_there_is_to_listen_to_and_is_written_anew(tmp_path: Path) -> None:
    for report, there in ((song(), True), (bounce(1), False)):
        with files.aside(tmp_path) as place:
            (place / FOLDER).mkdir()
            files.write(report, tmp_path, place)
        assert (tmp_path / FOLDER / FADERS).exists() == there


def test_the_first_guess_is_the_order_of_loudness_and_goes_once_an_order_was_stated() -> None:
    levels = {"pad": -9.0, "lead": -3.0, "kick": -5.0}
    stems = tuple(records.element(name, level={"while_playing_lu": level}) for name, level in levels.items())
    report = replace(bounce(1), stems=stems, measurements=Measurements({Elements: records.elements()}))
    assert first_guess(report) == '"lead", "kick", "pad"'
    stated = Measurements({Elements: records.elements(front=("kick", "lead"))})
    assert first_guess(replace(report, measurements=stated)) == ""
