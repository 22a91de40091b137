"""The measured families of a report, under their own names."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, fields, replace
from typing import Annotated, Any, TypeVar

from advisor.report_model.shapes import Json, Schema, Without, reshaped, stated
from features.records.base import Measurement, family_name, record_kinds
from features.records.elements import Element, ElementHeadroom, ElementLevel, ElementMasking, Elements, LevelPlan
from features.records.file import File
from features.records.outlook import Outlook

RecordT = TypeVar("RecordT", bound=Measurement)
ELSEWHERE: tuple[type[Measurement], ...] = (File, Outlook)  # stand in the report under `mix` and `outlook`
NESTED: Mapping[str, type[Any]] = {"level": ElementLevel, "masking": ElementMasking, "level_plan": LevelPlan}
HEADROOM = {"headroom_lu_per_db": "lu_per_db", "headroom_lu_out": "lu_out"}

MixFile = Annotated[
    File,
    Without(("absent",)),
    stated("sha256", pattern="^[0-9a-f]{64}$"),
    stated("duration_s", minimum=0),
    stated("channels", minimum=1, maximum=2),
]


@dataclass(frozen=True, slots=True)
class Measurements:
    """The families that could be measured.

    The single elements stand under the report's `stems`.
    """

    records: Mapping[type[Measurement], Measurement] = field(default_factory=dict)

    @classmethod
    def of_records(cls, records: Iterable[Measurement]) -> "Measurements":
        """Keep what belongs under `measurements`."""
        return cls(
            {
                type(record): replace(record, elements=()) if isinstance(record, Elements) else record
                for record in records
                if not isinstance(record, ELSEWHERE)
            }
        )

    def get(self, kind: type[RecordT]) -> RecordT | None:
        """Return one family's record. None where it was not measured."""
        record = self.records.get(kind)
        return record if isinstance(record, kind) else None

    def named(self, family: str) -> Measurement | None:
        """Return a record by its family's key in report.json."""
        return next((record for kind, record in self.records.items() if family_name(kind) == family), None)

    def without(self, *kinds: type[Measurement]) -> "Measurements":
        """Return the families but some."""
        return Measurements({kind: record for kind, record in self.records.items() if kind not in kinds})

    @classmethod
    def __get_pydantic_core_schema__(cls, _source: object, handler: Callable[[object], Schema]) -> Schema:
        """Lay the records side by side under their names."""
        from pydantic_core import core_schema  # noqa: PLC0415

        kinds = {family_name(kind): kind for _, kind in sorted(record_kinds().items()) if kind not in ELSEWHERE}
        stated = {name: Annotated[kind, Without(("elements",))] if kind is Elements else kind for name, kind in kinds.items()}
        families = core_schema.typed_dict_schema(
            {name: core_schema.typed_dict_field(handler.generate_schema(kind), required=False) for name, kind in stated.items()}  # type: ignore[attr-defined]
        )

        def read(written: Json) -> Measurements:
            return cls({kinds[name]: record for name, record in written.items()})

        def laid_out(value: Measurements) -> Json:
            return {family_name(kind): record for kind, record in value.records.items()}

        return core_schema.json_or_python_schema(
            json_schema=core_schema.no_info_after_validator_function(read, families),
            python_schema=core_schema.union_schema(
                [core_schema.is_instance_schema(cls), core_schema.no_info_after_validator_function(read, families)]
            ),
            serialization=core_schema.plain_serializer_function_ser_schema(laid_out, return_schema=families),
        )


@dataclass(frozen=True, slots=True)
class SideBySide:
    """Lays an element's readings side by side in one object."""

    def __get_pydantic_core_schema__(self, source: object, handler: Callable[[object], Schema]) -> Schema:
        """Return the schema of an element's one flat object."""
        return reshaped(handler(source), _flat, _nested)

    def __get_pydantic_json_schema__(self, core: Schema, handler: Any) -> Json:  # noqa: ANN401 - pydantic's own handler
        """Describe the flat object."""
        whole: Json = handler.resolve_ref_schema(handler(core))
        own = {name: value for name, value in whole["properties"].items() if name not in (*NESTED, "headroom")}
        required = [name for name in whole["required"] if name in own]
        for name in NESTED:
            part: Json = handler.resolve_ref_schema(whole["properties"][name])
            own.update(part["properties"])
            required += part["required"]
        reading = {"anyOf": [{"type": "number"}, {"type": "null"}]}
        return {**whole, "properties": {**own, **dict.fromkeys(HEADROOM, reading)}, "required": [*required, *HEADROOM]}


def _flat(written: Json) -> Json:
    parts: list[Json] = [written.pop(name) for name in NESTED]
    headroom, dynamics = written.pop("headroom") or {}, written.pop("dynamics")
    for part in parts:
        written.update(part)
    return {**written, **{flat: headroom.get(name) for flat, name in HEADROOM.items()}, "dynamics": dynamics}


def _nested(read: Json) -> Json:
    if "level" in read:
        return read
    parts = {name: {field.name: read.pop(field.name) for field in fields(kind) if field.name in read} for name, kind in NESTED.items()}
    values = {name: read.pop(flat, None) for flat, name in HEADROOM.items()}
    headroom = None if all(value is None for value in values.values()) else values
    return {**read, **parts, "headroom": headroom}


Stem = Annotated[Element, SideBySide()]
assert {field.name for field in fields(ElementHeadroom)} == set(HEADROOM.values())  # noqa: S101 - a reading more needs its key here
