"""Pictures of a project's course, and of a master beside its mix."""

from dataclasses import replace

from advisor.pictures.colours import MARK
from advisor.pictures.critique.project import bounces
from advisor.pictures.master import tone_and_cost
from advisor.report_model.history import CoursePoint, HistorySection
from advisor.report_model.master_check import MasterReport
from advisor.report_model.measurements import Measurements
from features.records.mastering import Mastered
from tests import mastering_records, records
from tests.advisor.pictures.drawings import drawing, seen
from tests.advisor.samples import report


def history(*course: CoursePoint) -> HistorySection:
    return HistorySection(
        project="Song", number=len(course), repeat=False, previous=None, same_file_as=None, settings_changed=(), course=course, findings=(),
        steps=(), readings=(), excess=(None, None), warnings=(), set_aside=(),
    )  # fmt: skip


def master_report(pair: Mastered | None) -> MasterReport:
    plain = report()
    return MasterReport(
        tool=plain.tool, settings=plain.settings, verdict=plain.verdict, master=records.file(), mix="mix.wav", measurements=Measurements(),
        mastered=pair, release=None,
    )  # fmt: skip


def test_course_goes_from_bounce_to_bounce() -> None:
    course = (CoursePoint(1, -15.0, -2.0, 4.0), CoursePoint(2, None, None, 3.0), CoursePoint(3, -12.5, 0.5, 0.5))
    there = seen(bounces, replace(report(), history=history(*course)))
    assert "Bounce 1: clean loudness -15.0 LUFS, past the limits 4.0." in there.alternative
    assert "clean loudness, now -12.5 LUFS" in there.words


def test_course_without_any_outlook_still_shows_what_is_past_its_limit() -> None:
    there = seen(bounces, replace(report(), history=history(CoursePoint(1, None, None, 4.0), CoursePoint(2, None, None, 0.5))))
    assert "past the limits, now 0.5" in there.words


def test_first_bounce_has_no_course() -> None:
    assert drawing(bounces, replace(report(), history=history(CoursePoint(1, -15.0, -2.0, 4.0)))) is None
    assert drawing(bounces, report()) is None


def test_master_shows_its_change_of_tone_and_its_cost() -> None:
    changes = tuple(2.0 if 3000.0 < hz < 3500.0 else 0.0 for hz in records.BANDS_HZ)
    pair = mastering_records.mastered(band_change_db=changes, pumping_db=1.5)
    there = seen(tone_and_cost, master_report(pair))
    assert "Changed by 0.5 dB or more: 3.15 kHz +2.0 dB." in there.alternative
    assert "pumping 150%" in there.alternative
    assert there.marks[MARK] == 1
    assert "4.0 LU louder" in there.caption


def test_master_without_its_mix_has_no_picture() -> None:
    assert drawing(tone_and_cost, master_report(None)) is None
