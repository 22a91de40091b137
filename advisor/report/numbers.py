"""The report's table of numbers: every reading that its record says belongs there, with its meaning."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from advisor.app.words import number, plain
from advisor.judging.reporting import in_order
from advisor.report_model.measurements import Measurements
from features.records.base import Measurement, Reading, readings_of, record_kinds


@dataclass(frozen=True, slots=True)
class Row:
    """A row of the table: where its number stands, and what is known of it."""

    kind: type[Measurement]
    field: str
    reading: Reading


def rows(kinds: Iterable[type[Measurement]]) -> tuple[Row, ...]:
    """Return the rows of these families."""
    return tuple(Row(kind, name, reading) for kind in in_order(kinds) for name, reading in readings_of(kind).items() if reading.in_table)


def table(measurements: Measurements, kinds: Iterable[type[Measurement]] | None = None) -> Iterator[str]:
    """Write the table; a reading that is absent shows its reason."""
    yield "## Numbers"
    yield ""
    yield "| reading | value | what it is |"
    yield "|---|---:|---|"
    for row in rows(record_kinds().values() if kinds is None else kinds):
        record = measurements.get(row.kind)
        if record is not None:
            yield _line(row, record)
    yield ""


def _line(row: Row, record: Measurement) -> str:
    reading = row.reading
    unit = "" if reading.unit in ("0-1", "-1..1") else reading.unit
    absent = {absence.field: absence.reason for absence in record.absent}
    meaning, _, _ = reading.meaning.partition("; None")  # why a reading is absent stands in its place
    value = plain(absent[row.field]) if row.field in absent else number(getattr(record, row.field), reading.digits, unit)
    return f"| {reading.name} | {value} | {plain(meaning)}{'' if meaning.endswith('.') else '.'} |"
