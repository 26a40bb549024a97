"""The JSON Schema of a summary of many cards; `python -m mediacheck.many.schema` prints it.

    python -m mediacheck.many.schema > docs/cards.schema.json

It must not describe more than `record` writes: a test holds the two against each other.
"""

from __future__ import annotations

import json
import sys

from mediacheck.many.model import OUTCOMES, SEVERITIES
from mediacheck.many.record import SCHEMA_NAME
from mediacheck.names import Depth, RuleName, Severity
from mediacheck.report.schema_pieces import (
    COUNT,
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
    profile_name_schema,
    said,
    tool_schema,
)


def cards_schema() -> Schema:
    """The schema of the record, version 1 (JSON Schema draft 2020-12)."""
    common = {
        "rule": one_of(RuleName),
        "severity": one_of(Severity),
        "cards": said(COUNT, "On how many of the cards."),
        "findings": said(COUNT, "How often, all cards together."),
    }
    record = object_schema(
        {
            "schema": {"const": SCHEMA_NAME},
            "tool": tool_schema(),
            "checked_at": said(MOMENT, "When the last card was through, in UTC."),
            "depth": one_of(Depth),
            "profile": profile_name_schema("Which player the cards are for."),
            "display": or_null(TEXT, "The display's id; null: none was given."),
            "face": or_null(TEXT, "Its face that the cards are for; null: none was given."),
            "totals": object_schema({"cards": COUNT, **dict.fromkeys(OUTCOMES, COUNT)}),
            "cards": list_schema(_card(), "In the order in which they were named, each once."),
            "common": list_schema(object_schema(common), "What was found on most cards first."),
        },
        description="Many cards, checked in one run for the same player.",
    )
    return document_schema("mediacheck check of many cards, version 1", record)


def _card() -> Schema:
    worst = {
        "rule": one_of(RuleName),
        "severity": one_of(Severity),
        "path": or_null(TEXT, "null: the card or the loop as a whole."),
        "message": TEXT,
    }
    unread = "null: the card could not be read."
    return object_schema(
        {
            "source": said(TEXT, "What was handed over."),
            "verdict": said({"enum": list(OUTCOMES)}, "unreadable: there is no card, or it cannot be read."),
            "problem": or_null(TEXT, "Why it could not be read; null: it could."),
            "report": or_null(TEXT, "File beside the summary with the report; " + unread),
            "page": or_null(TEXT, "The same report as a page; " + unread),
            "checked_at": or_null(MOMENT, "When this card was checked, in UTC; " + unread),
            "kept": said(FLAG, "Whether the report is that of an earlier run, since nothing had changed."),
            "items": or_null(COUNT, "How many the player finds; " + unread),
            "loop_seconds": or_null(LENGTH, "Length of one round; null: not known."),
            "findings": or_null(object_schema(dict.fromkeys(SEVERITIES, COUNT)), unread),
            "could_not_be_checked": or_null(
                COUNT, "Checks that should have been made and could not be; " + unread
            ),
            "worst": or_null(object_schema(worst), "The worst finding; null: there is none."),
        }
    )


if __name__ == "__main__":
    sys.stdout.write(json.dumps(cards_schema(), indent=2) + "\n")
