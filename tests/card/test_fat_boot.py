"""The geometry of a FAT volume follows the formulas of the specification, and nonsense is refused in words.

Source: Microsoft FAT32 File System Specification 1.03, "FAT Type Determination" and the BPB tables.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.card.damages import Damages
from mediacheck.card.fat_boot import (
    Geometry,
    check_backup,
    check_boot,
    clusters_of,
    geometry_of,
    held_bytes,
    is_fat,
    read_boot,
    type_of,
    why_impossible,
)
from mediacheck.card.fat_layout import FAT12, FAT16, FAT32, BootSector, Fat32Fields, FatType
from mediacheck.card.medium import Window
from mediacheck.errors import CardError
from tests.card.fat_images import KINDS, make
from tests.card.media import Bytes, image
from tests.card.test_fat_layout import NEW, OLD

SECTOR_BYTES = (512, 1024, 2048, 4096)
SECTORS_PER_CLUSTER = (1, 2, 4, 8, 16, 32, 64, 128)


def with_clusters(clusters: int, boot: BootSector = OLD, sector_bytes: int = 512, per: int = 1) -> BootSector:
    """A boot sector of a volume with exactly so many clusters, and tables that are long enough for them."""
    bits = 32 if boot.fat32 else 16
    table = -(-(clusters + 2) * bits // 8 // sector_bytes)
    root_sectors = -(-boot.root_slots * 32 // sector_bytes)
    sectors = boot.reserved_sectors + 2 * table + root_sectors + clusters * per + per - 1
    fields = replace(boot.fat32, fat_sectors=table, flags=0) if boot.fat32 else None
    return replace(
        boot,
        sector_bytes=sector_bytes,
        sectors_per_cluster=per,
        sectors_16=0,
        sectors_32=sectors,
        fat_sectors_16=0 if fields else table,
        fat32=fields,
    )


def told(boot: BootSector) -> tuple[str, ...]:
    """What is said of a boot sector by itself."""
    damages = Damages()
    check_boot(boot, geometry_of(boot), damages)
    return tuple(damage.what for damage in damages.listed)


@pytest.mark.parametrize(
    ("clusters", "kind"), [(1, FAT12), (4084, FAT12), (4085, FAT16), (65524, FAT16), (65525, FAT32)]
)
def test_the_kind_is_told_by_the_number_of_clusters_alone(clusters: int, kind: FatType) -> None:
    assert type_of(clusters) is kind


@pytest.mark.parametrize(
    ("clusters", "boot", "kind"),
    [(4084, OLD, FAT12), (4085, OLD, FAT16), (65524, OLD, FAT16), (65525, NEW, FAT32)],
)
def test_the_borders_hold_for_whole_boot_sectors(clusters: int, boot: BootSector, kind: FatType) -> None:
    made = with_clusters(clusters, boot)
    assert (clusters_of(made), geometry_of(made).type) == (clusters, kind)
    assert told(made) == ()


@pytest.mark.parametrize(
    ("clusters", "boot", "laid_out", "counted"),
    [(65525, OLD, "FAT16", "FAT32"), (65524, NEW, "FAT32", "FAT16"), (4084, NEW, "FAT32", "FAT12")],
)
def test_a_layout_that_the_number_of_clusters_contradicts_is_told(
    clusters: int, boot: BootSector, laid_out: str, counted: str
) -> None:
    made = with_clusters(clusters, boot)
    assert geometry_of(made).type.name == laid_out
    assert told(made) == (
        f"the card is laid out as {laid_out}, but has {clusters:,} clusters, which makes it {counted}: some "
        "players find nothing on it",
    )


@pytest.mark.parametrize("sector_bytes", SECTOR_BYTES)
@pytest.mark.parametrize("per", SECTORS_PER_CLUSTER)
@pytest.mark.parametrize("boot", [OLD, NEW])
def test_every_part_lies_where_the_formulas_put_it(sector_bytes: int, per: int, boot: BootSector) -> None:
    clusters = 70_000 if boot.fat32 else 5_000
    made = with_clusters(clusters, boot, sector_bytes, per)
    root_bytes = 0 if boot.fat32 else 512 * 32
    root_sectors = -(-root_bytes // sector_bytes)
    fats_end = 1 + 2 * made.fat_sectors
    assert geometry_of(made) == Geometry(
        type=FAT32 if boot.fat32 else FAT16,
        sector_bytes=sector_bytes,
        cluster_bytes=per * sector_bytes,
        clusters=clusters,
        size_bytes=made.sectors_32 * sector_bytes,
        fat_start_byte=sector_bytes,
        fat_bytes=made.fat_sectors * sector_bytes,
        fats=2,
        active_fat=0,
        mirrored=True,
        root_start_byte=fats_end * sector_bytes,
        root_bytes=root_bytes,
        root_cluster=2 if boot.fat32 else 0,
        data_start_byte=(fats_end + root_sectors) * sector_bytes,
    )
    assert geometry_of(made).entries == clusters + 2


def test_an_active_table_is_used_where_the_copies_are_not_kept_alike() -> None:
    made = with_clusters(70_000, NEW)
    assert made.fat32
    one = geometry_of(replace(made, fat32=replace(made.fat32, flags=0x0081)))
    assert (one.active_fat, one.mirrored) == (1, False)
    assert geometry_of(replace(made, fat32=replace(made.fat32, flags=0x0001))).mirrored


def test_a_table_that_is_too_short_bounds_the_clusters() -> None:
    made = replace(with_clusters(5_000), fat_sectors_16=10)
    assert geometry_of(made).clusters == 10 * 512 // 2 - 2
    assert told(made) == (
        "the table of clusters is too short: it tells of 2,558 clusters, but the file system has "
        f"{clusters_of(made):,}",
    )


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ({"sector_bytes": 0}, "it says that a sector holds 0 bytes"),
        ({"sector_bytes": 8192}, "it says that a sector holds 8,192 bytes"),
        ({"sectors_per_cluster": 0}, "it says that a cluster holds 0 sectors"),
        ({"sectors_per_cluster": 3}, "it says that a cluster holds 3 sectors"),
        ({"reserved_sectors": 0}, "it leaves no room for itself or for the table of clusters"),
        ({"fats": 0}, "it leaves no room for itself or for the table of clusters"),
        ({"sectors_32": 0}, "it leaves no room for files"),
        ({"sectors_32": 30}, "it leaves no room for files"),
    ],
)
def test_a_boot_sector_by_which_nothing_can_be_found_is_refused(change: dict[str, int], reason: str) -> None:
    broken = replace(with_clusters(5_000), **change)  # type: ignore[arg-type]  # whole numbers only
    assert why_impossible(broken) == reason
    with pytest.raises(CardError) as caught:
        read_boot(Bytes(broken.compose()), Damages())
    assert str(caught.value) == f"the boot sector is broken, and nothing can be found without it: {reason}"
    assert not is_fat(broken.compose())


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        (
            {"signature": 0},
            "the boot sector lacks its last two bytes, 55 AA: players may not recognise the card",
        ),
        (
            {"jump": bytes(3)},
            "the boot sector does not begin as one must: players may not recognise the card",
        ),
        ({"media": 0x12}, "the boot sector names a kind of medium that does not exist (12h)"),
        ({"root_slots": 0}, "the boot sector leaves no room for the root folder"),
    ],
)
def test_a_field_that_cannot_be_is_told(change: dict[str, object], fault: str) -> None:
    made = with_clusters(5_000)
    assert told(made) == ()
    assert told(replace(made, **change)) == (fault,)  # type: ignore[arg-type]  # of the fields' own types


def test_fields_that_fat32_cannot_have_are_told() -> None:
    made = with_clusters(70_000, NEW)
    assert made.fat32
    assert told(made) == ()
    assert told(replace(made, root_slots=16)) == (
        "the boot sector sets room aside for a root folder as FAT12 and FAT16 have it, not FAT32",
    )
    assert told(replace(made, fat32=replace(made.fat32, version=0x100))) == (
        "the boot sector asks for a version of FAT32 that does not exist",
    )
    assert told(replace(made, fat32=replace(made.fat32, flags=0x82))) == (
        "the boot sector says that a table of clusters is in use which does not exist",
    )


@given(st.binary(min_size=90, max_size=90))
def test_any_possible_boot_sector_has_a_geometry_that_can_be_walked(start: bytes) -> None:
    boot = BootSector.parse(start.ljust(512, b"\0"))
    if why_impossible(boot) is None:
        found = geometry_of(boot)
        assert 1 <= found.clusters <= clusters_of(boot)
        assert 0 <= found.active_fat < found.fats
        assert found.data_start_byte >= found.fat_start_byte + found.fats * found.fat_bytes
        check_boot(boot, found, Damages())


def copies(first: bytes, backup: bytes, at_byte: int = 6 * 512) -> Bytes:
    return Bytes(image(at_byte + 512, [(0, first), (at_byte, backup)]))


def room_for_backup(sector_bytes: int = 512) -> BootSector:
    made = with_clusters(70_000, replace(NEW, reserved_sectors=32), sector_bytes)
    return replace(made, label=b"GARDEN     ")


def backup_told(first: BootSector, backup: bytes) -> tuple[str, ...]:
    damages = Damages()
    check_backup(first, geometry_of(first), copies(first.compose(), backup), damages)
    return tuple(damage.what for damage in damages.listed)


def test_a_backup_that_differs_is_told_by_the_fields_in_words() -> None:
    boot = room_for_backup()
    assert boot.fat32
    assert backup_told(boot, boot.compose()) == ()
    assert backup_told(boot, replace(boot, nt_flags=boot.nt_flags ^ 3).compose()) == ()
    other = replace(boot, serial=1, label=b"SEEDS      ", boot_code=b"\x01", drive=0, jump=b"\xeb\x00\x90")
    words = "the code that starts a computer, the serial number, the label"
    assert backup_told(boot, other.compose()) == (f"the boot sector and its backup copy differ: {words}",)
    assert backup_told(boot, replace(boot, fat32=replace(boot.fat32, root_cluster=3)).compose()) == (
        "the boot sector and its backup copy differ: the fields that only FAT32 has",
    )
    assert backup_told(boot, bytes(512)) == ("the backup copy of the boot sector is empty",)
    assert backup_told(boot, b"") == ("the backup copy of the boot sector is empty",)


@pytest.mark.parametrize("sector", [0, 0xFFFF, 32])
def test_no_backup_is_looked_for_where_none_is_kept(sector: int) -> None:
    boot = room_for_backup()
    assert boot.fat32
    alone = replace(boot, fat32=replace(boot.fat32, backup_sector=sector))
    assert backup_told(alone, bytes(512)) == ()


@pytest.mark.parametrize("sector_bytes", SECTOR_BYTES)
def test_a_lost_boot_sector_is_replaced_by_its_backup(sector_bytes: int) -> None:
    boot, damages = room_for_backup(sector_bytes), Damages()
    assert read_boot(copies(bytes(512), boot.compose(), 6 * sector_bytes), damages) == boot
    reason = "it says that a sector holds 0 bytes"
    assert [damage.what for damage in damages.listed] == [
        f"the boot sector is broken ({reason}): only its backup copy tells where the files are"
    ]


def test_a_backup_elsewhere_than_it_says_is_not_taken() -> None:
    boot = room_for_backup(1024)
    with pytest.raises(CardError):
        read_boot(copies(bytes(512), boot.compose(), 6 * 512), Damages())


def test_a_medium_shorter_than_a_boot_sector_is_refused() -> None:
    with pytest.raises(CardError, match="it cannot be read"):
        read_boot(Bytes(OLD.compose()[:511]), Damages())


def test_a_window_holds_no_more_than_its_medium_has() -> None:
    whole = Bytes(bytes(1000))
    assert held_bytes(whole) == 1000
    assert held_bytes(Window(whole, 100, 500)) == 500
    assert held_bytes(Window(whole, 900, 500)) == 100
    assert held_bytes(Window(Window(whole, 500, 5000), 400, 5000)) == 100
    assert held_bytes(Window(whole, 2000, 500)) == 0


@pytest.mark.parametrize("sector_bytes", SECTOR_BYTES)
@pytest.mark.parametrize("fat", KINDS)
def test_what_mkfs_makes_is_recognised(fat: int, sector_bytes: int, tmp_path: Path) -> None:
    made = make(tmp_path / "card.img", fat, sector_bytes=sector_bytes)
    with made.open("rb") as file:
        first = file.read(512)
    assert is_fat(first)
    boot = BootSector.parse(first)
    assert geometry_of(boot).type.name == f"FAT{fat}"
    assert told(boot) == ()


def test_recognition_needs_one_of_the_two_marks_of_a_boot_sector() -> None:
    boot = with_clusters(5_000)
    assert is_fat(boot.compose())
    assert is_fat(replace(boot, signature=0).compose())
    assert is_fat(replace(boot, jump=bytes(3)).compose())
    assert is_fat(replace(boot, jump=b"\xe9\x00\x00", signature=0).compose())
    assert not is_fat(replace(boot, jump=bytes(3), signature=0).compose())
    assert not is_fat(boot.compose()[:511])


def ntfs() -> bytes:
    """The boot sector of NTFS: sectors and clusters stand as in FAT, the rest is 0 (from memory)."""
    boot = replace(
        OLD, maker=b"NTFS    ", reserved_sectors=0, fats=0, root_slots=0, sectors_16=0, boot_code=b""
    )
    return replace(boot, fat_sectors_16=0, sectors_32=0, fat32=Fat32Fields(0, 0, 0, 0, 0, 0)).compose()


def exfat() -> bytes:
    """exFAT specification, 3.1: 53 zeros behind the name."""
    return image(512, [(0, b"\xeb\x76\x90EXFAT   "), (64, b"\x01" * 48), (510, b"\x55\xaa")])


def mbr(kind: int, code: bytes = b"\x33\xc0\x8e\xd0\xbc\x00\x7c" * 20) -> bytes:
    """A partition table with one part; EEh is what stands before a GPT. The code begins as usual."""
    entry = bytes([0x80, 1, 1, 0, kind, 0xFE, 0xFF, 0xFF, 0, 8, 0, 0, 0, 0, 1, 0])
    return image(512, [(0, code), (446, entry), (510, b"\x55\xaa")])


@pytest.mark.parametrize(
    "sector",
    [
        ntfs(),
        exfat(),
        mbr(0x0C),
        mbr(0xEE, b""),
        mbr(0x0C, b"\xeb\x63\x90"),
        bytes(512),
        b"\xff" * 512,
        b"\x55\xaa" * 256,
        image(512, [(510, b"\x55\xaa")]),
    ],
    ids=["NTFS", "exFAT", "MBR", "GPT", "MBR with a jump", "zeros", "ones", "pattern", "signature only"],
)
def test_other_first_sectors_are_not_taken_for_fat(sector: bytes) -> None:
    assert len(sector) == 512
    assert not is_fat(sector)
