"""The boxes of an MP4 or MOV file, walked one by one without reading the media data.

It must not decide what is wrong. Layout: ISO/IEC 14496-12 (clause numbers from memory) and the
QuickTime file format as Apple describes it.
"""

from __future__ import annotations

import struct
import sys
from array import array
from collections.abc import Iterator
from dataclasses import dataclass
from typing import BinaryIO

from mediacheck.media.sniff import MP4_FIRST_BOXES

ENTRY_HEADER = {b"vide": 86, b"soun": 36}
"""Bytes of a sample entry before its own boxes, by handler (ISO/IEC 14496-12 8.5.2; from memory)."""
MOOV_BYTES_MAX = 256 * 1024 * 1024
BOXES_MAX = 100_000


@dataclass(frozen=True, slots=True)
class Box:
    """One box: where its header starts, where its content starts, and where it claims to end."""

    kind: bytes
    start: int
    content: int
    end: int
    cut: bool
    """True when it claims more bytes than its surroundings have."""


@dataclass(frozen=True, slots=True)
class SampleTable:
    """One track. Its samples' times are in ticks of `timescale`, in decode order, as packed arrays.

    The arrays are filled for picture tracks only: uncompressed sound has a sample each 1/48,000 s.
    """

    handler: bytes
    timescale: int
    rotation: int
    encrypted: bool
    decode_ticks: array[int]
    show_ticks: array[int]
    sizes: array[int]
    keys: frozenset[int] | None
    """Numbers of the samples that are keyframes, from 0; None where all are."""
    total_ticks: int


@dataclass(frozen=True, slots=True)
class Movie:
    """What the boxes of a file say."""

    brand: bytes | None
    index_first: bool | None
    """Whether the index (moov) stands before the media data; None where one of them is missing."""
    has_index: bool
    fragmented: bool
    truncated: str | None
    encrypted: bool
    tracks: tuple[SampleTable, ...]


def top_boxes(file: BinaryIO, size: int) -> Iterator[Box]:
    """The boxes at the top of a file of `size` bytes, until one is cut or not a box at all."""
    at = 0
    for _ in range(BOXES_MAX):
        if size - at < 8:
            return
        file.seek(at)
        box = _box(file.read(16), at, size)
        if box is None:
            return
        yield box
        if box.cut or box.end <= at:
            return
        at = box.end


def _box(head: bytes, at: int, limit: int) -> Box | None:
    """The box whose header begins with `head`. Size 1: a 64-bit size follows; 0: to the end."""
    if len(head) < 8:
        return None
    length, kind = struct.unpack(">I4s", head[:8])
    content = at + 8
    if length == 1 and len(head) >= 16:
        (length,) = struct.unpack(">Q", head[8:16])
        content = at + 16
    elif length == 0:
        length = limit - at
    if length < content - at or not all(0x20 <= byte < 0x7F or byte == 0xA9 for byte in kind):
        return None
    return Box(kind, at, content, min(at + length, limit), at + length > limit)


def _children(data: bytes, start: int, end: int) -> Iterator[Box]:
    at = start
    while end - at >= 8:
        box = _box(data[at : at + 16], at, end)
        if box is None:
            return
        yield box
        at = box.end


def _find(data: bytes, start: int, end: int, *path: bytes) -> Box | None:
    """The first box at the end of a path of kinds, inside data[start:end]."""
    for box in _children(data, start, end):
        if box.kind == path[0]:
            return box if len(path) == 1 else _find(data, box.content, box.end, *path[1:])
    return None


