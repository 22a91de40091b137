"""Stack: the elements of an excerpt with remedies in place, summed again; and the same for the whole song, chunk by chunk."""

from collections import OrderedDict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from advisor.apply import apply
from advisor.chunked import Chunked
from advisor.excerpt import take
from advisor.processed import CHUNK_S, LEAD_S, TAIL_S
from advisor.stems.folder import OpenedStems
from features.measurements import Span
from features.signal import Samples, Signal, Source
from rules.remedy import Remedy

KEPT_BYTES = 192 << 20


class Kept:
    """Processed elements and groups, by what was done to them; the ones used last stay, up to a size in bytes."""

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
        """Keep it, and let go of what was not used for longest."""
        self._signals[key] = signal
        self._size += signal.samples.nbytes
        while self._size > self._most and len(self._signals) > 1:
            self._size -= self._signals.popitem(last=False)[1].samples.nbytes

    def __len__(self) -> int:
        """Return how many are kept."""
        return len(self._signals)


@dataclass(frozen=True)
class Stack:
    """Elements of one length and rate, what is left of the mix without them, and remedies in place.

    ``groups`` names the elements of each group; ``rest`` is the mix minus the sum, so that with no remedy the mixdown is the mix.
    """

    parts: Mapping[str, Signal]
    groups: Mapping[str, tuple[str, ...]]
    rest: Signal | None = None
    remedies: tuple[Remedy, ...] = ()
    channels: int = 2
    kept: Kept = field(default_factory=Kept, repr=False, compare=False)

    def with_remedy(self, remedy: Remedy) -> "Stack":
        """Return the stack with one remedy more; what is already processed is shared."""
        return replace(self, remedies=(*self.remedies, remedy))

    def on(self, part: str) -> tuple[Remedy, ...]:
        """Return the remedies on an element or group, in the order in which they were added."""
        return tuple(one for one in self.remedies if one.part == part)

    def element(self, name: str) -> Signal:
        """Return an element after its own remedies, before those of its group and of the mix."""
        return self._treated(self.parts[name], name, keyed=True)

    def group(self, name: str) -> Signal:
        """Return the sum of a group's elements, each after its own remedies, after the group's."""
        members = self.groups[name]
        own = self.on(name)
        if not own:
            return self._sum([self.element(one) for one in members])
        state = (name, own, tuple((one, self._state(one)) for one in members), self._keys(own))
        found = self.kept.get(state)
        if found is None:
            found = self._sum([self.element(one) for one in members])
            for remedy in own:
                found = self._applied(remedy, found)
            self.kept.put(state, found)
        return found

    def mixdown(self) -> Signal:
        """Return everything summed: elements, groups, the rest, then the remedies on the whole mix."""
        treated = [name for name in self.groups if name not in self.parts and self.on(name)]
        inside = {member for name in treated for member in self.groups[name]}
        pieces = [self.group(name) for name in treated]
        pieces += [self.element(name) for name in self.parts if name not in inside]
        if self.rest is not None:
            pieces.append(self.rest)
        mix = self._sum(pieces)
        for remedy in self.remedies:
            if remedy.part not in self.parts and remedy.part not in self.groups:
                mix = self._applied(remedy, mix)
        return mix

    def _sum(self, pieces: Sequence[Signal]) -> Signal:
        first = pieces[0]
        total = np.zeros((self.channels, first.frames), np.float32)
        for piece in pieces:
            total += piece.samples
        return Signal(total, first.rate_hz)

    def _treated(self, sound: Signal, name: str, *, keyed: bool) -> Signal:
        own = tuple(one for one in self.on(name) if keyed or one.key is None)
        if not own:
            return sound
        state = (name, own, self._keys(own))
        found = self.kept.get(state)
        if found is None:
            found = sound
            for remedy in own:
                found = self._applied(remedy, found)
            self.kept.put(state, found)
        return found

    def _state(self, name: str) -> tuple[object, ...]:
        own = self.on(name)
        return (own, self._keys(own))

    def _keys(self, remedies: Sequence[Remedy]) -> tuple[object, ...]:
        """Return what the keys of these remedies went through."""
        return tuple((one.key, tuple(its for its in self.on(one.key) if its.key is None)) for one in remedies if one.key is not None)

    def _applied(self, remedy: Remedy, sound: Signal) -> Signal:
        if remedy.key is None:
            return apply(self._wide(remedy, sound)[0], self._wide(remedy, sound)[1])
        return apply(remedy, sound)

    def _wide(self, remedy: Remedy, sound: Signal) -> tuple[Remedy, Signal]:
        if remedy.kind == "pan" and sound.channels < self.channels:
            return remedy, Signal(np.repeat(sound.samples, self.channels, axis=0), sound.rate_hz)
        return remedy, sound


def read_stack(opened: OpenedStems, spans: Sequence[Span]) -> Stack:
    """Read stretches of the song's elements, joined as the excerpt of the mix is, so that they sum to it."""
    parts = {one.name: take(one.source, spans).signal for one in opened.stems}
    rest = None if opened.rest is None else take(opened.rest, spans).signal
    return Stack(parts, opened.groups, rest, channels=opened.channels)


class StackSource(Chunked):
    """The whole song from its elements with remedies in place, made chunk by chunk; implements `Source`."""

    def __init__(self, opened: OpenedStems, remedies: Sequence[Remedy]) -> None:
        """Take the stems and the remedies in their order."""
        super().__init__(opened.sum_source.rate_hz, opened.channels, opened.sum_source.frames, CHUNK_S)
        self._opened, self._remedies = opened, tuple(remedies)

    def make(self, start: int, count: int) -> Samples:
        """Return processed frames, read with a lead and a tail that are thrown away."""
        lead = min(round(LEAD_S * self.rate_hz), start)
        length = lead + count + round(TAIL_S * self.rate_hz)

        def piece(source: Source) -> Signal:
            return Signal(np.array(source.read(start - lead, length), np.float32), self.rate_hz)

        rest = None if self._opened.rest is None else piece(self._opened.rest)
        parts = {one.name: piece(one.source) for one in self._opened.stems}
        stack = Stack(parts, self._opened.groups, rest, self._remedies, self.channels, Kept(0))
        return stack.mixdown().samples[:, lead : lead + count].copy()
