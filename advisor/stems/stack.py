"""Stack: elements with remedies in place, summed again.

Of an excerpt, or of the whole song chunk by chunk.
"""

from collections import OrderedDict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from advisor.planning.processed import CHUNK_S, LEAD_S, TAIL_S
from advisor.remedies.apply import apply
from advisor.remedies.discovery import kind_of
from advisor.remedies.parts import PARTS_OF_A_MIX
from advisor.sources.chunked import Chunked
from advisor.sources.excerpt import take
from advisor.stems.folder import OpenedStems
from features.records.base import Span
from features.sound.signal import Samples, Signal
from rules.remedy import Remedy

KEPT_BYTES = 192 << 20


class SignalCache:
    """Processed elements and groups, by what was done to them.

    The ones used last stay, up to a size in bytes.
    """

    def __init__(self, most_bytes: int = KEPT_BYTES) -> None:
        """Start empty."""
        self._most, self._size = most_bytes, 0
        self._signals: OrderedDict[object, Signal] = OrderedDict()

    def get(self, key: object) -> Signal | None:
        """Return what is kept under ``key``."""
        if key in self._signals:
            self._signals.move_to_end(key)
        return self._signals.get(key)

    def put(self, key: object, signal: Signal) -> None:
        """Keep it, and let go of what lay unused longest."""
        self._signals[key] = signal
        self._size += signal.samples.nbytes
        while self._size > self._most and len(self._signals) > 1:
            self._size -= self._signals.popitem(last=False)[1].samples.nbytes

    def __len__(self) -> int:
        """Return how many are kept."""
        return len(self._signals)


@dataclass(frozen=True)
class Stack:
    """Elements of one length and rate, with their remedies.

    With what is left of the mix without them.
    ``groups`` names the elements of each group; ``rest`` is the mix minus the sum, so that with no remedy the mixdown is the mix.
    """

    parts: Mapping[str, Signal]
    groups: Mapping[str, tuple[str, ...]]
    rest: Signal | None = None
    remedies: tuple[Remedy, ...] = ()
    channels: int = 2
    cache: SignalCache = field(default_factory=SignalCache, repr=False, compare=False)

    def with_remedy(self, remedy: Remedy) -> "Stack":
        """Return the stack with one remedy more.

        What is already processed is shared.
        """
        return replace(self, remedies=(*self.remedies, remedy))

    def on(self, part: str) -> tuple[Remedy, ...]:
        """Return the remedies on an element or group.

        In the order in which they were added.
        """
        return tuple(remedy for remedy in self.remedies if remedy.part == part)

    def element(self, name: str) -> Signal:
        """Return an element after its own remedies.

        Before those of its group and of the mix.
        """
        return self._treated(self.parts[name], name, keyed=True)

    def in_group(self, name: str) -> Signal:
        """Return an element as it stands in the mix.

        After its own remedies and its group's fader; all else is done to the group's sum.
        """
        faders = tuple(remedy for group in self.groups_of(name) for remedy in self.on(group) if kind_of(remedy).is_fader)
        sound = self.element(name)
        if not faders:
            return sound
        state = (name, faders, self._state(name))
        return self._processed(state, faders, lambda: sound)

    def groups_of(self, name: str) -> tuple[str, ...]:
        """Return the groups an element is mixed in.

        None where it is a group by itself.
        """
        return tuple(group for group, members in self.groups.items() if name in members and group not in self.parts)

    def group(self, name: str) -> Signal:
        """Return the sum of a group's elements.

        Each after its own remedies, after the group's.
        """
        if name in self.parts:  # an element that is a group by itself
            return self.element(name)
        members = self.groups[name]
        own = self.on(name)
        if not own:
            return self._sum([self.element(member) for member in members])
        state = (name, own, tuple((member, self._state(member)) for member in members), self._keys(own))
        return self._processed(state, own, lambda: self._sum([self.element(member) for member in members]))

    def mixdown(self) -> Signal:
        """Return everything summed.

        Elements, groups, the rest, then the remedies on the whole mix.
        """
        treated = [name for name in self.groups if name not in self.parts and self.on(name)]
        inside = {member for name in treated for member in self.groups[name]}
        pieces = [self.group(name) for name in treated]
        pieces += [self.element(name) for name in self.parts if name not in inside]
        if self.rest is not None:
            pieces.append(self.rest)
        mix = self._sum(pieces)
        for remedy in self.remedies:
            if remedy.part in self.parts or remedy.part in self.groups:
                continue
            if remedy.part not in PARTS_OF_A_MIX:
                raise ValueError(f"a remedy is meant for “{remedy.part}”, and there is no such element or group")
            mix = self._applied(remedy, mix)
        return mix

    def _sum(self, pieces: Sequence[Signal]) -> Signal:
        first = pieces[0]
        total = np.zeros((self.channels, first.frames), np.float32)
        for piece in pieces:
            total += piece.samples if piece.channels <= self.channels else piece.samples.mean(axis=0, keepdims=True)
        return Signal(total, first.rate_hz)

    def _treated(self, sound: Signal, name: str, *, keyed: bool) -> Signal:
        own = tuple(remedy for remedy in self.on(name) if keyed or remedy.key is None)
        if not own:
            return sound
        state = (name, own, self._keys(own))
        return self._processed(state, own, lambda: sound)

    def _processed(self, state: object, remedies: Sequence[Remedy], start: Callable[[], Signal]) -> Signal:
        """Return what the remedies make of the start, made once for each state."""
        sound = self.cache.get(state)
        if sound is None:
            sound = start()
            for remedy in remedies:
                sound = self._applied(remedy, sound)
            self.cache.put(state, sound)
        return sound

    def _state(self, name: str) -> tuple[object, ...]:
        own = self.on(name)
        return (own, self._keys(own))

    def _keys(self, remedies: Sequence[Remedy]) -> tuple[object, ...]:
        """Return what the keys of these remedies went through."""
        return tuple(
            (remedy.key, tuple(its for its in self.on(remedy.key) if its.key is None)) for remedy in remedies if remedy.key is not None
        )

    def _applied(self, remedy: Remedy, sound: Signal) -> Signal:
        return apply(remedy, sound, None if remedy.key is None else self._key(remedy.key))

    def _key(self, name: str) -> Signal:
        """Return what triggers a dip: an element after those of its remedies that have no key themselves, or a group of such."""
        if name in self.parts:
            return self._treated(self.parts[name], name, keyed=False)
        if name in self.groups:
            return self._sum([self._treated(self.parts[member], member, keyed=False) for member in self.groups[name]])
        raise ValueError(f"a dip is keyed by “{name}”, and there is no such element or group")


