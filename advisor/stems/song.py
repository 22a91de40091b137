"""A song with its stems: remedies go where they belong, and everything is summed again."""

from collections import OrderedDict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import TypeVar

import numpy as np

from advisor.app.yardstick import Yardstick
from advisor.judging.judge import Card
from advisor.measuring.measure import measure_excerpt
from advisor.measuring.measured import Measured
from advisor.planning.evidence import LEAST_DB
from advisor.planning.listening import Listener
from advisor.planning.trial_readings import TrialReadings
from advisor.remedies.discovery import kind_of
from advisor.stems.folder import OpenedStems
from advisor.stems.measuring import Traces, elements_of, since_earlier
from advisor.stems.placing import placed
from advisor.stems.stack import PartSource, Stack, StackSource, read_stack
from features.elements.dynamics.envelope import EnvelopeMeter, EnvelopeTrace
from features.elements.fingerprint import Fingerprint, fingerprint_of
from features.elements.groups.groups import GroupMeter, GroupTrace
from features.elements.meter import ElementMeter, ElementTrace, ordinary_peak_dbfs
from features.file_faults.click_scan import clicks_of, share_among
from features.records.base import Span
from features.records.elements import Elements
from features.records.file import Health
from features.sound.signal import Meter, Samples, Signal, Source
from rules.remedy import Remedy

ResultT = TypeVar("ResultT")
CARRIES_CLICKS = 0.5  # of the mix's clicks: the rest may be masked by what else plays
MOST_KEPT = 64  # traces of elements; an element that no remedy touches is traced once


