"""Tables of partitions: what sgdisk makes is read as sgdisk says it, and what is broken is named."""

from __future__ import annotations

import uuid
from collections.abc import Iterator, Sequence
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.card.gpt_layout import BASIC_DATA, GptEntry, GptHeader, gpt_pieces
from mediacheck.card.mbr_layout import Mbr, MbrEntry
from mediacheck.card.medium import Aligned, Window, open_medium
from mediacheck.card.partitions import Part, Partitions, read_partitions
from tests.card.card_programs import run
from tests.card.media import Bytes, Device, image

MIB = 1 << 20
SECTORS = 16 * MIB // 512


def read(data: bytes) -> Partitions:
    return read_partitions(Bytes(data))


def read_file(path: Path) -> Partitions:
    medium = open_medium(str(path))
    try:
        return read_partitions(medium)
    finally:
        medium.close()


def told(found: Partitions) -> list[str]:
    return [damage.what for damage in found.damage]


def mbr_image(*entries: MbrEntry, pieces: Sequence[tuple[int, bytes]] = ()) -> bytes:
    return image(16 * MIB, ((0, Mbr.of(*entries).compose()), *pieces))


def gpt_image(*entries: GptEntry, sector_bytes: int = 512) -> bytes:
    disk = uuid.UUID(int=7)
    return image(16 * MIB, gpt_pieces(16 * MIB // sector_bytes, sector_bytes, entries, disk))


def basic(first_sector: int, last_sector: int) -> GptEntry:
    return GptEntry(BASIC_DATA, uuid.UUID(int=first_sector + 1), first_sector, last_sector)


def changed(data: bytes, place: int, new: bytes) -> bytes:
    return data[:place] + new + data[place + len(new) :]


@pytest.fixture(scope="module")
def fat16(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """A file system of 8 MiB, with a boot sector that ends as an MBR does."""
    path = tmp_path_factory.mktemp("fat") / "fat.img"
    path.write_bytes(bytes(8 * MIB))
    run("mkfs.fat", "-F", "16", "-s", "1", path)
    return path.read_bytes()


# No table


def test_a_file_system_over_the_whole_card_is_no_table(fat16: bytes) -> None:
    assert fat16[510:512] == b"\x55\xaa"
    assert read(fat16) == Partitions("none", (), ())


def test_a_boot_sector_that_holds_a_table_for_show_is_no_table(fat16: bytes) -> None:
    """mkfs.fat --mbr writes one, so that Windows reads the card."""
    entry = MbrEntry.of(0x06, 0, len(fat16) // 512, active=True)
    assert read(changed(fat16, 446, entry.compose())) == Partitions("none", (), ())


@pytest.mark.parametrize("size_bytes", [0, 100, 512, MIB])
def test_a_blank_card_has_no_table(size_bytes: int) -> None:
    assert read(bytes(size_bytes)) == Partitions("none", (), ())


def test_a_boot_sector_of_ntfs_is_no_table() -> None:
    sector = b"\xeb\x52\x90NTFS    ".ljust(510, b"\0") + b"\x55\xaa"
    assert read(sector + bytes(MIB)) == Partitions("none", (), ())


def test_a_start_up_program_before_another_file_system_is_no_table() -> None:
    ext = image(MIB, ((510, b"\x55\xaa"), (1080, b"\x53\xef")))
    assert read(ext) == Partitions("none", (), ())


def test_what_ends_as_an_mbr_and_marks_parts_in_no_known_way_is_no_table() -> None:
    assert read(b"\xf4" * 510 + b"\x55\xaa" + bytes(MIB)) == Partitions("none", (), ())


# MBR


def test_an_mbr_that_sgdisk_made_is_read_as_sgdisk_was_told(tmp_path: Path) -> None:
    path = tmp_path / "card.img"
    path.write_bytes(bytes(16 * MIB))
    parts = ("--new=1:2048:10239", "--typecode=1:0c01", "--new=2:10240:20479", "--typecode=2:0700")
    run("sgdisk", *parts, path)
    run("sgdisk", "--gpttombr=1:2", path)
    assert read_file(path) == Partitions(
        "MBR",
        (
            Part(1, 2048 * 512, 8192 * 512, "FAT32"),
            Part(2, 10240 * 512, 10240 * 512, "exFAT or NTFS"),
        ),
        (),
    )


def test_empty_places_in_an_mbr_keep_their_numbers() -> None:
    found = read(mbr_image(MbrEntry(), MbrEntry(), MbrEntry.of(0x0C, 2048, 2048)))
    assert found == Partitions("MBR", (Part(3, MIB, MIB, "FAT32"),), ())


def test_an_mbr_without_parts_is_a_table_without_parts() -> None:
    assert read(mbr_image()) == Partitions("MBR", (), ())


@pytest.mark.parametrize("sector_bytes", [1024, 2048, 4096])
def test_an_image_of_larger_sectors_is_told_by_the_boot_sector_at_its_place(
    fat16: bytes, sector_bytes: int
) -> None:
    sectors = len(fat16) // sector_bytes
    data = mbr_image(MbrEntry.of(0x06, 256, sectors), pieces=((256 * sector_bytes, fat16),))
    assert read(data) == Partitions("MBR", (Part(1, 256 * sector_bytes, len(fat16), "FAT16"),), ())


def test_a_device_tells_the_size_of_its_sectors() -> None:
    data = mbr_image(MbrEntry.of(0x0C, 256, 256))
    assert read_partitions(Aligned(Device(data, 4096))).parts == (Part(1, MIB, MIB, "FAT32"),)


def logical_chain(outer: int, inner: Sequence[tuple[int, int]], last_link: int | None = None) -> bytes:
    """An extended part from sector `outer` on with logical ones: the place of each list, and its length."""
    pieces = []
    for number, (place, sectors) in enumerate(inner):
        links = [other for other, _ in inner[number + 1 : number + 2]]
        link = links[0] if links else last_link
        entries = [MbrEntry.of(0x0B, 64, sectors)]
        if link is not None:
            entries.append(MbrEntry.of(0x05, link, 128))
        pieces.append(((outer + place) * 512, Mbr.of(*entries).compose()))
    return mbr_image(MbrEntry.of(0x0B, 64, 1024), MbrEntry.of(0x0F, outer, 8192), pieces=pieces)


def test_logical_parts_are_counted_from_five_and_placed_by_both_starts() -> None:
    """The part counts from its own list, the next list from the start of the outer part (from memory)."""
    found = read(logical_chain(2048, [(0, 512), (1024, 256), (4096, 128)]))
    assert found == Partitions(
        "MBR",
        (
            Part(1, 64 * 512, 1024 * 512, "FAT32"),
            Part(5, (2048 + 64) * 512, 512 * 512, "FAT32"),
            Part(6, (2048 + 1024 + 64) * 512, 256 * 512, "FAT32"),
            Part(7, (2048 + 4096 + 64) * 512, 128 * 512, "FAT32"),
        ),
        (),
    )


def test_the_boot_sector_of_a_logical_part_is_not_taken_for_the_sign_of_larger_sectors(fat16: bytes) -> None:
    """The list stands in sector 2048 and the part begins in 4096, as usual: the 2048th of 1024 bytes."""
    sectors = len(fat16) // 512
    listed = Mbr.of(MbrEntry.of(0x06, 2048, sectors)).compose()
    pieces = ((2048 * 512, listed), (4096 * 512, fat16))
    found = read(mbr_image(MbrEntry.of(0x0F, 2048, 2048 + sectors), pieces=pieces))
    assert found == Partitions("MBR", (Part(5, 4096 * 512, len(fat16), "FAT16"),), ())


def test_a_list_of_logical_parts_that_leads_back_ends_in_damage() -> None:
    found = read(logical_chain(2048, [(0, 512), (1024, 256)], last_link=0))
    assert [part.number for part in found.parts] == [1, 5, 6]
    assert told(found) == ["the list of the card's logical parts leads back to itself"]


def test_a_list_of_logical_parts_without_end_ends_in_damage() -> None:
    found = read(logical_chain(2048, [(place, 1) for place in range(300)]))
    assert len(found.parts) == 257
    assert told(found) == ["the list of the card's logical parts has no end"]


def test_a_list_of_logical_parts_that_breaks_off_is_damage() -> None:
    data = logical_chain(2048, [(0, 512), (1024, 256)])
    found = read(changed(data, (2048 + 1024) * 512, bytes(512)))
    assert [part.number for part in found.parts] == [1, 5]
    assert told(found) == ["the list of the card's logical parts breaks off: parts may be missing"]


def test_a_list_of_logical_parts_that_leads_outside_is_damage() -> None:
    found = read(logical_chain(2048, [(0, 512)], last_link=8192))
    assert [part.number for part in found.parts] == [1, 5]
    assert told(found) == ["the list of the card's logical parts leads outside of the part that holds them"]


# Either


@pytest.mark.parametrize(
    ("entries", "damage"),
    [
        (
            (MbrEntry.of(0x0C, 2048, SECTORS - 2047),),
            ["part 1 of the card ends beyond the end of the card"],
        ),
        (
            (MbrEntry.of(0x0C, SECTORS, 1),),
            ["part 1 of the card lies beyond the end of the card"],
        ),
        (
            (MbrEntry.of(0x0C, 2**32 - 1, 2**32 - 1),),
            ["part 1 of the card lies beyond the end of the card"],
        ),
        (
            (MbrEntry.of(0x0C, 4096, 2048), MbrEntry.of(0x83, 2048, 2049)),
            ["parts 1 and 2 of the card overlap: what is written into one destroys the other"],
        ),
        (
            (MbrEntry.of(1, 100, 900), MbrEntry.of(1, 200, 10), MbrEntry.of(1, 999, 1)),
            [
                "parts 1 and 2 of the card overlap: what is written into one destroys the other",
                "parts 1 and 3 of the card overlap: what is written into one destroys the other",
            ],
        ),
        ((MbrEntry(0x0C, 2048, 0),), ["part 1 of the card has no size"]),
        ((MbrEntry.of(0x0C, 2048, 1), MbrEntry.of(0x0C, 2049, SECTORS - 2049)), []),
    ],
)
def test_parts_in_impossible_places_are_damage(entries: tuple[MbrEntry, ...], damage: list[str]) -> None:
    assert told(read(mbr_image(*entries))) == damage


# GPT


@pytest.fixture(scope="module")
def by_sgdisk(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """A GPT with two parts, by sgdisk."""
    path = tmp_path_factory.mktemp("gpt") / "card.img"
    path.write_bytes(bytes(16 * MIB))
    parts = ("--new=1:2048:10239", "--typecode=1:0700", "--new=3:10240:20479", "--typecode=3:8300")
    run("sgdisk", *parts, path)
    assert "No problems found" in run("sgdisk", "--verify", path)
    return path.read_bytes()


SGDISK_PARTS = (
    Part(1, MIB, 4 * MIB, "FAT, exFAT or NTFS"),
    Part(3, 5 * MIB, 5 * MIB, "Linux"),
)


def test_a_gpt_that_sgdisk_made_is_read_as_sgdisk_was_told(by_sgdisk: bytes) -> None:
    assert read(by_sgdisk) == Partitions("GPT", SGDISK_PARTS, ())


@pytest.mark.parametrize("sector_bytes", [512, 1024, 2048, 4096])
def test_a_gpt_counts_in_sectors_of_any_size(sector_bytes: int) -> None:
    found = read(gpt_image(basic(256, 511), sector_bytes=sector_bytes))
    part = Part(1, 256 * sector_bytes, 256 * sector_bytes, "FAT, exFAT or NTFS")
    assert found == Partitions("GPT", (part,), ())


LAST = 16 * MIB - 512
FIRST_CHECKSUM = "the list of the card's parts (GPT) has a wrong checksum"
SPARE_READ = ": its spare copy at the end of the card was read"
SPARE = "the spare copy of the list of the card's parts (GPT), at the end of the card,"


@pytest.mark.parametrize(
    ("place", "new", "damage", "sgdisk_says"),
    [
        pytest.param(512 + 56, b"\xaa\xbb", FIRST_CHECKSUM + SPARE_READ, "Main header: ERROR", id="disk"),
        pytest.param(512 + 16, b"\xaa\xbb", FIRST_CHECKSUM + SPARE_READ, "Main header: ERROR", id="checksum"),
        pytest.param(
            1024 + 32,
            b"\x01",
            "the list of the card's parts (GPT) has a wrong checksum of its entries" + SPARE_READ,
            "Main partition table: ERROR",
            id="entries",
        ),
        pytest.param(
            512,
            b"EFI PARK",
            "the list of the card's parts (GPT) is missing" + SPARE_READ,
            "Main header: ERROR",
            id="signature",
        ),
        pytest.param(
            LAST + 56, b"\xaa\xbb", f"{SPARE} has a wrong checksum", "Backup header: ERROR", id="spare"
        ),
        pytest.param(
            LAST - 32 * 512,
            b"\xaa\xbb",
            f"{SPARE} has a wrong checksum of its entries",
            "CRC for the backup partition table is",
            id="spare entries",
        ),
        pytest.param(LAST, bytes(8), f"{SPARE} is missing", "Backup header: ERROR", id="spare signature"),
        pytest.param(
            0,
            bytes(512),
            "the MBR that keeps old programs off the list of the card's parts (GPT) is missing",
            "corrupt MBR",
            id="MBR",
        ),
    ],
)
def test_each_damage_of_a_gpt_is_named_and_sgdisk_agrees(
    tmp_path: Path, by_sgdisk: bytes, place: int, new: bytes, damage: str, sgdisk_says: str
) -> None:
    broken = changed(by_sgdisk, place, new)
    found = read(broken)
    assert (found.table, found.parts, told(found)) == ("GPT", SGDISK_PARTS, [damage])
    path = tmp_path / "broken.img"
    path.write_bytes(broken)
    assert sgdisk_says in run("sgdisk", "--verify", path)


def test_both_copies_broken_leave_what_can_still_be_read(by_sgdisk: bytes) -> None:
    found = read(changed(changed(by_sgdisk, 512 + 56, b"\xaa\xbb"), LAST + 56, b"\xaa\xbb"))
    assert (found.table, found.parts) == ("GPT", SGDISK_PARTS)
    assert told(found) == [FIRST_CHECKSUM, f"{SPARE} has a wrong checksum"]


def test_both_copies_gone_leave_a_table_without_parts(by_sgdisk: bytes) -> None:
    found = read(changed(changed(by_sgdisk, 512, bytes(512)), LAST, bytes(512)))
    assert (found.table, found.parts) == ("GPT", ())
    assert told(found) == ["the list of the card's parts (GPT) is missing", f"{SPARE} is missing"]


def test_an_image_copied_to_a_larger_card_has_its_spare_list_in_the_wrong_place(
    tmp_path: Path, by_sgdisk: bytes
) -> None:
    larger = by_sgdisk + bytes(MIB)
    found = read(larger)
    assert (found.table, found.parts) == ("GPT", SGDISK_PARTS)
    assert told(found) == [
        "the spare copy of the list of the card's parts (GPT) is not at the end of the card"
    ]
    path = tmp_path / "larger.img"
    path.write_bytes(larger)
    assert "doesn't reside" in run("sgdisk", "--verify", path)


def test_an_image_that_is_cut_off_lacks_its_spare_list_and_the_end_of_its_last_part(
    by_sgdisk: bytes,
) -> None:
    found = read(by_sgdisk[: 8 * MIB])
    assert (found.table, found.parts) == ("GPT", SGDISK_PARTS)
    assert told(found) == [f"{SPARE} is missing", "part 3 of the card ends beyond the end of the card"]


def test_copies_that_differ_are_told() -> None:
    one, other = gpt_image(basic(256, 511)), gpt_image(basic(256, 512))
    assert told(read(one[: 8 * MIB] + other[8 * MIB :])) == [
        "the list of the card's parts (GPT) and its spare copy at the end of the card differ"
    ]


def test_a_part_over_the_list_itself_is_told() -> None:
    found = read(gpt_image(basic(3, 511)))
    assert [part.start_byte for part in found.parts] == [3 * 512]
    assert told(found) == [
        "part 1 of the card reaches beyond the place that the list of the card's parts (GPT) has for parts"
    ]


def test_a_part_that_ends_before_it_begins_has_no_size() -> None:
    found = read(gpt_image(basic(500, 400)))
    assert found.parts == ()
    assert told(found) == ["part 1 of the card has no size"]


def test_absurd_sizes_in_a_header_are_damage() -> None:
    data = gpt_image(basic(256, 511))
    header = GptHeader.parse(data[512:1024])
    assert header is not None
    for entries, entry_bytes in ((2**32 - 1, 128), (128, 2**31), (128, 0), (128, 3)):
        absurd = GptHeader(
            *(1, SECTORS - 1, 34, SECTORS - 34, 2, 0, header.disk, entries, entry_bytes),
        )
        found = read(changed(data, 512, absurd.compose()))
        assert [part.number for part in found.parts] == [1]
        assert told(found) == [
            "the list of the card's parts (GPT) claims an impossible size" + SPARE_READ,
        ]


# Anything


def test_a_card_whose_first_sector_is_worn_out_is_an_os_error() -> None:
    with pytest.raises(OSError, match="Input/output error"):
        read_partitions(Device(bytes(MIB), worn=frozenset({0})))


def test_worn_out_sectors_elsewhere_are_damage(by_sgdisk: bytes) -> None:
    found = read_partitions(Aligned(Device(by_sgdisk, worn=frozenset({1}))))
    assert (found.table, found.parts) == ("GPT", SGDISK_PARTS)
    assert told(found) == ["the list of the card's parts (GPT) is missing" + SPARE_READ]


def seeds() -> Iterator[bytes]:
    yield gpt_image(basic(256, 511), basic(512, 1023))[: 64 << 10]
    yield logical_chain(8, [(0, 8), (16, 8)])[: 64 << 10]
    yield mbr_image(MbrEntry.of(0x0C, 8, 8), MbrEntry.of(0xEE, 1, 8))[: 64 << 10]


@given(
    seed=st.sampled_from(list(seeds())),
    changes=st.lists(
        st.tuples(st.integers(0, 5000), st.binary(min_size=1, max_size=8)), min_size=1, max_size=8
    ),
)
def test_any_damaged_table_is_read_to_an_end(seed: bytes, changes: list[tuple[int, bytes]]) -> None:
    data = seed
    for place, new in changes:
        data = changed(data, place, new)
    found = read(data)
    assert len(found.damage) <= 201
    assert all(part.size_bytes > 0 and part.start_byte >= 0 for part in found.parts)
    assert len({part.number for part in found.parts}) == len(found.parts)
    for part in found.parts:
        Window(Bytes(data), part.start_byte, part.size_bytes).read(0, 512)


@given(st.binary(max_size=2000))
def test_any_bytes_are_read_to_an_end(data: bytes) -> None:
    assert read(data).table in ("none", "MBR", "GPT")
