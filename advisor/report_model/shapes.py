"""Annotations for values that lie otherwise in JSON.

Only the codec imports pydantic; these hooks do so when it asks them, so that a record costs no more to import than a dataclass.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any

Json = dict[str, Any]
Schema = Any  # pydantic's core schemas, which only its own functions take apart


def _written(write: Callable[[Json], Json], value: object, proceed: Callable[[object], Json]) -> Json:
    return write(proceed(value))


def reshaped(schema: Schema, write: Callable[[Json], Json], read: Callable[[Json], Json] | None = None) -> Schema:
    """Return a schema that reshapes the written JSON object."""
    from pydantic_core import core_schema  # noqa: PLC0415

    def before(value: object) -> object:
        return read(dict(value)) if read is not None and isinstance(value, Mapping) else value

    return core_schema.no_info_before_validator_function(
        before, schema, serialization=core_schema.wrap_serializer_function_ser_schema(partial(_written, write))
    )


@dataclass(frozen=True, slots=True)
class WithoutNone:
    """Leaves out the keys of settings that are not used."""

    def __get_pydantic_core_schema__(self, source: object, handler: Callable[[object], Schema]) -> Schema:
        """Return the schema of a record without empty fields."""
        return reshaped(handler(source), lambda written: {name: value for name, value in written.items() if value is not None})

    def __get_pydantic_json_schema__(self, core: Schema, handler: Any) -> Json:  # noqa: ANN401 - pydantic's own handler
        """Require only what is always written."""
        schema: Json = handler(core)
        whole: Json = handler.resolve_ref_schema(schema)
        whole["required"] = [name for name in whole["required"] if "default" not in whole["properties"][name] or name == "part"]
        return schema


@dataclass(frozen=True, slots=True)
class Without:
    """Leaves out some fields of a record.

    ``instead`` is what they hold when it is read back.
    """

    names: tuple[str, ...]
    instead: tuple[Any, ...] = ()

    def __get_pydantic_core_schema__(self, source: object, handler: Callable[[object], Schema]) -> Schema:
        """Return the schema of a record without these fields."""

        def write(written: Json) -> Json:
            return {name: value for name, value in written.items() if name not in self.names}

        return reshaped(handler(source), write, lambda read: {**dict.fromkeys(self.names, self.instead), **read})

    def __get_pydantic_json_schema__(self, core: Schema, handler: Any) -> Json:  # noqa: ANN401 - pydantic's own handler
        """Describe the record without these fields."""
        whole: Json = handler.resolve_ref_schema(handler(core))
        properties = {name: value for name, value in whole["properties"].items() if name not in self.names}
        return {**whole, "properties": properties, "required": [name for name in whole["required"] if name in properties]}


@dataclass(frozen=True, slots=True)
class Stated:
    """What the schema says of a value beyond its type.

    ``inside`` names a field of the value that it is said of.
    """

    words: tuple[tuple[str, str | float | bool], ...]
    inside: str | None = None

    def __get_pydantic_json_schema__(self, core: Schema, handler: Any) -> Json:  # noqa: ANN401 - pydantic's own handler
        """Add the words to the type's schema."""
        schema: Json = handler(core)
        if self.inside is None:
            return {**schema, **dict(self.words)}
        fields: Json = schema["properties"]
        return {**schema, "properties": {**fields, self.inside: {**fields[self.inside], **dict(self.words)}}}


def stated(inside: str | None = None, **words: str | float | bool) -> Stated:
    """Return what the schema says, by JSON Schema's names.

    Such as `minimum`, `pattern` and `const`.
    """
    return Stated(tuple(words.items()), inside)
