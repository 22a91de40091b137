"""Lists faders and pans, now and with the plan made."""

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass

from advisor.remedies.discovery import kind_of
from advisor.report_model.plan import PlanStep
from advisor.report_model.report import Report
from features.records.elements import Element, Elements

COLUMNS = ("element", "now (LUFS)", "move (dB)", "then (LUFS)", "pan")
CENTRED_DB = 0.5  # between the channels: nobody hears it off the centre
FORMULA = ("=", "+", "-", "@", "\t", "\r")  # what a spreadsheet would work out


@dataclass(frozen=True, slots=True)
class FaderRow:
    """One element's loudness, its move, and its place then."""

    element: str
    now_lufs: float | None
    move_db: float
    pan: str

    @property
    def then_lufs(self) -> float | None:
        """Return its loudness after the move."""
        return None if self.now_lufs is None else self.now_lufs + self.move_db


def fader_list(report: Report) -> tuple[FaderRow, ...]:
    """Return a row for each element that sounds.

    In the order of the stems; empty without stems.
    """
    sounding = [stem for stem in report.stems or () if not stem.silent]
    return tuple(_row(stem, report.plan, {sounding_stem.name for sounding_stem in sounding}) for stem in sounding)


def _row(stem: Element, plan: Sequence[PlanStep], names: set[str]) -> FaderRow:
    parts = {stem.name} if stem.group in names else {stem.name, stem.group}
    own = [step.remedy for step in plan if step.remedy.part in parts]
    move_db = sum(remedy.gain_db or 0.0 for remedy in own if kind_of(remedy).is_fader)
    panned_db = sum(remedy.gain_db or 0.0 for remedy in own if remedy.kind == "pan")
    return FaderRow(stem.name, stem.level.integrated_lufs, round(move_db, 1) + 0.0, pan_words((stem.level.pan_db or 0.0) + panned_db))


def pan_words(pan_db: float) -> str:
    """Return where an element stands.

    >>> pan_words(0.2), pan_words(-4.4)
    ('centre', '4.4 dB left')
    """
    if abs(pan_db) < CENTRED_DB:
        return "centre"
    return f"{abs(pan_db):.1f} dB {'left' if pan_db < 0.0 else 'right'}"


def csv_text(rows: Sequence[FaderRow]) -> str:
    """Return the list as comma-separated values.

    One line for each element; a name is never taken for a formula.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for row in rows:
        name = f"'{row.element}" if row.element.startswith(FORMULA) else row.element
        writer.writerow((name, _number(row.now_lufs), f"{row.move_db:+.1f}" if row.move_db else "0.0", _number(row.then_lufs), row.pan))
    return out.getvalue()


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:.1f}"


def first_guess(report: Report) -> str:
    """Return the elements by loudness while they play.

    As in stems.toml; nothing where an order was stated, or for a single element.
    """
    mixture = report.measurements.get(Elements)
    levels = [(stem.level.while_playing_lu, stem.name) for stem in report.stems or () if stem.level.while_playing_lu is not None]
    if mixture is None or mixture.front or len(levels) < 2:
        return ""
    return ", ".join(f'"{name}"' for _, name in sorted(levels, key=lambda entry: (-entry[0], entry[1])))
