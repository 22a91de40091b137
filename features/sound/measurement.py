"""What a measurement is.

A function that names its inputs by annotation, found by discovery.
`@measurement` marks a function that gives a record, or a `Trace` worked out from others. `@meter` marks a class that gives a
`Trace` of the whole sound. Nothing else needs to be registered: `declared_in` finds both, and whoever runs them
(`advisor.measuring.resolver`) resolves what each asks for.
"""

import importlib
import inspect
import pkgutil
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from types import NoneType, UnionType
from typing import Any, ParamSpec, TypeVar, Union, get_args, get_origin, get_type_hints

from features.records.base import Measurement
from features.sound.signal import Source

ParametersT = ParamSpec("ParametersT")
ResultT = TypeVar("ResultT")
ClassT = TypeVar("ClassT", bound=type[Any])

SOUND = ("rate_hz", "channels")  # what every meter is made with


class Trace:
    """What is worked out of a sound while measuring it.

    It is not kept.
    """

    __slots__ = ()


class Given:
    """What the caller gives beside the sound.

    A goal, a target.
    """

    __slots__ = ()


@dataclass(frozen=True, slots=True)
class Input:
    """One thing that a measurement asks for.

    An optional one (``X | None``) is passed as far as others have it made anyway, and asks for nothing itself.
    """

    kind: type[Any]
    optional: bool


@dataclass(frozen=True, slots=True)
class DeclaredMeasurement:
    """A measuring function, its result, and what it asks for."""

    gives: type[Any]
    inputs: tuple[Input, ...]
    work: Callable[..., Any]


@dataclass(frozen=True, slots=True)
class DeclaredMeter:
    """A meter, and the trace it gives.

    ``inputs`` are the records it is made with after rate and channels.
    ``name`` is what the report calls it when it fails.
    """

    name: str
    gives: type[Trace]
    inputs: tuple[Input, ...]
    make: Callable[..., Any]


@dataclass(frozen=True, slots=True)
class Declared:
    """Everything that a package declares, by what it gives."""

    measurements: Mapping[type[Any], DeclaredMeasurement]
    meters: Mapping[type[Any], DeclaredMeter]


def measurement(function: Callable[ParametersT, ResultT]) -> Callable[ParametersT, ResultT]:
    """Mark a measuring function.

    Raises
    ------
    TypeError
        When it asks for, or gives, anything but records, traces, the sound and what a caller gives; the message names it.

    Examples
    --------
    >>> from features.records.level import Level
    >>> @measurement
    ... def loudest(level: Level, count: int) -> Level: ...
    Traceback (most recent call last):
    TypeError: features.sound.measurement.loudest: count is <class 'int'>, and a measurement may only ask for a record, a Trace, ...
    """
    function.__dict__["declared"] = declaration_of(function)
    return function


def declaration_of(function: Callable[..., Any]) -> DeclaredMeasurement:
    """Read a measuring function's annotations. Raises `TypeError` as `measurement` does."""
    hints = get_type_hints(function)
    gives = hints.pop("return", None)
    if not (inspect.isclass(gives) and issubclass(gives, Measurement | Trace)):
        message = f"{_name(function)}: a measurement gives a record or a Trace, not {gives}"
        raise TypeError(message)
    return DeclaredMeasurement(gives, _inputs(function, hints, inspect.signature(function)), function)


def meter(name: str) -> Callable[[ClassT], ClassT]:
    """Mark a meter's class.

    ``name`` is what the report calls it when it fails.
    """

    def mark(kind: ClassT) -> ClassT:
        gives = get_type_hints(kind.finish).get("return")
        if not (inspect.isclass(gives) and issubclass(gives, Trace)):
            message = f"{_name(kind)}: finish() gives a Trace, not {gives}"
            raise TypeError(message)
        hints = get_type_hints(kind.__init__)
        hints.pop("return", None)
        inputs = _inputs(kind, {name: hint for name, hint in hints.items() if name not in SOUND}, inspect.signature(kind))
        kind.declared = DeclaredMeter(name, gives, inputs, kind)
        return kind

    return mark


def _name(declared: Any) -> str:  # noqa: ANN401 - a function or a class
    return f"{declared.__module__}.{declared.__qualname__}"


def _inputs(owner: Any, hints: Mapping[str, Any], signature: inspect.Signature) -> tuple[Input, ...]:  # noqa: ANN401
    """Return what a function or a class asks for; parameters of no known kind that have a default stay as they are."""
    inputs = []
    for name, parameter in signature.parameters.items():
        if name in SOUND and inspect.isclass(owner):
            continue
        kind, optional = _kind(hints.get(name))
        known = inspect.isclass(kind) and (kind is Source or issubclass(kind, Measurement | Trace | Given))
        if known:
            inputs.append(Input(kind, optional))
        elif parameter.default is inspect.Parameter.empty:
            message = (
                f"{_name(owner)}: {name} is {hints.get(name)}, and a measurement may only ask for a record, a Trace, "
                "the Source, or what is Given, or one of these or None"
            )
            raise TypeError(message)
    return tuple(inputs)


def _kind(hint: Any) -> tuple[Any, bool]:  # noqa: ANN401
    """Return what an annotation asks for, and whether it may be None."""
    if get_origin(hint) not in (Union, UnionType):
        return hint, False
    kinds = [kind for kind in get_args(hint) if kind is not NoneType]
    return (kinds[0], True) if len(kinds) == 1 else (hint, False)


@cache
def declared_in(package: str) -> Declared:
    """Return what is declared in a package's modules.

    Every measurement and meter.

    Raises
    ------
    TypeError
        When two of them give the same thing.
    """
    measurements: dict[type[Any], DeclaredMeasurement] = {}
    meters: dict[type[Any], DeclaredMeter] = {}
    for declared in _declarations(package):
        before = measurements.get(declared.gives) or meters.get(declared.gives)
        if before is not None:
            both = " and ".join(_name(rival.work if isinstance(rival, DeclaredMeasurement) else rival.make) for rival in (before, declared))
            message = f"{both} both give {declared.gives.__name__}"
            raise TypeError(message)
        if isinstance(declared, DeclaredMeasurement):
            measurements[declared.gives] = declared
        else:
            meters[declared.gives] = declared
    return Declared(measurements, meters)


def _declarations(package: str) -> Iterator[DeclaredMeasurement | DeclaredMeter]:
    root = importlib.import_module(package)
    for info in pkgutil.walk_packages(root.__path__, f"{package}."):
        module = importlib.import_module(info.name)
        for value in vars(module).values():
            if (inspect.isfunction(value) or inspect.isclass(value)) and value.__module__ == module.__name__:
                declared = vars(value).get("declared")
                if isinstance(declared, DeclaredMeasurement | DeclaredMeter):
                    yield declared
