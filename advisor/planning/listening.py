"""Listening to an excerpt.

Measure it, judge it by every rule that can be asked of a stretch of music, and keep what trials compare.
"""

from dataclasses import replace

from advisor.app.yardstick import Yardstick
from advisor.judging.judge import judge
from advisor.measuring.measure import measure_excerpt
from advisor.measuring.measured import Measured
from advisor.planning.trial_readings import TrialReadings, trial_readings
from features.records.base import Measurement
from features.records.crest import Crest
from features.records.file import Health
from features.records.sections import Sections
from features.sound.signal import Signal
from rules.base import Rule, all_rules

WHOLE_SONG: tuple[type[Measurement], ...] = (Health, Sections)


def trial_rules() -> tuple[Rule, ...]:
    """Return the rules that an excerpt alone can answer.

    Those of mixing and mastering that need neither the file nor the whole song.
    """
    return tuple(rule for rule in all_rules() if rule.stage != "delivery" and not set(rule.looks_at) & set(WHOLE_SONG))


class Listener:
    """Listens to excerpts of one song.

    Given the measured song, it must hear the untouched excerpt first.
    """

    def __init__(self, yardstick: Yardstick, song: Measured | None = None) -> None:
        """Take what was measured on the whole song."""
        self._yardstick, self._song = yardstick, song
        self._rules = trial_rules()
        self._shift_db: float | None = None

    def __call__(self, sound: Signal) -> TrialReadings:
        """Measure and judge a sound."""
        return self.judged(measure_excerpt(sound, self._yardstick))

    def judged(self, measured: Measured) -> TrialReadings:
        """Judge what was measured on an excerpt."""
        records = dict(measured.records)
        crest = records.get(Crest)
        if self._song is not None and isinstance(crest, Crest):
            if self._shift_db is None:
                self._shift_db = _shift_db(crest, self._song.records.get(Crest))
            records[Crest] = against_the_song(crest, self._shift_db)
        return self.judged_song(Measured(records, measured.failures))

    def judged_song(self, measured: Measured) -> TrialReadings:
        """Judge what was measured on a whole song."""
        return trial_readings(dict(measured.records), judge(measured, self._yardstick, self._rules), self._yardstick.tone)


def _shift_db(excerpt: Crest, song: Measurement | None) -> float:
    if not isinstance(song, Crest) or excerpt.ordinary_peak_dbfs is None or song.ordinary_peak_dbfs is None:
        return 0.0
    return excerpt.ordinary_peak_dbfs - song.ordinary_peak_dbfs


def against_the_song(crest: Crest, shift_db: float) -> Crest:
    """Return an excerpt's peaks against those of the song.

    The song's ordinary peaks lie ``shift_db`` lower.
    An excerpt is dense: its ordinary peaks are higher than the song's, and a stray would not stand out from them as it does in the song.
    """
    return replace(
        crest,
        stray_peaks=tuple(replace(moment, value=moment.value + shift_db) for moment in crest.stray_peaks),
        ordinary_peak_dbfs=None if crest.ordinary_peak_dbfs is None else crest.ordinary_peak_dbfs - shift_db,
        stray_height_db=None if crest.stray_height_db is None else crest.stray_height_db + shift_db,
    )
