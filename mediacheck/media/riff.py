"""The chunks of an AVI file: is it whole, and has it an index?

It must not read the media data. Source: Microsoft AVI RIFF file reference.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import BinaryIO

CHUNKS_MAX = 10_000


@dataclass(frozen=True, slots=True)
class Avi:
    """What the chunks say. `truncated` is a sentence, or None."""

    has_index: bool
    truncated: str | None


def read_avi(file: BinaryIO, size: int) -> Avi:
    """Walk the chunks of an AVI file of `size` bytes."""
    at, indexed, beyond = 0, False, 0
    for _ in range(CHUNKS_MAX):
        file.seek(at)
        head = file.read(12)
        if len(head) < 12 or head[:4] != b"RIFF":
            break
        end = at + 8 + int.from_bytes(head[4:8], "little")
        beyond = max(beyond, end - size)
        indexed = indexed or _has_index(file, at + 12, min(end, size))
        at = end + end % 2
        if at >= size:
            break
    cut = f"the file should go on for {beyond:,} more bytes after its end" if beyond > 0 else None
    return Avi(indexed, cut)


def _has_index(file: BinaryIO, start: int, end: int) -> bool:
    """Whether an idx1 chunk, or an OpenDML index (indx) in the headers, stands in one RIFF part."""
    at = start
    for _ in range(CHUNKS_MAX):
        if end - at < 8:
            return False
        file.seek(at)
        head = file.read(12)
        length = int.from_bytes(head[4:8], "little")
        if head[:4] == b"idx1":
            return True
        if (
            head[:4] == b"LIST"
            and head[8:12] == b"hdrl"
            and length < 1 << 20
            and b"indx" in file.read(length)
        ):
            return True
        at += 8 + length + length % 2
    return False
