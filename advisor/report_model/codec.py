"""Writes and reads reports as JSON, with its schema.

pydantic is imported on first use only, so that a command that writes no report does not pay for it.
"""

import json
from typing import TYPE_CHECKING, Any, TypeVar

if TYPE_CHECKING:
    from pydantic import TypeAdapter

ReportT = TypeVar("ReportT")


_adapters: "dict[type[Any], TypeAdapter[Any]]" = {}  # made once a kind, which takes a fifth of a second


def _adapter(kind: type[Any]) -> "TypeAdapter[Any]":
    from pydantic import TypeAdapter  # noqa: PLC0415

    if kind not in _adapters:
        _adapters[kind] = TypeAdapter(kind)
    return _adapters[kind]


def to_json(report: object, indent: int | None = 1) -> str:
    """Return a report as JSON.

    Floats keep every bit, and a number that is none (NaN) raises `ValueError`.
    """
    plain = _adapter(type(report)).dump_python(report, warnings="none")  # mypy holds the types
    return json.dumps(plain, indent=indent, ensure_ascii=False, allow_nan=False)


def from_json(kind: type[ReportT], text: str | bytes) -> ReportT:
    """Read back what `to_json` wrote.

    Raises `ValueError` naming what does not fit.
    """
    report: ReportT = _adapter(kind).validate_json(text)
    return report


def json_schema(kind: type[Any], title: str) -> dict[str, Any]:
    """Return the JSON Schema of a kind of report.

    A key is required where it is always written.
    """
    from pydantic.json_schema import GenerateJsonSchema  # noqa: PLC0415

    class AlwaysWritten(GenerateJsonSchema):
        """Requires the fields of records, with defaults or without."""

        def field_is_required(self, field: Any, total: bool) -> bool:  # noqa: ANN401 - pydantic's own field
            return field["type"] == "dataclass-field" or super().field_is_required(field, total)

        def field_title_should_be_set(self, schema: Any) -> bool:  # noqa: ANN401 - pydantic's own schema
            del schema
            return False  # a title that only spells the key again

    schema = _adapter(kind).json_schema(mode="serialization", schema_generator=AlwaysWritten)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema, "title": title}
