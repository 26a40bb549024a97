"""The JSON Schema of the record, for programs that read it; `python -m mediacheck.report.schema` prints it.

    python -m mediacheck.report.schema > docs/report.schema.json

It must not describe more than `record` writes: a test holds the two against each other.
"""

from __future__ import annotations

import json
import sys

from mediacheck.media.facts import FrameRateMode, IndexPlace
from mediacheck.names import (
    RULE_NAMES,
    Chroma,
    Depth,
    FileKind,
    Scan,
    Severity,
    VerdictWord,
)
from mediacheck.report.measurements_schema import measurements_schema
from mediacheck.report.record import SCHEMA_NAME
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
    medium_keys,
    object_schema,
    one_of,
    or_null,
    profile_name_schema,
    said,
    tool_schema,
)


def report_schema() -> Schema:
    """The schema of a report, version 1 (JSON Schema draft 2020-12)."""
    record = object_schema(
        {**_contract_keys(), **_own_keys()},
        optional=tuple(_own_keys()),
        description="What one check of one card against one profile found out.",
    )
    words = {
        "video": _video(),
        "audio": _audio(),
        "still": _still(),
        "rule": {"enum": list(RULE_NAMES)},
    }
    return {**document_schema("mediacheck report, version 1", record), "$defs": words}


def _contract_keys() -> Schema:
    return {
        "schema": {"const": SCHEMA_NAME},
        "tool": tool_schema(),
        "checked_at": said(MOMENT, "When the check was made, in UTC."),
        "depth": said(
            one_of(Depth), "quick: headers and packets; full: every file was decoded once as well."
        ),
        "profile": profile_name_schema("What the card was checked against."),
        "display": or_null(TEXT, "The display that the card is for; null: not said."),
        "face": or_null(TEXT, "The face of that display; null: not said."),
        "verdict": said(
            one_of(VerdictWord),
            "fail: at least one finding of severity fail; incomplete: none, but something that should have "
            "been checked could not be; warn: neither, but a finding of severity warn; pass: none of these.",
        ),
        "card": _card(),
        "play_order": list_schema(
            TEXT, "Paths of the items in the order in which the player takes them, skipped ones too."
        ),
        "loop_seconds": or_null(LENGTH, "Length of one round in seconds; null: not known."),
        "files": list_schema(_file(), "Every file on the card, in on-disk order where `order_known`."),
        "findings": list_schema(_finding(), "What is wrong, the worst first."),
        "checks": object_schema(
            {"passed": COUNT, "failed": COUNT, "not_applicable": COUNT, "not_checked": COUNT},
            description="One outcome for each enabled rule and each thing that it applies to.",
        ),
        "not_checked": list_schema(_unchecked(), "What was not checked, and why."),
    }


def _own_keys() -> Schema:
    item = object_schema(
        {
            "path": TEXT,
            "seconds": or_null(LENGTH, "How long it stays on the screen; null: not known."),
            "skipped": said(FLAG, "A finding of severity fail stands on it."),
        }
    )
    return {
        "items": list_schema(item, "The items in play order, with their lengths."),
        "order_known": said(FLAG, "Whether the on-disk order could be read; else items go by name."),
        "disk_order": said(FLAG, "Whether this player goes by on-disk order."),
        "notes": {"type": "array", "items": TEXT, "description": "What is no fault and should be known."},
        "screen": object_schema(
            {
                "width": or_null({"type": "integer", "minimum": 1}),
                "height": or_null({"type": "integer", "minimum": 1}),
                "overscan_percent": said(LENGTH, "What the screen hides at each edge."),
                "turned_degrees": said({"enum": [0, 90, 180, 270]}, "How it is mounted, clockwise."),
            },
            description="The screen of the profile.",
        ),
    }


def _card() -> Schema:
    return object_schema(
        medium_keys(),
        description="The card. A value of null was not found out, as when only a folder was handed over.",
    )


def _file() -> Schema:
    return object_schema(
        {
            "path": said(TEXT, "Relative to the card's root, with `/`."),
            "size_bytes": COUNT,
            "sha256": or_null(SHA256, "Of the whole file; null: not worked out."),
            "kind": one_of(FileKind),
            "facts": {"anyOf": [_no_facts(), _facts(), _unreadable()]},
            "measurements": {"anyOf": [{"type": "null"}, measurements_schema()]},
        }
    )


def _no_facts() -> Schema:
    return {"type": "object", "maxProperties": 0, "description": "Not media, or not looked at."}


def _unreadable() -> Schema:
    return object_schema(
        {
            "container": {"type": "null"},
            "video": {"type": "null"},
            "audio": {"type": "array", "maxItems": 0},
            "unreadable": said(TEXT, "Why nothing could be read, in one sentence."),
        },
        description="No reader could make sense of the file.",
    )


