"""Measure: one pass over the sound feeds every meter, then each family turns its trace into a record."""

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import Any

from advisor.app.memory import give_back
from advisor.app.progress import Progress, Quiet
from advisor.app.settings import Settings
from advisor.measuring.measured import Failure, Measured
from features.file_faults.health import HealthMeter, measure_health
from features.hits.audibility import HitMeter, measure_hits
from features.hits.low_end import measure_low_end
from features.hits.pumping import measure_pumping
from features.limiting.outlook import OutlookMeter, measure_outlook
from features.loudness.crest import CrestMeter, measure_crest
from features.loudness.level import LevelMeter, measure_level
from features.records.balance import Balance, Target
from features.records.base import Measurement, Span
from features.records.crest import Crest
from features.records.ear import Ear
from features.records.file import File, Health
from features.records.headline import Headline
from features.records.hits import Hits, Pumping
from features.records.level import Level
from features.records.low_end import LowEnd
from features.records.outlook import Outlook
from features.records.sections import Sections
from features.records.spectrum import Spectrum
from features.records.stereo import Stereo
from features.song.headline import measure_headline, stretch_of
from features.song.sections import measure_sections
from features.sound.signal import BLOCK_FRAMES, Meter, Samples, Signal, Source
from features.sound.spectrogram import SpectrogramMeter
from features.stereo.stereo import measure_stereo
from features.tone.balance import measure_balance
from features.tone.ear import measure_ear
from features.tone.spectrum import measure_spectrum
from features.tone.target import general_target


class _UnavailableError(Exception):
    """Something this family needs has failed before it."""


class _Bench:
    """Holds traces and records while they are made; a crash is noted and passed on as absence."""

    def __init__(self) -> None:
        self.traces: dict[str, Any] = {}
        self.records: dict[type[Measurement], Measurement] = {}
        self.failures: list[Failure] = []

    def note(self, family: str, error: Exception) -> None:
        if not isinstance(error, _UnavailableError):
            self.failures.append(Failure(family, f"{type(error).__name__}: {error}"))

    def trace(self, name: str) -> Any:  # noqa: ANN401 - every family has a trace type of its own
        if name not in self.traces:
            raise _UnavailableError(name)
        return self.traces[name]

    def keep(self, *names: str) -> None:
        """Let the other traces go: those of a song of hours are large."""
        self.traces = {name: trace for name, trace in self.traces.items() if name in names}
        give_back()

    def record(self, kind: type[Measurement]) -> Any:  # noqa: ANN401 - the caller names the kind
        if kind not in self.records:
            raise _UnavailableError(kind.__name__)
        return self.records[kind]

    def make(self, kind: type[Measurement], work: Callable[[], Measurement]) -> None:
        try:
            self.records[kind] = work()
        except Exception as error:  # noqa: BLE001 - one family's crash must not end the critique
            self.note(kind.__name__.lower(), error)


def _meters(source: Source, file: File | None) -> dict[str, Meter[Any]]:
    rate, channels = source.rate_hz, source.channels
    meters: dict[str, Meter[Any]] = {
        "hits": HitMeter(rate, channels),
        "spectrogram": SpectrogramMeter(rate, channels),
        "level": LevelMeter(rate, channels),
        "crest": CrestMeter(rate, channels),
        "outlook": OutlookMeter(rate, channels),
    }
    if file is not None:
        meters["health"] = HealthMeter(rate, channels, file.bits, lossy=file.lossy)
    return meters


def _groups(source: Source, blocks_at_once: int = 8) -> Iterator[list[Samples]]:
    group: list[Samples] = []
    for block in source.blocks(BLOCK_FRAMES):
        group.append(block)
        if len(group) == blocks_at_once:
            yield group
            group = []
    if group:
        yield group


def _feed(bench: _Bench, meters: dict[str, Meter[Any]], source: Source, progress: Progress) -> None:
    """Push every block to every meter, the meters side by side on the machine's cores."""

    def push_all(name: str, group: list[Samples]) -> None:
        try:
            for block in group:
                meters[name].push(block)
        except Exception as error:  # noqa: BLE001 - one meter's crash must not end the critique
            bench.note(name, error)
            broken.add(name)

    broken: set[str] = set()
    done = 0
    with ThreadPoolExecutor(2) as pool:
        for group in _groups(source):
            list(pool.map(lambda name: push_all(name, group), [name for name in meters if name not in broken]))  # noqa: B023
            done += sum(block.shape[1] for block in group)
            progress.advance(done / max(source.frames, 1))
    for name in tuple(meters):
        meter = meters.pop(name)  # what it gathered is freed before the next one needs room
        if name not in broken:
            try:
                bench.traces[name] = meter.finish()
            except Exception as error:  # noqa: BLE001
                bench.note(name, error)
        del meter
        give_back()


