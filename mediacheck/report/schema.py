"""The JSON Schema of the record, for programs that read it; `python -m mediacheck.report.schema` prints it.

    python -m mediacheck.report.schema > docs/report.schema.json

It must not describe more than `record` writes: a test holds the two against each other.
"""

from __future__ import annotations

import json
import sys
from typing import Any, get_args

from mediacheck.media.facts import FrameRateMode, IndexPlace
from mediacheck.names import (
    RULE_NAMES,
    CardKind,
    Chroma,
    Depth,
    FileKind,
    FileSystem,
    PartitionTable,
    Scan,
    Severity,
    VerdictWord,
)
from mediacheck.report.record import SCHEMA_NAME

Schema = dict[str, Any]

TEXT: Schema = {"type": "string"}
FLAG: Schema = {"type": "boolean"}
COUNT: Schema = {"type": "integer", "minimum": 0}
LENGTH: Schema = {"type": "number", "minimum": 0}
SHA256: Schema = {"type": "string", "pattern": "^[0-9a-f]{64}$"}
NEVER_YET = "Not measured in this version: always null, which does not mean that there is none."


def _said(schema: Schema, description: str) -> Schema:
    return {**schema, "description": description}


def _or_null(schema: Schema, description: str = "null: not known.") -> Schema:
    """The same, or null. Types and enumerations are widened in place, so that the schema stays short."""
    widened = dict(schema)
    if "type" in widened:
        widened["type"] = [widened["type"], "null"]
    if "enum" in widened:
        widened["enum"] = [*widened["enum"], None]
    return {**widened, "description": description}


def _one_of(literal: object) -> Schema:
    return {"enum": list(get_args(literal))}


def _object(keys: Schema, *, optional: tuple[str, ...] = (), description: str | None = None) -> Schema:
    said = {} if description is None else {"description": description}
    return {
        "type": "object",
        **said,
        "properties": keys,
        "required": [key for key in keys if key not in optional],
        "additionalProperties": False,
    }


def _list(items: Schema, description: str) -> Schema:
    return {"type": "array", "description": description, "items": items}


