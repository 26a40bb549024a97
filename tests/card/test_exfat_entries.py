"""Directory entries of exFAT are those of the specification, and survive composing and parsing."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.card.exfat_entries import (
    ARCHIVE,
    BitmapEntry,
    FileEntry,
    StreamEntry,
    UpcaseEntry,
    compose_entry_set,
    compose_guid,
    compose_label,
    parse_label,
    parse_stream_rows,
    parse_times,
)
from mediacheck.card.exfat_layout import entry_set_checksum
from mediacheck.card.exfat_times import Stamp


def number(bits: int) -> st.SearchStrategy[int]:
    return st.integers(0, 2**bits - 1)


STAMPS = st.builds(Stamp, number(32), number(8), number(8))
FILES = st.builds(
    FileEntry,
    *(number(8), number(16), number(16), STAMPS, STAMPS),
    st.builds(Stamp, number(32), st.just(0), number(8)),
)
STREAMS = st.builds(StreamEntry, number(8), number(16), number(64), number(32), number(64), number(8))


def test_the_entry_set_of_the_worked_example() -> None:
    """The set that our notes on 6.3.3 work out, which fsck.exfat takes."""
    stamp = Stamp(0x5A212000, 0, 0x80)
    entries = compose_entry_set(
        FileEntry(file_attributes=ARCHIVE, created=stamp, modified=stamp, accessed=stamp),
        StreamEntry(name_hash=0xF88A, valid_data_length=5, first_cluster=6, data_length=5, flags=3),
        "promo.mp4",
    )
    assert FileEntry.parse(entries) == FileEntry(2, 0xBD8A, ARCHIVE, stamp, stamp, stamp)
    assert StreamEntry.parse(entries[32:]) == StreamEntry(9, 0xF88A, 5, 6, 5, 3)
    assert entries[64:66] == b"\xc1\0"
    assert entries[66:] == "promo.mp4".encode("utf-16-le").ljust(30, b"\0")
    flipped = bytearray(entries)
    flipped[70] ^= 1
    assert entry_set_checksum(bytes(flipped)) != 0xBD8A


@pytest.mark.parametrize(("letters", "name_entries"), [(1, 1), (15, 1), (16, 2), (30, 2), (31, 3), (255, 17)])
def test_a_name_takes_an_entry_for_each_fifteen_letters(letters: int, name_entries: int) -> None:
    entries = compose_entry_set(FileEntry(), StreamEntry(), "n" * letters)
    assert len(entries) == (2 + name_entries) * 32
    assert (entries[1], entries[35]) == (1 + name_entries, letters)


@given(FILES)
def test_a_file_entry_survives(entry: FileEntry) -> None:
    assert FileEntry.parse(entry.compose()) == entry
    first = np.frombuffer(entry.compose(), np.uint8).reshape(1, -1)
    assert parse_times(first) == ([entry.created.moment], [entry.modified.moment])


@given(st.lists(STREAMS, min_size=1, max_size=5))
def test_stream_entries_survive_one_by_one_and_together(entries: list[StreamEntry]) -> None:
    composed = [entry.compose() for entry in entries]
    assert [StreamEntry.parse(each) for each in composed] == entries
    rows = np.frombuffer(b"".join(composed), np.uint8).reshape(-1, 32)
    assert [StreamEntry(*row) for row in parse_stream_rows(rows).tolist()] == entries


@given(number(32), number(64), number(8))
def test_the_entries_of_the_root_survive(cluster: int, length: int, flags: int) -> None:
    bitmap = BitmapEntry(cluster, length, flags)
    assert BitmapEntry.parse(bitmap.compose()) == bitmap
    table = UpcaseEntry(cluster, cluster, length)
    assert UpcaseEntry.parse(table.compose()) == table
    assert [bitmap.compose()[0], table.compose()[0]] == [0x81, 0x82]


@given(st.text(max_size=5))
def test_a_label_survives(label: str) -> None:
    assert parse_label(compose_label(label)) == label


def test_a_label_is_never_longer_than_eleven() -> None:
    assert parse_label(b"\x83\xff" + "ABCDEFGHIJKLMN".encode("utf-16-le") + bytes(8)) == "ABCDEFGHIJK"


def test_a_guid_entry_has_its_checksum() -> None:
    entry = compose_guid(bytes(range(16)))
    assert int.from_bytes(entry[2:4], "little") == entry_set_checksum(entry)
    assert (entry[0], entry[6:22]) == (0xA0, bytes(range(16)))
