"""The JSON Schema of what `mediacheck stores status --json` writes.

    python -m mediacheck.stores.schema > docs/stores.schema.json

It must not describe more than `record` writes: a test holds the two against each other.
"""

from __future__ import annotations

import json
import sys

from mediacheck.names import Severity
from mediacheck.report.schema_pieces import (
    COUNT,
    MOMENT,
    SHA256,
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
from mediacheck.stores.model import STATES, Kind, State
from mediacheck.stores.record import SCHEMA_NAME

DAY: Schema = {"type": "string", "format": "date", "pattern": r"^\d{4}-\d\d-\d\d$"}


def stores_schema() -> Schema:
    """The schema of the record, version 1 (JSON Schema draft 2020-12)."""
    totals = object_schema(dict.fromkeys(STATES, COUNT), description="Faces by state.")
    record = object_schema(
        {
            "schema": {"const": SCHEMA_NAME},
            "tool": tool_schema(),
            "made_at": MOMENT,
            "stores": said(COUNT, "Stores that the faces below are in."),
            "totals": totals,
            "faces": list_schema(_face(), "Every face that was asked for, the worst first."),
            "common_findings": list_schema(_common(), "The most common ones among these faces."),
            "call_today": list_schema(_visit(), "Visits that begin in 24 to 72 hours."),
            "overdue": list_schema(_visit(), "Visits that should have been, with faces that are not right."),
            "since": or_null(DAY, "From which day on changes are told; null: none were asked for."),
            "changes": list_schema(_change(), "Faces whose state became another."),
        },
        description="The state of every face in many stores.",
    )
    return document_schema("mediacheck stores, version 1", record)


def _face() -> Schema:
    texts = dict.fromkeys(("store", "name", "region", "place", "display", "face", "profile"), TEXT)
    return object_schema(
        {
            **texts,
            "state": one_of(State),
            "reason": said(TEXT, "One sentence."),
            "rule": or_null({"enum": ["loop-outdated"]}, "The rule that an outdated loop breaks."),
            "version": or_null(TEXT, "Of the loop that was seen last; null: not known."),
            "due_version": or_null(TEXT, "Of the loop that belongs there; null: none yet."),
            "seen_at": or_null(MOMENT, "When the state was seen; null: nothing was heard."),
            "age_days": or_null(COUNT, "Whole days since then."),
            "evidence": or_null(one_of(Kind), "What the state is known by."),
            "document": or_null(SHA256, "The file that tells it, as it came."),
            "photo_at": or_null(MOMENT, "When the last photo was taken; null: there is none."),
            "visit_due": or_null(DAY, "When somebody is to be there; null: nobody is."),
        }
    )


def _common() -> Schema:
    trait = object_schema(
        {
            "name": said(TEXT, "Such as file system."),
            "value": said(TEXT, "Such as exFAT."),
            "count": said(COUNT, "Faces with the finding that have it."),
            "of": said(COUNT, "Faces with the finding."),
            "others": said(COUNT, "Faces without the finding that have it."),
            "of_others": said(COUNT, "Faces without the finding."),
        }
    )
    return object_schema(
        {
            "rule": TEXT,
            "severity": one_of(Severity),
            "faces": COUNT,
            "message": said(TEXT, "As one report has it."),
            "traits": list_schema(trait, "The most common value of each trait."),
        }
    )


def _visit() -> Schema:
    return object_schema({"store": TEXT, "name": TEXT, "day": DAY, "faces": COUNT, "not_right": COUNT})


def _change() -> Schema:
    texts = dict.fromkeys(("store", "display", "face"), TEXT)
    return object_schema({**texts, "before": one_of(State), "after": one_of(State), "reason": TEXT})


if __name__ == "__main__":
    sys.stdout.write(json.dumps(stores_schema(), indent=2) + "\n")
