"""The JSON Schema of a comparison, for programs; `python -m mediacheck.compare.schema` prints it.

    python -m mediacheck.compare.schema > docs/compare.schema.json

It must not describe more than `record` writes: a test holds the two against each other.
"""

from __future__ import annotations

import json
import sys

from mediacheck.compare.model import How, Subject
from mediacheck.compare.record import SCHEMA_NAME
from mediacheck.names import RULE_NAMES, Depth, Severity
from mediacheck.report.schema_pieces import (
    COUNT,
    FLAG,
    MOMENT,
    TEXT,
    Schema,
    document_schema,
    list_schema,
    medium_keys,
    object_schema,
    one_of,
    or_null,
    profile_name_schema,
    said,
    tool_schema,
)

ON_GOOD = "On the good card, relative to its root, with `/`; null: not about a file there."
ON_BAD = "On the bad card, relative to its root, with `/`; null: not about a file there."


def compare_schema() -> Schema:
    """The schema of a comparison, version 1 (JSON Schema draft 2020-12)."""
    record = object_schema(
        _keys(), description="In what a card that does not play differs from one that does."
    )
    return document_schema("mediacheck comparison, version 1", record)


def _keys() -> Schema:
    return {
        "schema": {"const": SCHEMA_NAME},
        "tool": tool_schema(),
        "compared_at": said(MOMENT, "When the cards were compared, in UTC."),
        "depth": said(one_of(Depth), "quick: headers and packets; full: every video was decoded as well."),
        "profile": {
            "anyOf": [{"type": "null"}, profile_name_schema("Differences that matter to it come first.")]
        },
        "good": _side("The card that is known to play."),
        "bad": _side("The card that does not play."),
        "differences": list_schema(_difference(), "The likeliest to stop playback first."),
        "matched": list_schema(_match(), "Which files stand for each other, in the order of the good card."),
        "same": list_schema(TEXT, "What was compared and found alike, in short sentences."),
        "not_compared": list_schema(_gap(), "What was not compared, and why."),
    }


def _side(description: str) -> Schema:
    return object_schema(
        {
            **medium_keys(),
            "files": said(COUNT, "How many files are on it."),
            "items": said(COUNT, "How many of them are videos and stills."),
            "notes": list_schema(TEXT, "What is no fault and should be known."),
        },
        description=description,
    )


def _difference() -> Schema:
    return object_schema(
        {
            "subject": one_of(Subject),
            "severity": said(
                one_of(Severity),
                "fail: could stop playback; warn: could change what shows; note: hardly the cause.",
            ),
            "rule": or_null({"enum": list(RULE_NAMES)}, "The rule that is about this thing; null: none is."),
            "good_path": or_null(TEXT, ON_GOOD),
            "bad_path": or_null(TEXT, ON_BAD),
            "good": said(TEXT, "What is there on the good card."),
            "bad": said(TEXT, "What is there on the bad card."),
            "message": said(TEXT, "One sentence: what differs, and what that may do on the screen."),
            "action": said(TEXT, "One sentence: what to do."),
            "matters": or_null(
                FLAG,
                "Whether a check by the profile finds it on the bad card and not on the good one; null: no "
                "profile.",
            ),
            "variety": {
                "type": "number",
                "minimum": 0,
                "maximum": 2,
                "description": "0 where all other files of both cards agree and only this one differs; more "
                "where they vary anyway or share what the bad one has.",
            },
        }
    )


def _match() -> Schema:
    return object_schema({"good_path": TEXT, "bad_path": TEXT, "how": one_of(How)})


def _gap() -> Schema:
    return object_schema(
        {
            "what": said(TEXT, "What was not compared."),
            "reason": said(TEXT, "A clause."),
            "expected": said(FLAG, "True where it follows from the depth or from what was handed over."),
            "good_path": or_null(TEXT, ON_GOOD),
            "bad_path": or_null(TEXT, ON_BAD),
        }
    )


if __name__ == "__main__":
    sys.stdout.write(json.dumps(compare_schema(), indent=2) + "\n")
