"""Each kind of damage, made by hand in a clean volume, is named with the files it hits; fsck.exfat agrees."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from mediacheck.card.damages import LISTED_MAX
from mediacheck.card.exfat import read_exfat
from mediacheck.card.exfat_folder import NO_BYTES_KNOWN, NOT_FOR_US, NOTHING_THERE, NOTHING_WRITTEN
from mediacheck.card.exfat_layout import FAT_BAD
from mediacheck.card.model import Damage
from tests.card.exfat_images import Filled, New, composed, fsck
from tests.card.media import Bytes, Device
from tests.card.test_exfat import MIB, noise, read

STREAM, NAME = 32, 64
"""Where these entries begin in a set."""
VALID_LENGTH, FIRST_CLUSTER, DATA_LENGTH = STREAM + 8, STREAM + 20, STREAM + 24

ITEMS = (
    New("LOOP1.MP4", noise(1500)),
    New("LOOP2.MP4", noise(2000), chained=True, gap=1),
    New("Faces/A.MP4", noise(700)),
    New("Faces/B.MP4", noise(600), chained=True),
    New("Seeds", None),
)


def long(value: int) -> bytes:
    return value.to_bytes(8, "little")


def word(value: int) -> bytes:
    return value.to_bytes(4, "little")


def filled(folder: Path) -> Filled:
    """The clean volume."""
    return Filled(composed(folder / "card.img", MIB, 512, 512, "GARDEN")).fill(ITEMS)


def clusters(image: Filled, path: str) -> tuple[int, ...]:
    return image.placed[path].clusters


def set_first(image: Filled, path: str, cluster: int) -> None:
    image.set_entry(path, FIRST_CLUSTER, word(cluster))


def set_sizes(image: Filled, path: str, size: int, valid: int | None = None) -> None:
    image.set_entry(path, DATA_LENGTH, long(size))
    image.set_entry(path, VALID_LENGTH, long(size if valid is None else valid))


def special(image: Filled, kind: int) -> int:
    """Where the entry of that kind stands in the root folder."""
    root = image.byte_of(image.boot.first_cluster_of_root_directory)
    return root + image.read(root, 512)[::32].index(kind) * 32


@dataclass(frozen=True)
class Case:
    """One kind of damage. Where fsck.exfat 1.2 -n does not look, `fsck_sees` is False."""

    name: str
    make: Callable[[Filled], object]
    damage: tuple[Damage, ...]
    fsck_sees: bool = True


def one(what: str, path: str | None = None) -> tuple[Damage, ...]:
    return (Damage(what, path),)


def lost(count: int) -> tuple[Damage, ...]:
    return one(f"some clusters count as taken, but belong to no file ({count}, {512 * count:,} bytes)")


def free(who: str, path: str | None = None) -> tuple[Damage, ...]:
    return one(f"{who} lies on clusters that count as free: the next file may overwrite it", path)


def share(image: Filled) -> None:
    image.set_fat(clusters(image, "LOOP2.MP4")[1], clusters(image, "LOOP1.MP4")[2])


def lay_upon(image: Filled) -> None:
    set_first(image, "Faces/A.MP4", clusters(image, "LOOP1.MP4")[1])


CASES = [
    # chains
    Case(
        "two files on the same clusters",
        lay_upon,
        (
            *one("Faces/A.MP4 shares clusters with LOOP1.MP4: one of them is destroyed", "Faces/A.MP4"),
            *lost(2),
        ),
    ),
    Case(
        "a file on the allocation bitmap",
        lambda image: set_first(image, "Faces/A.MP4", 2),
        (
            *one(
                "Faces/A.MP4 shares clusters with the list of clusters in use (allocation bitmap): one of them "
                "is destroyed",
                "Faces/A.MP4",
            ),
            *one(
                "the table of capital letters (up-case table) shares clusters with Faces/A.MP4: one of them is "
                "destroyed",
                "Faces/A.MP4",
            ),
            *lost(2),
        ),
    ),
    Case(
        "a chain that leads back into itself",
        lambda image: image.set_fat(clusters(image, "LOOP2.MP4")[2], clusters(image, "LOOP2.MP4")[1]),
        (
            *one(
                "the chain of clusters of LOOP2.MP4 leads in a circle: only its first 1,536 bytes can be found",
                "LOOP2.MP4",
            ),
            *lost(1),
        ),
    ),
    Case(
        "a chain that leads outside",
        lambda image: image.set_fat(clusters(image, "LOOP2.MP4")[2], image.boot.cluster_count + 2),
        (
            *one(
                "the chain of clusters of LOOP2.MP4 leads to a cluster that the card does not have: only its first "
                "1,536 bytes can be found",
                "LOOP2.MP4",
            ),
            *lost(1),
        ),
    ),
    Case(
        "a chain that leads to a free cluster",
        lambda image: image.set_fat(clusters(image, "Faces/B.MP4")[1], clusters(image, "LOOP2.MP4")[0] + 1),
        one(
            "the chain of clusters of Faces/B.MP4 leads to a cluster that the card does not have: only its first "
            "600 bytes can be found",
            "Faces/B.MP4",
        ),
        fsck_sees=True,
    ),
    Case(
        "a bad cluster in a chain",
        lambda image: image.set_fat(clusters(image, "LOOP2.MP4")[3], FAT_BAD),
        one("LOOP2.MP4 lies on a cluster that is marked as bad: only its first 2,000 bytes can be found", "LOOP2.MP4"),
    ),
    Case(
        "a chain that ends early",
        lambda image: image.link(clusters(image, "LOOP2.MP4")[:2]),
        (
            *one(
                "LOOP2.MP4 ends early: it should have 2,000 bytes, and its clusters hold 1,024", "LOOP2.MP4"
            ),
            *lost(2),
        ),
    ),
    Case(
        "a chain that is longer than the file",
        lambda image: set_sizes(image, "LOOP2.MP4", 1000),
        one("LOOP2.MP4 holds more clusters than its 1,000 bytes need (2 too many)", "LOOP2.MP4"),
    ),
    Case(
        "a file that starts outside",
        lambda image: set_first(image, "LOOP1.MP4", 1),
        (
            *one("LOOP1.MP4 starts at a cluster that the card does not have", "LOOP1.MP4"),
            *lost(3),
        ),
    ),
    Case(
        "a file in one piece that runs past the last cluster",
        lambda image: set_first(image, "Faces/A.MP4", image.boot.cluster_count + 1),
        (
            *one("Faces/A.MP4 runs past the last cluster of the card: only its first 512 bytes can be found", "Faces/A.MP4"),
            *free("Faces/A.MP4", "Faces/A.MP4"),
            *lost(2),
        ),
    ),
    Case(
        "a file larger than the card",
        lambda image: set_sizes(image, "Faces/B.MP4", 2**40),
        one("Faces/B.MP4 ends early: it should have 1,099,511,627,776 bytes, and its clusters hold 1,024", "Faces/B.MP4"),
    ),
    # the bitmap
    Case(
        "clusters of a file that count as free",
        lambda image: image.take(clusters(image, "LOOP1.MP4")[1:], taken=False),
        free("LOOP1.MP4", "LOOP1.MP4"),
    ),
    Case(
        "clusters of a folder that count as free",
        lambda image: image.take(clusters(image, "Faces"), taken=False),
        free("the folder Faces"),
    ),
    Case(
        "lost clusters",
        lambda image: image.take([1000, 1001, 1003]),
        lost(3),
        fsck_sees=False,
    ),
    Case(
        "a bitmap that is too short",
        lambda image: image.write(special(image, 0x81) + 24, long(9)),
        one("the list of clusters in use (allocation bitmap) is too short for the clusters of the card"),
    ),
    Case(
        "no bitmap",
        lambda image: image.flip(special(image, 0x81), 0x80),
        (
            *one("the root folder has 0 entries for the list of clusters in use (allocation bitmap) instead of 1"),
        ),
    ),
    # the up-case table
    Case(
        "an up-case table with a wrong checksum",
        lambda image: image.flip(image.byte_of(3) + 0x62 * 2),
        one("the table of capital letters (up-case table) has a wrong checksum"),
    ),
    Case(
        "no up-case table",
        lambda image: image.flip(special(image, 0x82), 0x80),
        (
            *one("the root folder has 0 entries for the table of capital letters (up-case table) instead of 1"),
            *lost(12),
        ),
    ),
    # sizes and flags
    Case(
        "more valid than there is",
        lambda image: set_sizes(image, "LOOP1.MP4", 1500, 1501),
        one("LOOP1.MP4 says that 1,501 of its 1,500 bytes were written", "LOOP1.MP4"),
    ),
    Case(
        "a file that was not written to its end",
        lambda image: set_sizes(image, "LOOP1.MP4", 1500, 700),
        one("LOOP1.MP4 was not written to its end: only 700 of its 1,500 bytes are there", "LOOP1.MP4"),
        fsck_sees=False,  # 7.6.5 allows it
    ),
    Case(
        "an empty file that is said to lie in one piece",
        lambda image: set_sizes(image, "LOOP1.MP4", 0) or set_first(image, "LOOP1.MP4", 0),
        (
            *one("LOOP1.MP4 is empty, and yet said to lie in one piece", "LOOP1.MP4"),
            *lost(3),
        ),
    ),
    Case(
        "a file that is said to have no place",
        lambda image: image.set_entry("LOOP1.MP4", STREAM + 1, b"\2"),
        one("LOOP1.MP4 has bytes, and yet is said to have no place for any", "LOOP1.MP4"),
        fsck_sees=False,
    ),
    Case(
        "a folder whose size is not that of its clusters",
        lambda image: set_sizes(image, "Faces", 500),
        one("the folder Faces has a size that is not that of its clusters"),
    ),
    # the entry sets
    Case(
        "a set checksum that does not hold",
        lambda image: image.flip(image.placed["LOOP1.MP4"].entry_byte + 4, 1),
        one("the directory entry of LOOP1.MP4 has a wrong checksum", "LOOP1.MP4"),
    ),
    Case(
        "a wrong hash of the name",
        lambda image: image.set_entry("Faces/B.MP4", STREAM + 4, b"\0\0"),
        one(
            "the directory entry of Faces/B.MP4 has a wrong hash of the name: a player that looks for it may not "
            "find it",
            "Faces/B.MP4",
        ),
    ),
    Case(
        "a letter of the name changed",
        lambda image: image.set_entry("LOOP2.MP4", NAME + 2 + 2 * 4, b"3\0"),
        one(
            "the directory entry of LOOP3.MP4 has a wrong hash of the name: a player that looks for it may not "
            "find it",
            "LOOP3.MP4",
        ),
    ),
    Case(
        "a wrong length of the name",
        lambda image: image.set_entry("LOOP1.MP4", STREAM + 3, b"\x08"),
        one("the directory entry of LOOP1.MP tells a length of the name that is not that of the name", "LOOP1.MP"),
    ),
    Case(
        "too few secondary entries told",
        lambda image: image.set_entry("LOOP1.MP4", 1, b"\1"),
        one("the directory entry of LOOP1.MP4 has 2 further parts, and says that it has 1", "LOOP1.MP4"),
    ),
    Case(
        "too many secondary entries told",
        lambda image: image.set_entry("LOOP1.MP4", 1, b"\3"),
        one("the directory entry of LOOP1.MP4 breaks off: 2 of its 3 further parts are there", "LOOP1.MP4"),
    ),
    Case(
        "the stream entry deleted",
        lambda image: image.flip(image.placed["LOOP1.MP4"].entry_byte + STREAM, 0x80),
        (
            *one("the root folder has parts of entries that belong to no file (1)"),
            *lost(3),
            *one(
                "the directory entry of (no name, 1) breaks off: 0 of its 2 further parts are there", "(no name, 1)"
            ),
        ),
    ),
    Case(
        "two files of one name",
        lambda image: (
            image.write(image.placed["LOOP2.MP4"].entry_byte + NAME, image.read(image.placed["LOOP1.MP4"].entry_byte + NAME, 32)),
            image.set_entry("LOOP2.MP4", STREAM + 4, image.read(image.placed["LOOP1.MP4"].entry_byte + STREAM + 4, 2)),
        ),
        one("LOOP1.MP4 has the same name as another file beside it", "LOOP1.MP4"),
    ),
    # folders
    Case(
        "a folder that leads to the folder that holds it",
        lambda image: set_first(image, "Seeds", image.boot.first_cluster_of_root_directory),
        (
            *one("the folder Seeds leads to the root folder instead of to what should be in it"),
            *lost(1),
        ),
    ),
    Case(
        "a root folder that leads in a circle",
        lambda image: image.link([image.boot.first_cluster_of_root_directory]) or image.set_fat(
            image.boot.first_cluster_of_root_directory, image.boot.first_cluster_of_root_directory
        ),
        one("the chain of clusters of the root folder leads in a circle: only its first 512 bytes can be found"),
    ),
]  # fmt: skip


def test_the_clean_volume_is_clean(tmp_path: Path) -> None:
    image = filled(tmp_path)
    assert read(image.path).damage == ()
    assert fsck(image.path)[0]


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_damage_is_named(case: Case, tmp_path: Path) -> None:
    image = filled(tmp_path)
    case.make(image)
    assert read(image.path).damage == case.damage


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_fsck_agrees(case: Case, tmp_path: Path) -> None:
    image = filled(tmp_path)
    case.make(image)
    clean, words = fsck(image.path)
    assert clean != case.fsck_sees, words
