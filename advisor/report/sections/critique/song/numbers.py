"""Shows every reading that belongs into the table of numbers."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from advisor.app.words import number
from advisor.judging.reporting import in_order
from advisor.report.filling import filled
from advisor.report_model.measurements import Measurements
from advisor.report_model.report import Report
from features.records.base import Measurement, Reading, readings_of, record_kinds

PLACE = 135


@dataclass(frozen=True, slots=True)
class Row:
    """A row of the table: its record, field and reading."""

    kind: type[Measurement]
    field: str
    reading: Reading


def rows(kinds: Iterable[type[Measurement]]) -> tuple[Row, ...]:
    """Return the rows of these families."""
    return tuple(Row(kind, name, reading) for kind in in_order(kinds) for name, reading in readings_of(kind).items() if reading.in_table)


def section(report: Report) -> Iterator[str]:
    """Yield the table of everything that was measured."""
    return table(report.measurements, record_kinds().values())


def table(measurements: Measurements, kinds: Iterable[type[Measurement]]) -> Iterator[str]:
    """Yield the table of some families, absent readings explained."""
    measured = [(row.reading, row.field, measurements.get(row.kind)) for row in rows(kinds)]
    return filled(
        __name__,
        rows=[
            (reading.name, _value(reading, field, record), _meaning(reading)) for reading, field, record in measured if record is not None
        ],
    )


def _value(reading: Reading, field: str, record: Measurement) -> str:
    absent = {absence.field: absence.reason for absence in record.absent}
    value = getattr(record, field)
    if field in absent:
        return absent[field]
    if reading.unit == "0-1" and value is not None:
        return f"{value:.0%}"
    return number(value, reading.digits, "" if reading.unit == "-1..1" else reading.unit)


def _meaning(reading: Reading) -> str:
    meaning, _, _ = reading.meaning.partition("; None")  # why a reading is absent stands in its place
    return meaning if meaning.endswith(".") else f"{meaning}."
