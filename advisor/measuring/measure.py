"""Which records are measured, and for what.

A song, an excerpt, and a song after the plan differ.
"""

from collections.abc import Callable

from advisor.app.progress import Progress, Quiet
from advisor.app.yardstick import Yardstick
from advisor.measuring.measured import Measured
from advisor.measuring.resolver import Resolver
from features.file_faults.health import NotFinite
from features.limiting.outlook import OutlookGoal, OutlookTrace
from features.loudness.densest import Densest
from features.records.balance import Balance, Target
from features.records.base import Measurement, Span
from features.records.crest import Crest
from features.records.ear import Ear
from features.records.file import File, Health
from features.records.headline import Headline
from features.records.hits import Hits, Pulses, Pumping
from features.records.level import Level
from features.records.low_end import LowEnd
from features.records.outlook import Outlook
from features.records.sections import Sections
from features.records.spectrum import Spectrum
from features.records.stereo import Stereo
from features.sound.measurement import declared_in
from features.sound.signal import Signal, Source
from rules.base import Rule, all_rules

Kinds = tuple[type[Measurement], ...]

# What an excerpt can be measured for; an optional input is only there when it stands before what takes it.
EXCERPT: Kinds = (Level, Hits, Pumping, LowEnd, Target, Spectrum, Balance, Ear, Stereo, Crest)
COMPARED: Kinds = (Level, Hits, LowEnd, Spectrum, Balance, Target, Stereo, Crest)  # read by trials, whatever the rules look at
WHOLE_SONG: Kinds = (Sections, *EXCERPT, Pulses, Headline, Health)


def measure(
    source: Source,
    file: File,
    not_finite: Callable[[], int],
    yardstick: Yardstick,
    progress: Progress,
    wanted: Kinds | None = None,
) -> Measured:
    """Measure a whole song for the records that are wanted.

    Those are what the report shows and enabled rules look at, when nothing else is said. Whatever fails is named and leaves the
    others whole.
    """
    if wanted is None:
        wanted = (*WHOLE_SONG, *_looked_at_besides(_enabled(yardstick)), Outlook)
    given = (file, NotFinite(not_finite), *_given(yardstick, thorough=True))
    resolver = Resolver(source, (*wanted, OutlookTrace), given)
    progress.step("Listening through the song")
    resolver.listen(progress)
    progress.step("Working out the measurements")
    resolver.make(kind for kind in wanted if kind is not Outlook)
    if Outlook in wanted:
        progress.step("Driving the mix into the reference limiter")
        resolver.make((Outlook,))
    return _measured(resolver, (File, *wanted))


def measure_excerpt(sound: Signal, yardstick: Yardstick) -> Measured:
    """Measure an excerpt for what trials compare.

    Its outlook is of the whole excerpt, with the gentle setting alone.
    """
    wanted = (*_asked(yardstick), Outlook)
    resolver = Resolver(sound, wanted, _given(yardstick, thorough=False), (_whole_sound,))
    resolver.listen(Quiet())
    resolver.make(wanted)
    return Measured(resolver.records(wanted), tuple(resolver.failures))


def measure_again(source: Source, yardstick: Yardstick, progress: Progress, wanted: Kinds | None = None) -> Measured:
    """Measure a song for trials, or only what is ``wanted``."""
    wanted = wanted or (*_asked(yardstick), Sections, Outlook)
    resolver = Resolver(source, (*wanted, OutlookTrace), _given(yardstick, thorough=False))
    resolver.listen(progress)
    resolver.make(wanted)
    return _measured(resolver, wanted)


def _whole_sound(source: Source) -> Densest:
    return Densest(Span(0.0, source.frames / source.rate_hz), None)


def _enabled(yardstick: Yardstick) -> tuple[Rule, ...]:
    return tuple(rule for rule in all_rules() if rule.id not in yardstick.disabled)


def _asked(yardstick: Yardstick) -> Kinds:
    """Return the records of an excerpt that trials or enabled rules look at."""
    rules = tuple(rule for rule in _enabled(yardstick) if rule.stage != "delivery")
    looked_at = {kind for rule in rules for kind in rule.looks_at}
    return (*(kind for kind in EXCERPT if kind in COMPARED or kind in looked_at), *_looked_at_besides(rules))


def _looked_at_besides(rules: tuple[Rule, ...]) -> Kinds:
    """Return the declared records that rules look at and no list here names."""
    declared = declared_in("features").measurements
    kinds = dict.fromkeys(kind for rule in rules for kind in rule.looks_at)
    return tuple(kind for kind in kinds if kind in declared and kind not in (*WHOLE_SONG, Outlook))


def _given(yardstick: Yardstick, *, thorough: bool) -> tuple[object, ...]:
    return yardstick.tone, OutlookGoal(yardstick.target_lufs, yardstick.ceiling_dbtp, thorough)


def _measured(resolver: Resolver, wanted: Kinds) -> Measured:
    return Measured(resolver.records(wanted), tuple(resolver.failures), resolver.find(OutlookTrace))
