"""A reading is declared in one place: its table row, its step, its words and its line of documentation follow from that."""

from dataclasses import dataclass
from typing import Annotated

from advisor.judging.reporting import all_compared_readings, compared_reading, compared_readings, in_order
from advisor.report.sections.critique.song.numbers import rows, table
from advisor.report_model.measurements import Measurements
from features.records.base import Absence, Measurement, Reading, readings_of, record_kinds
from features.records.headline import FEATURES, Headline
from features.records.level import Level
from tests.advisor.report.test_pages import GENERATOR


@dataclass(frozen=True, slots=True)
class RoomTone(Measurement):
    """What is left of the room."""

    decay_s: Annotated[
        float | None,
        Reading("s", "How long the room rings; None without one.", name="Decay", digits=2, in_table=True, step=0.05, in_history=True),
    ]
    wet_share: Annotated[float | None, Reading("0-1", "Share of the room.", name="Wetness", words="share of room", digits=2, step=0.02)]
    early_db: Annotated[float | None, Reading("dB", "First echo.")]


def test_a_new_reading_stands_in_the_table_from_its_declaration_alone() -> None:
    present = Measurements.of_records([RoomTone(0.314, None, -12.0)])
    rows = [line for line in table(present, [RoomTone]) if line.startswith("| ") and "Reading" not in line]
    assert rows[-1] == "| Decay | 0.31 s | How long the room rings. |"
    assert not any("Wetness" in row or "First echo" in row for row in rows)
    absent = Measurements.of_records([RoomTone(None, None, None, absent=(Absence("decay_s", "nothing rings"),))])
    assert "| Decay | nothing rings | How long the room rings. |" in list(table(absent, [RoomTone]))


def test_a_new_reading_is_compared_by_its_own_step_and_in_its_own_words() -> None:
    decay, wet = compared_readings([RoomTone])
    assert (decay.family, decay.field, decay.step, decay.unit, decay.digits, decay.scale) == ("room_tone", "decay_s", 0.05, "s", 2, 1.0)
    assert decay.change_words(0.3, 0.41) == "decay +0.11 s"
    assert (wet.unit, wet.digits, wet.scale) == ("%", 0, 100.0)
    assert wet.change_words(0.1, 0.25) == "share of room 10% to 25%"


def test_a_new_reading_stands_on_the_page_of_measurements() -> None:
    page = GENERATOR.measurement_document([RoomTone])
    assert "| `decay_s` | s | number or none | How long the room rings; None without one. | Decay | 0.05 |" in page
    assert "| `early_db` | dB | number or none | First echo. |  |  |" in page


def test_families_come_in_the_reports_order_and_unknown_ones_last() -> None:
    kinds = record_kinds()
    ordered = in_order([RoomTone, kinds["Health"], Level, kinds["Outlook"]])
    assert [kind.__name__ for kind in ordered] == ["Outlook", "Level", "Health", "RoomTone"]


def test_no_step_is_finer_than_what_is_shown() -> None:
    for compared in all_compared_readings():
        assert compared.step * compared.scale >= 0.99 * 10.0**-compared.digits, compared


def test_what_is_told_has_a_name_and_no_two_readings_share_their_words() -> None:
    readings = all_compared_readings()
    assert len(readings) > 20
    assert len({compared.reading.phrase for compared in readings}) == len(readings)
    shown = rows(record_kinds().values())
    assert len({row.reading.name for row in shown}) == len(shown) > 20
    assert all(
        reading.name for kind in record_kinds().values() for reading in readings_of(kind).values() if reading.in_table or reading.step
    )


def test_history_tells_only_of_readings_with_a_step() -> None:
    for kind in record_kinds().values():
        for name, reading in readings_of(kind).items():
            assert reading.step is not None or not (reading.in_history or reading.moved_by_fader), name


def test_songs_and_bounces_are_compared_by_readings_of_their_own() -> None:
    assert {feature.name for feature in FEATURES} == set(readings_of(Headline))
    assert "headline" not in {compared.family for compared in all_compared_readings()}


def test_a_change_of_loudness_is_in_loudness_units() -> None:
    assert compared_reading(Level, "integrated_lufs").change_words(-14.0, -13.5) == "loudness +0.5 LU"
