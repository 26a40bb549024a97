"""What a JSON Schema is put together from: kinds of values, objects and lists, each with its description.

It must not know the report.
"""

from __future__ import annotations

from typing import Any, get_args

Schema = dict[str, Any]

TEXT: Schema = {"type": "string"}
FLAG: Schema = {"type": "boolean"}
COUNT: Schema = {"type": "integer", "minimum": 0}
LENGTH: Schema = {"type": "number", "minimum": 0}
SHA256: Schema = {"type": "string", "pattern": "^[0-9a-f]{64}$"}


def said(schema: Schema, description: str) -> Schema:
    """The same, with a description."""
    return {**schema, "description": description}


def or_null(schema: Schema, description: str = "null: not known.") -> Schema:
    """The same, or null. Types and enumerations are widened in place, so that the schema stays short."""
    widened = dict(schema)
    if "type" in widened:
        widened["type"] = [widened["type"], "null"]
    if "enum" in widened:
        widened["enum"] = [*widened["enum"], None]
    return {**widened, "description": description}


def one_of(literal: object) -> Schema:
    """One of the words of a `Literal`."""
    return {"enum": list(get_args(literal))}


def object_schema(keys: Schema, *, optional: tuple[str, ...] = (), description: str | None = None) -> Schema:
    """An object with these keys and no others."""
    described = {} if description is None else {"description": description}
    return {
        "type": "object",
        **described,
        "properties": keys,
        "required": [key for key in keys if key not in optional],
        "additionalProperties": False,
    }


def list_schema(items: Schema, description: str) -> Schema:
    """A list of any length, each of whose items keeps the schema."""
    return {"type": "array", "description": description, "items": items}
