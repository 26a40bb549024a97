"""What every reader finds on an image that was built, beside what was asked for.

Readers: ours, fsck.fat and fsck.exfat, mtools, The Sleuth Kit, sfdisk and sgdisk. It must not judge: whoever
asks compares the pairs.

Of files larger than `WHOLE_BYTES_MAX` ours and The Sleuth Kit read the two ends, and mtools nothing. The hash
of the whole image is not known of large ones (`built_images.build`).
"""

from __future__ import annotations

import hashlib
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import BinaryIO, NamedTuple

from mediacheck.card.model import Card
from mediacheck.card.opening import open_card
from mediacheck.card.within import Run, Within
from mediacheck.names import FileSystem
from tests.build.built_images import Built
from tests.card import exfat_images
from tests.card.card_programs import run
from tests.card.fat_images import Hand, must
from tests.card.fat_images import run as run_fat
from tests.card.filled import sized
from tests.card.new_images import END_BYTES, content, folder_paths, walked
from tests.card.sweep_images import written
from tests.card.test_image_sweep import in_disk_order, listed, read_by_mcopy
from tests.card.tsk import LONG_NAME_MAX, read_disk

WHOLE_BYTES_MAX = 40 << 20
MCOPY_FILES_MAX = 600
NAME_BYTES_MAX = 255
"""Of Linux: mcopy cannot put a file under a longer name."""
WRONG_FSCK = "fsck.fat 4.2 (2021-01-31)"
"""It counts the bytes of a file's clusters in 32 bits and gets 0 for 4 GiB, which a file of the greatest
length takes (dosfstools, issue 208: wherever such a file is from; mended in its sources after 4.2)."""
SAMPLES = 3
"""So many files are read by mtype where mcopy cannot bring out all of them."""


class Reading(NamedTuple):
    """One thing that a reader tells, and what it must be."""

    what: str
    found: object
    meant: object


class Row(NamedTuple):
    """A file."""

    path: str
    size_bytes: int
    start_byte: int | None
    """None where it has no place, since it is empty."""
    sha256: str
    """Of all of it, or of its two ends."""


def readings(built: Built) -> Iterator[Reading]:
    """What all readers find."""
    yield from _by_ours(built)
    yield from _by_fsck(built)
    yield from _by_the_sleuth_kit(built)
    if built.plan.shape.file_system != "exFAT":
        yield from _by_mtools(built)
    if built.plan.shape.table == "MBR":
        yield from _by_partitioners(built)
    if built.sha256:
        yield Reading("SHA-256 of the image", _sha256_of(built.image), built.sha256)


def faults(built: Built) -> list[str]:
    """What is not as it must be, in a line each."""
    return [f"{what}: {found!r}, not {meant!r}" for what, found, meant in readings(built) if found != meant]


def rows(built: Built) -> list[Row]:
    """All files in the order that was asked for."""
    places = {placed.path: placed.start_byte for placed in built.plan.laid_out.files}
    return [
        Row(one.path, size, places[one.path] if size else None, _meant_sha256(built, one.path, size))
        for one in walked(built.root)
        for size in (one.new.size_bytes,)
    ]


def _meant_sha256(built: Built, path: str, size_bytes: int) -> str:
    if size_bytes <= WHOLE_BYTES_MAX:
        return built.hashes[path]
    return hashlib.sha256(b"".join(data for _, data in content(path, size_bytes))).hexdigest()


def _by_ours(built: Built) -> Iterator[Reading]:
    card, plan = open_card(built.image), built.plan
    volume = card.volume
    assert volume is not None
    yield Reading("damage", card.damage, ())
    found = (volume.file_system, volume.partition_table, volume.label, volume.cluster_bytes, volume.dirty)
    asked = (plan.shape.file_system, plan.shape.table, plan.volume.label, plan.shape.cluster_bytes, False)
    yield Reading("the volume", found, asked)
    told = (plan.laid_out.capacity_bytes, plan.laid_out.used_bytes, plan.laid_out.free_bytes)
    yield Reading("its space", (volume.capacity_bytes, volume.used_bytes, volume.free_bytes), told)
    image_bytes = plan.shape.image_bytes
    ends = (volume.medium_bytes, volume.claimed_bytes, built.image.stat().st_size)
    yield Reading("where it ends", ends, (image_bytes,) * 3)
    yield Reading("our list", _own_rows(card), rows(built))
    yield Reading("our folders", sorted(card.folders), sorted(folder_paths(built.root)))
    short = Counter((entry.folder, entry.short_name) for entry in card.entries if entry.short_name)
    yield Reading("short names that two files have", [name for name, count in short.items() if count > 1], [])


