"""What was critiqued, and the verdict."""

from collections.abc import Iterator

from advisor.app.words import number
from advisor.report.filling import filled
from advisor.report_model.report import Report
from features.records.file import File
from features.records.level import Level
from features.sound.clock import clock

PLACE = 10


def section(report: Report) -> Iterator[str]:
    """Yield the title, the verdict, the facts and the notes."""
    mix, settings, level = report.mix, report.settings, report.measurements.get(Level)
    facts = [*file_facts(mix, level), f"aiming at {settings.target_lufs:g} LUFS under {settings.ceiling_dbtp:g} dBTP"]
    return filled(__name__, mix=mix, verdict=report.verdict, facts=facts, notes=report.notes)


def file_facts(file: File, level: Level | None) -> list[str]:
    """Return a file's length, rate, channels, format and loudness."""
    kind = f"{file.bits}-bit" if file.bits else file.subtype
    facts = [f"{clock(file.duration_s)} long", f"{file.rate_hz / 1000:g} kHz", "mono" if file.channels == 1 else "stereo", kind]
    if level is not None and level.integrated_lufs is not None:
        facts += [f"{number(level.integrated_lufs)} LUFS integrated", f"true peak {number(level.true_peak_dbtp)} dBTP"]
    return facts
