"""The part of the record's JSON Schema that is about what the decode of a file showed.

It must not describe more than `measurements_record` writes: a test holds the two against each other.
"""

from __future__ import annotations

from mediacheck.measure.model import SILENT_PEAK_DBFS, LeaderKind
from mediacheck.report.measurements_record import USUAL_CHANGE_MIN
from mediacheck.report.schema_pieces import (
    COUNT,
    FLAG,
    LENGTH,
    TEXT,
    Schema,
    list_schema,
    object_schema,
    one_of,
    or_null,
    said,
)

NUMBER: Schema = {"type": "number"}
NOT_MEASURED = "null: not measured, which does not mean that there is none."
SPAN: Schema = {"type": "array", "items": NUMBER, "minItems": 2, "maxItems": 2}


def measurements_schema() -> Schema:
    """The schema of `measurements` where it is not null."""
    extra = _extra_keys()
    return object_schema({**_contract_keys(), **extra}, optional=tuple(extra))


def _spans(what: str) -> Schema:
    return or_null(list_schema(SPAN, what), f"{what}, as [start, end] in seconds; {NOT_MEASURED}")


def _null_or(schema: Schema) -> Schema:
    return {"anyOf": [{"type": "null"}, schema]}


def _contract_keys() -> Schema:
    bars = object_schema(
        {"top": COUNT, "bottom": COUNT, "left": COUNT, "right": COUNT},
        description="Black bars that are part of the picture through the whole clip, in pixels; 0: none.",
    )
    return {
        "frames": said(COUNT, "Pictures decoded."),
        "decode_errors": said(COUNT, "Complaints of the decoder about the picture."),
        "black": _spans("Stretches of black"),
        "frozen": _spans("Stretches in which nothing moves"),
        "bars": _null_or(bars),
        "leader": _spans("Test material left on the clip"),
        "flashes_per_second_max": or_null(
            COUNT,
            f"Most flashes, general or red ones, in any one second (WCAG 2.2, SC 2.3.1). {NOT_MEASURED}",
        ),
        "loudness_lufs": or_null(
            NUMBER, "Integrated loudness (ITU-R BS.1770); null: not measured, or silence."
        ),
        "true_peak_dbtp": or_null(NUMBER, "True peak (ITU-R BS.1770); null: not measured, or silence."),
        "silent": or_null(
            FLAG,
            f"Whether the sound stays below {SILENT_PEAK_DBFS:g} dBFS from start to end; null: no sound, or "
            "not measured.",
        ),
        "bit_rate_peak": or_null(COUNT, f"Most bits of picture in any one second. {NOT_MEASURED}"),
        "seam_picture": or_null(
            LENGTH,
            "The change from the last picture to the first, as a multiple of the usual change between "
            f"neighbours (taken for {USUAL_CHANGE_MIN:g} of 255 at least). {NOT_MEASURED}",
        ),
        "seam_sound": or_null(
            LENGTH,
            "The step in the sound from its last sample to its first, as a multiple of the greatest step "
            "near both; null: no sound, or not measured.",
        ),
    }


def _extra_keys() -> Schema:
    error = object_schema({"message": TEXT, "second": or_null(NUMBER, "Where; null: not known.")})
    return {
        "seconds": or_null(LENGTH, "How much of the file was decoded."),
        "width": or_null(
            COUNT,
            "Of the decoded picture, in pixels; where it changes, the first that the headers do not give.",
        ),
        "height": or_null(COUNT, "Of the decoded picture, in pixels, likewise."),
        "decode_error_details": list_schema(error, "The first complaints about the picture, word for word."),
        "sound_errors": said(COUNT, "Complaints of the decoder about the sound."),
        "sound_error_details": list_schema(error, "The first complaints about the sound, word for word."),
        "leader_kinds": or_null(
            list_schema(one_of(LeaderKind), ""), f"Of `leader`, in order. {NOT_MEASURED}"
        ),
        "flash": _null_or(_flash()),
        "combed": _null_or(
            object_schema(
                {
                    "share": {"type": "number", "minimum": 0, "maximum": 1},
                    "moving": said(COUNT, "How many pictures moved enough to tell."),
                    "unclear": said(COUNT, "How many moved as much, and look alike either way."),
                },
                optional=("unclear",),
                description="Share of the pictures that are woven from two moments.",
            )
        ),
        "seam": _null_or(_seam()),
        "sound": _null_or(_sound()),
        "fingerprint": or_null(
            TEXT, f"By which the item is known again, in hexadecimal digits. {NOT_MEASURED}"
        ),
    }


def _flash() -> Schema:
    at = or_null(NUMBER, "From which second on.")
    return object_schema(
        {"general_max": COUNT, "general_at": at, "red_max": COUNT, "red_at": at},
        description="Most general and most red flashes in any one second.",
    )


def _seam() -> Schema:
    return object_schema(
        {
            "picture_change": LENGTH,
            "usual_change": said(LENGTH, "Median of the changes inside the clip."),
            "greatest_change": said(LENGTH, "Greatest change inside the clip."),
            "black": said(LENGTH, "Black at the end and at the start together, in seconds."),
            "likeness": or_null(
                NUMBER, "Structural similarity (SSIM) of the last picture and the first; 1: the same."
            ),
            "usual_likeness": said(NUMBER, "The least of neighbouring pictures near both ends."),
        },
        optional=("likeness", "usual_likeness"),
        description="From the last picture to the first; changes are mean differences, 0 to 255.",
    )


def _sound() -> Schema:
    return object_schema(
        {
            "seconds": said(LENGTH, "How much of it was heard."),
            "channel_peaks_dbfs": list_schema(
                or_null(NUMBER, "null: nothing but zeros."), "Of each channel."
            ),
            "dead_channels": list_schema(COUNT, "Channels that are silent throughout, counted from 0."),
            "silent_start": said(LENGTH, "Silence at the start, in seconds."),
            "silent_end": said(LENGTH, "Silence at the end, in seconds."),
            "tone": list_schema(SPAN, "Stretches of a steady single tone, as [start, end] in seconds."),
            "start": _null_or(_edge("The very start")),
            "end": _null_or(_edge("The very end")),
        },
        optional=("start", "end"),
        description="Of the first sound stream.",
    )


def _edge(which: str) -> Schema:
    return object_schema(
        {
            "level": list_schema(NUMBER, "The sample there."),
            "greatest_step": list_schema(NUMBER, "Between neighbouring samples within 50 ms of it."),
        },
        description=f"{which}, for each channel; full scale is 1.",
    )
