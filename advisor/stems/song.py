"""A song with its stems.

Remedies go where they belong, and everything is summed again.
"""

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
from advisor.stems.stack import PartSource, Stack, StackSource, on_elements, read_stack
from features.elements.dynamics.envelope import EnvelopeMeter, EnvelopeTrace
from features.elements.fingerprint import Fingerprint, fingerprint_of
from features.elements.groups.groups import GroupMeter, GroupTrace
from features.elements.meter import ElementMeter, ElementTrace, ordinary_peak_dbfs
from features.file_faults.click_scan import clicks_of, share_among
from features.records.base import Span
from features.records.elements import Elements
from features.records.file import Health
from features.sound.signal import Meter, Samples, Signal, Source
from features.tone.tune import notes_around, spread_over
from rules.remedy import Remedy

ResultT = TypeVar("ResultT")
CARRIES_CLICKS = 0.5  # of the mix's clicks: the rest may be masked by what else plays
TUNE_SPANS, TUNE_SPAN_S = 4, 6.0  # in which an element's notes are tracked
MOST_KEPT = 64  # traces of elements; an element that no remedy touches is traced once


class StemmedSong:
    """A song of which the elements are there too."""

    def __init__(self, source: Source, stems: OpenedStems, traces: Traces, measured: Measured, yardstick: Yardstick) -> None:
        """Take the mix, its stems, and what was measured.

        ``traces`` are what one pass over mix and stems has left.
        """
        self.source = source
        self._stems, self._traces, self._yardstick = stems, traces, yardstick
        self._listener = Listener(yardstick, measured)
        health = measured.records.get(Health)
        self._clicks = health.clicks if isinstance(health, Health) else ()
        record = measured.records.get(Elements)
        self._elements_before = record if isinstance(record, Elements) else None
        self._traces_by_sound: OrderedDict[int, tuple[Signal, ElementTrace, EnvelopeTrace]] = OrderedDict()

    def placed(self, card: Card) -> Card:
        """Return the card with its move on an element first.

        The element or group that carries the fault.
        """
        return self._without_faults_raised(
            card if self._elements_before is None else self._without_tune_cut(placed(card, self._elements_before, self._ordinary_peak_dbfs))
        )

    def _without_tune_cut(self, card: Card) -> Card:
        """Return the card without a bell that cuts into the tune of the element it was placed on, nor the same bell on the whole mix."""
        finding = card.finding
        moves = [remedy for remedy in (finding.remedy, *finding.others) if remedy is not None]
        tune_hz = {remedy.frequency_hz for remedy in moves if self._cuts_a_tune(remedy)}
        left = [remedy for remedy in moves if remedy.kind != "bell" or remedy.frequency_hz not in tune_hz]
        return (
            card
            if len(left) == len(moves)
            else replace(card, finding=replace(finding, remedy=next(iter(left), None), others=tuple(left[1:])))
        )

    def _cuts_a_tune(self, remedy: Remedy) -> bool:
        stem = next((stem for stem in self._stems.stems if stem.name == remedy.part and stem.identity.group != "drums"), None)
        if stem is None or remedy.kind != "bell" or remedy.frequency_hz is None or (remedy.gain_db or 0.0) >= 0.0:
            return False
        element = None if self._elements_before is None else self._elements_before.named(stem.name)
        plays = () if element is None else element.level.plays
        return bool(notes_around(stem.source, remedy.frequency_hz, spread_over(plays, TUNE_SPANS, TUNE_SPAN_S)))

    def fingerprints(self) -> tuple[Fingerprint, ...]:
        """Return what is kept until the next bounce."""
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
        first, *others = (self._least_if_faulty(remedy) for remedy in (finding.remedy, *finding.others))
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
        measured = measure_excerpt(sound.mixdown(), self._yardstick)
        return self._listener.judged(Measured({**measured.records, Elements: self._elements(sound)}, measured.failures))

    def judged(self, measured: Measured) -> TrialReadings:
        """Judge what was measured on the whole song.

        By the rules that trials use.
        """
        return self._listener.judged_song(measured)

    def after(self, remedies: Sequence[Remedy]) -> Source:
        """Return the whole song after remedies."""
        return StackSource(self._stems, remedies)

    def complete(self, again: Measured, remedies: Sequence[Remedy]) -> Measured:
        """Add the elements' records over the whole song.

        Measured after remedies; what no remedy touches is not read again.
        """
        touched = _changed(remedies)
        faders = {name for group in _faders(remedies) for name in self._stems.groups.get(group, ())}
        names = [stem.name for stem in self._stems.stems if stem.name in touched | faders]
        groups = [name for name, members in self._stems.groups.items() if touched & {name, *members}]
        treated = {name: PartSource(self._stems, remedies, name) for name in names}
        before = self._traces
        traces = Traces(
            {
                **before.elements,
                **{name: _pushed(ElementMeter(source.rate_hz, source.channels), source) for name, source in treated.items()},
            },
            {
                **before.envelopes,
                **{name: _pushed(EnvelopeMeter(source.rate_hz, source.channels), source) for name, source in treated.items()},
            },
            {**before.groups, **{name: _group(PartSource(self._stems, remedies, name)) for name in groups}},
            _trace(StackSource(self._stems, on_elements(remedies))),
            before.rest,
        )
        elements = elements_of(self._stems, traces, self._changes(before.elements, traces.elements), lambda _: None)
        return Measured({**again.records, Elements: elements}, again.failures)

    def states(self, remedies: Sequence[Remedy], start: int, count: int) -> Iterator[Samples]:
        """Yield a stretch as it is, then after each remedy.

        Frames ``start`` to ``start + count``.
        """
        yield np.array(self.source.read(start, count), np.float32)
        for number in range(1, len(remedies) + 1):
            yield StackSource(self._stems, remedies[:number]).make(start, count)

    def _elements(self, sound: Stack) -> Elements:
        """Measure the elements as they stand in the stack.

        Against their own sum: what is done to the whole mix moves none of them against the others.
        """
        whole = replace(sound, remedies=on_elements(sound.remedies)).mixdown()
        stem_traces = {name: self._traced(sound.in_group(name)) for name in sound.parts}
        traces = Traces(
            {name: traces[0] for name, traces in stem_traces.items()},
            {name: traces[1] for name, traces in stem_traces.items()},
            {name: _group(sound.group(name)) for name in sound.groups},
            _trace(whole),
            None if sound.rest is None else self._traced(sound.rest)[0],
        )
        before = {name: self._traced(part)[0] for name, part in sound.parts.items()}
        return elements_of(self._stems, traces, self._changes(before, traces.elements), lambda _: None)

    def _traced(self, sound: Signal) -> tuple[ElementTrace, EnvelopeTrace]:
        key = id(sound.samples)
        if key not in self._traces_by_sound:
            while len(self._traces_by_sound) >= MOST_KEPT:
                self._traces_by_sound.popitem(last=False)
            self._traces_by_sound[key] = (sound, _trace(sound), _envelope(sound))  # the sound is kept so that its id stays its own
        self._traces_by_sound.move_to_end(key)
        return self._traces_by_sound[key][1:]

    def _changes(self, before: Mapping[str, ElementTrace], after: Mapping[str, ElementTrace]) -> Mapping[str, float]:
        """Return the level changes against the earlier bounce, moved by what remedies changed."""
        changes = dict(since_earlier(self._stems))
        for name in changes:
            energies = [float(np.sum(traces[name].k_energy)) for traces in (before, after)]
            if min(energies) > 0.0:
                changes[name] += 10.0 * float(np.log10(energies[1] / energies[0]))
        return changes


def _changed(remedies: Sequence[Remedy]) -> set[str]:
    """Return the parts that remedies work on."""
    return {remedy.part for remedy in remedies}


def _faders(remedies: Sequence[Remedy]) -> set[str]:
    """Return the parts whose fader is moved."""
    return {remedy.part for remedy in remedies if kind_of(remedy).is_fader}


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
