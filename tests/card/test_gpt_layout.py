"""A GPT survives bytes and back, carries the checksums of the standard, and pleases sgdisk."""

from __future__ import annotations

import uuid
import zlib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.card.gpt_layout import (
    BASIC_DATA,
    GptEntry,
    GptHeader,
    gpt_pieces,
    header_fits_checksum,
    parse_entries,
    protective_mbr,
)
from tests.card.card_programs import run
from tests.card.media import image

LONG, SHORT = st.integers(0, 2**64 - 1), st.integers(0, 2**32 - 1)
HEADERS = st.builds(
    GptHeader,
    *(LONG, LONG, LONG, LONG, LONG, SHORT, st.uuids(), SHORT, SHORT, st.integers(92, 512), SHORT),
)
TEXT = st.text(st.characters(min_codepoint=1, max_codepoint=0xD7FF), max_size=36)
ENTRIES = st.builds(GptEntry, st.uuids(), st.uuids(), LONG, LONG, LONG, TEXT)


@given(HEADERS)
def test_any_header_is_parsed_as_it_was_composed_with_the_right_checksum(header: GptHeader) -> None:
    sector = header.compose().ljust(512, b"\0")
    assert GptHeader.parse(sector) == header
    assert header_fits_checksum(sector)


@given(HEADERS, st.integers(0, 91), st.integers(1, 255))
def test_a_changed_header_does_not_fit_its_checksum(header: GptHeader, place: int, change: int) -> None:
    sector = bytearray(header.compose().ljust(512, b"\0"))
    sector[place] ^= change
    assert not header_fits_checksum(bytes(sector)) or 12 <= place < 16  # another length may end in zeros


@given(ENTRIES)
def test_any_entry_is_parsed_as_it_was_composed(entry: GptEntry) -> None:
    assert GptEntry.parse(entry.compose()) == entry
    assert len(entry.compose()) == 128


@given(st.binary(max_size=600))
def test_any_bytes_are_a_header_or_none(data: bytes) -> None:
    header = GptHeader.parse(data)
    assert (header is None) == (len(data) < 92 or not data.startswith(b"EFI PART"))
    assert GptHeader.parse(b"EFI PART" + data.ljust(84, b"\0")) is not None
    header_fits_checksum(data)


@given(st.binary(max_size=2000), st.sampled_from([128, 256, 512]))
def test_entries_are_cut_at_their_own_length(data: bytes, entry_bytes: int) -> None:
    entries = parse_entries(data, entry_bytes)
    assert len(entries) == len(data) // entry_bytes
    assert [entry.compose()[:56] for entry in entries] == [
        data[at : at + 56] for at in range(0, len(data) - entry_bytes + 1, entry_bytes)
    ]


def test_the_numbers_stand_where_the_standard_has_them() -> None:
    """UEFI specification, 5.3: signature, revision 1.0, 92 bytes; exFAT specification, 10.2: basic data."""
    entry = GptEntry(BASIC_DATA, uuid.UUID(int=1), 2048, 131_038, name="LOOP")
    pieces = dict(gpt_pieces(131_072, 512, (entry,), uuid.UUID(int=2)))
    header, entries = pieces[512], pieces[1024]
    assert header[:16].hex() == "4546492050415254" + "00000100" + "5c000000"
    assert entries[:16].hex() == "a2a0d0ebe5b9334487c068b6b72699c7"
    assert entries[56:64] == b"L\0O\0O\0P\0"
    assert int.from_bytes(header[88:92], "little") == zlib.crc32(entries)
    assert sorted(pieces) == [0, 512, 1024, (131_072 - 33) * 512, (131_072 - 1) * 512]


def test_the_protective_mbr_covers_the_medium_or_all_that_it_can_count() -> None:
    """UEFI specification, 5.2.3."""
    for sectors, covered in ((131_072, 131_071), (2**32, 2**32 - 1), (2**40, 2**32 - 1)):
        entry = protective_mbr(sectors).entries[0]
        assert (entry.type_byte, entry.first_sector, entry.sectors) == (0xEE, 1, covered)


@pytest.mark.parametrize(
    ("entries", "entry_bytes", "sensible"),
    [
        (128, 128, True),
        (4, 512, True),
        (8192, 128, True),
        (8193, 128, False),
        (0, 128, False),
        (128, 0, False),
        (128, 64, False),
        (128, 192, False),
        (2**32 - 1, 2**31, False),
    ],
)
def test_sizes_that_no_gpt_has_are_told(entries: int, entry_bytes: int, sensible: bool) -> None:
    header = GptHeader(1, 2, 3, 4, 2, 0, uuid.UUID(int=1), entries, entry_bytes)
    assert header.sensible == sensible


@pytest.mark.parametrize("parts", [1, 3])
def test_sgdisk_finds_no_problem_in_what_we_compose(tmp_path: Path, parts: int) -> None:
    entries = [
        GptEntry(BASIC_DATA, uuid.uuid4(), first, first + 8191, name=f"PART {first}")
        for first in range(2048, 2048 + parts * 8192, 8192)
    ]
    path = tmp_path / "card.img"
    path.write_bytes(image(32 << 20, gpt_pieces(65_536, 512, entries, uuid.uuid4())))
    assert "No problems found" in run("sgdisk", "--verify", path)
    assert f"{parts}          " in run("sgdisk", "--print", path).splitlines()[-1]