class StemmedSong:
    """A song of which the elements are there too."""

    def __init__(self, source: Source, stems: OpenedStems, traces: Traces, measured: Measured, yardstick: Yardstick) -> None:
        """Take the mix, its stems, what one pass over them has left, and what was measured on the song."""
        self.source = source
        self._stems, self._traces, self._yardstick = stems, traces, yardstick
        self._listener = Listener(yardstick, measured)
        health = measured.records.get(Health)
        self._clicks = health.clicks if isinstance(health, Health) else ()
        found = measured.records.get(Elements)
        self._found = found if isinstance(found, Elements) else None
        self._kept: OrderedDict[int, tuple[Signal, ElementTrace, EnvelopeTrace]] = OrderedDict()

    def placed(self, card: Card) -> Card:
        """Return the card with a move on the mix tried on the element or group that carries the fault first."""
        return self._without_faults_raised(card if self._found is None else placed(card, self._found, self._ordinary_peak_dbfs))

    def fingerprints(self) -> tuple[Fingerprint, ...]:
        """Return what is kept of the elements until the next bounce."""
        return tuple(fingerprint_of(name, trace) for name, trace in self._traces.elements.items())

    def _ordinary_peak_dbfs(self, name: str) -> float | None:
        """Return the level that an element's usual peaks reach; None for silence."""
        trace = self._traces.elements.get(name)
        return None if trace is None else ordinary_peak_dbfs(trace)

    def _without_faults_raised(self, card: Card) -> Card:
        """Return the card with no element raised that carries the mix's clicks: the least is tried, and the report says so."""
        finding = card.finding
        if finding.remedy is None:
            return card
        first, *others = (self._least_if_faulty(one) for one in (finding.remedy, *finding.others))
        return replace(card, finding=replace(finding, remedy=first, others=tuple(others)))

    def _least_if_faulty(self, remedy: Remedy) -> Remedy:
        gain_db = remedy.gain_db or 0.0
        raised = kind_of(remedy).is_fader and gain_db > LEAST_DB
        return replace(remedy, gain_db=LEAST_DB) if raised and self._carries_clicks(remedy.part) else remedy

    def _carries_clicks(self, name: str) -> bool:
        sources = [stem.source for stem in self._stems.stems if stem.name == name]
        return any(share_among(self._clicks, clicks_of(source)) >= CARRIES_CLICKS for source in sources)

    def excerpt(self, spans: Sequence[Span]) -> Stack:
        """Return some stretches of every element, joined by short crossfades."""
        return read_stack(self._stems, spans)

    def apply(self, remedy: Remedy, sound: Stack) -> Stack:
        """Return the stack with one remedy more."""
        return sound.with_remedy(remedy)

    def listen(self, sound: Stack) -> TrialReadings:
        """Measure and judge the mixdown and its elements."""
        mix = sound.mixdown()
        measured = measure_excerpt(mix, self._yardstick)
        return self._listener.judged(Measured({**measured.records, Elements: self._elements(sound, mix)}, measured.failures))

    def judged(self, measured: Measured) -> TrialReadings:
        """Judge what was measured on the whole song, by the rules that trials use."""
        return self._listener.judged_song(measured)

    def after(self, remedies: Sequence[Remedy]) -> Source:
        """Return the whole song after remedies."""
        return StackSource(self._stems, remedies)

    def complete(self, again: Measured, remedies: Sequence[Remedy]) -> Measured:
        """Add the records of the elements over the whole song after remedies; what no remedy touches is not read again."""
        touched = _changed(remedies)
        faders = {name for group in _faders(remedies) for name in self._stems.groups.get(group, ())}
        names = [one.name for one in self._stems.stems if one.name in touched | faders]
        groups = [name for name, members in self._stems.groups.items() if touched & {name, *members}]
        treated = {name: PartSource(self._stems, remedies, name) for name in names}
        before = self._traces
        traces = Traces(
            {**before.elements, **{name: _pushed(ElementMeter(one.rate_hz, one.channels), one) for name, one in treated.items()}},
            {**before.envelopes, **{name: _pushed(EnvelopeMeter(one.rate_hz, one.channels), one) for name, one in treated.items()}},
            {**before.groups, **{name: _group(PartSource(self._stems, remedies, name)) for name in groups}},
            _trace(StackSource(self._stems, remedies)),
            before.rest,
        )
        elements = elements_of(self._stems, traces, self._changes(before.elements, traces.elements), lambda _: None)
        return Measured({**again.records, Elements: elements}, again.failures)

    def states(self, remedies: Sequence[Remedy], start: int, count: int) -> Iterator[Samples]:
        """Yield frames ``start`` to ``start + count`` as they are, then after each remedy more."""
        yield np.array(self.source.read(start, count), np.float32)
        for number in range(1, len(remedies) + 1):
            yield StackSource(self._stems, remedies[:number]).make(start, count)

    def _elements(self, sound: Stack, mix: Signal) -> Elements:
        """Measure the elements as they stand in the stack."""
        found = {name: self._traced(sound.in_group(name)) for name in sound.parts}
        traces = Traces(
            {name: one[0] for name, one in found.items()},
            {name: one[1] for name, one in found.items()},
            {name: _group(sound.group(name)) for name in sound.groups},
            _trace(mix),
            None if sound.rest is None else self._traced(sound.rest)[0],
        )
        before = {name: self._traced(part)[0] for name, part in sound.parts.items()}
        return elements_of(self._stems, traces, self._changes(before, traces.elements), lambda _: None)

    def _traced(self, sound: Signal) -> tuple[ElementTrace, EnvelopeTrace]:
        key = id(sound.samples)
        if key not in self._kept:
            while len(self._kept) >= MOST_KEPT:
                self._kept.popitem(last=False)
            self._kept[key] = (sound, _trace(sound), _envelope(sound))  # the sound is kept so that its id stays its own
        self._kept.move_to_end(key)
        return self._kept[key][1:]

    def _changes(self, before: Mapping[str, ElementTrace], after: Mapping[str, ElementTrace]) -> Mapping[str, float]:
        """Return the level changes against the earlier bounce, moved by what remedies changed."""
        changes = dict(since_earlier(self._stems))
        for name in changes:
            energies = [float(np.sum(one[name].k_energy)) for one in (before, after)]
            if min(energies) > 0.0:
                changes[name] += 10.0 * float(np.log10(energies[1] / energies[0]))
        return changes


def _changed(remedies: Sequence[Remedy]) -> set[str]:
    """Return the parts that remedies work on."""
    return {one.part for one in remedies}


def _faders(remedies: Sequence[Remedy]) -> set[str]:
    """Return the parts whose fader is moved."""
    return {one.part for one in remedies if kind_of(one).is_fader}


def _trace(sound: Source) -> ElementTrace:
    return _pushed(ElementMeter(sound.rate_hz, sound.channels), sound)


def _envelope(sound: Source) -> EnvelopeTrace:
    return _pushed(EnvelopeMeter(sound.rate_hz, sound.channels), sound)


def _group(sound: Source) -> GroupTrace:
    return _pushed(GroupMeter(sound.rate_hz, sound.channels), sound)


def _pushed(meter: Meter[ResultT], source: Source) -> ResultT:
    for block in source.blocks():
        meter.push(block)
    return meter.finish()
