"""Small things that several sections of a report hold."""

from dataclasses import dataclass
from typing import Annotated, Any

from advisor.app.settings import ChangedLimit
from advisor.remedies.discovery import all_kinds
from advisor.report_model.shapes import Json, Schema, WithoutNone, stated
from rules.remedy import Remedy

Text = Annotated[str, stated(minLength=1)]
Count = Annotated[int, stated(minimum=1)]
Excess = Annotated[float, stated(minimum=0)]  # how far past a limit, in its tolerances
Probability = Annotated[float, stated(minimum=0, maximum=1)]
RuleId = Annotated[str, stated(pattern="^(mixing|mastering|delivery)/[a-z0-9_]+$")]


@dataclass(frozen=True, slots=True)
class OfAKnownKind:
    """Says in the schema which remedy kinds there are."""

    def __get_pydantic_json_schema__(self, core: Schema, handler: Any) -> Json:  # noqa: ANN401 - pydantic's own handler
        """List the names of all kinds."""
        schema: Json = handler.resolve_ref_schema(handler(core))
        fields: Json = schema["properties"]
        return {**schema, "properties": {**fields, "kind": {**fields["kind"], "enum": list(all_kinds())}}}


Move = Annotated[Remedy, WithoutNone(), OfAKnownKind()]  # in JSON without the settings that its kind does not use


@dataclass(frozen=True, slots=True)
class Tool:
    """The program that wrote a report."""

    name: Annotated[str, stated(const="mixproof")]
    version: str


@dataclass(frozen=True, slots=True)
class Verdict:
    """Whether the limiter-only rule of thumb holds, in a sentence."""

    ready: bool
    sentence: Text


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
