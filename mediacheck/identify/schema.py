"""The JSON Schema of what `mediacheck identify --json` writes.

    python -m mediacheck.identify.schema > docs/identification.schema.json

It must not describe more than `record` writes: a test holds the two against each other.
"""

from __future__ import annotations

import json
import sys

from mediacheck.identify.answers import Answer
from mediacheck.identify.model import Looked
from mediacheck.identify.record import SCHEMA_NAME
from mediacheck.report.schema_pieces import (
    FLAG,
    LENGTH,
    MOMENT,
    TEXT,
    Schema,
    document_schema,
    list_schema,
    object_schema,
    one_of,
    or_null,
    said,
    tool_schema,
)


def identification_schema() -> Schema:
    """The schema of the record, version 1 (JSON Schema draft 2020-12)."""
    record = object_schema(
        {
            "schema": {"const": SCHEMA_NAME},
            "tool": tool_schema(),
            "identified_at": MOMENT,
            "taken_at": or_null(MOMENT, "When the photo was taken; null: it does not say, or is no photo."),
            "looked_at": one_of(Looked),
            "files": list_schema(TEXT, "What was looked at, together."),
            "answer": said(one_of(Answer), "Of what was asked."),
            "reason": said(TEXT, "One sentence."),
            "display": or_null(TEXT, "Whose loops were compared with; null: all of the library."),
            "face": or_null(TEXT, "Which face was asked for."),
            "right_face": or_null(FLAG, "Whether it belongs there; null: not asked, or not known."),
            "loops": list_schema(_loop(), "What it may be, the likeliest first."),
        },
        description="Which loop a photo, a clip or a card shows.",
    )
    return document_schema("mediacheck identification, version 1", record)


def _loop() -> Schema:
    return object_schema(
        {
            "name": said(TEXT, "In the library."),
            "display": or_null(TEXT, "Which display it belongs to."),
            "face": or_null(TEXT, "Which face it belongs on."),
            "version": or_null(TEXT, "As people call it."),
            "from_s": or_null(LENGTH, "Where in its round, in seconds; null: all of it."),
            "until_s": or_null(LENGTH, "To where in its round."),
            "probability": {"type": "number", "minimum": 0, "maximum": 1},
            "differing": list_schema(
                {"type": "array", "items": LENGTH, "minItems": 2, "maxItems": 2},
                "From and to, in seconds of its round: where something else is shown.",
            ),
        }
    )


if __name__ == "__main__":
    sys.stdout.write(json.dumps(identification_schema(), indent=2) + "\n")
