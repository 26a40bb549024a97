"""Short names are shown as systems show them; long names come out as they were put in, or a fault is found.

Source: Microsoft FAT32 File System Specification 1.03, "DIR_Name" and "Long Directory Entries".
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.card.fat_names import (
    CODE_PAGE,
    LongNames,
    checksums,
    illegal,
    long_name_slots,
    long_names,
    lowered,
    short_names,
    shown,
)
from mediacheck.card.fat_slots import SHORT_SLOTS, ShortEntry, long_name_checksum

RAW = st.binary(min_size=11, max_size=11)
PROMO, OTHER = b"PROMOF~1MP4", b"OTHER~1 MP4"


def rows(*names: bytes) -> np.ndarray[tuple[int, int], np.dtype[np.uint8]]:
    return np.frombuffer(b"".join(names), np.uint8).reshape(-1, 11)


@pytest.mark.parametrize(
    ("raw", "text"),
    [
        (b"PROMO   MP4", "PROMO.MP4"),
        (b"PROMO      ", "PROMO"),
        (b"PICKLE  A  ", "PICKLE.A"),
        (b"A B     M 4", "A B.M 4"),
        (b"LONGNAMEMP4", "LONGNAME.MP4"),
        (b"\x05LPHA   TXT", "σLPHA.TXT"),  # 05h stands for E5h
        (b"BL\x81TE   JPG", "BLüTE.JPG"),
        (b"           ", r"\x20"),
        (b"        MP4", ".MP4"),
        (b"A\x07B     TXT", r"A\x07B.TXT"),
        (b"A/B\\    TXT", r"A\x2fB\x5c.TXT"),
        (b"A\nB     TXT", r"A\x0aB.TXT"),
        (b"A.B     C.D", "A.B.C.D"),
        (b" LEADS  MP4", " LEADS.MP4"),
    ],
)
def test_a_short_name_is_shown_with_a_dot_and_printable(raw: bytes, text: str) -> None:
    assert short_names(rows(raw)) == [text]
    assert short_names(rows(b"PROMO   MP4", raw, b"B          ")) == ["PROMO.MP4", text, "B"]


@given(st.lists(RAW, max_size=20))
def test_many_short_names_are_those_of_each_alone(raw: list[bytes]) -> None:
    found = short_names(rows(*raw))
    assert found == [short_names(rows(name))[0] for name in raw]
    assert all(name and "/" not in name and "\n" not in name and "\0" not in name for name in found)


@given(RAW)
def test_a_name_without_forbidden_bytes_is_legal_in_each_byte(raw: bytes) -> None:
    """Against the list in the specification, byte by byte."""
    forbidden = {
        *range(0x20),
        0x7F,
        *(0x22, 0x2A, 0x2B, 0x2C, 0x2E, 0x2F),
        *range(0x3A, 0x40),
        *(0x5B, 0x5C, 0x5D, 0x7C),
    }
    wanted = any(byte in forbidden for byte in raw[1:]) or raw[0] in (forbidden | {0x20}) - {0x05}
    assert illegal(rows(raw)).tolist() == [wanted]


@pytest.mark.parametrize(
    ("nt_case", "text"),
    [(0, "PROMO.MP4"), (0x08, "promo.MP4"), (0x10, "PROMO.mp4"), (0x18, "promo.mp4"), (0xE7, "PROMO.MP4")],
)
def test_windows_nt_means_parts_of_a_short_name_in_lower_case(nt_case: int, text: str) -> None:
    assert lowered("PROMO.MP4", nt_case) == text


def test_a_short_name_without_extension_is_lowered_alone() -> None:
    assert lowered("MEDIA", 0x18) == "media"


@given(st.lists(RAW, max_size=10))
def test_checksums_of_many_names_are_those_of_each(names: list[bytes]) -> None:
    assert checksums(rows(*names)).tolist() == [long_name_checksum(name) for name in names]


def found(*pieces: bytes, folders: list[int] | None = None) -> LongNames:
    """The long names in a folder of these slots."""
    slots = np.frombuffer(b"".join(pieces), SHORT_SLOTS)
    return long_names(slots, np.array(folders or [0] * len(slots), np.int64))


def short(name: bytes = PROMO, attributes: int = 0x20) -> bytes:
    return ShortEntry(name, attributes).compose()


def units(name: str) -> int:
    return len(name.encode("utf-16-le", "surrogatepass")) // 2


NAMES = st.text(st.characters(exclude_characters="\0"), min_size=1, max_size=255).filter(
    lambda name: units(name) <= 255 and name not in (".", "..")
)


@given(NAMES)
def test_any_long_name_comes_out_as_it_was_put_in(name: str) -> None:
    slots = long_name_slots(name, PROMO)
    count = -(-units(name) // 13)
    assert len(slots) == 32 * count
    assert found(slots, short()) == LongNames({count: name}, [])


@given(st.lists(st.one_of(NAMES, st.none()), max_size=5))
def test_many_names_in_one_folder_stay_apart(names: list[str | None]) -> None:
    slots, wanted = b"", {}
    for number, name in enumerate(names):
        own = b"F%07dMP4" % number
        slots += long_name_slots(name, own) if name else b""
        if name:
            wanted[len(slots) // 32] = name
        slots += short(own)
    assert found(slots) == LongNames(wanted, [])


@pytest.mark.parametrize(("length", "pieces"), [(1, 1), (13, 1), (14, 2), (26, 2), (27, 3), (255, 20)])
def test_a_name_takes_a_slot_for_each_thirteen_units(length: int, pieces: int) -> None:
    assert len(long_name_slots("n" * length, PROMO)) == 32 * pieces


def test_pieces_stand_last_first_and_the_name_ends_in_a_null_and_ones() -> None:
    """Specification, "Name": NUL, then FFFFh; neither where the length is a multiple of 13."""
    slots = long_name_slots("Spring seeds film", PROMO)
    assert [slots[0], slots[32]] == [0x42, 1]
    assert slots[1:11] == "film"[0:4].encode("utf-16-le") + b"\0\0"
    assert slots[14:26] == b"\xff" * 12
    assert b"\xff" not in long_name_slots("n" * 13, PROMO)


@pytest.mark.parametrize("name", ["", "n" * 256])
def test_a_name_of_no_or_too_many_letters_cannot_be_kept(name: str) -> None:
    with pytest.raises(ValueError, match="1 to 255"):
        long_name_slots(name, PROMO)


def pieces(name: str = "The second loop of this spring.mp4", raw: bytes = PROMO) -> list[bytes]:
    slots = long_name_slots(name, raw)
    return [slots[place : place + 32] for place in range(0, len(slots), 32)]


A, B, C = pieces()  # 0x43, 2, 1
DELETED = b"\xe5" + C[1:]


@pytest.mark.parametrize(
    ("slots", "faults"),
    [
        ([A, B, C, short(OTHER)], [(0, 3, "checksum")]),
        ([A, B, short()], [(0, 2, "sequence")]),
        ([A, C, short()], [(0, 2, "sequence")]),
        ([B, C, short()], [(0, 2, "sequence")]),
        ([A, C, B, short()], [(0, 3, "sequence")]),
        ([A, B, DELETED, short()], [(0, 2, "orphan")]),
        ([A, B, C], [(0, 3, "orphan")]),
        ([A, B, C, b"\xe5" + short()[1:]], [(0, 3, "orphan")]),
        ([A, B, C, A, B, C, short()], [(0, 3, "orphan")]),
        ([b"\x40" + C[1:], short()], [(0, 1, "sequence")]),
        ([b"\x00" + C[1:], short()], [(0, 1, "sequence")]),
        ([b"\x7f" + C[1:], short()], [(0, 1, "sequence")]),
        ([b"\xc1" + C[1:], short()], [(0, 1, "sequence")]),
        ([C[:13] + b"\0" + C[14:], short()], [(0, 1, "sequence")]),
        ([A[:13] + b"\0" + A[14:], B, C, short()], [(0, 3, "sequence")]),
        ([short(), C, short(OTHER)], [(1, 2, "sequence")]),
    ],
)
def test_pieces_that_make_no_name_are_a_fault(slots: list[bytes], faults: list[tuple[int, int, str]]) -> None:
    assert found(*slots).faults == faults


def test_a_good_name_behind_a_broken_one_is_whole() -> None:
    assert found(A, B, C, A, B, C, short()).texts == {6: "The second loop of this spring.mp4"}


def test_names_do_not_reach_from_one_folder_into_the_next() -> None:
    assert found(A, B, C, short(), folders=[0, 0, 0, 1]) == LongNames({}, [(0, 3, "orphan")])
    assert found(A, B, C, short(), folders=[0, 0, 1, 1]) == LongNames(
        {}, [(0, 2, "orphan"), (2, 3, "sequence")]
    )


@pytest.mark.parametrize("name", [".", ".."])
def test_a_long_name_that_would_lead_elsewhere_is_a_fault(name: str) -> None:
    assert found(long_name_slots(name, PROMO), short()).faults == [(0, 1, "sequence")]


def test_an_empty_long_name_is_a_fault() -> None:
    (slot,) = pieces("n")
    empty = slot[:1] + b"\0\0" + slot[3:]
    assert found(empty, short()).faults == [(0, 1, "sequence")]


def test_what_cannot_stand_in_a_path_is_shown_by_its_number() -> None:
    assert shown("a/b\\c\nd") == (r"a\x2fb\x5cc\x0ad", True)
    assert shown("half \ud83c") == (r"half \ud83c", False)
    assert shown("水やり 🌱.mp4") == ("水やり 🌱.mp4", True)


@given(st.binary(max_size=32 * 12))
def test_any_bytes_give_names_or_faults(raw: bytes) -> None:
    slots = raw[: len(raw) // 32 * 32]
    result = found(slots)
    count = len(slots) // 32
    assert all(0 < slot < count for slot in result.texts)
    assert all(0 <= start < stop <= count for start, stop, _ in result.faults)


def test_the_code_page_of_short_names_has_a_letter_for_every_byte() -> None:
    assert len(bytes(range(256)).decode(CODE_PAGE)) == 256
