"""The outermost elements of a Matroska or WebM file: which of the two is it, and is it whole?

It must not go deeper. Source: RFC 8794 (EBML) sections 4 to 6, and the Matroska specification's IDs.
"""

from __future__ import annotations

from dataclasses import dataclass

EBML_HEADER = 0x1A45DFA3
DOC_TYPE = 0x4282
SEGMENT = 0x18538067
CLUSTER = bytes.fromhex("1f43b675")
PROJECTION = bytes.fromhex("7670")


@dataclass(frozen=True, slots=True)
class Matroska:
    """DocType ("matroska", "webm"), and a sentence if the file is cut off."""

    doc_type: str
    truncated: str | None


def read_matroska(head: bytes, size: int) -> Matroska:
    """Read the header and the size of the segment from the first bytes of a file of `size` bytes."""
    doc_type, truncated, at = "matroska", None, 0
    while (element := _element(head, at)) is not None:
        identity, content, length = element
        if identity == EBML_HEADER and length is not None:
            doc_type = _doc_type(head[content : content + length])
            at = content + length
        elif identity == SEGMENT:
            missing = 0 if length is None else content + length - size
            if missing > 0:
                truncated = f"the file should go on for {missing:,} more bytes after its end"
            break
        else:
            at = content + (length or 0)
    return Matroska(doc_type, truncated)


def may_be_turned(head: bytes) -> bool:
    """Whether the tracks may carry a projection, which is where Matroska keeps a rotation.

    False only where all that stands before the first cluster is in `head` and holds no such element.
    """
    tracks, cluster, _ = head.partition(CLUSTER)
    return not cluster or PROJECTION in tracks


def _doc_type(header: bytes) -> str:
    at = 0
    while (element := _element(header, at)) is not None:
        identity, content, length = element
        if identity == DOC_TYPE:
            return header[content : content + (length or 0)].rstrip(b"\0").decode("ascii", "replace")
        at = content + (length or 0)
    return "matroska"


def _element(data: bytes, at: int) -> tuple[int, int, int | None] | None:
    """ID, start of the content and its length (None: unknown length) of the element at `at`."""
    identity = _number(data, at, keep_marker=True)
    length = _number(data, at + identity[1], keep_marker=False) if identity else None
    if identity is None or length is None:
        return None
    unknown = length[0] == (1 << 7 * length[1]) - 1
    return identity[0], at + identity[1] + length[1], None if unknown else length[0]


def _number(data: bytes, at: int, *, keep_marker: bool) -> tuple[int, int] | None:
    """A variable-size integer (RFC 8794 section 4): its value, and how many bytes it took."""
    if at >= len(data) or not data[at]:
        return None
    width = 9 - data[at].bit_length()
    if at + width > len(data):
        return None
    value = int.from_bytes(data[at : at + width], "big")
    return (value if keep_marker else value & ((1 << 7 * width) - 1)), width
