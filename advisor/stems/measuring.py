"""Measures the elements of a song.

Every stem is read once, block by block, for the meters of its element and of its group.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import cast

import numpy as np

from advisor.app.progress import Progress
from advisor.app.yardstick import Yardstick
from advisor.sources.aligned import Summed
from advisor.sources.excerpt import read_span
from advisor.stems.folder import OpenedStems, Stem
from features.elements.dynamics.dynamics import measure_dynamics
from features.elements.dynamics.envelope import EnvelopeMeter, EnvelopeTrace
from features.elements.groups.groups import GroupMeter, GroupTrace, loudest_stretch, measure_group
from features.elements.groups.headroom import measure_headroom
from features.elements.groups.kick_and_bass import measure_kick_and_bass
from features.elements.levels.over_parts import levels_over_parts
from features.elements.measure import measure_elements
from features.elements.meter import ElementMeter, ElementTrace
from features.records.base import Measurement, Span
from features.records.elements import Element, ElementHeadroom, ElementLevel, Elements, GroupName, KickAndBass
from features.records.hits import Hits
from features.records.outlook import Outlook
from features.records.sections import Section, Sections
from features.sound.signal import BLOCK_FRAMES, Samples, Signal, Source
from features.tone.target import general_target


@dataclass(frozen=True, slots=True)
class Traces:
    """What one pass over the stems leaves.

    Per element, per group, and for the mix and what the stems leave of it.
    """

    elements: Mapping[str, ElementTrace]
    envelopes: Mapping[str, EnvelopeTrace]
    groups: Mapping[str, GroupTrace]
    mix: ElementTrace
    rest: ElementTrace | None


class _Meters:
    """All meters of one pass."""

    def __init__(self, stems: OpenedStems, mix: Source) -> None:
        rate = mix.rate_hz
        self.elements = {stem.name: ElementMeter(rate, stem.source.channels) for stem in stems.stems}
        self.envelopes = {stem.name: EnvelopeMeter(rate, stem.source.channels) for stem in stems.stems}
        self.groups = {name: GroupMeter(rate, stems.channels) for name in stems.groups}
        self.mix = ElementMeter(rate, mix.channels)
        self.rest = None if stems.rest is None else ElementMeter(rate, stems.rest.channels)

    def finish(self) -> Traces:
        return Traces(
            {name: meter.finish() for name, meter in self.elements.items()},
            {name: meter.finish() for name, meter in self.envelopes.items()},
            {name: meter.finish() for name, meter in self.groups.items()},
            self.mix.finish(),
            None if self.rest is None else self.rest.finish(),
        )


def trace_song(stems: OpenedStems, mix: Source, progress: Progress) -> Traces:
    """Read every stem once and feed all meters.

    Two at a time.
    """
    meters = _Meters(stems, mix)

    def push(stem: Stem, start: int) -> Samples:
        block = stem.source.read(start, BLOCK_FRAMES)
        meters.elements[stem.name].push(block)
        meters.envelopes[stem.name].push(block)
        return block

    progress.step(f"Listening through {len(stems.stems)} stems")
    with ThreadPoolExecutor(2) as pool:
        for start in range(0, mix.frames, BLOCK_FRAMES):
            blocks = dict(zip(meters.elements, pool.map(push, stems.stems, [start] * len(stems.stems)), strict=True))
            _push_sums(meters, stems, mix, blocks, start)
            progress.advance(min((start + BLOCK_FRAMES) / mix.frames, 1.0))
    return meters.finish()


def _push_sums(meters: _Meters, stems: OpenedStems, mix: Source, blocks: Mapping[str, Samples], start: int) -> None:
    for name, members in stems.groups.items():
        meters.groups[name].push(summed([blocks[member] for member in members], stems.channels))
    whole = mix.read(start, BLOCK_FRAMES)
    meters.mix.push(whole)
    if meters.rest is not None:
        meters.rest.push(whole - summed(list(blocks.values()), stems.channels))


def summed(blocks: Sequence[Samples], channels: int) -> Samples:
    """Return the sum of blocks of one length.

    Mono ones go to both channels.
    """
    total = np.zeros((channels, blocks[0].shape[1]), np.float32)
    for block in blocks:
        total += block
    return total


def measure_stems(
    stems: OpenedStems,
    mix: Source,
    traces: Traces,
    records: Mapping[type[Measurement], Measurement],
    yardstick: Yardstick,
    progress: Progress,
) -> Elements:
    """Measure everything about the elements of a song."""
    progress.step("Working out what covers what")
    groups = {name: _group_sound(stems, name, traces.groups[name]) for name in stems.groups}
    measured = elements_of(stems, traces, since_earlier(stems), groups.get)
    progress.step("Finding out what uses up the headroom")
    costs = _headroom(stems, mix, records, yardstick)
    sections = records.get(Sections)
    parts = sections.sections if isinstance(sections, Sections) else ()
    return replace(
        measured,
        elements=tuple(
            replace(element, headroom=costs.get(element.name), level=_with_parts(element, traces, parts)) for element in measured.elements
        ),
    )


def _with_parts(element: Element, traces: Traces, parts: Sequence[Section]) -> ElementLevel:
    return replace(element.level, parts_lu=levels_over_parts(traces.elements[element.name], traces.mix, parts))


def since_earlier(stems: OpenedStems) -> Mapping[str, float]:
    """Return what stems.toml's earlier bounce says about levels.

    Empty without one.
    """
    return {} if stems.earlier is None else stems.earlier.changes_db


def elements_of(
    stems: OpenedStems, traces: Traces, changes_db: Mapping[str, float], group_sound: Callable[[str], Signal | None]
) -> Elements:
    """Turn traces into records.

    Groups whose sound is None are measured without compressors.
    """
    identities = [stem.identity for stem in stems.stems]
    measured = measure_elements(
        identities, traces.elements, traces.mix, traces.rest, general_target().record, changes_db, mixture=stems.mixture
    )
    elements = tuple(
        replace(element, dynamics=measure_dynamics(traces.envelopes[element.name], element.level.plays, element.role))
        for element in measured.elements
    )
    groups = tuple(
        measure_group(cast("GroupName", name), stems.groups[name], traces.groups[name], group_sound(name)) for name in stems.groups
    )
    return replace(
        measured, front=stems.settings.front, elements=elements, groups=groups, kick_and_bass=_kick_and_bass(elements, traces.envelopes)
    )


def _group_sound(stems: OpenedStems, name: str, trace: GroupTrace) -> Signal | None:
    span = loudest_stretch(trace)
    if span is None:
        return None
    members = set(stems.groups[name])
    total = Summed([stem.source for stem in stems.stems if stem.name in members], stems.channels)
    return read_span(total, span)


class _Stretches(Mapping[str, Samples]):
    """A stretch of each source, read when asked for.

    Of forty at once there would be half a gigabyte.
    """

    def __init__(self, sources: Mapping[str, Source], span: Span) -> None:
        self._sources, self._span = sources, span

    def __getitem__(self, name: str) -> Samples:
        return read_span(self._sources[name], self._span).samples

    def __iter__(self) -> Iterator[str]:
        return iter(self._sources)

    def __len__(self) -> int:
        return len(self._sources)


def _kick_and_bass(elements: Sequence[Element], envelopes: Mapping[str, EnvelopeTrace]) -> KickAndBass | None:
    kick, bass = _loudest(elements, "kick"), _loudest(elements, "bass")
    return None if kick is None or bass is None else measure_kick_and_bass(envelopes[kick], envelopes[bass], kick, bass)


def _loudest(elements: Sequence[Element], role: str) -> str | None:
    """Return the loudest element of a role."""
    playing = [
        (element.level.integrated_lufs, element.name)
        for element in elements
        if element.role == role and element.level.integrated_lufs is not None
    ]
    return max(playing)[1] if playing else None


def _headroom(
    stems: OpenedStems, mix: Source, records: Mapping[type[Measurement], Measurement], yardstick: Yardstick
) -> dict[str, ElementHeadroom]:
    outlook, hits = records.get(Outlook), records.get(Hits)
    if not isinstance(outlook, Outlook) or outlook.clean_lufs is None:
        return {}
    span = outlook.excerpt
    times = hits.times_s if isinstance(hits, Hits) else ()
    inside = tuple(time - span.start_s for time in times if span.start_s <= time < span.end_s)
    parts = _Stretches({stem.name: stem.source for stem in stems.stems if not stem.identity.silent}, span)
    return measure_headroom(read_span(mix, span), parts, inside, yardstick.target_lufs, yardstick.ceiling_dbtp)
