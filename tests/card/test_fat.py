"""What a FAT volume is said to hold is what mtools and The Sleuth Kit find; files are read in place."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from importlib import import_module
from pathlib import Path
from random import Random
from typing import Any

import pytest

from mediacheck.card.contents import Contents
from mediacheck.card.fat import read_fat
from mediacheck.card.medium import FileMedium, Window
from mediacheck.card.model import Entry, Volume
from mediacheck.card.within import Run, Within
from tests.card.fat_images import KINDS, Hand, fill, fsck, listed_by_mdir, make, must

pytsk3: Any = import_module("pytsk3")
NAMES = (
    "LOOP1.MP4",
    "lower.mp4",
    "Mixed Case.Mp4",
    "Größe in cm.jpg",
    "水やり.mp4",
    "n" * 150 + ".mp4",
    "13 letters.mp",
    "a.b.c.mp4",
)
# The Sleuth Kit shows no more than 195 letters of a name, and mtools adds one cluster to a folder at a time.
FOLDERS = ("", "MEDIA/", "MEDIA/Spring seeds/", "MEDIA/Spring seeds/OLD/", "zz last/")


@dataclass(frozen=True)
class Card:
    """How one image is made."""

    fat: int
    sector_bytes: int = 512
    sectors_per_cluster: int = 1
    fats: int = 2
    label: str | None = "GARDEN"

    @property
    def name(self) -> str:
        return f"fat{self.fat}-{self.sector_bytes}-{self.sectors_per_cluster}-{self.fats}-{self.label}"


CARDS = (
    Card(12),
    Card(12, 1024, 4, 1, None),
    Card(16, 512, 8),
    Card(16, 2048, 1, 1, "SEEDS 2"),
    Card(16, 4096, 16, 2, None),
    Card(32),
    Card(32, 1024, 2, 1, None),
    Card(32, 4096, 1, 2, "WATERING"),
)


def tree(seed: int, cluster_bytes: int) -> dict[str, bytes]:
    """Files of sizes around the borders of clusters, in folders in folders, in no order of names."""
    random = Random(seed)
    names = [f"{folder}{name}" for folder in FOLDERS for name in NAMES]
    random.shuffle(names)
    sizes = (0, 1, cluster_bytes - 1, cluster_bytes, cluster_bytes + 1, 3 * cluster_bytes, 700)
    return {name: random.randbytes(random.choice(sizes)) for name in names} | {"empty folder/": b""}


@dataclass(frozen=True)
class Made:
    card: Card
    image: Path
    files: dict[str, bytes]

    @property
    def contents(self) -> Contents:
        medium = FileMedium(str(self.image))
        try:
            return read_fat(medium)
        finally:
            medium.close()


@pytest.fixture(scope="module", params=CARDS, ids=lambda card: card.name)
def made(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Made:
    """An image of each kind, filled by mtools."""
    card: Card = request.param
    folder = tmp_path_factory.mktemp(card.name)
    label = ("-n", card.label) if card.label else ()
    shape = {
        "sector_bytes": card.sector_bytes,
        "sectors_per_cluster": card.sectors_per_cluster,
        "fats": card.fats,
    }
    image = make(folder / "card.img", card.fat, *label, **shape)
    files = tree(card.fat + card.sector_bytes, card.sector_bytes * card.sectors_per_cluster)
    fill(image, files, folder)
    return Made(card, image, files)


def read_in_place(entry: Entry) -> bytes:
    with entry.open() as file:
        return file.read()


def sha256(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def tsk_files(image: Path) -> dict[str, tuple[int, str, datetime]]:
    """Size, SHA-256 and time of each file, as The Sleuth Kit finds them."""
    system = pytsk3.FS_Info(pytsk3.Img_Info(str(image)))
    found: dict[str, tuple[int, str, datetime]] = {}

    def walk(folder: Any, prefix: str) -> None:
        for entry in folder:
            name, meta = entry.info.name.name.decode(), entry.info.meta
            if (
                name in (".", "..")
                or name.startswith("$")
                or name.endswith("(Volume Label Entry)")
                or not meta
            ):
                continue
            if meta.type == pytsk3.TSK_FS_META_TYPE_DIR:
                walk(entry.as_directory(), f"{prefix}{name}/")
            else:
                content = entry.read_random(0, meta.size) if meta.size else b""
                found[prefix + name] = (meta.size, sha256(content), datetime.fromtimestamp(meta.mtime))

    walk(system.open_dir("/"), "")
    return found


def test_every_file_is_listed_with_its_size_and_content(made: Made) -> None:
    found = {entry.path: (entry.size_bytes, sha256(read_in_place(entry))) for entry in made.contents.entries}
    files = {path: content for path, content in made.files.items() if not path.endswith("/")}
    assert found == {path: (len(content), sha256(content)) for path, content in files.items()}


def test_a_sound_volume_has_no_damage_and_fsck_agrees(made: Made) -> None:
    contents = made.contents
    assert contents.damage == ()
    assert not any(entry.unusable for entry in contents.entries)
    clean, words = fsck(made.image)
    assert clean, words


def test_the_order_is_that_of_the_disk_as_mdir_lists_it(made: Made) -> None:
    listed = listed_by_mdir(made.image)
    contents = made.contents
    assert [entry.path for entry in contents.entries] == [path for path in listed if not path.endswith("/")]
    assert _by_parent(contents.folders) == _by_parent([path[:-1] for path in listed if path.endswith("/")])
    assert [entry.position for entry in contents.entries] == list(range(len(contents.entries)))


def _by_parent(folders: Sequence[str]) -> dict[str, list[str]]:
    """mdir lists all folders in a folder before it goes into the first of them."""
    parents = {folder.rpartition("/")[0] for folder in folders}
    return {parent: [f for f in folders if f.rpartition("/")[0] == parent] for parent in parents}


def test_a_folder_comes_before_the_folders_in_it_and_after_the_files_beside_it(made: Made) -> None:
    contents = made.contents
    assert [folder for folder in contents.folders if folder.startswith("MEDIA")] == [
        *("MEDIA", "MEDIA/Spring seeds", "MEDIA/Spring seeds/OLD")
    ]
    homes = list(dict.fromkeys(entry.folder for entry in contents.entries))
    assert homes == ["", *(folder for folder in contents.folders if folder != "empty folder")]


def test_the_sleuth_kit_finds_the_same_files(made: Made) -> None:
    found = {
        entry.path: (entry.size_bytes, sha256(read_in_place(entry)), entry.modified)
        for entry in made.contents.entries
    }
    assert found == tsk_files(made.image)


def minfo(image: Path) -> dict[str, str]:
    """What minfo prints of the boot sector."""
    lines = must("minfo", "-i", image).decode().splitlines()
    pairs = (re.fullmatch(r"([^=:]+)[=:] *(.*?)(?: bytes| sectors)?", line) for line in lines)
    return {pair[1].strip(): pair[2] for pair in pairs if pair}


def test_the_volume_is_told_as_minfo_and_mdir_tell_it(made: Made) -> None:
    told, volume, card = minfo(made.image), made.contents.volume, made.card
    sector_bytes = int(told["sector size"])
    sectors = int(told.get("big size", 0)) or int(told["small size"])
    assert (sector_bytes, int(told["fats"])) == (card.sector_bytes, card.fats)
    listing = must("mdir", "-i", made.image, "::/").decode()
    free_bytes = int(
        re.sub(r"\D", "", next(line for line in listing.splitlines() if line.endswith("bytes free")))
    )
    hand = Hand(made.image)
    cluster_bytes = int(told["cluster size"]) * sector_bytes
    assert (
        volume
        == Volume(
            file_system=f"FAT{card.fat}",  # type: ignore[arg-type]  # one of the three
            label=card.label,
            serial=f"{told['serial number'][:4]}-{told['serial number'][4:]}",
            capacity_bytes=sectors * sector_bytes,
            cluster_bytes=cluster_bytes,
            used_bytes=hand.clusters * cluster_bytes - free_bytes,
            free_bytes=free_bytes,
            claimed_bytes=sectors * sector_bytes,
            dirty=False,
        )
    )
    label = re.search(r"Volume in drive : (?:is (.*?) *|has no label)$", listing, re.MULTILINE)
    assert label
    assert label[1] == volume.label
    assert f"Volume Serial Number is {volume.serial}" in listing


def test_the_geometry_is_that_of_the_sleuth_kit(made: Made) -> None:
    told, volume = pytsk3.FS_Info(pytsk3.Img_Info(str(made.image))).info, made.contents.volume
    kinds = {
        pytsk3.TSK_FS_TYPE_FAT12: "FAT12",
        pytsk3.TSK_FS_TYPE_FAT16: "FAT16",
        pytsk3.TSK_FS_TYPE_FAT32: "FAT32",
    }
    assert volume.file_system == kinds[told.ftype]
    assert volume.capacity_bytes == told.block_size * told.block_count
    serial = int.from_bytes(bytes(told.fs_id[:4]), "little")
    assert volume.serial == f"{serial >> 16:04X}-{serial & 0xFFFF:04X}"


def shorts(contents: Contents) -> dict[str, str | None]:
    return {entry.name: entry.short_name for entry in contents.entries if not entry.folder}


def test_short_names_are_those_that_are_on_the_disk(made: Made) -> None:
    found = shorts(made.contents)
    assert (found["LOOP1.MP4"], found["lower.mp4"]) == ("LOOP1.MP4", "LOWER.MP4")
    assert found["Mixed Case.Mp4"] == "MIXEDC~1.MP4"
    raw = Hand(made.image).read(Hand(made.image).root_start, 1 << 16)
    for short in filter(None, found.values()):
        base, _, extension = short.partition(".")
        name = base.encode("cp437").ljust(8) + extension.encode("cp437").ljust(3)
        assert name in raw


@pytest.fixture
def small(tmp_path: Path) -> Path:
    """One file of three clusters in an empty volume."""
    image = make(tmp_path / "small.img", 16, "-n", "GARDEN", "-i", "1234abcd")
    fill(image, {"CLIP.MP4": b"seed" * 300}, tmp_path)
    return image


def contents_of(image: Path) -> Contents:
    return read_fat(FileMedium(str(image)))


def test_an_entry_tells_where_its_bytes_lie(small: Path) -> None:
    (entry,) = contents_of(small).entries
    start = small.read_bytes().index(b"seedseed")
    assert entry == Entry(
        path="CLIP.MP4",
        size_bytes=1200,
        position=0,
        location=Within(str(small), (Run(start, 1536),), 1200),
        short_name="CLIP.MP4",
        attributes=frozenset({"archive"}),
        created=entry.created,
        modified=entry.modified,
    )


def test_times_are_those_at_which_the_file_was_copied(small: Path) -> None:
    (entry,) = contents_of(small).entries
    slot = Hand(small).slot(b"CLIP    MP4")
    assert entry.created
    assert entry.modified
    assert abs(datetime.now() - entry.modified) < timedelta(minutes=5)
    Hand(small).put(slot + 13, "BHH", 150, 0x6DBD, 0x585D)
    Hand(small).put(slot + 22, "HH", 0x0000, 0x0021)
    (entry,) = contents_of(small).entries
    assert entry.created == datetime(2024, 2, 29, 13, 45, 59, 500_000)
    assert entry.modified == datetime(1980, 1, 1)


def test_an_entry_without_times_has_none(small: Path) -> None:
    slot = Hand(small).slot(b"CLIP    MP4")
    Hand(small).put(slot + 13, "13s", b"")
    (entry,) = contents_of(small).entries
    assert (entry.created, entry.modified) == (None, None)


@pytest.mark.parametrize(
    ("byte", "words"),
    [
        (0x00, set()),
        (0x01, {"read-only"}),
        (0x26, {"hidden", "system", "archive"}),
        (0x27, {"read-only", "hidden", "system", "archive"}),
    ],
)
def test_attributes_are_told_in_words(small: Path, byte: int, words: set[str]) -> None:
    Hand(small).put(Hand(small).slot(b"CLIP    MP4") + 11, "B", byte)
    (entry,) = contents_of(small).entries
    assert entry.attributes == words


def test_attributes_set_by_mtools_are_read(small: Path) -> None:
    must("mattrib", "+r", "+h", "-a", "-i", small, "::/CLIP.MP4")
    (entry,) = contents_of(small).entries
    assert entry.attributes == {"read-only", "hidden"}


def test_a_file_in_pieces_is_read_in_its_own_order(tmp_path: Path) -> None:
    """mtools fills the gaps that deleted files leave: so a file comes to lie in many runs."""
    image = make(tmp_path / "card.img", 12)
    gaps = {f"GAP{number:02}.TXT": b"x" * 512 * (1 + number % 3) for number in range(40)}
    fill(image, gaps, tmp_path)
    must("mdel", "-i", image, *(f"::/{name}" for name in list(gaps)[::2]))
    content = Random(7).randbytes(512 * 60 + 17)
    must("mcopy", "-i", image, "-o", _written(tmp_path / "clip", content), "::/CLIP.MP4")
    entry = next(entry for entry in contents_of(image).entries if entry.path == "CLIP.MP4")
    assert isinstance(entry.location, Within)
    assert len(entry.location.runs) > 10
    assert read_in_place(entry) == content
    assert contents_of(image).damage == ()


def _written(path: Path, content: bytes) -> Path:
    path.write_bytes(content)
    return path


def test_a_name_of_255_letters_is_whole(tmp_path: Path) -> None:
    image, name = make(tmp_path / "card.img", 16), "n" * 251 + ".mp4"
    fill(image, {name: b"seed"}, tmp_path)
    contents = contents_of(image)
    assert ([entry.path for entry in contents.entries], contents.damage) == ([name], ())


def test_deleted_files_are_not_listed(small: Path) -> None:
    must("mdel", "-i", small, "::/CLIP.MP4")
    contents = contents_of(small)
    assert (contents.entries, contents.damage) == ((), ())


def test_a_volume_in_a_part_of_a_medium_is_read_in_place(small: Path, tmp_path: Path) -> None:
    alone = contents_of(small)
    offset, length = 1_048_576, small.stat().st_size
    whole = _written(tmp_path / "whole.img", bytes(offset) + small.read_bytes() + bytes(999))
    within = read_fat(Window(FileMedium(str(whole)), offset, length))
    (entry,) = within.entries
    assert read_in_place(entry) == b"seed" * 300
    assert isinstance(entry.location, Within)
    assert entry.location.medium == str(whole)
    assert alone.volume.claimed_bytes
    assert within.volume.claimed_bytes == offset + alone.volume.claimed_bytes
    assert within.damage == ()


@pytest.mark.parametrize("fat", KINDS)
def test_an_empty_volume_has_nothing_in_it(fat: int, tmp_path: Path) -> None:
    contents = contents_of(make(tmp_path / "card.img", fat))
    assert (contents.entries, contents.folders, contents.damage) == ((), (), ())
    assert contents.volume.label is None
    used = contents.volume.cluster_bytes if fat == 32 else 0
    assert contents.volume.used_bytes == used


def test_the_label_in_the_root_folder_comes_before_the_one_in_the_boot_sector(small: Path) -> None:
    hand = Hand(small)
    hand.put(43, "11s", b"BOOT LABEL ")
    assert contents_of(small).volume.label == "GARDEN"
    hand.put(hand.root_start, "11s", b"SPR\x81HL  \x9a ")
    assert contents_of(small).volume.label == "SPRüHL  Ü"
    hand.put(hand.root_start, "B", 0xE5)
    assert contents_of(small).volume.label == "BOOT LABEL"
    hand.put(43, "11s", b"NO NAME    ")
    assert contents_of(small).volume.label is None
    hand.put(43, "11s", bytes(11))
    assert contents_of(small).volume.label is None


def test_serial_and_label_need_the_signature_of_the_fields(small: Path) -> None:
    assert contents_of(small).volume.serial == "1234-ABCD"
    Hand(small).put(Hand(small).root_start, "B", 0xE5)
    Hand(small).put(38, "B", 0x28)
    assert (contents_of(small).volume.serial, contents_of(small).volume.label) == ("1234-ABCD", None)
    Hand(small).put(38, "B", 0)
    assert contents_of(small).volume.serial is None


@pytest.mark.parametrize(("fat", "offset"), [(12, 37), (16, 37), (32, 65)])
def test_a_card_that_was_pulled_out_is_dirty_by_its_boot_sector(
    fat: int, offset: int, tmp_path: Path
) -> None:
    image = make(tmp_path / "card.img", fat)
    Hand(image).put(offset, "B", 1)
    contents = contents_of(image)
    assert (contents.volume.dirty, contents.damage) == (True, ())
    assert not fsck(image)[0]


@pytest.mark.parametrize(("fat", "clean"), [(16, 0x8000), (32, 0x08000000)])
def test_a_card_that_was_pulled_out_is_dirty_by_its_table(fat: int, clean: int, tmp_path: Path) -> None:
    image = make(tmp_path / "card.img", fat)
    Hand(image).set_entry(1, Hand(image).end & ~clean)
    contents = contents_of(image)
    assert (contents.volume.dirty, contents.damage) == (True, ())
    assert not fsck(image)[0]


def test_many_files_in_one_folder_are_all_there(tmp_path: Path) -> None:
    image = make(tmp_path / "card.img", 16)
    source = tmp_path / "source"
    source.mkdir()
    for number in range(150):
        (source / f"Watering clip {number:04}.mp4").write_bytes(b"%d" % number)
    must("mcopy", "-s", "-i", image, source, "::/MEDIA")
    contents = contents_of(image)
    assert {entry.path: read_in_place(entry) for entry in contents.entries} == {
        f"MEDIA/Watering clip {number:04}.mp4": b"%d" % number for number in range(150)
    }
    assert [entry.path for entry in contents.entries] == [
        path for path in listed_by_mdir(image) if not path.endswith("/")
    ]
    assert contents.damage == ()


def test_reading_leaves_the_image_as_it_was(small: Path) -> None:
    before, times = small.read_bytes(), small.stat()
    contents_of(small)
    after = small.stat()
    assert small.read_bytes() == before
    assert (after.st_mtime_ns, after.st_size) == (times.st_mtime_ns, times.st_size)