def on_elements(remedies: Sequence[Remedy]) -> tuple[Remedy, ...]:
    """Return the remedies that are not on the whole mix."""
    return tuple(remedy for remedy in remedies if remedy.part not in PARTS_OF_A_MIX)


def read_stack(opened: OpenedStems, spans: Sequence[Span]) -> Stack:
    """Read stretches of the song's elements.

    Joined as the excerpt of the mix is, so that they sum to it.
    """
    parts = {stem.name: take(stem.source, spans).signal for stem in opened.stems}
    rest = None if opened.rest is None else take(opened.rest, spans).signal
    return Stack(parts, opened.groups, rest, channels=opened.channels)


class StackSource(Chunked):
    """The whole song from its elements, chunk by chunk.

    With remedies in place; implements `Source`.
    """

    def __init__(self, opened: OpenedStems, remedies: Sequence[Remedy]) -> None:
        """Take the stems and the remedies in their order."""
        super().__init__(opened.sum_source.rate_hz, opened.channels, opened.sum_source.frames, CHUNK_S)
        self._opened, self._remedies = opened, tuple(remedies)

    def make(self, start: int, count: int) -> Samples:
        """Return processed frames.

        Read with a lead and a tail that are thrown away; what no remedy touches is only summed.
        """
        lead = min(round(LEAD_S * self.rate_hz), start)
        length = min(lead + count + round(TAIL_S * self.rate_hz), self.frames - (start - lead))
        touched = self._touched()
        rest = np.zeros((self.channels, length), np.float32)
        parts = {}
        for stem in self._opened.stems:
            sound = stem.source.read(start - lead, length)
            if stem.name in touched:
                parts[stem.name] = Signal(np.array(sound, np.float32), self.rate_hz)
            else:
                rest += sound
        if self._opened.rest is not None:
            rest += self._opened.rest.read(start - lead, length)
        stack = Stack(parts, self._opened.groups, Signal(rest, self.rate_hz), self._remedies, self.channels, SignalCache(0))
        return stack.mixdown().samples[:, lead : lead + count].copy()

    def _touched(self) -> set[str]:
        named = {remedy.part for remedy in self._remedies} | {remedy.key for remedy in self._remedies if remedy.key is not None}
        members = {member for group, names in self._opened.groups.items() if group in named for member in names}
        return (named | members) & {stem.name for stem in self._opened.stems}


class PartSource(Chunked):
    """One element or group as it stands in the mix.

    A group after its remedies; over the whole song, and only what it needs is read.
    """

    def __init__(self, opened: OpenedStems, remedies: Sequence[Remedy], part: str) -> None:
        """Take the stems, the remedies, and the part wanted.

        Remedies stand in their order; the part is an element or a group.
        """
        self._opened, self._remedies, self._part = opened, tuple(remedies), part
        members = opened.groups.get(part, (part,))
        keys = [remedy.key for remedy in self._remedies if remedy.key is not None and remedy.part in {part, *members}]
        needed = {name for key in (part, *members, *keys) for name in opened.groups.get(key, (key,))}
        self._stems = [stem for stem in opened.stems if stem.name in needed]
        wide = part in opened.groups or any(remedy.part == part and kind_of(remedy).makes_stereo for remedy in self._remedies)
        own = next((stem.source.channels for stem in opened.stems if stem.name == part), 1)
        super().__init__(opened.sum_source.rate_hz, opened.channels if wide else own, opened.sum_source.frames, CHUNK_S)

    def make(self, start: int, count: int) -> Samples:
        """Return processed frames.

        Read with a lead and a tail that are thrown away.
        """
        lead = min(round(LEAD_S * self.rate_hz), start)
        length = min(lead + count + round(TAIL_S * self.rate_hz), self.frames - (start - lead))
        parts = {stem.name: Signal(np.array(stem.source.read(start - lead, length), np.float32), self.rate_hz) for stem in self._stems}
        stack = Stack(parts, self._opened.groups, None, self._remedies, self._opened.channels, SignalCache(0))
        sound = stack.group(self._part) if self._part in self._opened.groups else stack.in_group(self._part)
        return sound.samples[:, lead : lead + count].copy()
