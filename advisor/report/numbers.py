"""The report's table of numbers, each with its definition taken from the record's own field."""

from collections.abc import Iterator
from dataclasses import fields
from typing import get_type_hints

from advisor.app.words import number, plain
from advisor.report_model.report import Report
from features.records.base import Measurement, Reading, record_kinds

# family, field, name in the report, digits
ROWS = (
    ("Level", "integrated_lufs", "Integrated loudness", 1),
    ("Level", "short_term_max_lufs", "Loudest 3 s", 1),
    ("Level", "momentary_max_lufs", "Loudest 400 ms", 1),
    ("Level", "loudness_range_lu", "Loudness range", 1),
    ("Level", "true_peak_dbtp", "True peak", 1),
    ("Level", "sample_peak_dbfs", "Sample peak", 1),
    ("Level", "plr_db", "PLR", 1),
    ("Level", "psr_min_db", "Lowest PSR", 1),
    ("Spectrum", "tilt_db_per_octave", "Tilt", 1),
    ("Ear", "share_2k_5k", "Ear-sensitive band", 2),
    ("Hits", "count", "Hits", 0),
    ("Hits", "audible_share_median", "Heard of each hit", 2),
    ("Hits", "buried_share", "Buried hits", 2),
    ("Hits", "tempo_bpm", "Tempo", 0),
    ("LowEnd", "sub_share_db", "Sub", 1),
    ("LowEnd", "bass_share_db", "Bass", 1),
    ("LowEnd", "kick_lift_db", "Kick lift", 1),
    ("LowEnd", "kick_hz", "Kick sits at", 0),
    ("LowEnd", "bass_hz", "Bass sits at", 0),
    ("LowEnd", "side_level_db", "Low-end width", 1),
    ("Stereo", "correlation", "Correlation", 2),
    ("Stereo", "mono_loss_db", "Lost in mono", 1),
    ("Stereo", "balance_db", "Left against right", 1),
    ("Crest", "stray_height_db", "Highest peak over ordinary ones", 1),
    ("Crest", "peak_pileup_share", "Peaks at the top", 2),
    ("Sections", "quiet_to_loud_lu", "Quiet to loud", 1),
    ("Health", "noise_floor_dbfs", "Noise floor", 0),
    ("Health", "effective_bits", "Bits in use", 0),
)


def reading_of(family: str, field: str) -> Reading:
    """Return unit and meaning of a record's field."""
    record: type[Measurement] = record_kinds()[family]
    hint = get_type_hints(record, include_extras=True)[field]
    found: Reading = hint.__metadata__[0]
    return found


def known_fields(family: str) -> tuple[str, ...]:
    """Return the fields of a family."""
    record: type[Measurement] = record_kinds()[family]
    return tuple(each.name for each in fields(record))


def table(report: Report) -> Iterator[str]:
    """Write the table; a reading that is absent shows its reason."""
    yield "## Numbers"
    yield ""
    yield "| reading | value | what it is |"
    yield "|---|---:|---|"
    for family, field, name, digits in ROWS:
        record = report.measurements.get(record_kinds()[family])
        if record is None:
            continue
        reading = reading_of(family, field)
        unit = "" if reading.unit in ("0-1", "-1..1") else reading.unit
        absent = {one.field: one.reason for one in record.absent}
        meaning, _, _ = reading.meaning.partition("; None")  # why a reading is absent stands in its place
        value = plain(absent[field]) if field in absent else number(getattr(record, field), digits, unit)
        yield f"| {name} | {value} | {plain(meaning)}{'' if meaning.endswith('.') else '.'} |"
    yield ""