def _facts() -> Schema:
    """Containers, codecs and still formats are open: a file may hold one that no profile names."""
    difference = object_schema({"fact": TEXT, "libavformat": TEXT, "libmediainfo": TEXT})
    keys: Schema = {
        "container": or_null(TEXT, "MP4, MOV, MKV, ...; null for a file without one."),
        "video": {"anyOf": [{"type": "null"}, {"$ref": "#/$defs/video"}]},
        "audio": list_schema({"$ref": "#/$defs/audio"}, "The sound streams."),
        "still": {"anyOf": [{"type": "null"}, {"$ref": "#/$defs/still"}]},
        "duration": or_null({"type": "number"}, "The longest of picture and sound, in seconds."),
        "index": or_null(one_of(IndexPlace), "Where the index stands in the file."),
        "truncated": or_null(TEXT, "What is cut off, in one sentence; null: nothing was seen to be."),
        "fragmented": or_null(FLAG),
        "encrypted": or_null(FLAG),
        "extra_video_streams": said(COUNT, "Picture streams beyond the first."),
        "other_streams": list_schema(TEXT, "What else is inside, such as subtitle."),
        "disagreements": list_schema(difference, "Facts on which the two readers differ."),
    }
    return object_schema(
        keys, optional=tuple(key for key in keys if key not in ("container", "video", "audio"))
    )


def _video() -> Schema:
    keys: Schema = {
        "codec": TEXT,
        "profile": or_null(TEXT),
        "level": or_null(TEXT, "As the standard writes it, such as 4.1."),
        "width": said(COUNT, "Pixels."),
        "height": said(COUNT, "Pixels."),
        "pixel_aspect": {"type": "string", "pattern": r"^\d+:[1-9]\d*$", "description": "Width to height."},
        "rotation": said({"type": "integer"}, "Degrees clockwise that a player should turn it."),
        "frame_rate": or_null(LENGTH, "Frames per second, rounded to six decimals."),
        "frame_rate_mode": or_null(one_of(FrameRateMode)),
        "bit_depth": or_null(COUNT),
        "chroma": or_null(one_of(Chroma)),
        "scan": or_null(one_of(Scan)),
        "bit_rate": or_null(COUNT, "Average, bit/s."),
        "duration": or_null({"type": "number"}, "Seconds."),
        "colour_primaries": or_null(TEXT, "As ffmpeg words ITU-T H.273, such as bt709."),
        "colour_transfer": or_null(TEXT, "As ffmpeg words ITU-T H.273, such as smpte2084."),
        "level_needed": or_null(TEXT, "The least level whose limits the stream keeps."),
        "level_reason": or_null(TEXT, "Which limit makes that level necessary."),
        "reference_frames": or_null(COUNT),
    }
    return object_schema(keys, optional=("level_needed", "level_reason", "reference_frames"))


def _audio() -> Schema:
    return object_schema(
        {
            "codec": TEXT,
            "profile": or_null(TEXT),
            "sample_rate": or_null(COUNT, "Hz."),
            "channels": or_null(COUNT),
            "bit_rate": or_null(COUNT, "bit/s."),
            "duration": or_null({"type": "number"}, "Seconds."),
        }
    )


def _still() -> Schema:
    return object_schema(
        {
            "format": TEXT,
            "width": said(COUNT, "Pixels."),
            "height": said(COUNT, "Pixels."),
            "progressive": FLAG,
            "colour": said(TEXT, "grey, RGB, RGBA, palette, CMYK or YCCK."),
            "bit_depth": COUNT,
            "orientation": {"type": "integer", "minimum": 1, "maximum": 8, "description": "EXIF value."},
            "frames": COUNT,
            "damaged": or_null(TEXT, "What could not be decoded, in one sentence; null: nothing."),
        }
    )


def _finding() -> Schema:
    return object_schema(
        {
            "rule": {"$ref": "#/$defs/rule"},
            "severity": one_of(Severity),
            "path": or_null(TEXT, "The file; null where it is about the card or the loop."),
            "found": TEXT,
            "wanted": TEXT,
            "message": said(TEXT, "One sentence: what is wrong and what it does on the screen."),
            "action": said(TEXT, "One sentence: what to do."),
            "fixable": said(FLAG, "Whether mediacheck can repair it without asking the sender."),
            "source": said(TEXT, "The standard, or common practice."),
        }
    )


def _unchecked() -> Schema:
    return object_schema(
        {
            "rule": {"$ref": "#/$defs/rule"},
            "path": or_null(TEXT, "The file; null where it is about the card or the loop."),
            "reason": said(TEXT, "One sentence."),
            "expected": said(FLAG, "True where it follows from the depth or from what was handed over."),
        }
    )


if __name__ == "__main__":
    sys.stdout.write(json.dumps(report_schema(), indent=2) + "\n")
