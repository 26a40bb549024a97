"""The measurements of one file as they stand in the record, and back.

It must not judge; what was not measured is null, never 0. The keys of version 1 come first, and then all
that the gauges gave, under the names of their model without the units of time. The tiny pictures of a clip's
ends and the waits between pictures stay out: they serve the rules, and every clip has some.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from mediacheck.measure.model import (
    Bars,
    Combed,
    DecodeError,
    Flash,
    Leader,
    Measurements,
    NotMeasured,
    Seam,
    Sound,
    SoundEdge,
    Span,
)
from mediacheck.report.facts_record import JsonObject, number

TIME_DIGITS = 3
CHANGE_DIGITS = 3
LEVEL_DIGITS = 2
LIKENESS_DIGITS = 4
SAMPLE_DIGITS = 6
USUAL_CHANGE_MIN = 0.5
"""In a clip where next to nothing moves, the change at the seam is held against this."""


def measurements_record(measured: Measurements | NotMeasured | None) -> JsonObject | None:
    """The `measurements` of one file; None where it was not decoded to its end."""
    if not isinstance(measured, Measurements):
        return None
    flash, sound = measured.flash, _as_recorded(measured.sound)
    return {
        "frames": measured.frames,
        "decode_errors": max(measured.decode_error_count, len(measured.decode_errors)),
        "black": _spans(measured.black),
        "frozen": _spans(measured.frozen),
        "bars": _bars(measured.bars) if measured.bars else None,
        "leader": _spans(measured.leader),
        "flashes_per_second_max": max(flash.general_max, flash.red_max) if flash else None,
        "loudness_lufs": sound.loudness_lufs if sound else None,
        "true_peak_dbtp": sound.true_peak_dbtp if sound else None,
        "silent": sound.silent if sound else None,
        "bit_rate_peak": measured.bit_rate_peak,
        "seam_picture": _times_the_usual(measured.seam) if measured.seam else None,
        "seam_sound": sound.seam_step if sound else None,
        **_details(measured, sound),
    }


def _as_recorded(sound: Sound | None) -> Sound | None:
    """The sound with its numbers rounded: what is told from them must be told so by a reader, too."""
    if sound is None:
        return None
    return replace(
        sound,
        seconds=number(sound.seconds, 6) or 0.0,
        loudness_lufs=number(sound.loudness_lufs, LEVEL_DIGITS),
        true_peak_dbtp=number(sound.true_peak_dbtp, LEVEL_DIGITS),
        channel_peaks_dbfs=tuple(number(peak, LEVEL_DIGITS) for peak in sound.channel_peaks_dbfs),
        seam_step=number(sound.seam_step, CHANGE_DIGITS),
    )


def _details(measured: Measurements, sound: Sound | None) -> JsonObject:
    """What version 1 does not ask for: a program that reads reports may do without it."""
    leader, flash, combed, seam = measured.leader, measured.flash, measured.combed, measured.seam
    return {
        "seconds": number(measured.seconds, 6),
        "width": measured.width,
        "height": measured.height,
        "decode_error_details": _errors(measured.decode_errors),
        "sound_errors": max(measured.sound_error_count, len(measured.sound_errors)),
        "sound_error_details": _errors(measured.sound_errors),
        "leader_kinds": None if leader is None else [part.kind for part in leader],
        "flash": _flash(flash) if flash else None,
        "combed": _combed(combed) if combed else None,
        "seam": _seam(seam) if seam else None,
        "sound": _sound(sound) if sound else None,
        "fingerprint": measured.fingerprint,
    }


def _errors(errors: Sequence[DecodeError]) -> list[JsonObject]:
    return [{"message": error.message, "second": _time(error.second)} for error in errors]


def _combed(combed: Combed) -> JsonObject:
    return {"share": number(combed.share, 4), "moving": combed.moving, "unclear": combed.unclear}


def _time(seconds: float | None) -> int | float | None:
    return number(seconds, TIME_DIGITS)


def _spans(spans: Sequence[Span | Leader] | None) -> list[list[int | float | None]] | None:
    return None if spans is None else [[_time(span.start_s), _time(span.end_s)] for span in spans]


def _bars(bars: Bars) -> JsonObject:
    return {"top": bars.top_px, "bottom": bars.bottom_px, "left": bars.left_px, "right": bars.right_px}


def _flash(flash: Flash) -> JsonObject:
    return {
        "general_max": flash.general_max,
        "general_at": _time(flash.general_at_s),
        "red_max": flash.red_max,
        "red_at": _time(flash.red_at_s),
    }


def _seam(seam: Seam) -> JsonObject:
    return {
        "picture_change": number(seam.picture_change, CHANGE_DIGITS),
        "usual_change": number(seam.usual_change, CHANGE_DIGITS),
        "greatest_change": number(seam.greatest_change, CHANGE_DIGITS),
        "black": _time(seam.black_s),
        "likeness": number(seam.likeness, LIKENESS_DIGITS),
        "usual_likeness": number(seam.usual_likeness, LIKENESS_DIGITS),
    }


def _times_the_usual(seam: Seam) -> int | float | None:
    """The change at the seam as a multiple of the usual one, both as exactly as they are recorded."""
    change, usual = (number(each, CHANGE_DIGITS) for each in (seam.picture_change, seam.usual_change))
    if change is None or usual is None:
        return None
    return number(change / max(usual, USUAL_CHANGE_MIN), CHANGE_DIGITS)


def _sound(sound: Sound) -> JsonObject:
    return {
        "seconds": sound.seconds,
        "channel_peaks_dbfs": list(sound.channel_peaks_dbfs),
        "dead_channels": list(sound.dead_channels),
        "silent_start": _time(sound.silent_start_s),
        "silent_end": _time(sound.silent_end_s),
        "tone": _spans(sound.tone),
        "start": _edge(sound.start) if sound.start else None,
        "end": _edge(sound.end) if sound.end else None,
    }


def _edge(edge: SoundEdge) -> JsonObject:
    return {
        "level": [number(level, SAMPLE_DIGITS) for level in edge.level],
        "greatest_step": [number(step, SAMPLE_DIGITS) for step in edge.greatest_step],
    }


def measurements_of(record: Mapping[str, Any] | None) -> Measurements | None:
    """The reverse of `measurements_record`, as far as the record holds it: no pictures, no waits.

    Where the keys outside version 1 are missing, so is what cannot be told from the others alone: the kinds
    of leader, the kinds of flashes, combs, the seam and the sound.
    """
    if record is None:
        return None
    bars = record["bars"]
    return Measurements(
        record["frames"],
        record.get("seconds") or 0.0,
        _errors_of(record.get("decode_error_details", ())),
        record["decode_errors"],
        sound_errors=_errors_of(record.get("sound_error_details", ())),
        sound_error_count=record.get("sound_errors", 0),
        width=record.get("width"),
        height=record.get("height"),
        black=_spans_of(record["black"]),
        frozen=_spans_of(record["frozen"]),
        bars=Bars(bars["top"], bars["bottom"], bars["left"], bars["right"]) if bars else None,
        leader=_leader_of(record["leader"], record.get("leader_kinds")),
        flash=_flash_of(record.get("flash")),
        combed=_combed_of(record.get("combed")),
        seam=_seam_of(record.get("seam")),
        sound=_sound_of(record),
        bit_rate_peak=record["bit_rate_peak"],
        fingerprint=record.get("fingerprint"),
    )


def _errors_of(errors: Sequence[Mapping[str, Any]]) -> tuple[DecodeError, ...]:
    return tuple(DecodeError(**error) for error in errors)


def _combed_of(combed: Mapping[str, Any] | None) -> Combed | None:
    return None if combed is None else Combed(combed["share"], combed["moving"], combed.get("unclear", 0))


def _spans_of(spans: Sequence[Sequence[float]] | None) -> tuple[Span, ...] | None:
    return None if spans is None else tuple(Span(start, end) for start, end in spans)


def _leader_of(
    spans: Sequence[Sequence[float]] | None, kinds: Sequence[Any] | None
) -> tuple[Leader, ...] | None:
    if spans is None or (spans and kinds is None):
        return None
    named = zip(kinds or (), spans, strict=True)
    return tuple(Leader(kind, start, end) for kind, (start, end) in named)


def _flash_of(flash: Mapping[str, Any] | None) -> Flash | None:
    if flash is None:
        return None
    return Flash(flash["general_max"], flash["general_at"], flash["red_max"], flash["red_at"])


def _seam_of(seam: Mapping[str, Any] | None) -> Seam | None:
    if seam is None:
        return None
    return Seam(
        seam["picture_change"],
        seam["usual_change"],
        seam["greatest_change"],
        seam["black"],
        seam.get("likeness"),
        seam.get("usual_likeness", 1.0),
    )


def _sound_of(record: Mapping[str, Any]) -> Sound | None:
    sound = record.get("sound")
    if sound is None:
        return None
    return Sound(
        seconds=sound["seconds"],
        loudness_lufs=record["loudness_lufs"],
        true_peak_dbtp=record["true_peak_dbtp"],
        channel_peaks_dbfs=tuple(sound["channel_peaks_dbfs"]),
        silent_start_s=sound["silent_start"],
        silent_end_s=sound["silent_end"],
        seam_step=record["seam_sound"],
        tone=_spans_of(sound["tone"]) or (),
        start=_edge_of(sound.get("start")),
        end=_edge_of(sound.get("end")),
    )


def _edge_of(edge: Mapping[str, Any] | None) -> SoundEdge | None:
    return None if edge is None else SoundEdge(tuple(edge["level"]), tuple(edge["greatest_step"]))
