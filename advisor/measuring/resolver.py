"""Runs the measurements that are wanted, and what they need.

One pass over the sound, then one measurement after another.
"""

from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from typing import Any, TypeVar

from advisor.app.memory import give_back
from advisor.app.progress import Progress
from advisor.measuring.measured import Failure
from features.records.base import Measurement
from features.sound.measurement import Declared, DeclaredMeasurement, Input, Trace, declaration_of, declared_in
from features.sound.signal import BLOCK_FRAMES, Meter, Samples, Source

KindT = TypeVar("KindT", bound=Measurement | Trace)
BLOCKS_AT_ONCE = 8


class UnavailableError(Exception):
    """Something that a measurement needs has failed before it."""


class Resolver:
    """Measures one sound.

    First `listen`, then `make` what is wanted, in any order.
    A crash is noted and passed on as absence, unless ``contain`` is false. A trace is let go once nothing that is still
    wanted needs it: those of a song of hours are large.
    """

    def __init__(
        self,
        source: Source,
        wanted: Sequence[type[Measurement | Trace]],
        given: Iterable[object] = (),
        instead: Iterable[Callable[..., Any]] = (),
        *,
        contain: bool = True,
        package: str = "features",
    ) -> None:
        """Find out what has to be run.

        ``given`` are records and whatever else the caller knows, ``instead`` are functions that take the place of declared ones.

        Raises
        ------
        TypeError
            When something wanted is declared by nobody, or asks for what is not given.
        """
        self.failures: list[Failure] = []
        self._source, self._contain = source, contain
        self._made: dict[Any, Any] = {Source: source, **{type(value): value for value in given}}
        declared = declared_in(package)
        replaced = {function.gives: function for function in map(declaration_of, instead)}
        self._declared = Declared({**declared.measurements, **replaced}, declared.meters)
        self._waiting = list(wanted)
        self._tried: set[type[Any]] = set()
        self._meters: tuple[type[Trace], ...] = tuple(dict.fromkeys(kind for asked in wanted for kind in self._traces_for(asked)))

    def _traces_for(self, kind: type[Any]) -> Iterator[type[Trace]]:
        """Yield the traces of meters that one thing cannot be made without."""
        if kind in self._made:
            return
        if kind in self._declared.meters:
            yield kind
            inputs = self._declared.meters[kind].inputs
        elif kind in self._declared.measurements:
            inputs = self._declared.measurements[kind].inputs
        else:
            message = f"{kind.__name__} is wanted, and no measurement or meter gives it, nor is it given"
            raise TypeError(message)
        for needed in inputs:
            if not needed.optional:
                yield from self._traces_for(needed.kind)

    def listen(self, progress: Progress) -> None:
        """Push every block to every meter that is needed.

        The meters run side by side on the machine's cores.
        """
        meters = {kind: self._meter(kind) for kind in self._meters}
        broken: set[type[Trace]] = set()

        def push_all(kind: type[Trace], group: list[Samples]) -> None:
            try:
                for block in group:
                    meters[kind].push(block)
            except MemoryError:
                raise
            except Exception as error:  # noqa: BLE001 - one meter's crash must not end the critique
                broken.add(kind)
                self._note(self._declared.meters[kind].name, error)

        done = 0
        with ThreadPoolExecutor(2) as pool:
            for group in _groups(self._source):
                list(pool.map(push_all, [kind for kind in meters if kind not in broken], [group] * len(meters)))
                done += sum(block.shape[1] for block in group)
                progress.advance(done / max(self._source.frames, 1))
        for kind in tuple(meters):
            meter = meters.pop(kind)  # what it gathered is freed before the next one needs room
            if kind not in broken:
                self._finish(kind, meter)
            del meter
            give_back()

    def _meter(self, kind: type[Trace]) -> Meter[Any]:
        declared = self._declared.meters[kind]
        meter: Meter[Any] = declared.make(
            self._source.rate_hz, self._source.channels, *(self._made[needed.kind] for needed in declared.inputs)
        )
        return meter

    def _finish(self, kind: type[Trace], meter: Meter[Any]) -> None:
        try:
            self._made[kind] = meter.finish()
        except MemoryError:
            raise
        except Exception as error:  # noqa: BLE001 - as above
            self._note(self._declared.meters[kind].name, error)

    def make(self, wanted: Iterable[type[Measurement | Trace]]) -> None:
        """Make some of what is wanted.

        As far as nothing it needs has failed.
        """
        for kind in wanted:
            with suppress(UnavailableError):  # what failed was noted where it failed
                self._input(Input(kind, optional=False))
            if issubclass(kind, Measurement):  # a wanted trace stays
                self._waiting = [asked for asked in self._waiting if asked is not kind]
            self._let_go()

    def _input(self, needed: Input) -> Any:  # noqa: ANN401 - the kind says what it is
        """Return one input, made first where that is wanted of it."""
        kind = needed.kind
        if kind not in self._made and kind not in self._tried and self._to_be_made(needed):
            self._tried.add(kind)
            self._work(self._declared.measurements[kind])
        if kind in self._made:
            return self._made[kind]
        if needed.optional:
            return None
        raise UnavailableError(kind.__name__)

    def _to_be_made(self, needed: Input) -> bool:
        """Whether an input may be made now: an optional one only out of what is there already."""
        declared = self._declared.measurements.get(needed.kind)
        if declared is None or not needed.optional:
            return declared is not None
        return issubclass(needed.kind, Trace) and all(below.optional or below.kind in self._made for below in declared.inputs)

    def _work(self, declared: DeclaredMeasurement) -> None:
        try:
            self._made[declared.gives] = declared.work(*(self._input(needed) for needed in declared.inputs))
        except UnavailableError:
            pass
        except MemoryError:
            raise
        except Exception as error:  # noqa: BLE001 - one family's crash must not end the critique
            self._note(declared.gives.__name__.lower(), error)

    def _note(self, family: str, error: Exception) -> None:
        if not self._contain:
            raise error
        self.failures.append(Failure(family, f"{type(error).__name__}: {error}"))

    def _let_go(self) -> None:
        """Let go of the traces that nothing still wanted asks for."""
        needed = {kind for asked in self._waiting for kind in self._asked_for(asked)}
        loose = [kind for kind in self._made if isinstance(kind, type) and issubclass(kind, Trace) and kind not in needed]
        for kind in loose:
            del self._made[kind]
        if loose:
            give_back()

    def _asked_for(self, kind: type[Any]) -> Iterator[type[Any]]:
        """Yield a thing and everything that making it may take, as far as it is not made."""
        yield kind
        if kind in self._made:
            return
        declared = self._declared.measurements.get(kind)
        for needed in () if declared is None else declared.inputs:
            yield from self._asked_for(needed.kind)

    def get(self, kind: type[KindT]) -> KindT:
        """Return one thing that was made.

        Raises `UnavailableError` when it was not.
        """
        if kind not in self._made:
            raise UnavailableError(kind.__name__)
        made: KindT = self._made[kind]
        return made

    def find(self, kind: type[KindT]) -> KindT | None:
        """Return one thing that was made, or None."""
        return self.get(kind) if kind in self._made else None

    def records(self, wanted: Collection[type[Any]]) -> dict[type[Measurement], Measurement]:
        """Return the wanted records in the order of their making.

        Those that were given come first.
        """
        return {kind: self._made[kind] for kind in self._made if kind in wanted and issubclass(kind, Measurement)}


def _groups(source: Source) -> Iterator[list[Samples]]:
    group: list[Samples] = []
    for block in source.blocks(BLOCK_FRAMES):
        group.append(block)
        if len(group) == BLOCKS_AT_ONCE:
            yield group
            group = []
    if group:
        yield group
