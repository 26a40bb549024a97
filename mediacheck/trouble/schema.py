"""The JSON Schema of what `mediacheck trouble --json` prints.

    python -m mediacheck.trouble.schema > docs/trouble.schema.json

It must not describe more than `record` writes: a test holds the two against each other.
"""

from __future__ import annotations

import json
import sys

from mediacheck.names import RuleName, Severity
from mediacheck.report.schema_pieces import (
    COUNT,
    FLAG,
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
from mediacheck.trouble.evidence import State
from mediacheck.trouble.record import SCHEMA_NAME


def trouble_schema() -> Schema:
    """The schema of the record, version 1 (JSON Schema draft 2020-12)."""
    report = object_schema({"source": said(TEXT, "The card that was checked."), "checked_at": MOMENT})
    record = object_schema(
        {
            "schema": {"const": SCHEMA_NAME},
            "tool": tool_schema(),
            "profile": or_null(TEXT, "Which profile the order goes by; null: none is at hand."),
            "report": or_null(report, "Which check the states go by; null: none was given."),
            "symptoms": list_schema(_symptom(), "The one that was asked for, or all."),
        },
        description="From what a person sees to the likely causes.",
    )
    return document_schema("mediacheck trouble, version 1", record)


def _symptom() -> Schema:
    return object_schema(
        {
            "id": TEXT,
            "number": COUNT,
            "title": said(TEXT, "What is seen."),
            "cautions": list_schema(TEXT, "To be read before anything is touched."),
            "why_this_order": TEXT,
            "causes": list_schema(_cause(), "In the order in which to try them; those ruled out are last."),
        }
    )


def _cause() -> Schema:
    setting = object_schema({"name": TEXT, "value": TEXT, "why": TEXT})
    return object_schema(
        {
            "id": TEXT,
            "state": said(
                one_of(State),
                "found, ruled out: by the check of the card; not checked: that check could tell it and did "
                "not; unknown: no check was given, or none can tell it.",
            ),
            "why": said(TEXT, "What the state rests on; empty without a report."),
            "what": said(TEXT, "What is the matter."),
            "tell_apart": TEXT,
            "do": TEXT,
            "rules": list_schema(one_of(RuleName), "Rules whose findings mean this cause."),
            "findings": list_schema(_finding(), "What the check found of it, the worst first."),
            "settings": list_schema(setting, "Settings of the profile that belong to it."),
            "points": list_schema(TEXT, "What else the profile says of it."),
            "command": said(TEXT, "What checks it; words in capitals stand for what the person has."),
            "source": TEXT,
        }
    )


def _finding() -> Schema:
    texts = dict.fromkeys(("found", "wanted", "message", "action"), TEXT)
    return object_schema(
        {
            "rule": one_of(RuleName),
            "severity": one_of(Severity),
            "path": or_null(TEXT, "null: the card or the loop as a whole."),
            **texts,
            "fixable": FLAG,
            "source": TEXT,
        },
        description="As in the report.",
    )


if __name__ == "__main__":
    sys.stdout.write(json.dumps(trouble_schema(), indent=2) + "\n")