def read_movie(file: BinaryIO, size: int) -> Movie:
    """Walk the boxes of an MP4 or MOV file of `size` bytes."""
    brand, truncated, moov, media_at, moov_at, last = None, None, b"", None, None, None
    fragmented = False
    for box in top_boxes(file, size):
        if last is None and box.kind not in MP4_FIRST_BOXES:
            break
        last = box
        if box.kind == b"ftyp":
            file.seek(box.content)
            brand = file.read(4)
        elif box.kind == b"mdat" and media_at is None:
            media_at = box.start
        elif box.kind == b"moov" and moov_at is None and box.end - box.content <= MOOV_BYTES_MAX:
            moov_at = box.start
            file.seek(box.content)
            moov = file.read(box.end - box.content)
        elif box.kind == b"moof":
            fragmented = True
        if box.cut:
            truncated = _cut_sentence(file, box, size)
    fragmented = fragmented or _find(moov, 0, len(moov), b"mvex") is not None
    if truncated is None and last is not None:
        truncated = _missing_part(last, moov_at, media_at, fragmented) or _beyond(moov, size)
    tracks = tuple(_tracks(moov, size))
    return Movie(
        brand,
        None if moov_at is None or media_at is None else moov_at < media_at,
        moov_at is not None,
        fragmented,
        truncated,
        any(track.encrypted for track in tracks) or _find(moov, 0, len(moov), b"pssh") is not None,
        tracks,
    )


def _cut_sentence(file: BinaryIO, box: Box, size: int) -> str:
    file.seek(box.start)
    head = file.read(16)
    wide = head[:4] == (1).to_bytes(4, "big")
    (length,) = struct.unpack(">Q", head[8:16]) if wide else struct.unpack(">I", head[:4])
    missing = box.start + length - size
    part = {b"mdat": "the pictures and sound", b"moov": "the index"}.get(box.kind, "a part of the file")
    return f"{part} should go on for {missing:,} more bytes after the end of the file"


def _missing_part(last: Box, moov_at: int | None, media_at: int | None, fragmented: bool) -> str | None:
    """What a whole file has besides, where each box that is there is whole."""
    if last.kind == b"moof":
        return "the file ends where its next pictures should begin"
    if moov_at is None and not fragmented:
        part = "pictures" if media_at is not None else "a beginning"
        return f"the file has {part} but no index: it was cut off or never finished"
    if media_at is None and not fragmented:
        return "the file has an index but no pictures: it was cut off or never finished"
    return None


def _beyond(moov: bytes, size: int) -> str | None:
    """Whether the index points behind the end of the file, as where the media data's box has no size."""
    for trak in _children(moov, 0, len(moov)):
        table = _find(moov, trak.content, trak.end, b"mdia", b"minf", b"stbl")
        boxes = {box.kind: box for box in _children(moov, table.content, table.end)} if table else {}
        if max(_table(moov, boxes.get(b"stco"), "I", 1), default=0) >= size:
            return "the index lists pictures or sound behind the end of the file"
        wide = _table(moov, boxes.get(b"co64"), "I", 2)
        if (
            max((high << 32 | low for high, low in zip(wide[::2], wide[1::2], strict=True)), default=0)
            >= size
        ):
            return "the index lists pictures or sound behind the end of the file"
    return None


def _tracks(moov: bytes, size: int) -> Iterator[SampleTable]:
    for trak in _children(moov, 0, len(moov)):
        if trak.kind == b"trak":
            table = _track(moov, trak, size)
            if table is not None:
                yield table


def _track(moov: bytes, trak: Box, size: int) -> SampleTable | None:
    handler = _find(moov, trak.content, trak.end, b"mdia", b"hdlr")
    header = _find(moov, trak.content, trak.end, b"mdia", b"mdhd")
    table = _find(moov, trak.content, trak.end, b"mdia", b"minf", b"stbl")
    if handler is None or header is None or table is None:
        return None
    kind = moov[handler.content + 8 : handler.content + 12]
    boxes = {box.kind: box for box in _children(moov, table.content, table.end)}
    durations = _table(moov, boxes.get(b"stts"), "I", 2)
    sizes = _sizes(moov, boxes.get(b"stsz"), size) if kind == b"vide" else array("I")
    decode = _decode_ticks(durations, len(sizes) + 1) if kind == b"vide" else array("q")
    keys = boxes.get(b"stss")
    return SampleTable(
        kind,
        _timescale(moov, header),
        _rotation(moov, _find(moov, trak.content, trak.end, b"tkhd")),
        _is_encrypted(moov, boxes.get(b"stsd"), kind),
        decode,
        _show_ticks(moov, boxes.get(b"ctts"), decode),
        sizes,
        None if keys is None else frozenset(number - 1 for number in _table(moov, keys, "I", 1) if number),
        sum(count * delta for count, delta in zip(durations[::2], durations[1::2], strict=True)),
    )


