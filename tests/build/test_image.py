"""Images as they are written: the same bytes every time, whole, and read alike by every program."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any
from unicodedata import normalize

import pytest

from mediacheck.build.image import FAT32_LBA_SECTORS, is_zero, part_type, write_image
from mediacheck.build.plan import ImagePlan, Wishes, content_of, plan_image
from mediacheck.build.prove import prove
from mediacheck.card.fat_layout import BootSector
from mediacheck.card.new_volume import Placed
from mediacheck.card.opening import open_card
from mediacheck.check import judged
from mediacheck.errors import CardError, MediacheckError
from mediacheck.loop import File
from mediacheck.media.extensions import kind_by_name
from mediacheck.media.facts import Unreadable
from mediacheck.survey import Surveyed
from mediacheck.watching import NoByteWatcher
from tests.build import made
from tests.card.card_programs import run
from tests.card.filled import overwrite
from tests.card.tsk import read_disk

MIB = 1 << 20
SHAPES: dict[str, tuple[dict[str, Any], Wishes]] = {
    "FAT32": ({}, Wishes(label="GARDEN")),
    "FAT32 without a table": ({"partition_tables": ["none"]}, Wishes()),
    "FAT16": ({"file_systems": ["FAT16"]}, Wishes(label="GARDEN A")),
    "exFAT": ({"file_systems": ["exFAT"]}, Wishes(label="Gärten")),
    "1 GB": ({}, Wishes(size_bytes=10**9)),
}


class Noted(NoByteWatcher):
    """Adds up what it is told."""

    total_bytes = 0
    done_bytes = 0

    def begin(self, total_bytes: int, what: str) -> None:
        self.total_bytes += total_bytes

    def advanced(self, count_bytes: int) -> None:
        self.done_bytes += count_bytes


def written(plan: ImagePlan, image: Path) -> str:
    """Write it and give the hash that the writer tells."""
    with image.open("w+b", buffering=0) as target:
        return write_image(plan, target, NoByteWatcher()).sha256


def sha256_of(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


@pytest.mark.parametrize("shape", ["FAT32", "FAT32 without a table", "FAT16", "exFAT"])
def test_every_reader_finds_what_was_put_in(shape: str, tmp_path: Path) -> None:
    card, wishes = SHAPES[shape]
    plan = made.planned(made.folder_of(tmp_path / "face"), made.loaded(card=card), wishes)
    image = tmp_path / "card.img"
    assert written(plan, image) == sha256_of(image)
    assert image.stat().st_size == plan.shape.image_bytes
    prove(image, plan)
    found = open_card(image)
    assert found.volume == plan.report.volume
    assert [(e.path, e.open().read()) for e in found.entries] == [(p, made.FACE[p]) for p in made.IN_ORDER]
    seen = read_disk(image, plan.shape.start_byte)
    assert [(file.path, file.sha256) for file in seen.files] == [
        (path, hashlib.sha256(made.FACE[path]).hexdigest()) for path in made.IN_ORDER
    ]
    _fsck(plan, image, tmp_path)


def _fsck(plan: ImagePlan, image: Path, tmp_path: Path) -> None:
    part = tmp_path / "part.img"
    with image.open("rb") as whole:
        whole.seek(plan.shape.start_byte)
        part.write_bytes(whole.read())
    program = "fsck.exfat" if plan.shape.file_system == "exFAT" else "fsck.fat"
    run(program, "-n", part)


@pytest.mark.parametrize("shape", SHAPES)
def test_the_same_content_gives_the_same_bytes(shape: str, tmp_path: Path) -> None:
    card, wishes = SHAPES[shape]
    profile = made.loaded(card=card)
    first, second = made.folder_of(tmp_path / "a"), tmp_path / "b"
    for path in reversed(list(made.FACE)):  # made in another order, on another day
        made.folder_of(second, {path: made.FACE[path]})
        os.utime(second / path, (1_000_000_000, 1_000_000_000))
    hashes = [
        written(made.planned(source, profile, wishes), tmp_path / f"{source.name}.img")
        for source in (first, second)
    ]
    assert hashes[0] == hashes[1]


def test_a_known_card_has_a_known_hash(tmp_path: Path) -> None:
    """So that no change makes other cards of the same content unnoticed. The values were computed here."""
    found = {}
    for kind in ("FAT16", "FAT32", "exFAT"):
        folder = made.folder_of(tmp_path / kind)
        plan = made.planned(folder, made.loaded(card={"file_systems": [kind]}), Wishes(label="GARDEN"))
        found[kind] = written(plan, tmp_path / f"{kind}.img")
    assert found == KNOWN


KNOWN = {
    "FAT16": "b83fb8a12389b3c3109ca1d8513e8d9fd2ff98c0ea5122198d9b537aa7f48213",
    "FAT32": "9bb5105ee055e9a7b4951b8aae3535ac3b0b3a0acb2bef7c11cd0b07d6771571",
    "exFAT": "39d45825827ff05564145950873ef9bbfc362cea9c529afd34722da7ae6a7918",
}


STRICT: dict[str, Any] = {
    "layout": {"other_files": ["*.txt"], "ascii_only": True, "name_length_max": 20, "subfolders": False},
    "rules": {"file-unexpected": "fail"},
}
LIMITED: dict[str, dict[str, Any]] = {
    "FAT32": {"label_pattern": "FACE-[AB]", "cluster_bytes_max": 1024, "capacity_max_gb": 0.1},
    "FAT16": {"file_systems": ["FAT16"], "free_percent_min": 60},
    "exFAT": {"file_systems": ["exFAT"], "partition_tables": ["none"], "free_percent_min": 30},
}


def _as_media(file: File) -> File:
    kind = kind_by_name(file.entry.name)
    return replace(file, kind=kind, facts=Unreadable(kind, "it is made up") if kind != "other" else None)


@pytest.mark.parametrize("order", ["disk", "name"])
@pytest.mark.parametrize("kind", LIMITED)
def test_a_check_of_the_image_says_what_was_said_beforehand(kind: str, order: str, tmp_path: Path) -> None:
    """All but that nothing is damaged, which is said of what is written."""
    face = {**made.FACE, "straße/a.jpg": b"?", "Strasse/b.jpg": b"?", "straße/c.jpg": b"?", "ä.jpg": b""}
    folder = made.folder_of(tmp_path / "face", {normalize("NFD", path): face[path] for path in face})
    profile = made.loaded(card=LIMITED[kind], player={"order": order}, **STRICT)
    seen, wishes = made.surveyed(folder), Wishes(label="FACE-C")
    files = tuple(_as_media(file) for file in seen.files)
    seen = replace(seen, files=files)
    plan = plan_image(seen, content_of(seen, profile, wishes), profile, wishes, "quick")
    image = tmp_path / "card.img"
    written(plan, image)
    prove(image, plan)
    by_path = {file.entry.path: file for file in plan.content.files}
    card = open_card(image)
    found = tuple(replace(by_path[entry.path], entry=entry) for entry in card.entries)
    report = judged(Surveyed(card, found, {}), profile, "quick")
    assert report.findings == plan.report.findings
    assert len(report.findings) > 5
    assert report.items == plan.report.items
    assert len(report.items) > 2
    said, left = plan.report.not_checked, report.not_checked
    assert [one.rule for one in said if one not in left] == ["card-damaged"]
    assert [one for one in left if one not in said] == []


def test_what_holds_nothing_takes_no_room(tmp_path: Path) -> None:
    plan = made.planned(made.folder_of(tmp_path / "face"), wishes=Wishes(size_bytes=2 * 10**9))
    image = tmp_path / "card.img"
    written(plan, image)
    assert image.stat().st_size == 2 * 10**9
    if hasattr(os, "posix_fallocate") and image.stat().st_blocks:
        assert image.stat().st_blocks * 512 < 20 * MIB


def test_all_that_is_done_is_told(tmp_path: Path) -> None:
    plan, noted = made.planned(made.folder_of(tmp_path / "face")), Noted()
    with (tmp_path / "card.img").open("w+b", buffering=0) as target:
        write_image(plan, target, noted)
    assert noted.done_bytes == noted.total_bytes == plan.shape.image_bytes


@pytest.mark.parametrize("change", [b"seed" * 2999 + b"sead", b"seed" * 2999, b"seed" * 3001, None])
def test_a_file_that_changes_while_the_card_is_built_makes_no_card(
    change: bytes | None, tmp_path: Path
) -> None:
    folder = made.folder_of(tmp_path / "face")
    plan = made.planned(folder)
    clip = folder / "01 Seeds.mp4"
    clip.unlink() if change is None else clip.write_bytes(change)
    words = "cannot be read any more" if change is None else "was changed while the card was built"
    with pytest.raises(CardError, match=f"01 Seeds.mp4 {words}"):
        written(plan, tmp_path / "card.img")


LABEL_IN_BOOT, TYPE_IN_TABLE, IN_FIRST_FAT = 4 * MIB + 71, 446 + 4, -1


@pytest.mark.parametrize(
    ("place", "data", "what"),
    [
        (LABEL_IN_BOOT, b"OTHER      ", "the damage on it"),
        (TYPE_IN_TABLE, b"\x00", "what stands in its way|the damage on it"),
        (IN_FIRST_FAT, b"\xf7\xff\xff\x0f", "the damage on it"),
    ],
)
def test_an_image_that_does_not_read_back_is_not_handed_out(
    place: int, data: bytes, what: str, tmp_path: Path
) -> None:
    plan = made.planned(made.folder_of(tmp_path / "face"), wishes=Wishes(label="GARDEN"))
    image = tmp_path / "card.img"
    written(plan, image)
    prove(image, plan)
    if place == IN_FIRST_FAT:
        reserved = BootSector.parse(image.read_bytes()[4 * MIB :]).reserved_sectors
        place = 4 * MIB + reserved * 512 + 4 * 10  # the tenth cluster lies in a file
    overwrite(image, place, data)
    with pytest.raises(MediacheckError, match=f"does not read back as it was planned: ({what})"):
        prove(image, plan)


def test_an_image_that_is_sound_but_not_as_planned_is_not_handed_out(tmp_path: Path) -> None:
    plan = made.planned(made.folder_of(tmp_path / "face"))
    image = tmp_path / "card.img"
    written(plan, image)
    files, free = plan.laid_out.files, plan.laid_out.free_bytes
    moved = (replace(files[0], start_byte=files[0].start_byte + 512), *files[1:])
    wrong = {
        "the free space": replace(plan, laid_out=_LaidOut(files, free + 512)),
        "the place of a file": replace(plan, laid_out=_LaidOut(moved, free)),
        "the label": replace(plan, volume=replace(plan.volume, label="GARDEN")),
        "the file system": replace(plan, shape=replace(plan.shape, file_system="FAT16")),
        "the partition table": replace(plan, shape=replace(plan.shape, table="none")),
        "the list of files": replace(plan, content=replace(plan.content, files=plan.content.files[::-1])),
        "the list of folders": replace(plan, content=replace(plan.content, folders=())),
    }
    for what, other in wrong.items():
        with pytest.raises(MediacheckError, match=f"does not read back as it was planned: {what} is "):
            prove(image, other)


@dataclass(frozen=True)
class _LaidOut:
    """As much of a layout as is compared."""

    files: tuple[Placed, ...]
    free_bytes: int
    capacity_bytes: int = 0
    used_bytes: int = 0

    def head(self) -> Iterator[tuple[int, bytes]]:
        return iter(())


def test_the_type_of_a_part_goes_by_its_size() -> None:
    sizes = (
        ("FAT16", 65_535),
        ("FAT16", 65_536),
        ("FAT32", FAT32_LBA_SECTORS - 1),
        ("FAT32", FAT32_LBA_SECTORS),
    )
    assert [part_type(kind, sectors) for kind, sectors in sizes] == [0x04, 0x06, 0x0B, 0x0C]  # type: ignore[arg-type]
    assert part_type("exFAT", 1) == 0x07


def test_nothing_is_told_from_something() -> None:
    assert is_zero(memoryview(bytes(9000)))
    for place in (0, 4095, 4096, 8999):
        block = bytearray(9000)
        block[place] = 1
        assert not is_zero(memoryview(block))


def test_other_programs_read_the_table(tmp_path: Path) -> None:
    plan = made.planned(made.folder_of(tmp_path / "face"), wishes=Wishes(size_bytes=10**9))
    image = tmp_path / "card.img"
    written(plan, image)
    told = run("sfdisk", "-d", image)
    assert f"start=        8192, size=     {plan.shape.volume_bytes // 512}, type=b" in told
    assert f"label-id: 0x{plan.volume.serial:08x}" in told
