"""Which file system lies on a medium, told by the marks that each leaves at a fixed place.

It must not list files, and must not trust what a partition's type says.
"""

from __future__ import annotations

from mediacheck.card.device import SECTOR_BYTES
from mediacheck.card.exfat_boot import has_exfat, is_exfat
from mediacheck.card.exfat_layout import BootSector as ExfatBootSector
from mediacheck.card.fat_boot import USUAL_BACKUP_SECTOR, geometry_of, is_fat
from mediacheck.card.fat_layout import BOOT_BYTES, MEDIA, SECTORS_PER_CLUSTER, SIGNATURE, BootSector
from mediacheck.card.medium import Medium
from mediacheck.names import FileSystem

BLANK_BYTES = 1 << 20
"""How much is looked at before a card is called not formatted."""

NTFS_MARK = b"NTFS    "
"""At 3, where FAT has the name of the program that formatted it (Linux, fs/ntfs3/ntfs.h: system_id)."""

HEAD_MARKS: tuple[tuple[int, tuple[bytes, ...], FileSystem], ...] = (
    (32, (b"NXSB",), "APFS"),  # Apple File System Reference: nx_superblock_t, nx_magic
    (1024, (b"H+", b"HX"), "HFS+"),  # Apple, Technical Note TN1150: volume header at 1024; HX ignores no case
    (
        1080,
        (b"\x53\xef",),
        "ext",
    ),  # Linux, fs/ext4/ext4.h: s_magic EF53h, 56 bytes into the superblock at 1024
)
"""Where a mark stands, what it can be, and what it stands for."""

DESCRIPTORS_BYTE = 32768
"""ECMA-119 (ISO 9660), 6.2.1, and ECMA-167, 2/8: the first 32 KiB are left to other programs."""
DESCRIPTOR_BYTES = 2048
DESCRIPTORS_MAX = 64
"""Our own bound: discs have fewer than ten."""
ISO_MARK = b"CD001"
UDF_MARKS = frozenset((b"NSR02", b"NSR03"))
"""ECMA-167, 3/9.1: the descriptor that UDF's standard identifies itself by."""
EXTENDED_AREA = frozenset((b"BEA01", b"BOOT2", b"TEA01"))
"""ECMA-167, part 2: descriptors that stand before and behind it."""


def file_system_at(medium: Medium) -> FileSystem | None:
    """The file system that begins where the medium begins; None where no known mark is found.

    Raises OSError where the medium cannot be read.
    """
    head = medium.read(0, 2 * BOOT_BYTES + DESCRIPTOR_BYTES)
    return boot_sector_of(head[:BOOT_BYTES]) or _marked(head) or _disc(medium)


def boot_sector_of(first_sector: bytes) -> FileSystem | None:
    """The file system whose boot sector this is. It ends in 55 AA as an MBR does, and is none."""
    if first_sector[3:11] == NTFS_MARK:
        return "NTFS"
    if is_exfat(first_sector):
        return "exFAT"
    return geometry_of(BootSector.parse(first_sector)).type.name if is_fat(first_sector) else None


def sectors_before(first_sector: bytes) -> int:
    """How many sectors of the card lie before the part that begins with this boot sector, as it says itself.

    0 where it does not say, and where a file system lies over the whole card. FAT: BPB_HiddSec (FAT32
    specification 1.03); exFAT: PartitionOffset (specification 1.00, 3.1.4).
    """
    if is_exfat(first_sector):
        return ExfatBootSector.parse(first_sector).partition_offset
    return BootSector.parse(first_sector).hidden_sectors if is_fat(first_sector) else 0


def by_backup_at(medium: Medium) -> FileSystem | None:
    """The FAT32 or exFAT file system whose boot sector is lost, told by the backup of it; None without one.

    Raises OSError where the medium cannot be read.
    """
    for unit in SECTOR_BYTES:
        if boot_sector_of(medium.read(USUAL_BACKUP_SECTOR * unit, BOOT_BYTES)) == "FAT32":
            return "FAT32"
    return "exFAT" if has_exfat(medium) else None


def nearly_fat(first_sector: bytes) -> bool:
    """Whether this was the boot sector of a FAT file system, with one of its fields broken."""
    if len(first_sector) < BOOT_BYTES:
        return False
    boot = BootSector.parse(first_sector)
    right = (
        boot.sector_bytes in SECTOR_BYTES,
        boot.sectors_per_cluster in SECTORS_PER_CLUSTER,
        boot.fats in (1, 2),
        boot.media in MEDIA,
        boot.reserved_sectors > 0,
        boot.signature == SIGNATURE,
    )
    return sum(right) >= len(right) - 1


def is_blank(medium: Medium) -> bool:
    """Whether the first MiB is all zero or all FFh, as cards come from the factory or after an erasure.

    A medium of no bytes is not blank. Raises OSError.
    """
    start = medium.read(0, BLANK_BYTES)
    return bool(start) and start in (bytes(len(start)), b"\xff" * len(start))


def _marked(head: bytes) -> FileSystem | None:
    return next((kind for at, marks, kind in HEAD_MARKS if head.startswith(marks, at)), None)


def _disc(medium: Medium) -> FileSystem | None:
    """UDF or ISO 9660. A disc with the marks of both is UDF, as systems mount it so (common practice)."""
    # On sectors larger than 2 KiB each descriptor takes a sector of its own (ECMA-167, 2/8.2).
    steps = (DESCRIPTOR_BYTES, max(SECTOR_BYTES))
    marks = {mark for step_bytes in steps for mark in _descriptor_marks(medium, step_bytes)}
    if marks & UDF_MARKS:
        return "UDF"
    return "ISO 9660" if ISO_MARK in marks else None


def _descriptor_marks(medium: Medium, step_bytes: int) -> list[bytes]:
    """The marks of the descriptors that follow each other from 32 KiB on, as long as they are known ones."""
    marks: list[bytes] = []
    while len(marks) < DESCRIPTORS_MAX:
        mark = medium.read(DESCRIPTORS_BYTE + len(marks) * step_bytes, 6)[1:]
        if mark not in {ISO_MARK} | UDF_MARKS | EXTENDED_AREA:
            break
        marks.append(mark)
    return marks
