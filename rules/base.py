"""What a rule is, and how it is discovered.

A documented module with `Limits` and one `@rule` function over measured records.

The rule's id and stage come from its path (``rules/mixing/low_end/sub_excess.py`` is ``mixing/sub_excess``), the records it
looks at from its annotations, its page from its docstring. Nothing else needs to be registered.
"""

import importlib
import inspect
import pkgutil
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields
from functools import cache
from typing import Any, Literal, get_type_hints

from features.records.base import Measurement, Span
from features.records.elements import Sharing
from rules.remedy import Remedy

Stage = Literal["mixing", "mastering", "delivery"]
Topic = Literal["balance", "low-end", "tone", "space", "dynamics", "masking", "distortion", "loudness", "delivery"]
Confidence = Literal["high", "medium", "low"]
Cause = Literal[
    "excess", "lack", "narrow", "peaks", "density", "unsteady", "width", "lean", "polarity", "delay",
    "buried", "clipping", "file", "level", "stems",
]  # fmt: skip

CONFIDENCE_WEIGHT: Mapping[str, float] = {"high": 1.0, "medium": 0.7, "low": 0.4}
HEADINGS = ("What it means", "Why it matters", "What to do", "Check by ear", "Leave it alone when", "Sources")


class RuleError(Exception):
    """A rule is written wrongly, or does not exist."""


@dataclass(frozen=True, slots=True)
class Finding:
    """What a rule found.

    ``numbers`` fill the placeholders of the rule's ``message`` and ``advice``.

    ``excess`` says how far the reading lies past its limit, in units of the limit's own tolerance: 0 at the limit,
    1 one tolerance past it, at most 4. ``sure_because`` is one sentence on why the confidence is what it is.
    Findings with the same ``cause`` and ``stem`` whose bands overlap become one card. ``stem`` is the element it is about;
    ``None`` for the mix. ``others`` are remedies to try where the first is not the best; of equal help the easier one is taken.
    ``exact`` says that the remedy's amount follows from a reading, so that less of it would leave the fault half mended.
    ``explains`` names rules whose findings on the mix, or on the same elements, are this fault heard otherwise: they join its card.
    ``probability`` that it is right, 0-1, is set by the judge.
    """

    excess: float
    confidence: Confidence
    sure_because: str
    numbers: Mapping[str, float | str]
    cause: Cause
    where: tuple[Span, ...] = ()
    band_hz: tuple[float, float] | None = None
    remedy: Remedy | None = None
    title: str | None = None
    stem: str | None = None
    others: tuple[Remedy, ...] = ()
    exact: bool = False
    explains: tuple[str, ...] = ()
    probability: float | None = None

    @property
    def weight(self) -> float:
        """How far past the limit, times how sure."""
        return self.excess * CONFIDENCE_WEIGHT[self.confidence]


@dataclass(frozen=True, slots=True)
class NotApplicable:
    """The rule cannot judge this song, and why."""

    reason: str


Outcome = Finding | tuple[Finding, ...] | NotApplicable | None  # several findings: one for each element
Check = Callable[..., Outcome]


def limit(default: float, *, unit: str, low: float, high: float, source: str, says: str) -> Any:  # noqa: ANN401
    """Declare a limit a user may override.

    Between ``low`` and ``high``; ``source`` is a key of docs/sources.md.

    ``says`` is what the limit decides, in one clause.
    """
    metadata = {"unit": unit, "low": low, "high": high, "source": source, "says": says}
    return field(default=default, metadata=metadata)


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule, as the registry knows it."""

    id: str
    stage: Stage
    topic: Topic
    title: str
    message: str
    advice: str
    stop: str
    sections: Mapping[str, str]
    looks_at: tuple[type[Measurement], ...]
    limits: type[Any]
    check: Check
    module: str
    shared: Sharing | None = None  # how its reading of the mix is shared out among the elements

    @property
    def whole_advice(self) -> str:
        """The move and when to stop, as sentences with placeholders."""
        return f"{self.advice} Stop {self.stop}."

    @property
    def stop_clause(self) -> str:
        """When to stop, as a clause with placeholders."""
        return f"stop {self.stop}"

    def judge(self, records: Mapping[type[Measurement], Measurement], limits: object) -> Outcome:
        """Call the check with the records it asks for.

        And nothing else.
        """
        return self.check(*(records[kind] for kind in self.looks_at), limits)


@dataclass(frozen=True, slots=True)
class _Words:
    topic: Topic
    title: str
    message: str
    advice: str
    stop: str
    shared: Sharing | None


def rule(*, topic: Topic, title: str, message: str, advice: str, stop: str, shared: Sharing | None = None) -> Callable[[Check], Check]:
    """Mark a check as a rule.

    ``title`` names the fault, ``message`` what is measured, ``advice`` the one move, ``stop`` when it is enough:
    a clause that follows the word stop: ``stop="when the tone is gone"``. ``shared`` is how the reading is shared out among the elements
    (`features.shares.ways`), for a fault of the mix that single ones can carry.
    """

    def mark(check: Check) -> Check:
        check.__dict__["words"] = _Words(topic, title, message, advice, stop, shared)
        return check

    return mark


def _sections(module_name: str, text: str) -> Mapping[str, str]:
    sections: dict[str, str] = {}
    for part in inspect.cleandoc(text).split("## ")[1:]:
        heading, _, body = part.partition("\n")
        sections[heading.strip()] = body.strip()
    if tuple(sections) != HEADINGS:
        message = f"{module_name}: the docstring needs the headings {HEADINGS}, in this order; it has {tuple(sections)}"
        raise RuleError(message)
    return sections


def _build(module_name: str) -> Rule | None:
    module = importlib.import_module(module_name)
    check = getattr(module, "check", None)
    if check is None or "words" not in check.__dict__:
        return None
    hints = get_type_hints(check)
    hints.pop("return", None)
    *kinds, limits = hints.values()
    for kind in kinds:
        if not (inspect.isclass(kind) and issubclass(kind, Measurement)):
            message = f"{module_name}: check() may only ask for Measurement records, not {kind}"
            raise RuleError(message)
    words: _Words = check.__dict__["words"]
    _, stage, *_, name = module_name.split(".")
    return Rule(
        f"{stage}/{name}", stage, words.topic, words.title, words.message, words.advice, words.stop,  # type: ignore[arg-type]
        _sections(module_name, module.__doc__ or ""), tuple(kinds), limits, check, module_name, words.shared,
    )  # fmt: skip


@cache
def all_rules() -> tuple[Rule, ...]:
    """Return every rule under ``rules/``, sorted by id."""
    import rules  # noqa: PLC0415 - the package imports nothing of this module at its top

    names = (info.name for info in pkgutil.walk_packages(rules.__path__, "rules.") if not info.ispkg and info.name.count(".") >= 2)
    built = (_build(name) for name in names)
    return tuple(sorted((rule for rule in built if rule is not None), key=lambda rule: rule.id))


def limit_names(described: Rule) -> tuple[str, ...]:
    """Return the names of a rule's limits."""
    return tuple(limit_field.name for limit_field in fields(described.limits))
