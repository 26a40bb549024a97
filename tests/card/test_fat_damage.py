"""Each kind of damage, made by hand in a sound image, is named with the file that it hits; fsck.fat agrees.

fsck.fat -n ends with 0 after faults that it does not correct, and does not look at some others at all: so
what it says is compared, and a case without words of fsck is one that it does not look at.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from random import Random

import pytest

from mediacheck.card.contents import Contents
from mediacheck.card.fat import read_fat
from mediacheck.card.medium import Aligned, FileMedium
from mediacheck.card.model import Damage
from mediacheck.errors import CardError
from tests.card.fat_images import KINDS, Hand, copied, fill, fsck, make, must
from tests.card.media import Device

LOOP1, LOOP2, EMPTY = b"LOOP1   MP4", b"LOOP2   MP4", b"EMPTY   TXT"
SPRING, SPRING_PATH = b"SPRING~1MP4", "Spring seeds film.mp4"
MEDIA, DEEP, SPARE, CLIP = b"MEDIA      ", b"DEEP       ", b"SPARE      ", b"CLIP    MP4"
RANDOM = Random(20)
TREE = {
    "LOOP1.MP4": RANDOM.randbytes(5000),
    "LOOP2.MP4": RANDOM.randbytes(3000),
    SPRING_PATH: RANDOM.randbytes(2500),
    "MEDIA/CLIP.MP4": RANDOM.randbytes(1500),
    "MEDIA/Watering in summer.mp4": RANDOM.randbytes(700),
    "MEDIA/DEEP/PIC.JPG": RANDOM.randbytes(600),
    "SPARE/": b"",
    "EMPTY.TXT": b"",
}
"""Clusters have 512 bytes: LOOP1.MP4 has ten, LOOP2.MP4 six, the film five, CLIP.MP4 three."""

Told = tuple[str, str | None]


def lost(clusters: int) -> Told:
    size = f"{clusters} lost cluster{'s' if clusters > 1 else ''} ({clusters * 512:,} bytes)"
    remains = "the remains of a copy that was interrupted or of a folder that is lost"
    return f"{size}: space marked as taken where no file lies, {remains}", None


ONLY_WRITING = re.compile(
    r"\d+ lost cluster|the backup copy|the boot sector and its backup|copy \d of (?!.* lies)|.*FSInfo"
)
"""What a player, which only reads, does not meet."""


def told_of(what: str, path: str | None = None) -> Damage:
    return Damage(what, path, only_writing=ONLY_WRITING.match(what) is not None)


@dataclass(frozen=True)
class Case:
    """One kind of damage: how it is made, what is told of it, and words of what fsck.fat says."""

    damage: Callable[[Hand], object]
    told: tuple[Told, ...]
    fsck: str | None
    kinds: tuple[int, ...] = KINDS
    unusable: str | None = None
    """Why LOOP1.MP4 cannot be read."""


def one(what: str, path: str | None = None) -> tuple[Told, ...]:
    return ((what, path),)


def loop1(what: str, clusters_lost: int = 0) -> tuple[Told, ...]:
    return ((f"LOOP1.MP4 {what}", "LOOP1.MP4"), *((lost(clusters_lost),) if clusters_lost else ()))


def longer(hand: Hand) -> None:
    spare = hand.free_cluster()
    hand.set_entry(hand.chain(LOOP1)[-1], spare)
    hand.set_entry(spare, hand.end)


def empty_slot(hand: Hand, name: bytes, place: int) -> None:
    hand.put(hand.byte_of(hand.head(name)) + place * 32, "11s", b"")


def checksum(hand: Hand, pieces: int) -> None:
    for piece in range(1, pieces + 1):
        place = hand.slot(SPRING) - 32 * piece + 13
        hand.put(place, "B", hand.get(place, "B") ^ 1)


CHAINS = {
    "crosses": Case(
        lambda hand: hand.set_entry(hand.chain(LOOP2)[2], hand.chain(LOOP1)[4]),
        (
            ("LOOP2.MP4 is 3,000 bytes long, but its clusters hold 4,608", "LOOP2.MP4"),
            ("LOOP2.MP4 shares clusters with LOOP1.MP4: one of them is destroyed", "LOOP2.MP4"),
            lost(3),
        ),
        "share clusters",
    ),
    "begins in another": Case(
        lambda hand: hand.set_head(LOOP2, hand.chain(LOOP1)[4]),
        (
            ("LOOP2.MP4 shares clusters with LOOP1.MP4: one of them is destroyed", "LOOP2.MP4"),
            lost(6),
        ),
        "share clusters",
    ),
    "file in a folder": Case(
        lambda hand: hand.set_entry(hand.chain(LOOP1)[8], hand.head(MEDIA)),
        (("LOOP1.MP4 shares clusters with the folder MEDIA: one of them is destroyed", "LOOP1.MP4"), lost(1)),
        "share clusters",
    ),
    "loops": Case(
        lambda hand: hand.set_entry(hand.chain(LOOP1)[-1], hand.chain(LOOP1)[3]),
        loop1("leads in a circle: its chain of clusters has no end"),
        "Circular cluster chain",
    ),
    "leads to itself": Case(
        lambda hand: hand.set_entry(hand.chain(LOOP1)[0], hand.chain(LOOP1)[0]),
        loop1("leads in a circle: its chain of clusters has no end, 512 of its 5,000 bytes are there", 9),
        "Circular cluster chain",
    ),
    "ends early": Case(
        lambda hand: hand.set_entry(hand.chain(LOOP1)[3], hand.end),
        loop1("ends early, 2,048 of its 5,000 bytes are there", 6),
        "cluster chain length is 2048 bytes",
    ),
    "ends late": Case(
        longer,
        loop1("is 5,000 bytes long, but its clusters hold 5,632"),
        "cluster chain length is > 5120 bytes",
    ),
    "size too great": Case(
        lambda hand: hand.put(hand.slot(LOOP1) + 28, "I", 9000),
        loop1("ends early, 5,120 of its 9,000 bytes are there"),
        "File size is 9000 bytes",
    ),
    "size 4 GiB": Case(
        lambda hand: hand.put(hand.slot(LOOP1) + 28, "I", 0xFFFFFFFF),
        loop1("ends early, 5,120 of its 4,294,967,295 bytes are there"),
        "File size is 4294967295 bytes",
    ),
    "size too small": Case(
        lambda hand: hand.put(hand.slot(LOOP1) + 28, "I", 1),
        loop1("is 1 byte long, but its clusters hold 5,120"),
        "cluster chain length is > 512 bytes",
    ),
    "size 0": Case(
        lambda hand: hand.put(hand.slot(LOOP1) + 28, "I", 0),
        loop1("is 0 bytes long, but its clusters hold 5,120"),
        "File size is 0 bytes",
    ),
    "leads outside": Case(
        lambda hand: hand.set_entry(hand.chain(LOOP1)[3], hand.clusters + 2),
        loop1(
            "breaks off: its chain of clusters leads outside the card, 2,048 of its 5,000 bytes are there", 6
        ),
        "out of range",
    ),
    "leads to 1": Case(
        lambda hand: hand.set_entry(hand.chain(LOOP1)[3], 1),
        loop1(
            "breaks off: its chain of clusters leads outside the card, 2,048 of its 5,000 bytes are there", 6
        ),
        "out of range (1)",
    ),
    "leads into a free cluster": Case(
        lambda hand: hand.set_entry(hand.chain(LOOP1)[3], hand.free_cluster()),
        loop1(
            "breaks off: its chain of clusters runs into free clusters, 2,048 of its 5,000 bytes are there", 6
        ),
        "Contains a free cluster",
    ),
    "cluster freed": Case(
        lambda hand: hand.set_entry(hand.chain(LOOP1)[3], 0),
        loop1(
            "breaks off: its chain of clusters runs into free clusters, 1,536 of its 5,000 bytes are there", 6
        ),
        "Contains a free cluster",
    ),
    "cluster marked bad": Case(
        lambda hand: hand.set_entry(hand.chain(LOOP1)[3], hand.bad),
        loop1(
            "breaks off: its chain of clusters runs into a cluster that is marked as bad, 1,536 of its 5,000 "
            "bytes are there",
            6,
        ),
        "next_cluster on bad cluster",
    ),
    "begins nowhere": Case(
        lambda hand: hand.set_head(LOOP1, 0),
        loop1("has no place on the card, though it should hold 5,000 bytes", 10),
        "cluster chain length is 0 bytes",
        unusable="a file that has no place on the card",
    ),
    "begins outside": Case(
        lambda hand: hand.set_head(LOOP1, hand.clusters + 2),
        loop1("begins outside the card, though it should hold 5,000 bytes", 10),
        "Start cluster beyond limit",
        unusable="a file that begins outside the card",
    ),
    "begins at 1": Case(
        lambda hand: hand.set_head(LOOP1, 1),
        loop1("begins outside the card, though it should hold 5,000 bytes", 10),
        "Bad start cluster 1",
        unusable="a file that begins outside the card",
    ),
    "begins in a free cluster": Case(
        lambda hand: hand.set_head(LOOP1, hand.free_cluster()),
        loop1("begins in a cluster that is marked as free, though it should hold 5,000 bytes", 10),
        "Contains a free cluster",
        unusable="a file that begins in a cluster that is marked as free",
    ),
    "empty, but begins somewhere": Case(
        lambda hand: hand.set_head(EMPTY, hand.free_cluster()),
        one("EMPTY.TXT begins in a cluster that is marked as free, though it is empty", "EMPTY.TXT"),
        "Contains a free cluster",
    ),
    "lost cluster": Case(
        lambda hand: hand.set_entry(hand.free_cluster(), hand.end), (lost(1),), "Reclaimed 1 unused cluster"
    ),
}

FOLDER_GONE = "what was in it may not be found"
FOLDERS = {
    "no place": Case(
        lambda hand: hand.set_head(MEDIA, 0),
        (*one(f"the folder MEDIA has no place on the card: {FOLDER_GONE}", "MEDIA"), lost(9)),
        "Start does point to root directory",
    ),
    "outside": Case(
        lambda hand: hand.set_head(MEDIA, hand.clusters + 2),
        (*one(f"the folder MEDIA leads outside the card: {FOLDER_GONE}", "MEDIA"), lost(9)),
        "Start cluster beyond limit",
    ),
    "freed": Case(
        lambda hand: hand.set_entry(hand.head(MEDIA), 0),
        (
            *one(f"the folder MEDIA leads into clusters that are marked as free: {FOLDER_GONE}", "MEDIA"),
            lost(8),
        ),
        "Contains a free cluster",
    ),
    "loops": Case(
        lambda hand: hand.set_entry(hand.head(MEDIA), hand.head(MEDIA)),
        one(f"the folder MEDIA leads in a circle: its chain of clusters has no end: {FOLDER_GONE}", "MEDIA"),
        "Circular cluster chain",
    ),
    "leads to the folder above": Case(
        lambda hand: hand.set_head(DEEP, hand.head(MEDIA)),
        (
            (
                "the folder MEDIA/DEEP leads back to the folder MEDIA: what was in it cannot be found",
                "MEDIA/DEEP",
            ),
            lost(3),
        ),
        "Start does point to containing directory",
    ),
    "in the place of another": Case(
        lambda hand: hand.set_head(SPARE, hand.head(MEDIA)),
        (
            (
                "the folder SPARE lies in the same place as the folder MEDIA: what was in it cannot be found",
                "SPARE",
            ),
            lost(1),
        ),
        "share clusters",
    ),
    "runs into another": Case(
        lambda hand: hand.set_entry(hand.head(SPARE), hand.head(MEDIA)),
        one("the folder SPARE shares clusters with the folder MEDIA: one of them is destroyed", "SPARE"),
        "share clusters",
    ),
    ". leads elsewhere": Case(
        lambda hand: hand.put(hand.byte_of(hand.head(DEEP)) + 26, "H", 9),
        one("the folder MEDIA/DEEP has an entry for . (itself) that leads elsewhere", "MEDIA/DEEP"),
        "Invalid '.' entry",
    ),
    ". is no folder": Case(
        lambda hand: hand.put(hand.byte_of(hand.head(DEEP)) + 11, "B", 0x20),
        one("the folder MEDIA/DEEP has an entry for . (itself) that leads elsewhere", "MEDIA/DEEP"),
        "Invalid '.' entry",
    ),
    ".. leads elsewhere": Case(
        lambda hand: hand.put(hand.byte_of(hand.head(DEEP)) + 32 + 26, "H", 9),
        one("the folder MEDIA/DEEP has an entry for .. (the one above) that leads elsewhere", "MEDIA/DEEP"),
        "Invalid '..' entry",
    ),
    ".. of a folder in the root is not 0": Case(
        lambda hand: hand.put(hand.byte_of(hand.head(MEDIA)) + 32 + 26, "H", 2),
        one("the folder MEDIA has an entry for .. (the one above) that leads elsewhere", "MEDIA"),
        "Invalid '..' entry",
    ),
    "no . and ..": Case(
        lambda hand: empty_slot(hand, SPARE, 0),
        one(
            "the folder SPARE does not begin with the entries for itself and the folder above it (. and ..)",
            "SPARE",
        ),
        "Expected a valid '.' entry",
    ),
    ". in the root": Case(
        lambda hand: hand.put(hand.slot(EMPTY), "11s", b".          "),
        one("the root folder holds an entry for itself or the folder above it that does not belong"),
        "Bad short file name (.)",
    ),
    ".. in the middle": Case(
        lambda hand: hand.put(hand.slot(CLIP), "11s", b"..         "),
        (
            (
                "the folder MEDIA holds an entry for itself or the folder above it that does not belong",
                "MEDIA",
            ),
            lost(3),
        ),
        "Bad short file name (..)",
    ),
    "size": Case(
        lambda hand: hand.put(hand.slot(MEDIA) + 28, "I", 512),
        one("the folder MEDIA is noted with a size, which no folder has", "MEDIA"),
        "Directory has non-zero size",
    ),
    "label in a folder": Case(
        lambda hand: hand.put(hand.slot(CLIP) + 11, "B", 0x08),
        (("the folder MEDIA holds a label of the card that does not belong there", None), lost(3)),
        None,
    ),
    "second label": Case(
        lambda hand: hand.put(hand.slot(EMPTY) + 11, "B", 0x08),
        one("the root folder holds a label of the card that does not belong there"),
        None,
    ),
}

NOT_ITS_OWN = "the long name before {0} is not its own (its checksum is wrong): players show {0}"
BROKEN = "the long name of {0} is broken (its pieces are not in sequence): players show {0}".format(
    "SPRING~1.MP4"
)
NAMES = {
    "checksum of all pieces": Case(
        lambda hand: checksum(hand, 2),
        one(
            NOT_ITS_OWN.format("SPRING~1.MP4"),
            "SPRING~1.MP4",
        ),
        "Wrong checksum for long file name",
    ),
    "short name changed": Case(
        lambda hand: hand.put(hand.slot(SPRING), "6s", b"SUMMER"),
        one(
            NOT_ITS_OWN.format("SUMMER~1.MP4"),
            "SUMMER~1.MP4",
        ),
        "Wrong checksum for long file name",
    ),
    "checksum of one piece": Case(
        lambda hand: checksum(hand, 1),
        one(
            BROKEN,
            "SPRING~1.MP4",
        ),
        "Checksum in long filename part wrong",
    ),
    "sequence": Case(
        lambda hand: hand.put(hand.slot(SPRING) - 32, "B", 3),
        one(
            BROKEN,
            "SPRING~1.MP4",
        ),
        "Unexpected long filename sequence number",
    ),
    "orphan": Case(
        lambda hand: hand.put(hand.slot(SPRING), "B", 0xE5),
        (("the root folder holds a piece of a long name that belongs to no file", None), lost(5)),
        "Orphaned long file name part",
    ),
    "forbidden sign": Case(
        lambda hand: hand.put(hand.slot(LOOP1) + 2, "B", ord("*")),
        one("LO*P1.MP4 has a short name with signs that no short name can have", "LO*P1.MP4"),
        "Bad short file name",
    ),
    "control character": Case(
        lambda hand: hand.put(hand.slot(LOOP1) + 2, "B", 3),
        one(r"LO\x03P1.MP4 has a short name with signs that no short name can have", r"LO\x03P1.MP4"),
        "Bad short file name",
    ),
    "twins": Case(
        lambda hand: hand.put(hand.slot(LOOP2), "11s", LOOP1),
        loop1("has the same name as LOOP1.MP4: only one of them can be found"),
        "Duplicate directory entry",
    ),
    "twins that lower case tells apart": Case(
        lambda hand: hand.put(hand.slot(LOOP2), "11sBB", LOOP1, 0x20, 0x18),
        one("loop1.mp4 has the same name as LOOP1.MP4: only one of them can be found", "loop1.mp4"),
        "Duplicate directory entry",
    ),
}

TABLE_NAME = "the table of clusters"
MIRROR = "copy 2 of the table of clusters differs from the one in use"
TABLE = {
    "copies differ in a file": Case(
        lambda hand: hand.set_entry(hand.chain(LOOP1)[2], hand.end, (1,)),
        (
            (f"{MIRROR}, in 1 entry", None),
            (f"{MIRROR} where LOOP1.MP4 lies", "LOOP1.MP4"),
        ),
        "FATs differ",
    ),
    "copies differ in free space": Case(
        lambda hand: hand.set_entry(hand.free_cluster(), hand.end, (1,)),
        one(f"{MIRROR}, in 1 entry"),
        "FATs differ",
    ),
    "first entry": Case(
        lambda hand: hand.set_entry(0, hand.end ^ 0xFF | 0xF0),
        one(f"{TABLE_NAME} does not begin with the kind of medium that the boot sector names"),
        None,
    ),
    "second entry": Case(
        lambda hand: hand.set_entry(1, hand.end ^ 0xF8),
        one(f"the second entry of {TABLE_NAME} is not one that may stand there"),
        None,
    ),
    "noted errors in the table": Case(
        lambda hand: hand.set_entry(1, hand.end & ~(0x4000 if hand.bits == 16 else 0x04000000)),
        one("a computer has noted that it had trouble reading or writing this card"),
        None,
        (16, 32),
    ),
    "noted errors in the boot sector": Case(
        lambda hand: hand.put(65 if hand.is_32 else 37, "B", 2),
        one("a computer has noted that it had trouble reading or writing this card"),
        None,
    ),
}

BACKUP = "the boot sector and its backup copy differ"
BOOT = {
    "signature": Case(
        lambda hand: hand.put(510, "H", 0),
        one("the boot sector lacks its last two bytes, 55 AA: players may not recognise the card"),
        None,
        (12, 16),
    ),
    "jump": Case(
        lambda hand: hand.put(0, "B", 0),
        one("the boot sector does not begin as one must: players may not recognise the card"),
        None,
        (12, 16),
    ),
    "signature of FAT32": Case(
        lambda hand: hand.put(510, "H", 0),
        (
            ("the boot sector lacks its last two bytes, 55 AA: players may not recognise the card", None),
            (f"{BACKUP}: the signature", None),
        ),
        "There are differences between boot sector and its backup",
        (32,),
    ),
    "serial of the backup": Case(
        lambda hand: hand.put(6 * 512 + 67, "I", 5),
        one(f"{BACKUP}: the serial number"),
        "There are differences between boot sector and its backup",
        (32,),
    ),
    "backup empty": Case(
        lambda hand: hand.put(6 * 512, "512s", b""),
        one("the backup copy of the boot sector is empty"),
        "There are differences between boot sector and its backup",
        (32,),
    ),
    "FSInfo count": Case(
        lambda hand: hand.put(512 + 488, "I", 1),
        one("the card keeps a count of 1 free cluster (FSInfo), but has 65,598"),
        "Free cluster summary wrong",
        (32,),
    ),
    "FSInfo signature": Case(
        lambda hand: hand.put(512, "I", 0),
        one("the sector that keeps the count of free clusters (FSInfo) lacks its signatures"),
        "FSINFO sector has bad magic number",
        (32,),
    ),
}

CASES = {
    f"{group}: {name}, FAT{fat}": (fat, case)
    for group, cases in (
        ("chain", CHAINS),
        ("folder", FOLDERS),
        ("name", NAMES),
        ("table", TABLE),
        ("boot", BOOT),
    )
    for name, case in cases.items()
    for fat in case.kinds
}


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> dict[int, Path]:
    """A sound image of each kind. FAT32 keeps no count of free clusters: most damage would make it wrong."""
    folder = tmp_path_factory.mktemp("sound")
    images = {fat: make(folder / f"{fat}.img", fat, "-n", "GARDEN") for fat in KINDS}
    for image in images.values():
        fill(image, TREE, folder)
    Hand(images[32]).put(512 + 488, "I", 0xFFFFFFFF)
    return images


def read(image: Path) -> Contents:
    medium = FileMedium(str(image))
    try:
        return read_fat(medium)
    finally:
        medium.close()


@pytest.mark.parametrize("fat", KINDS)
def test_the_sound_twin_has_no_damage(sound: dict[int, Path], fat: int) -> None:
    contents = read(sound[fat])
    assert (contents.damage, contents.volume.dirty) == ((), False)
    assert not any(entry.unusable for entry in contents.entries)
    clean, words = fsck(sound[fat])
    assert clean, words
    assert not any(case.fsck in words for _, case in CASES.values() if case.fsck)


@pytest.mark.parametrize("name", CASES)
def test_damage_is_named(sound: dict[int, Path], name: str, tmp_path: Path) -> None:
    fat, case = CASES[name]
    image = copied(sound[fat], tmp_path / "broken.img")
    case.damage(Hand(image))
    contents = read(image)
    assert contents.damage == tuple(told_of(*told) for told in case.told)
    assert {entry.path: entry.unusable for entry in contents.entries}.get("LOOP1.MP4") == case.unusable
    clean, words = fsck(image)
    assert case.fsck is None or case.fsck in words
    assert case.fsck is None or not clean or "Not auto" in words


@pytest.mark.parametrize("fat", KINDS)
def test_a_card_that_ends_too_soon_is_told_by_what_is_missing(
    sound: dict[int, Path], fat: int, tmp_path: Path
) -> None:
    image = copied(sound[fat], tmp_path / "short.img")
    hand = Hand(image)
    os.truncate(image, hand.byte_of(hand.chain(LOOP2)[3]))
    contents = read(image)
    assert contents.damage == (
        Damage("the folder MEDIA lies past the end of the card: what was in it cannot be found", "MEDIA"),
        Damage("the folder SPARE lies past the end of the card: what was in it cannot be found", "SPARE"),
        Damage("LOOP2.MP4 runs past the end of the card: 1,536 of its 3,000 bytes are there", "LOOP2.MP4"),
        Damage(f"{SPRING_PATH} runs past the end of the card: 0 of its 2,500 bytes are there", SPRING_PATH),
        told_of(*lost(8)),
    )
    assert [entry.unusable for entry in contents.entries] == [
        *(None, None, "a file that lies past the end of the card", None)
    ]
    assert contents.volume.claimed_bytes
    assert contents.volume.claimed_bytes > image.stat().st_size
    assert "Failed to read" in fsck(image)[1]


def test_a_card_that_ends_within_its_table_is_told(sound: dict[int, Path], tmp_path: Path) -> None:
    image = copied(sound[16], tmp_path / "short.img")
    os.truncate(image, Hand(image).fat_start + 512)
    assert read(image).damage == (
        Damage("the card ends within its own table of clusters"),
        Damage("the root folder runs past the end of the card: what was in it cannot be found"),
        told_of(*lost(31)),
    )


@pytest.mark.parametrize("fat", [12, 16])
def test_without_boot_sector_and_backup_nothing_can_be_listed(
    sound: dict[int, Path], fat: int, tmp_path: Path
) -> None:
    image = copied(sound[fat], tmp_path / "broken.img")
    Hand(image).put(0, "512s", b"")
    with pytest.raises(CardError, match="the boot sector is broken, and nothing can be found without it"):
        read(image)
    assert not fsck(image)[0]


def test_with_the_backup_of_the_boot_sector_everything_is_listed(
    sound: dict[int, Path], tmp_path: Path
) -> None:
    image = copied(sound[32], tmp_path / "broken.img")
    Hand(image).put(0, "512s", b"")
    contents, before = read(image), read(sound[32])
    reason = "it says that a sector holds 0 bytes"
    assert contents.damage == (
        Damage(f"the boot sector is broken ({reason}): only its backup copy tells where the files are"),
    )
    assert [entry.path for entry in contents.entries] == [entry.path for entry in before.entries]
    assert contents.volume == before.volume
    assert not fsck(image)[0]


def test_a_card_formatted_as_fat32_though_it_is_too_small_is_told(tmp_path: Path) -> None:
    """mkfs.fat warns of it too: players that count clusters, as the specification wants, see FAT16."""
    image = make(tmp_path / "card.img", 32, clusters=40_000)
    hand = Hand(image)
    assert read(image).damage == (
        Damage(
            f"the card is laid out as FAT32, but has {hand.clusters:,} clusters, which makes it FAT16: some "
            "players find nothing on it"
        ),
    )


def worn(image: Path, *bytes_at: int) -> Aligned:
    """The image as a device that cannot read these sectors."""
    return Aligned(Device(image.read_bytes(), worn=frozenset(place // 512 for place in bytes_at)))


def test_a_folder_that_is_worn_out_costs_only_what_was_listed_there(sound: dict[int, Path]) -> None:
    hand = Hand(sound[16])
    contents = read_fat(worn(sound[16], hand.root_start + 512 * 5, hand.byte_of(hand.head(DEEP))))
    assert (
        Damage(
            "a part of the folder MEDIA/DEEP cannot be read (the card is worn out): files may be missing",
            "MEDIA/DEEP",
        )
        in contents.damage
    )


def test_a_root_folder_that_is_worn_out_in_part_is_listed_in_part(
    sound: dict[int, Path], tmp_path: Path
) -> None:
    image = copied(sound[16], tmp_path / "card.img")
    must("mmd", "-i", image, *(f"::/FOLDER{number:02}" for number in range(40)))
    hand = Hand(image)
    contents = read_fat(worn(image, hand.slot(b"FOLDER10   ")))
    told = Damage("a part of the root folder cannot be read (the card is worn out): files may be missing")
    assert told in contents.damage
    assert "FOLDER39" in contents.folders
    assert "FOLDER10" not in contents.folders


def test_a_table_that_is_worn_out_is_read_from_its_copy(sound: dict[int, Path]) -> None:
    contents = read_fat(worn(sound[16], Hand(sound[16]).fat_start))
    assert contents.damage == (
        Damage("a part of the table of clusters cannot be read (the card is worn out): its copy was read"),
        told_of(
            f"copy 2 of {TABLE_NAME} could not be held against the one in use: a part of them cannot be read"
        ),
    )
    assert [entry.path for entry in contents.entries] == [entry.path for entry in read(sound[16]).entries]


def test_a_backup_that_is_worn_out_is_told(sound: dict[int, Path]) -> None:
    contents = read_fat(worn(sound[32], 6 * 512, 512))
    assert contents.damage == (
        told_of("the backup copy of the boot sector cannot be read"),
        told_of("the sector that keeps the count of free clusters (FSInfo) lacks its signatures"),
    )