def report_schema() -> Schema:
    """The schema of a report, version 1 (JSON Schema draft 2020-12)."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "mediacheck report, version 1",
        **_object(
            {**_contract_keys(), **_own_keys()},
            optional=tuple(_own_keys()),
            description="What one check of one card against one profile found out.",
        ),
        "$defs": {
            "video": _video(),
            "audio": _audio(),
            "still": _still(),
            "rule": {"enum": list(RULE_NAMES)},
        },
    }


def _contract_keys() -> Schema:
    return {
        "schema": {"const": SCHEMA_NAME},
        "tool": _object({"name": {"const": "mediacheck"}, "version": TEXT}),
        "checked_at": {
            "type": "string",
            "format": "date-time",
            "pattern": r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ$",
            "description": "When the check was made, in UTC.",
        },
        "depth": _said(
            _one_of(Depth), "quick: headers and packets; full: every file was decoded once as well."
        ),
        "profile": _object(
            {"id": TEXT, "title": TEXT, "sha256": _said(SHA256, "Of the profile's file.")},
            description="What the card was checked against.",
        ),
        "display": _or_null(TEXT, "The display that the card is for; null: not said."),
        "face": _or_null(TEXT, "The face of that display; null: not said."),
        "verdict": _said(
            _one_of(VerdictWord),
            "fail: at least one finding of severity fail; incomplete: none, but something that should have "
            "been checked could not be; warn: neither, but a finding of severity warn; pass: none of these.",
        ),
        "card": _card(),
        "play_order": _list(
            TEXT, "Paths of the items in the order in which the player takes them, skipped ones too."
        ),
        "loop_seconds": _or_null(LENGTH, "Length of one round in seconds; null: not known."),
        "files": _list(_file(), "Every file on the card, in on-disk order where `order_known`."),
        "findings": _list(_finding(), "What is wrong, the worst first."),
        "checks": _object(
            {"passed": COUNT, "failed": COUNT, "not_applicable": COUNT, "not_checked": COUNT},
            description="One outcome for each enabled rule and each thing that it applies to.",
        ),
        "not_checked": _list(_unchecked(), "What was not checked, and why."),
    }


def _own_keys() -> Schema:
    item = _object(
        {
            "path": TEXT,
            "seconds": _or_null(LENGTH, "How long it stays on the screen; null: not known."),
            "skipped": _said(FLAG, "A finding of severity fail stands on it."),
        }
    )
    return {
        "items": _list(item, "The items in play order, with their lengths."),
        "order_known": _said(FLAG, "Whether the on-disk order could be read; else items go by name."),
        "disk_order": _said(FLAG, "Whether this player goes by on-disk order."),
        "screen": _object(
            {
                "width": _or_null({"type": "integer", "minimum": 1}),
                "height": _or_null({"type": "integer", "minimum": 1}),
                "overscan_percent": _said(LENGTH, "What the screen hides at each edge."),
                "turned_degrees": _said({"enum": [0, 90, 180, 270]}, "How it is mounted, clockwise."),
            },
            description="The screen of the profile.",
        ),
    }


def _card() -> Schema:
    return _object(
        {
            "source": _said(TEXT, "What was handed over."),
            "kind": _one_of(CardKind),
            "file_system": _or_null(_one_of(FileSystem)),
            "partition_table": _or_null(_one_of(PartitionTable)),
            "label": _or_null(TEXT),
            "serial": _or_null(TEXT),
            "capacity_bytes": _or_null(COUNT),
            "cluster_bytes": _or_null(COUNT),
            "used_bytes": _or_null(COUNT),
            "free_bytes": _or_null(COUNT),
        },
        description="The card. A value of null was not found out, as when only a folder was handed over.",
    )


def _file() -> Schema:
    return _object(
        {
            "path": _said(TEXT, "Relative to the card's root, with `/`."),
            "size_bytes": COUNT,
            "sha256": _or_null(SHA256, "Of the whole file; null: not worked out."),
            "kind": _one_of(FileKind),
            "facts": {"anyOf": [_no_facts(), _facts(), _unreadable()]},
            "measurements": {"anyOf": [{"type": "null"}, _measurements()]},
        }
    )


def _no_facts() -> Schema:
    return {"type": "object", "maxProperties": 0, "description": "Not media, or not looked at."}


def _unreadable() -> Schema:
    return _object(
        {
            "container": {"type": "null"},
            "video": {"type": "null"},
            "audio": {"type": "array", "maxItems": 0},
            "unreadable": _said(TEXT, "Why nothing could be read, in one sentence."),
        },
        description="No reader could make sense of the file.",
    )


def _facts() -> Schema:
    """Containers, codecs and still formats are open: a file may hold one that no profile names."""
    difference = _object({"fact": TEXT, "libavformat": TEXT, "libmediainfo": TEXT})
    keys: Schema = {
        "container": _or_null(TEXT, "MP4, MOV, MKV, ...; null for a file without one."),
        "video": {"anyOf": [{"type": "null"}, {"$ref": "#/$defs/video"}]},
        "audio": _list({"$ref": "#/$defs/audio"}, "The sound streams."),
        "still": {"anyOf": [{"type": "null"}, {"$ref": "#/$defs/still"}]},
        "duration": _or_null({"type": "number"}, "The longest of picture and sound, in seconds."),
        "index": _or_null(_one_of(IndexPlace), "Where the index stands in the file."),
        "truncated": _or_null(TEXT, "What is cut off, in one sentence; null: nothing was seen to be."),
        "fragmented": _or_null(FLAG),
        "encrypted": _or_null(FLAG),
        "extra_video_streams": _said(COUNT, "Picture streams beyond the first."),
        "other_streams": _list(TEXT, "What else is inside, such as subtitle."),
        "disagreements": _list(difference, "Facts on which the two readers differ."),
    }
    return _object(keys, optional=tuple(key for key in keys if key not in ("container", "video", "audio")))


def _video() -> Schema:
    keys: Schema = {
        "codec": TEXT,
        "profile": _or_null(TEXT),
        "level": _or_null(TEXT, "As the standard writes it, such as 4.1."),
        "width": _said(COUNT, "Pixels."),
        "height": _said(COUNT, "Pixels."),
        "pixel_aspect": {"type": "string", "pattern": r"^\d+:[1-9]\d*$", "description": "Width to height."},
        "rotation": _said({"type": "integer"}, "Degrees clockwise that a player should turn it."),
        "frame_rate": _or_null(LENGTH, "Frames per second, rounded to six decimals."),
        "frame_rate_mode": _or_null(_one_of(FrameRateMode)),
        "bit_depth": _or_null(COUNT),
        "chroma": _or_null(_one_of(Chroma)),
        "scan": _or_null(_one_of(Scan)),
        "bit_rate": _or_null(COUNT, "Average, bit/s."),
        "duration": _or_null({"type": "number"}, "Seconds."),
        "colour_primaries": _or_null(TEXT, "As ffmpeg words ITU-T H.273, such as bt709."),
        "colour_transfer": _or_null(TEXT, "As ffmpeg words ITU-T H.273, such as smpte2084."),
        "level_needed": _or_null(TEXT, "The least level whose limits the stream keeps."),
        "level_reason": _or_null(TEXT, "Which limit makes that level necessary."),
        "reference_frames": _or_null(COUNT),
    }
    return _object(keys, optional=("level_needed", "level_reason", "reference_frames"))


def _audio() -> Schema:
    return _object(
        {
            "codec": TEXT,
            "profile": _or_null(TEXT),
            "sample_rate": _or_null(COUNT, "Hz."),
            "channels": _or_null(COUNT),
            "bit_rate": _or_null(COUNT, "bit/s."),
            "duration": _or_null({"type": "number"}, "Seconds."),
        }
    )


def _still() -> Schema:
    return _object(
        {
            "format": TEXT,
            "width": _said(COUNT, "Pixels."),
            "height": _said(COUNT, "Pixels."),
            "progressive": FLAG,
            "colour": _said(TEXT, "grey, RGB, RGBA, palette, CMYK or YCCK."),
            "bit_depth": COUNT,
            "orientation": {"type": "integer", "minimum": 1, "maximum": 8, "description": "EXIF value."},
            "frames": COUNT,
            "damaged": _or_null(TEXT, "What could not be decoded, in one sentence; null: nothing."),
        }
    )


def _measurements() -> Schema:
    never: Schema = _said({"type": "null"}, NEVER_YET)
    keys: Schema = {
        "frames": _said(COUNT, "Pictures decoded."),
        "decode_errors": _said(COUNT, "Complaints of the decoder."),
        "black": never,
        "frozen": never,
        "bars": never,
        "leader": never,
        "flashes_per_second_max": never,
        "loudness_lufs": never,
        "true_peak_dbtp": never,
        "silent": never,
        "bit_rate_peak": never,
        "seam_picture": never,
        "seam_sound": never,
        "seconds": _or_null(LENGTH, "How much of the file was decoded."),
    }
    return _object(keys, optional=("seconds",))


def _finding() -> Schema:
    return _object(
        {
            "rule": {"$ref": "#/$defs/rule"},
            "severity": _one_of(Severity),
            "path": _or_null(TEXT, "The file; null where it is about the card or the loop."),
            "found": TEXT,
            "wanted": TEXT,
            "message": _said(TEXT, "One sentence: what is wrong and what it does on the screen."),
            "action": _said(TEXT, "One sentence: what to do."),
            "fixable": _said(FLAG, "Whether mediacheck can repair it without asking the sender."),
            "source": _said(TEXT, "The standard, or common practice."),
        }
    )


def _unchecked() -> Schema:
    return _object(
        {
            "rule": {"$ref": "#/$defs/rule"},
            "path": _or_null(TEXT, "The file; null where it is about the card or the loop."),
            "reason": _said(TEXT, "One sentence."),
            "expected": _said(FLAG, "True where it follows from the depth or from what was handed over."),
        }
    )


if __name__ == "__main__":
    sys.stdout.write(json.dumps(report_schema(), indent=2) + "\n")
