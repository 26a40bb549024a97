"""Kinds of damage to an exFAT volume, each made by hand in a clean one, and what must be told of it.

It must not read the volume: the tests do.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from mediacheck.card.exfat import BITMAP_WORDS, UPCASE_WORDS
from mediacheck.card.exfat_layout import FAT_BAD
from mediacheck.card.model import Damage
from tests.card.exfat_images import MIB, Filled, New, composed, noise

STREAM, NAME = 32, 64
"""Where these entries begin in a set."""
VALID_LENGTH, FIRST_CLUSTER, DATA_LENGTH = STREAM + 8, STREAM + 20, STREAM + 24
BITMAP, UPCASE, UPCASE_CLUSTERS = 0x81, 0x82, 12
"""Kinds of special entries, and how many clusters of 512 bytes the up-case table needs."""

ITEMS = (
    New("LOOP1.MP4", noise(1500)),
    New("LOOP2.MP4", noise(2000), chained=True, gap=1),
    New("Faces/A.MP4", noise(700)),
    New("Faces/B.MP4", noise(600), chained=True),
    New("Seeds", None),
)


def filled(folder: Path) -> Filled:
    """The clean volume."""
    return Filled(composed(folder / "card.img", MIB, 512, 512, "GARDEN")).fill(ITEMS)


def clusters(image: Filled, path: str) -> tuple[int, ...]:
    return image.placed[path].clusters


def root(image: Filled) -> int:
    return image.boot.first_cluster_of_root_directory


def set_first(image: Filled, path: str, cluster: int) -> None:
    image.set_entry(path, FIRST_CLUSTER, cluster.to_bytes(4, "little"))


def set_sizes(image: Filled, path: str, size: int, valid: int | None = None) -> None:
    image.set_entry(path, DATA_LENGTH, size.to_bytes(8, "little"))
    image.set_entry(path, VALID_LENGTH, (size if valid is None else valid).to_bytes(8, "little"))


def empty(image: Filled, path: str) -> None:
    set_sizes(image, path, 0)
    set_first(image, path, 0)


def special(image: Filled, kind: int) -> int:
    """Where the entry of that kind stands in the root folder."""
    place = image.byte_of(root(image))
    return place + image.read(place, 512)[::32].index(kind) * 32


def copy_name(image: Filled, source: str, target: str) -> None:
    """Give one file the name of another, of the same length."""
    entries = image.read(image.placed[source].entry_byte, 96)
    image.set_entry(target, NAME, entries[NAME:])
    image.set_entry(target, STREAM + 4, entries[STREAM + 4 : STREAM + 6])


@dataclass(frozen=True)
class Case:
    """One kind of damage. Where fsck.exfat 1.2 -n does not look, `fsck_sees` is False."""

    name: str
    make: Callable[[Filled], object]
    damage: tuple[Damage, ...]
    fsck_sees: bool = True


def of(path: str, what: str) -> Damage:
    """A damage of one file, whose name begins the clause or stands in it."""
    return Damage(what.replace("@", path), path, only_writing=what == ON_FREE)


def lost(count: int) -> Damage:
    what = f"some clusters count as taken, but belong to no file ({count}, {512 * count:,} bytes)"
    return Damage(what, only_writing=True)


OUTSIDE = "the chain of clusters of @ leads to a cluster that the card does not have: "
CIRCLE = "the chain of clusters of @ leads in a circle: "
ONLY = "only its first {} bytes can be found"
ON_FREE = "@ lies on clusters that count as free: the next file may overwrite it"
DESTROYED = "one of them is destroyed"
HASH = "the directory entry of @ has a wrong hash of the name: a player that looks for it may not find it"

CHAINS = [
    Case(
        "two files on the same clusters",
        lambda image: set_first(image, "Faces/A.MP4", clusters(image, "LOOP1.MP4")[1]),
        (of("Faces/A.MP4", f"@ shares clusters with LOOP1.MP4: {DESTROYED}"), lost(2)),
    ),
    Case(
        "a chain that leads into another file",
        lambda image: image.set_fat(clusters(image, "LOOP2.MP4")[2], clusters(image, "LOOP1.MP4")[0]),
        (
            of("LOOP2.MP4", OUTSIDE + ONLY.format("2,000")),
            of("LOOP2.MP4", f"@ shares clusters with LOOP1.MP4: {DESTROYED}"),
            lost(1),
        ),
    ),
    Case(
        "a file on the allocation bitmap and the up-case table",
        lambda image: set_first(image, "Faces/A.MP4", 2),
        (
            of("Faces/A.MP4", f"@ shares clusters with {BITMAP_WORDS}: {DESTROYED}"),
            of("Faces/A.MP4", f"@ shares clusters with {UPCASE_WORDS}: {DESTROYED}"),
            lost(2),
        ),
    ),
    Case(
        "a file on a folder",
        lambda image: set_first(image, "Faces/A.MP4", clusters(image, "Seeds")[0] - 1),
        (
            of("Faces/A.MP4", f"@ shares clusters with the folder Seeds: {DESTROYED}"),
            of("Faces/B.MP4", f"@ shares clusters with Faces/A.MP4: {DESTROYED}"),
            lost(2),
        ),
    ),
    Case(
        "a chain that leads back into itself",
        lambda image: image.set_fat(clusters(image, "LOOP2.MP4")[2], clusters(image, "LOOP2.MP4")[1]),
        (
            of("LOOP2.MP4", CIRCLE + ONLY.format("1,536")),
            lost(1),
        ),
    ),
    Case(
        "a chain that leads outside",
        lambda image: image.set_fat(clusters(image, "LOOP2.MP4")[2], image.boot.cluster_count + 2),
        (
            of("LOOP2.MP4", OUTSIDE + ONLY.format("1,536")),
            lost(1),
        ),
    ),
    Case(
        "a chain that leads to a free cluster",
        lambda image: image.set_fat(clusters(image, "Faces/B.MP4")[0], clusters(image, "LOOP2.MP4")[0] + 1),
        (
            of("Faces/B.MP4", OUTSIDE + ONLY.format("600")),
            of("Faces/B.MP4", ON_FREE),
            lost(1),
        ),
    ),
    Case(
        "a bad cluster in a chain",
        lambda image: image.set_fat(clusters(image, "LOOP2.MP4")[3], FAT_BAD),
        (of("LOOP2.MP4", "@ lies on a cluster that is marked as bad: " + ONLY.format("2,000")),),
    ),
    Case(
        "a chain that ends early",
        lambda image: image.link(clusters(image, "LOOP2.MP4")[:2]),
        (of("LOOP2.MP4", "@ ends early: it should have 2,000 bytes, and its clusters hold 1,024"), lost(2)),
    ),
    Case(
        "a chain that is longer than the file",
        lambda image: set_sizes(image, "LOOP2.MP4", 1000),
        (of("LOOP2.MP4", "@ holds more clusters than its 1,000 bytes need (2 too many)"),),
    ),
    Case(
        "a file that starts outside",
        lambda image: set_first(image, "LOOP1.MP4", 1),
        (of("LOOP1.MP4", "@ starts at a cluster that the card does not have"), lost(3)),
    ),
    Case(
        "a file in one piece that runs past the last cluster",
        lambda image: set_first(image, "Faces/A.MP4", image.boot.cluster_count + 1),
        (
            of("Faces/A.MP4", "@ runs past the last cluster of the card: " + ONLY.format("512")),
            of("Faces/A.MP4", ON_FREE),
            lost(2),
        ),
    ),
    Case(
        "a file larger than the card",
        lambda image: set_sizes(image, "Faces/B.MP4", 2**40),
        (of("Faces/B.MP4", f"@ ends early: it should have {2**40:,} bytes, and its clusters hold 1,024"),),
    ),
    Case(
        "a root folder that leads in a circle",
        lambda image: image.set_fat(root(image), root(image)),
        (Damage(CIRCLE.replace("@", "the root folder") + ONLY.format("512")),),
    ),
]

TABLES = [
    Case(
        "clusters of a file that count as free",
        lambda image: image.take(clusters(image, "LOOP1.MP4")[1:], taken=False),
        (of("LOOP1.MP4", ON_FREE),),
    ),
    Case(
        "clusters of a folder that count as free",
        lambda image: image.take(clusters(image, "Faces"), taken=False),
        (Damage(ON_FREE.replace("@", "the folder Faces"), only_writing=True),),
    ),
    Case(
        "lost clusters",
        lambda image: image.take([1000, 1001, 1003]),
        (lost(3),),
        fsck_sees=False,
    ),
    Case(
        "a bitmap that is too short",
        lambda image: image.write(special(image, BITMAP) + 24, (9).to_bytes(8, "little")),
        (Damage(f"{BITMAP_WORDS} is too short for the clusters of the card"),),
    ),
    Case(
        "no bitmap",
        lambda image: image.flip(special(image, BITMAP), 0x80),
        (Damage(f"the root folder has 0 entries for {BITMAP_WORDS} instead of 1"),),
    ),
    Case(
        "an up-case table with a wrong checksum",
        lambda image: image.flip(image.byte_of(3) + 0x62 * 2),
        (Damage(f"{UPCASE_WORDS} has a wrong checksum"),),
    ),
    Case(
        "no up-case table",
        lambda image: image.flip(special(image, UPCASE), 0x80),
        (Damage(f"the root folder has 0 entries for {UPCASE_WORDS} instead of 1"), lost(UPCASE_CLUSTERS)),
    ),
]

SIZES = [
    Case(
        "more valid than there is",
        lambda image: set_sizes(image, "LOOP1.MP4", 1500, 1501),
        (of("LOOP1.MP4", "@ says that 1,501 of its 1,500 bytes were written"),),
    ),
    Case(
        "a file that was not written to its end, which 7.6.5 allows",
        lambda image: set_sizes(image, "LOOP1.MP4", 1500, 700),
        (of("LOOP1.MP4", "@ was not written to its end: only 700 of its 1,500 bytes are there"),),
        fsck_sees=False,
    ),
    Case(
        "an empty file that is said to lie in one piece",
        lambda image: empty(image, "LOOP1.MP4"),
        (of("LOOP1.MP4", "@ is empty, and yet said to lie in one piece"), lost(3)),
    ),
    Case(
        "a file that is said to have no place",
        lambda image: image.set_entry("LOOP1.MP4", STREAM + 1, b"\2"),
        (of("LOOP1.MP4", "@ has bytes, and yet is said to have no place for any"),),
        fsck_sees=False,
    ),
    Case(
        "a folder whose size is not that of its clusters",
        lambda image: set_sizes(image, "Faces", 500),
        (Damage("the folder Faces has a size that is not that of its clusters"),),
    ),
]

SETS = [
    Case(
        "a set checksum that does not hold",
        lambda image: image.flip(image.placed["LOOP1.MP4"].entry_byte + 4, 1),
        (of("LOOP1.MP4", "the directory entry of @ has a wrong checksum"),),
    ),
    Case(
        "a wrong hash of the name",
        lambda image: image.set_entry("Faces/B.MP4", STREAM + 4, b"\0\0"),
        (of("Faces/B.MP4", HASH),),
    ),
    Case(
        "a letter of the name changed",
        lambda image: image.set_entry("LOOP2.MP4", NAME + 2 + 2 * 4, b"3\0"),
        (of("LOOP3.MP4", HASH),),
    ),
    Case(
        "a wrong length of the name",
        lambda image: image.set_entry("LOOP1.MP4", STREAM + 3, b"\x08"),
        (
            of(
                "LOOP1.MP",
                "the directory entry of @ tells a length of the name that is not that of the name",
            ),
        ),
    ),
    Case(
        "too few secondary entries told",
        lambda image: image.set_entry("LOOP1.MP4", 1, b"\1"),
        (of("LOOP1.MP4", "the directory entry of @ has 2 further parts, and says that it has 1"),),
    ),
    Case(
        "too many secondary entries told",
        lambda image: image.set_entry("LOOP1.MP4", 1, b"\3"),
        (of("LOOP1.MP4", "the directory entry of @ breaks off: 2 of its 3 further parts are there"),),
    ),
    Case(
        "the stream entry deleted",
        lambda image: image.flip(image.placed["LOOP1.MP4"].entry_byte + STREAM, 0x80),
        (
            Damage("the root folder has parts of entries that belong to no file (1)"),
            lost(3),
            of("(no name, 1)", "the directory entry of @ breaks off: 0 of its 2 further parts are there"),
        ),
    ),
    Case(
        "two files of one name",
        lambda image: copy_name(image, "LOOP1.MP4", "LOOP2.MP4"),
        (of("LOOP1.MP4", "@ has the same name as another file beside it"),),
        fsck_sees=False,
    ),
]

FOLDERS = [
    Case(
        "a folder that leads to the folder that holds it",
        lambda image: set_first(image, "Seeds", root(image)),
        (Damage("the folder Seeds leads to the root folder instead of to what should be in it"), lost(1)),
    ),
    Case(
        "a special entry outside the root folder",
        lambda image: image.write(image.placed["Faces/A.MP4"].entry_byte, b"\x81"),
        (Damage("the folder Faces has an entry that does not belong there"), lost(2)),
        fsck_sees=False,  # it says so and then calls the volume clean
    ),
    Case(
        "files behind the end",
        lambda image: image.write(image.placed["Faces/A.MP4"].entry_byte, bytes(32)),
        (Damage("the folder Faces has files behind its end, where no player looks (1)"), lost(4)),
        fsck_sees=False,
    ),
]

CASES = [*CHAINS, *TABLES, *SIZES, *SETS, *FOLDERS]
