"""Says how mastering changed the tone."""

from collections.abc import Iterator

from advisor.app.words import bars, frequency
from advisor.report.filling import filled
from advisor.report.sections.master.gains import signed
from advisor.report_model.master_check import MasterReport

PLACE = 30


def section(report: MasterReport) -> Iterator[str]:
    """Yield the change of tone. Nothing where none was compared."""
    pair = report.mastered
    if pair is None or not pair.band_change_db:
        return
    most_db = max(1.0, *(abs(change_db) for change_db in pair.band_change_db))
    changes = [
        (signed(change.gain_db, "dB"), frequency(change.centre_hz), f"{frequency(change.low_hz)} to {frequency(change.high_hz)}")
        for change in pair.tone_changes
    ]
    yield from filled(
        __name__,
        changes=changes,
        lowest=frequency(pair.band_hz[0]),
        highest=frequency(pair.band_hz[-1]),
        most=f"{most_db:.1f}",
        marks=bars(pair.band_change_db, -most_db, most_db),
    )