def _own_rows(card: Card) -> list[Row]:
    found = []
    for entry in card.entries:
        whole = entry.location.whole if isinstance(entry.location, Within) else Run(-1, 0)
        with entry.open() as file:
            sha256 = _sha256_of_ends(file, entry.size_bytes)
        start_byte = whole.start_byte if whole and entry.size_bytes else None
        found.append(Row(entry.path, entry.size_bytes, start_byte, sha256))
    return found


def _sha256_of_ends(file: BinaryIO, size_bytes: int) -> str:
    if size_bytes <= WHOLE_BYTES_MAX:
        return hashlib.sha256(file.read()).hexdigest()
    first = file.read(END_BYTES)
    file.seek(size_bytes - END_BYTES)
    return hashlib.sha256(first + file.read()).hexdigest()


def _by_fsck(built: Built) -> Iterator[Reading]:
    part, laid_out = _part(built), built.plan.laid_out
    if built.plan.shape.file_system == "exFAT":
        clean, words = exfat_images.fsck(part)
        folders = len(folder_paths(built.root)) + 1
        meant = [f"{part}: clean. directories {folders}, files {len(laid_out.files)}"]
        yield Reading("fsck.exfat", (clean, words.splitlines()[1:]), (True, meant))
        return
    done = run_fat("fsck.fat", "-n", part)
    version, *said = done.stdout.decode().splitlines()
    wrongly = _wrong_complaints(version, built)
    cluster_bytes = built.plan.shape.cluster_bytes
    used, free = (count // cluster_bytes for count in (laid_out.used_bytes, laid_out.free_bytes))
    said[-1:] = [re.sub(r"\d+ files, ", "", line) for line in said[-1:]]
    yield Reading(
        "the kind by the number of clusters", _kind_of(Hand(part).clusters), built.plan.shape.file_system
    )
    meant = [*wrongly, f"{part}: {used}/{used + free} clusters"]
    yield Reading("fsck.fat", (done.returncode, done.stderr, said), (int(bool(wrongly)), b"", meant))


def _kind_of(clusters: int) -> FileSystem:
    """Microsoft's FAT32 specification, 1.03, "FAT Type Determination"."""
    return "FAT12" if clusters < 4085 else "FAT16" if clusters < 65_525 else "FAT32"


def _wrong_complaints(version: str, built: Built) -> list[str]:
    """What fsck.fat says of files whose clusters take 4 GiB."""
    size, found = built.plan.shape.cluster_bytes, []
    for placed in built.plan.laid_out.files if version == WRONG_FSCK else ():
        if -(-placed.size_bytes // size) * size == 1 << 32:
            words = f"  File size is {placed.size_bytes} bytes, cluster chain length is 0 bytes."
            found += [f"/{placed.path}", words, "  Truncating file to 0 bytes."]
    return [*found, "", "Leaving filesystem unchanged."] if found else []


def _part(built: Built) -> Path:
    """The volume alone, with its holes."""
    if not built.start_byte:
        return built.image
    part = sized(built.image.with_name("part.img"), built.plan.shape.volume_bytes)
    with built.image.open("rb") as source, part.open("r+b") as target:
        for start, end in written(source.fileno(), built.plan.shape.image_bytes):
            first = max(start, built.start_byte)
            source.seek(first)
            target.seek(first - built.start_byte)
            target.write(source.read(max(0, end - first)))
    return part


def _by_the_sleuth_kit(built: Built) -> Iterator[Reading]:
    disk = read_disk(built.image, built.start_byte, WHOLE_BYTES_MAX, END_BYTES)
    volume = built.plan.volume
    serial = f"{volume.serial >> 16:04X}-{volume.serial & 0xFFFF:04X}"
    found = (disk.label, disk.serial, disk.size_bytes, disk.sector_bytes)
    yield Reading("the volume by The Sleuth Kit", found, (volume.label, serial, volume.size_bytes, 512))
    cut = built.plan.shape.file_system
    seen = [
        Row(_cut(one.path, cut), one.size_bytes, one.runs[0][0] if one.runs else None, one.sha256)
        for one in disk.files
    ]
    meant = [row._replace(path=_cut(row.path, cut)) for row in rows(built)]
    yield Reading("the list by The Sleuth Kit", seen, meant)
    pieces = {one.path: len(one.runs) for one in disk.files if len(one.runs) > 1}
    yield Reading("files in pieces by The Sleuth Kit", pieces, {})
    folders = [_cut(path, cut) for path in folder_paths(built.plan.volume.root)]
    yield Reading("the folders by The Sleuth Kit", [_cut(path, cut) for path in disk.folders], folders)


def _cut(path: str, file_system: FileSystem) -> str:
    """With names as long as The Sleuth Kit keeps them on FAT: so many units of 16 bits."""
    if file_system == "exFAT":
        return path
    names = (name.encode("utf-16-le")[: 2 * LONG_NAME_MAX] for name in path.split("/"))
    return "/".join(name.decode("utf-16-le", "ignore") for name in names)


def _by_mtools(built: Built) -> Iterator[Reading]:
    image = Path(f"{built.image}@@{built.start_byte}")
    files, folders = in_disk_order(listed(image))
    wanted = rows(built)
    yield Reading("the files by mdir", files, [spelled(row.path) for row in wanted])
    yield Reading("the folders by mdir", folders, [*map(spelled, folder_paths(built.plan.volume.root))])
    if _can_be_copied(wanted, folders):
        found = read_by_mcopy(image, built.image.with_name("out"))
        meant = {spelled(row.path): (row.size_bytes, row.sha256) for row in wanted}
        yield Reading("contents by mcopy", found, meant)
    else:
        some = [row for row in wanted if row.size_bytes <= WHOLE_BYTES_MAX and _can_be_named(row.path)]
        for row in some[:: max(1, len(some) // SAMPLES)]:
            data = must("mtype", "-i", image, f"::/{row.path}")
            sha256 = hashlib.sha256(data).hexdigest()
            yield Reading(f"{row.path} by mtype", (len(data), sha256), (row.size_bytes, row.sha256))


def _can_be_copied(wanted: Sequence[Row], folders: Sequence[str]) -> bool:
    names = (name for path in (*folders, *(row.path for row in wanted)) for name in path.split("/"))
    fits = all(len(spelled(name).encode()) <= NAME_BYTES_MAX for name in names)
    whole = all(row.size_bytes <= WHOLE_BYTES_MAX for row in wanted)
    return fits and whole and len(wanted) <= MCOPY_FILES_MAX


def spelled(path: str) -> str:
    """A path as mtools shows it, which has a sign for each half of a letter beyond 16 bits."""
    return "".join("__" if ord(letter) > 0xFFFF else letter for letter in path)


def _can_be_named(path: str) -> bool:
    """To mtools: it takes some characters for patterns."""
    return spelled(path) == path and not set("[]*?\\") & set(path)


def _by_partitioners(built: Built) -> Iterator[Reading]:
    shape = built.plan.shape
    first, sectors = shape.start_byte // 512, shape.volume_bytes // 512
    told = run("sfdisk", "-d", built.image)
    parts = re.findall(r"start= *(\d+), size= *(\d+), type=(\w+)", told)
    label = re.findall(r"^label: (\w+)$", told, re.MULTILINE)
    types = {
        "exFAT": "7",
        "FAT32": "b" if sectors < 16_450_560 else "c",
        "FAT16": "4" if sectors < 65_536 else "6",
    }
    meant = ["dos"], [(str(first), str(sectors), types[shape.file_system])]
    yield Reading("sfdisk", (label, parts), meant)
    listing = re.findall(r"^ +(\d+) +(\d+) +(\d+) ", run("sgdisk", "-p", built.image), re.MULTILINE)
    yield Reading("sgdisk", listing, [("1", str(first), str(first + sectors - 1))])


def _sha256_of(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
