"""The worst that an image of 4 MiB can hold: folders and files everywhere, each leading anywhere."""

from __future__ import annotations

import random
import struct
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from mediacheck.card.exfat_entries import FileEntry, StreamEntry, compose_entry_set
from mediacheck.card.exfat_layout import BootSector as ExfatBoot
from mediacheck.card.exfat_layout import compose_boot_region
from mediacheck.card.fat_layout import BootSector, Fat32Fields
from mediacheck.card.fat_slots import ShortEntry

ROOT = Path(__file__).parents[2]
CLUSTER_BYTES = 512
CLUSTERS = (4 << 20) // CLUSTER_BYTES
FAT_SECTORS = -(-(CLUSTERS + 2) * 4 // CLUSTER_BYTES)
END = 0x0FFFFFFF
SECONDS_MAX, MEMORY_BYTES_MAX = 2.0, 200_000_000

OPEN = """
import sys, time
from pathlib import Path
from mediacheck.card.opening import open_card
from tests.card.mutation_run import peak_memory_bytes
start = time.process_time()
card = open_card(Path(sys.argv[1]))
seconds = time.process_time() - start
print(seconds, peak_memory_bytes(), len(card.entries) + len(card.folders), len(card.damage))
"""


def fat(contents: Callable[[random.Random], bytes], chained: bool) -> bytes:
    """FAT32 with a FAT of single clusters, or of chains that lead anywhere, and a whole heap of slots."""
    chance, reserved = random.Random(8), 32
    sectors = reserved + FAT_SECTORS + CLUSTERS
    fields = Fat32Fields(FAT_SECTORS, 0, 0, 2, 0, 0)
    shape = (b"\xeb\x58\x90", b"GARDEN  ", 512, 1, reserved, 1, 0, 0, 0xF8, 0, 63, 255, 0, sectors, fields)
    boot = BootSector(*shape, 0x80, 0, 0x29, 1, b"NO NAME    ", b"FAT32   ", b"")
    entries = [chance.randrange(2, CLUSTERS + 2) if chained else END for _ in range(CLUSTERS)]
    table = struct.pack(f"<{CLUSTERS + 2}I", 0x0FFFFFF8, END, *entries)
    heap = b"".join(contents(chance) for _ in range(CLUSTERS))
    return boot.compose().ljust(reserved * 512, b"\0") + table.ljust(FAT_SECTORS * 512, b"\0") + heap


def fat_folders(chance: random.Random) -> bytes:
    """A cluster of folders."""
    return b"".join(_slot(chance, 0x10) for _ in range(16))


def fat_mixture(chance: random.Random) -> bytes:
    """A cluster of folders and files."""
    return b"".join(_slot(chance, chance.choice((0x10, 0x20))) for _ in range(16))


def _slot(chance: random.Random, attributes: int) -> bytes:
    name = b"%08X   " % chance.getrandbits(32)
    head = chance.randrange(2, CLUSTERS + 2)
    return ShortEntry(name, attributes, cluster_low=head & 0xFFFF, cluster_high=head >> 16).compose()


def exfat(contents: Callable[[random.Random], bytes], chained: bool) -> bytes:
    """The same for exFAT, with boot sectors that are believed."""
    chance, fat_offset = random.Random(8), 24
    heap_offset = fat_offset + FAT_SECTORS
    boot = ExfatBoot(heap_offset + CLUSTERS, fat_offset, FAT_SECTORS, heap_offset, CLUSTERS, 2, 1, 9, 0)
    last = 0xFFFFFFFF
    entries = [chance.randrange(2, CLUSTERS + 2) if chained else last for _ in range(CLUSTERS)]
    table = struct.pack(f"<{CLUSTERS + 2}I", 0xFFFFFFF8, last, *entries)
    heap = b"".join(contents(chance) for _ in range(CLUSTERS))
    return compose_boot_region(boot) * 2 + table.ljust(FAT_SECTORS * 512, b"\0") + heap


def exfat_folders(chance: random.Random) -> bytes:
    """A cluster of folders, and no end."""
    return b"".join(_set(chance, 0x10, 512, 1) for _ in range(5)).ljust(CLUSTER_BYTES, b"\x05")


def exfat_mixture(chance: random.Random) -> bytes:
    """A cluster of folders and files, in one piece or by the FAT."""
    sets = (
        _set(chance, chance.choice((0x10, 0x20)), chance.randrange(1, 9) * 512, chance.choice((1, 3)))
        for _ in range(5)
    )
    return b"".join(sets).ljust(CLUSTER_BYTES, b"\x05")


def _set(chance: random.Random, attributes: int, size: int, flags: int) -> bytes:
    stream = StreamEntry(0, 0, size, chance.randrange(2, CLUSTERS + 2), size, flags)
    return compose_entry_set(FileEntry(file_attributes=attributes), stream, f"{chance.getrandbits(32):08X}")


@pytest.mark.parametrize(
    ("make", "contents", "chained"),
    [
        (fat, fat_folders, False),
        (fat, fat_mixture, True),
        (exfat, exfat_folders, False),
        (exfat, exfat_mixture, True),
    ],
    ids=["FAT folders", "FAT mixture", "exFAT folders", "exFAT mixture"],
)
def test_folders_and_files_everywhere_end_in_damage(
    make: Callable[[Callable[[random.Random], bytes], bool], bytes],
    contents: Callable[[random.Random], bytes],
    chained: bool,
    tmp_path: Path,
) -> None:
    image = tmp_path / "card.img"
    image.write_bytes(make(contents, chained))
    command = [sys.executable, "-c", OPEN, str(image)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False, timeout=120)
    assert done.returncode == 0, done.stderr
    seconds, memory_bytes, listed, damages = map(float, done.stdout.split())
    assert seconds < SECONDS_MAX
    assert memory_bytes < MEMORY_BYTES_MAX
    assert listed > 1_000
    assert damages == 201
