"""Splits the bytes of an exFAT directory into its entry sets, and reads the sets of files.

It must not read a medium, and must not judge more than whether a set has the parts that it should have.
Sections in brackets are those of the "exFAT file system specification", revision 1.00.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from mediacheck.card.exfat_entries import (
    ALLOCATION_POSSIBLE,
    BENIGN,
    END_OF_DIRECTORY,
    ENTRY_BYTES,
    FILE,
    IN_USE,
    INVALID,
    NAME,
    NAME_UNITS_PER_ENTRY,
    NO_FAT_CHAIN,
    SECONDARY,
    STREAM,
    StreamEntry,
    StreamRows,
    parse_allocation,
    parse_stream_rows,
)

_SECONDARY_IN_USE = IN_USE | SECONDARY
Rows = npt.NDArray[np.uint8]
Places = npt.NDArray[np.int64]


class EntrySet(NamedTuple):
    """A primary entry that is no file, and the secondary ones that follow it [6.3]."""

    raw: bytes

    @property
    def kind(self) -> int:
        """EntryType of the primary one."""
        return self.raw[0]

    @property
    def is_benign(self) -> bool:
        """Whether a reader may pass it by without knowing what it is [6.2.1.2]."""
        return bool(self.raw[0] & BENIGN)

    @property
    def is_whole(self) -> bool:
        """Whether as many secondary entries follow as it says [6.3.2]."""
        return (self.raw[1] + 1) * ENTRY_BYTES == len(self.raw)


class Extra(NamedTuple):
    """Clusters that an entry beside the stream has [6.4.2.1, 7.9]."""

    first_cluster: int
    length_bytes: int
    no_fat_chain: bool


class FileSet(NamedTuple):
    """The set of a file or folder, as far as its entries are where they should be."""

    raw: bytes
    name: bytes
    """UTF-16LE, as long as the stream entry says and as the name entries go."""
    stream: StreamEntry | None
    """None where the entry that tells where the bytes lie is missing, or not in its place [7.6]."""
    fault: str | None = None
    """What is wrong with its parts, as the end of a clause on its directory entry; None for a sound set."""
    unknown: bool = False
    """Whether it has critical entries that the standard does not describe, or not at their place [8.2]."""
    extras: tuple[Extra, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class UsualSets:
    """Sets of files and folders that follow each other, with all parts and no others, as columns."""

    raw: list[bytes]
    names: list[bytes]
    """UTF-16LE."""
    streams: StreamRows
    attributes: npt.NDArray[np.uint8]

    def part(self, first: int, behind: int) -> UsualSets:
        """Some of them."""
        own = slice(first, behind)
        return UsualSets(self.raw[own], self.names[own], self.streams[own], self.attributes[own])

    def one_by_one(self) -> Iterator[FileSet]:
        """The same, each by itself."""
        streams = map(StreamEntry._make, self.streams.tolist())
        return map(FileSet, self.raw, self.names, streams)


@dataclass(frozen=True, slots=True)
class Directory:
    """What stands in a directory, each kind in its order."""

    files: tuple[UsualSets | FileSet, ...]
    others: tuple[EntrySet, ...]
    loose: int
    """Secondary entries that no primary one precedes, and the value that stands for nothing [6.2.1]."""
    behind_end: int
    """Files that stand behind the mark of the end, where nobody looks for them [6.2.1]."""


def split(data: bytes) -> Directory:
    """The entry sets up to the mark of the end. Entries that are not in use are passed over."""
    rows = np.frombuffer(data, np.uint8, len(data) // ENTRY_BYTES * ENTRY_BYTES).reshape(-1, ENTRY_BYTES)
    ends = np.flatnonzero(rows[:, 0] == END_OF_DIRECTORY)
    used = rows[: ends[0]] if len(ends) else rows
    kinds = used[:, 0]
    primary = np.flatnonzero((kinds > INVALID) & (kinds < _SECONDARY_IN_USE))
    borders = np.append(np.flatnonzero(kinds < _SECONDARY_IN_USE), len(kinds))
    behind = borders[np.searchsorted(borders, primary) + 1] if len(primary) else primary
    followers = int((behind - primary - 1).sum())
    is_file = kinds[primary] == FILE
    others = zip(primary[~is_file].tolist(), behind[~is_file].tolist(), strict=True)
    return Directory(
        tuple(_files(data, used, primary[is_file], behind[is_file])),
        tuple(EntrySet(data[start * ENTRY_BYTES : end * ENTRY_BYTES]) for start, end in others),
        int((kinds >= INVALID).sum()) - len(primary) - followers,
        int((rows[len(used) :, 0] == FILE).sum()),
    )


def _files(data: bytes, rows: Rows, starts: Places, ends: Places) -> Iterator[UsualSets | FileSet]:
    """The sets that begin and end there."""
    if not len(starts):
        return
    is_name = rows[:, 0] == NAME
    names_before = np.concatenate(([0], np.cumsum(is_name)))
    streams = parse_stream_rows(rows[np.minimum(starts + 1, len(rows) - 1)])
    texts = rows[is_name, 2:].tobytes()
    name_starts = names_before[starts] * (2 * NAME_UNITS_PER_ENTRY)
    name_ends = name_starts + 2 * streams["name_length"].astype(np.int64)
    raw, names = pieces(data, starts * ENTRY_BYTES, ends * ENTRY_BYTES), pieces(texts, name_starts, name_ends)
    attributes = rows[starts, 4]
    for is_usual, first, behind in stretches(_usual(rows, starts, ends, names_before)):
        if is_usual:
            own = slice(first, behind)
            yield UsualSets(raw[own], names[own], streams[own], attributes[own])
        else:
            yield from map(_unusual, raw[first:behind])


def pieces(data: bytes, starts: Places, ends: Places) -> list[bytes]:
    """The bytes from each start up to its end."""
    return [data[start:end] for start, end in zip(starts.tolist(), ends.tolist(), strict=True)]


def stretches(marked: npt.NDArray[np.bool_]) -> Iterator[tuple[bool, int, int]]:
    """Neighbours that are marked alike: how, the place of the first and the one behind the last."""
    changes = np.flatnonzero(marked[1:] != marked[:-1]) + 1
    for first, behind in pairwise((0, *changes.tolist(), len(marked))):
        if first < behind:
            yield bool(marked[first]), first, behind


def _usual(rows: Rows, starts: Places, ends: Places, names_before: Places) -> npt.NDArray[np.bool_]:
    """Of each set, whether it is a file entry, a stream entry, and as many name entries as the name needs.

    What stands behind the name should be zero [7.7.3]; where it is not, the length of the name is in doubt.
    """
    kinds, last = rows[:, 0], len(rows) - 1
    second = np.minimum(starts + 1, last)
    full, rest = np.divmod(rows[second, 3].astype(np.int64), NAME_UNITS_PER_ENTRY)
    names = full + (rest > 0)
    behind = np.minimum(second + 1 + full, last), 2 + 2 * rest % (2 * NAME_UNITS_PER_ENTRY)
    return np.asarray(
        (rows[starts, 1] == ends - starts - 1)
        & (kinds[second] == STREAM)
        & (names > 0)
        & (ends - starts - 2 == names)
        & (names_before[ends] - names_before[starts] == names)
        & ((rest == 0) | (rows[behind] == 0) & (rows[behind[0], behind[1] + 1] == 0))
    )


def _unusual(raw: bytes) -> FileSet:
    kinds = raw[::ENTRY_BYTES]
    stream = StreamEntry.parse(raw[ENTRY_BYTES:]) if kinds[1:2] == bytes((STREAM,)) else None
    first = 2 if stream else 1
    rest = kinds[first:].lstrip(bytes((NAME,)))
    names = len(kinds) - first - len(rest)
    unknown = any(not kind & BENIGN for kind in rest)
    places = range(len(kinds) - len(rest), len(kinds))
    extras = tuple(extra for place in places for extra in _extra(raw[place * ENTRY_BYTES :]))
    text = _name(raw, first, names)
    length = 2 * stream.name_length if stream else _zero_in(text)
    fault = _fault(raw, stream, text, unknown)
    return FileSet(raw, text[:length], stream, fault, unknown, extras)


def _fault(raw: bytes, stream: StreamEntry | None, text: bytes, unknown: bool) -> str | None:
    """What a set must consist of [6.3.2, 7.6, 7.7]."""
    announced, there = raw[1], len(raw) // ENTRY_BYTES - 1
    if announced > there:
        return f"breaks off: {there} of its {announced} further parts are there"
    if announced < there:
        return f"has {there} further parts, and says that it has {announced}"
    if stream is None:
        return "lacks the part that tells where the bytes lie"
    end = 2 * stream.name_length
    if not 0 <= len(text) - end < 2 * NAME_UNITS_PER_ENTRY or not text or any(text[end : end + 2]):
        return "tells a length of the name that is not that of the name"
    return "has parts of an unknown kind" if unknown else None


def _name(raw: bytes, first: int, entries: int) -> bytes:
    """The characters of so many name entries [7.7.3], unused ones at the end included."""
    if entries == 1:
        return raw[first * ENTRY_BYTES + 2 : (first + 1) * ENTRY_BYTES]
    places = range(first * ENTRY_BYTES, (first + entries) * ENTRY_BYTES, ENTRY_BYTES)
    return b"".join(raw[place + 2 : place + ENTRY_BYTES] for place in places)


def _zero_in(text: bytes) -> int:
    """The place of the first unit that is zero, or the end."""
    return next((place for place in range(0, len(text), 2) if not any(text[place : place + 2])), len(text))


def _extra(entry: bytes) -> Iterator[Extra]:
    if entry[1] & ALLOCATION_POSSIBLE:
        cluster, length = parse_allocation(entry)
        yield Extra(cluster, length, bool(entry[1] & NO_FAT_CHAIN))


def extra_of_primary(found: EntrySet) -> tuple[Extra, ...]:
    """Clusters of a benign primary entry [6.3.4], whose flags stand elsewhere, and of those behind it."""
    flags = found.raw[4]
    cluster, length = parse_allocation(found.raw)
    own = (Extra(cluster, length, bool(flags & NO_FAT_CHAIN)),) if flags & ALLOCATION_POSSIBLE else ()
    behind = range(ENTRY_BYTES, len(found.raw), ENTRY_BYTES)
    return own + tuple(extra for place in behind for extra in _extra(found.raw[place:]))
