"""What a JSON Schema is put together from: kinds of values, objects and lists, each with its description.

It must not know any one record, only what several of them share.
"""

from __future__ import annotations

from typing import Any, get_args

from mediacheck.names import CardKind, FileSystem, PartitionTable

Schema = dict[str, Any]

TEXT: Schema = {"type": "string"}
FLAG: Schema = {"type": "boolean"}
COUNT: Schema = {"type": "integer", "minimum": 0}
LENGTH: Schema = {"type": "number", "minimum": 0}
SHA256: Schema = {"type": "string", "pattern": "^[0-9a-f]{64}$"}
MOMENT: Schema = {
    "type": "string",
    "format": "date-time",
    "pattern": r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ$",
}


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


def document_schema(title: str, record: Schema) -> Schema:
    """A whole schema (JSON Schema draft 2020-12)."""
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": title, **record}


def tool_schema() -> Schema:
    """Which program wrote the record."""
    return object_schema({"name": {"const": "mediacheck"}, "version": TEXT})


def profile_name_schema(description: str) -> Schema:
    """Which profile a record is about."""
    return object_schema(
        {"id": TEXT, "title": TEXT, "sha256": said(SHA256, "Of the profile's file.")},
        description=description,
    )


def medium_keys() -> Schema:
    """A card and what was found out of its file system."""
    return {
        "source": said(TEXT, "What was handed over."),
        "kind": one_of(CardKind),
        "file_system": or_null(one_of(FileSystem)),
        "partition_table": or_null(one_of(PartitionTable)),
        "label": or_null(TEXT),
        "serial": or_null(TEXT),
        "capacity_bytes": or_null(COUNT),
        "cluster_bytes": or_null(COUNT),
        "used_bytes": or_null(COUNT),
        "free_bytes": or_null(COUNT),
    }
