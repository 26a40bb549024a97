"""The JSON Schema of what `mediacheck fix` writes; `python -m mediacheck.repair.schema` prints it.

    python -m mediacheck.repair.schema > docs/fix-report.schema.json

It must not describe more than `record` writes: a test holds the two against each other.
"""

from __future__ import annotations

import json
import sys

from mediacheck.names import RuleName, Severity, VerdictWord
from mediacheck.repair.model import Change, Fit
from mediacheck.repair.record import SCHEMA_NAME
from mediacheck.report.schema import report_schema
from mediacheck.report.schema_pieces import (
    COUNT,
    FLAG,
    MOMENT,
    SHA256,
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

NUMBER: Schema = {"type": "number"}


def fix_schema() -> Schema:
    """The schema of the record, version 1 (JSON Schema draft 2020-12)."""
    record = object_schema(
        {**_head(), **_files(), **_rest()}, description="A conforming copy, and how it was made and proved."
    )
    parts = report_schema()["$defs"]  # what the report refers to stands at the head of the document
    return document_schema("mediacheck fix, version 1", record) | {"$defs": parts}


def _head() -> Schema:
    return {
        "schema": {"const": SCHEMA_NAME},
        "tool": tool_schema(),
        "fixed_at": said(MOMENT, "When the copy was checked, in UTC."),
        "verdict": said(
            one_of(VerdictWord),
            "fail: a file could not be mended or made, all of them do not fit, or the copy does not pass its "
            "check; else the verdict of that check.",
        ),
        "source": said(TEXT, "What was handed over."),
        "profile": profile_name_schema("Which player the copy is for."),
        "wishes": object_schema(
            {
                "fit": one_of(Fit),
                "trim_bars": FLAG,
                "trim_ends": FLAG,
                "quality_floor": said(NUMBER, "VMAF points."),
                "prove": said(FLAG, "Whether new pictures were compared with their masters."),
                "size_bytes": or_null(COUNT, "Capacity of the card that was named; null: none was."),
            }
        ),
        "capacity_bytes": or_null(COUNT, "What all files may take together; null: not limited."),
    }


def _files() -> Schema:
    step = {"change": one_of(Change), "what": TEXT, "rules": list_schema(one_of(RuleName), "Why.")}
    item = {
        "source": said(TEXT, "Path in the source."),
        "source_sha256": or_null(SHA256),
        "source_bytes": COUNT,
        "path": said(TEXT, "Path in the copy."),
        "change": said(one_of(Change), "The greatest of its steps."),
        "steps": list_schema(object_schema(step), "What was done, the least change first."),
        "sha256": or_null(SHA256, "Of the file in the copy; null: it could not be made."),
        "size_bytes": or_null(COUNT, "Likewise."),
        "made": or_null(_made(), "null: its bytes are those of the source."),
        "failed": or_null(
            object_schema({"problem": TEXT, "ask": TEXT}), "Why it could not be made; null: it was."
        ),
    }
    left = {"path": TEXT, "why": said(TEXT, "A clause."), "rules": list_schema(one_of(RuleName), "Why.")}
    return {
        "items": list_schema(object_schema(item), "In play order, other files after them."),
        "left_out": list_schema(object_schema(left), "Files of the source that are not in the copy."),
    }


def _made() -> Schema:
    same = {
        "stream": {"enum": ["picture", "sound"]},
        "of": said({"enum": ["packets", "decoded"]}, "What was hashed on both sides."),
        "sha256": SHA256,
    }
    likeness = {
        "measure": {"enum": ["VMAF", "SSIM"]},
        "value": said(NUMBER, "Mean of all frames compared: VMAF 0 to 100, SSIM of luminance 0 to 1."),
        "worst": said(NUMBER, "Of the worst frame compared."),
        "floor": said(NUMBER, "In the same measure."),
        "frames": said(COUNT, "How many were compared."),
        "every": said(COUNT, "1: each frame; 5: each fifth."),
        "enough": said(FLAG, "Whether the floor is kept."),
    }
    return object_schema(
        {
            "commands": list_schema(
                list_schema(TEXT, "Words of one command."),
                "What was run; MASTER and NEW stand for the files.",
            ),
            "same": list_schema(object_schema(same), "Streams that came through unchanged."),
            "likeness": or_null(
                object_schema(likeness), "null: nothing was encoded, or no proof was wanted."
            ),
            "loudness_lufs": or_null(NUMBER, "Measured in the new file; null: no level was asked for."),
            "true_peak_dbtp": or_null(NUMBER, "Likewise."),
            "notes": list_schema(TEXT, "What a person should know of it."),
        }
    )


def _rest() -> Schema:
    ask = {
        "rule": one_of(RuleName),
        "path": or_null(TEXT, "In the source; null: the card or the loop as a whole."),
        "problem": TEXT,
        "ask": said(TEXT, "What to ask the sender for, or to do."),
    }
    finding = {
        "rule": one_of(RuleName),
        "severity": one_of(Severity),
        "path": or_null(TEXT, "In the source."),
    }
    return {
        "asks": list_schema(object_schema(ask), "What no program can mend."),
        "notes": list_schema(TEXT, "What a person should know."),
        "findings_before": list_schema(object_schema(finding), "What the check of the source found."),
        "check": or_null(
            _check(), "The check of the copy at full depth; null: nothing could be put into it."
        ),
    }


def _check() -> Schema:
    """The report's own schema, without what only stands at the head of a document."""
    return {
        key: value for key, value in report_schema().items() if not key.startswith("$") and key != "title"
    }


if __name__ == "__main__":
    sys.stdout.write(json.dumps(fix_schema(), indent=2) + "\n")
