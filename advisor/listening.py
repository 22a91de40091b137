"""Listening to an excerpt: measure it, judge it by every rule that can be asked of a stretch of music, and keep what trials compare."""

from collections.abc import Callable
from dataclasses import replace

from advisor.config import Settings
from advisor.heard import Heard, heard
from advisor.judge import judge
from advisor.measure import measure_excerpt
from advisor.measured import Measured
from features.measurements import Crest, Health, Measurement, Sections
from features.signal import Signal
from rules.base import Rule, all_rules

WHOLE_SONG: tuple[type[Measurement], ...] = (Health, Sections)


def trial_rules() -> tuple[Rule, ...]:
    """Return the rules of mixing and mastering that need neither the file nor the whole song."""
    return tuple(one for one in all_rules() if one.stage != "delivery" and not set(one.looks_at) & set(WHOLE_SONG))


def listener(settings: Settings, song: Measured | None = None) -> Callable[[Signal], Heard]:
    """Return the function that trials listen with; given the measured song, it must hear the untouched excerpt first."""
    rules = trial_rules()
    shifts: list[float] = []

    def listen(sound: Signal) -> Heard:
        measured = measure_excerpt(sound, settings)
        records = dict(measured.records)
        crest = records.get(Crest)
        if song is not None and isinstance(crest, Crest):
            shifts.append(_shift_db(crest, song.records.get(Crest)))
            records[Crest] = against_the_song(crest, shifts[0])
        return heard(records, judge(Measured(records, measured.failures), settings, rules))

    return listen


def _shift_db(excerpt: Crest, song: Measurement | None) -> float:
    if not isinstance(song, Crest) or excerpt.ordinary_peak_dbfs is None or song.ordinary_peak_dbfs is None:
        return 0.0
    return excerpt.ordinary_peak_dbfs - song.ordinary_peak_dbfs


def against_the_song(crest: Crest, shift_db: float) -> Crest:
    """Return the peaks of an excerpt held against the ordinary peaks of the whole song, which lie ``shift_db`` lower.

    An excerpt is dense: its ordinary peaks are higher than the song's, and a stray would not stand out from them as it does in the song.
    """
    return replace(
        crest,
        stray_peaks=tuple(replace(one, value=one.value + shift_db) for one in crest.stray_peaks),
        ordinary_peak_dbfs=None if crest.ordinary_peak_dbfs is None else crest.ordinary_peak_dbfs - shift_db,
        stray_height_db=None if crest.stray_height_db is None else crest.stray_height_db + shift_db,
    )