def measure(source: Source, file: File, not_finite: Callable[[], int], settings: Settings, progress: Progress) -> Measured:
    """Measure every family of ``source``; whatever fails is named and leaves the others whole."""
    bench = _Bench()
    bench.records[File] = file
    progress.step("Listening through the song")
    _feed(bench, _meters(source, file), source, progress)
    progress.step("Working out the measurements")
    bench.make(Sections, lambda: measure_sections(bench.trace("level"), bench.trace("spectrogram")))
    _time_families(bench)
    _tone_families(bench, settings)
    _crest(bench)
    bench.make(Headline, lambda: _headline(bench))
    _health(bench, file, not_finite())
    bench.keep("outlook")
    progress.step("Driving the mix into the reference limiter")
    bench.make(Outlook, lambda: _outlook(bench, source, bench.record(Sections).densest, settings, thorough=True))
    return Measured(bench.records, tuple(bench.failures), bench.traces.get("outlook"))


def measure_excerpt(sound: Signal, settings: Settings) -> Measured:
    """Measure what trials compare: everything but the file's health and the song's sections; the outlook with its gentle setting alone."""
    bench = _Bench()
    _hear_again(bench, sound, settings, Quiet())
    whole = Span(0.0, sound.duration_s)
    bench.make(Outlook, lambda: _outlook(bench, sound, whole, settings, thorough=False))
    return Measured(bench.records, tuple(bench.failures))


def measure_again(source: Source, settings: Settings, progress: Progress) -> Measured:
    """Measure a whole song after the plan, for what trials compare."""
    bench = _Bench()
    _hear_again(bench, source, settings, progress)
    bench.make(Sections, lambda: measure_sections(bench.trace("level"), bench.trace("spectrogram")))
    bench.make(Outlook, lambda: _outlook(bench, source, bench.record(Sections).densest, settings, thorough=False))
    return Measured(bench.records, tuple(bench.failures), bench.traces.get("outlook"))


def _hear_again(bench: _Bench, source: Source, settings: Settings, progress: Progress) -> None:
    _feed(bench, _meters(source, None), source, progress)
    _time_families(bench)
    _tone_families(bench, settings)
    _crest(bench)


def _time_families(bench: _Bench) -> None:
    bench.make(Level, lambda: measure_level(bench.trace("level"), _densest(bench)))
    bench.make(Hits, lambda: measure_hits(bench.trace("hits")))
    bench.make(Pumping, lambda: measure_pumping(bench.trace("hits")))
    bench.make(LowEnd, lambda: measure_low_end(bench.trace("hits"), bench.trace("spectrogram")))


def _tone_families(bench: _Bench, settings: Settings) -> None:
    model = settings.tone or general_target()
    bench.make(Target, lambda: model.record)
    bench.make(Spectrum, lambda: measure_spectrum(bench.trace("spectrogram"), _parts(bench)))
    bench.make(Balance, lambda: measure_balance(bench.record(Spectrum), model))
    bench.make(Ear, lambda: measure_ear(bench.trace("spectrogram")))
    bench.make(Stereo, lambda: measure_stereo(bench.trace("level"), bench.trace("spectrogram")))


def _headline(bench: _Bench) -> Headline:
    densest = bench.record(Sections).densest
    found: Headline = measure_headline(
        bench.record(Spectrum), bench.record(Ear), bench.record(Level), bench.trace("level"), stretch_of(bench.trace("crest"), densest),
        bench.record(Hits).times_s, densest,
    )  # fmt: skip
    return found


def _crest(bench: _Bench) -> None:
    bench.make(
        Crest,
        lambda: measure_crest(bench.trace("crest"), bench.trace("level"), _hit_times(bench), _sections(bench)),
    )


def _health(bench: _Bench, file: File, not_finite: int) -> None:
    bench.make(
        Health,
        lambda: measure_health(bench.trace("health"), bench.trace("level"), bench.trace("spectrogram"), file, not_finite),
    )


def _parts(bench: _Bench) -> Any:  # noqa: ANN401
    hits = bench.traces.get("hits")
    return None if hits is None else hits.parts


def _densest(bench: _Bench) -> Span | None:
    sections = _sections(bench)
    return None if sections is None else sections.densest


def _sections(bench: _Bench) -> Sections | None:
    found = bench.records.get(Sections)
    return found if isinstance(found, Sections) else None


def _hit_times(bench: _Bench) -> tuple[float, ...]:
    hits = bench.records.get(Hits)
    return hits.times_s if isinstance(hits, Hits) else ()


def _true_peak(bench: _Bench) -> float:
    level: Level = bench.record(Level)
    return 0.0 if level.true_peak_dbtp is None else 10.0 ** (level.true_peak_dbtp / 20.0)


def _outlook(bench: _Bench, source: Source, densest: Span, settings: Settings, *, thorough: bool) -> Outlook:
    found: Outlook = measure_outlook(
        source, bench.trace("outlook"), _true_peak(bench), densest, _hit_times(bench), settings.target_lufs, settings.ceiling_dbtp,
        thorough=thorough,
    )  # fmt: skip
    return found
