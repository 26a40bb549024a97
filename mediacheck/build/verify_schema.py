"""The JSON Schema of what `mediacheck verify` finds; `python -m mediacheck.build.verify_schema` prints it.

    python -m mediacheck.build.verify_schema > docs/verify.schema.json

It must not describe more than `verify_record` writes: a test holds the two against each other.
"""

from __future__ import annotations

import json
import sys

from mediacheck.build.verify_model import What
from mediacheck.build.verify_record import SCHEMA_NAME
from mediacheck.names import CardKind, VerdictWord
from mediacheck.report.schema_pieces import (
    COUNT,
    FLAG,
    LENGTH,
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


def verify_schema() -> Schema:
    """The schema of the record, version 1 (JSON Schema draft 2020-12)."""
    record = object_schema(
        {**_head(), **_files(), **_rest()}, description="A card held against its manifest, byte by byte."
    )
    return document_schema("mediacheck verify, version 1", record)


def _head() -> Schema:
    return {
        "schema": {"const": SCHEMA_NAME},
        "tool": tool_schema(),
        "verified_at": said(MOMENT, "When the card had been read, in UTC."),
        "verdict": said(
            one_of(VerdictWord),
            "fail: something is missing, changed, extra or cannot be read; incomplete: none of these, but "
            "something that should have been compared could not be; warn: neither, but a warning or what a "
            "computer left behind; pass: none of these.",
        ),
        "manifest": object_schema(
            {
                "source": said(TEXT, "The manifest or list of checksums."),
                "sha256": said(SHA256, "Of that file; of its text in UTF-8 where it is UTF-16."),
            }
        ),
        "card": object_schema({"source": said(TEXT, "What was handed over."), "kind": one_of(CardKind)}),
    }


def _files() -> Schema:
    changed = {
        "path": TEXT,
        "what": said(one_of(What), "size: the contents were not read; contents: the size is right."),
        "found": said(TEXT, "Size in words, or SHA-256."),
        "wanted": TEXT,
    }
    return {
        "is_another_card": said(
            FLAG, "Whether the card has none of what is to play by the manifest, and has other files instead."
        ),
        "right": list_schema(
            TEXT, "Files every byte of which was read and is right, as the card names them, in its order."
        ),
        "missing": list_schema(TEXT, "Files, and folders with `/` at their end, that are not on the card."),
        "changed": list_schema(object_schema(changed), "Files that are not those that belong there."),
        "extra": list_schema(TEXT, "Files, and folders with `/` at their end, that the manifest lacks."),
        "not_read": list_schema(
            object_schema({"path": TEXT, "reason": said(TEXT, "A clause.")}),
            "Files that cannot be read to their end.",
        ),
        "left_behind": list_schema(
            object_schema({"path": TEXT, "who": said(TEXT, "Which computer left it: a clause.")}),
            "What a computer left on the card and no player tries to play.",
        ),
    }


def _rest() -> Schema:
    gap = {
        "what": said(TEXT, "What was not compared."),
        "reason": said(TEXT, "A clause."),
        "expected": said(FLAG, "True where it follows from what was handed over."),
    }
    return {
        "warnings": list_schema(TEXT, "What should be known and does not change the files."),
        "not_verified": list_schema(object_schema(gap), "What was not compared, and why."),
        "by_files": said(FLAG, "Whether the files were compared; if not, only the whole card's bytes."),
        "image_right": or_null(FLAG, "Whether the whole card has the image's bytes; null: not compared."),
        "past_cache": or_null(
            FLAG, "Whether all that was read is proven to come from the card itself; null: nothing was read."
        ),
        "files_read": COUNT,
        "bytes_read": COUNT,
        "seconds": said(LENGTH, "How long it took."),
    }


if __name__ == "__main__":
    sys.stdout.write(json.dumps(verify_schema(), indent=2) + "\n")