def _timescale(moov: bytes, header: Box) -> int:
    offset = 20 if moov[header.content : header.content + 1] == b"\1" else 12
    return int.from_bytes(moov[header.content + offset : header.content + offset + 4], "big") or 1


def _table(moov: bytes, box: Box | None, code: str, columns: int) -> array[int]:
    """The rows after a version, flags and row count, as big-endian 32-bit numbers, row by row."""
    values: array[int] = array(code)
    if box is None or box.end - box.content < 8:
        return values
    (rows,) = struct.unpack(">I", moov[box.content + 4 : box.content + 8])
    room = (box.end - box.content - 8) // (4 * columns)
    start = box.content + 8
    values.frombytes(moov[start : start + 4 * columns * min(rows, room)])
    return _from_big_endian(values)


def _from_big_endian(values: array[int]) -> array[int]:
    if sys.byteorder == "little":
        values.byteswap()
    return values


def _decode_ticks(runs: array[int], samples: int) -> array[int]:
    """Decode time of each sample, from runs of (count, delta) (stts), for no more than `samples`."""
    ticks, now = array("q"), 0
    for count, delta in zip(runs[::2], runs[1::2], strict=True):
        room = min(count, samples - len(ticks))
        ticks.extend(range(now, now + room * delta, delta) if delta else (now for _ in range(room)))
        now += room * delta
    return ticks


def _show_ticks(moov: bytes, box: Box | None, decode: array[int]) -> array[int]:
    """Presentation time of each sample (ctts; offsets read as signed, as version 1 and QuickTime do)."""
    runs = _table(moov, box, "i", 2)
    shown, at = array("q", decode), 0
    for count, offset in zip(runs[::2], runs[1::2], strict=True):
        for number in range(at, min(at + max(count, 0), len(shown))):
            shown[number] += offset
        at += max(count, 0)
    return shown


def _sizes(moov: bytes, box: Box | None, file_size: int) -> array[int]:
    """Bytes of each sample (stsz: one size for all, or a table), for no more than the file has room for."""
    if box is None or box.end - box.content < 12:
        return array("I")
    same: int
    rows: int
    same, rows = struct.unpack(">II", moov[box.content + 4 : box.content + 12])
    if same:
        return array("I", [same]) * min(rows, file_size // same)
    start = box.content + 12
    return _from_big_endian(array("I", moov[start : start + 4 * min(rows, (box.end - start) // 4)]))


def _rotation(moov: bytes, tkhd: Box | None) -> int:
    """Degrees clockwise from the track's matrix: a, b, c, d = 0, 1, -1, 0 is 90 clockwise."""
    if tkhd is None:
        return 0
    at = tkhd.content + (52 if moov[tkhd.content : tkhd.content + 1] == b"\1" else 40)
    if at + 36 > tkhd.end:
        return 0
    a, b, _, c, d = struct.unpack(">5i", moov[at : at + 20])
    signs = tuple((value > 0) - (value < 0) for value in (a, b, c, d))
    return {(0, 1, -1, 0): 90, (-1, 0, 0, -1): 180, (0, -1, 1, 0): 270}.get(signs, 0)


def _is_encrypted(moov: bytes, stsd: Box | None, handler: bytes) -> bool:
    """Protected sample entries are called encv or enca, and hold a sinf box (ISO/IEC 14496-12 8.12)."""
    if stsd is None:
        return False
    for entry in _children(moov, stsd.content + 8, stsd.end):
        if entry.kind in (b"encv", b"enca", b"drmi", b"drms"):
            return True
        inside = entry.start + ENTRY_HEADER.get(handler, 1 << 62)
        if inside < entry.end and _find(moov, inside, entry.end, b"sinf"):
            return True
    return False
