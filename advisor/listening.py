"""Listening to an excerpt: measure it, judge it by every rule that can be asked of a stretch of music, and keep what trials compare."""

from collections.abc import Callable

from advisor.config import Settings
from advisor.heard import Heard, heard
from advisor.judge import judge
from advisor.measure import measure_excerpt
from features.measurements import Health, Measurement, Sections
from features.signal import Signal
from rules.base import Rule, all_rules

WHOLE_SONG: tuple[type[Measurement], ...] = (Health, Sections)


def trial_rules() -> tuple[Rule, ...]:
    """Return the rules of mixing and mastering that need neither the file nor the whole song."""
    return tuple(one for one in all_rules() if one.stage != "delivery" and not set(one.looks_at) & set(WHOLE_SONG))


def listener(settings: Settings) -> Callable[[Signal], Heard]:
    """Return the function that trials listen with."""
    rules = trial_rules()

    def listen(sound: Signal) -> Heard:
        measured = measure_excerpt(sound, settings)
        return heard(dict(measured.records), judge(measured, settings, rules))

    return listen
