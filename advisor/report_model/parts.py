"""Small things that several sections of a report hold."""

from dataclasses import dataclass
from typing import Annotated

from advisor.report_model.shapes import WithoutNone
from rules.remedy import Remedy

Move = Annotated[Remedy, WithoutNone()]  # in JSON without the settings that its kind does not use


@dataclass(frozen=True, slots=True)
class Tool:
    """The program that wrote a report."""

    name: str
    version: str


@dataclass(frozen=True, slots=True)
class Verdict:
    """Whether the limiter-only rule of thumb holds, in a sentence."""

    ready: bool
    sentence: str


@dataclass(frozen=True, slots=True)
class ChangedLimit:
    """A limit that the user set, and where."""

    rule: str
    limit: str
    default: float
    value: float
    unit: str
    where: str


@dataclass(frozen=True, slots=True)
class UsedSettings:
    """The settings that a critique was made with."""

    target_lufs: float
    ceiling_dbtp: float
    quick: bool = False
    audition: bool = True
    streaming_lufs: tuple[float, ...] = ()
    disabled_rules: tuple[str, ...] = ()
    changed_limits: tuple[ChangedLimit, ...] = ()


@dataclass(frozen=True, slots=True)
class PassedRule:
    """A rule that found nothing."""

    rule: str
    topic: str
    title: str


@dataclass(frozen=True, slots=True)
class OpenRule:
    """A rule that could not judge, and why."""

    rule: str
    title: str
    reason: str


@dataclass(frozen=True, slots=True)
class FailedPart:
    """A rule or a part of the critique that crashed."""

    rule: str
    error: str
