"""Each kind of damage, made by hand in a clean volume, is named with the files it hits; fsck.exfat agrees."""

from __future__ import annotations

from pathlib import Path

import pytest

from mediacheck.card.damages import LISTED_MAX
from mediacheck.card.exfat import read_exfat
from mediacheck.card.exfat_layout import FAT_BAD
from mediacheck.card.medium import Aligned
from mediacheck.card.model import Damage, Entry
from mediacheck.card.within import Run, Within
from tests.card.exfat_damages import CASES, ON_FREE, Case, clusters, filled, of, set_sizes
from tests.card.exfat_images import MIB, Filled, New, composed, fsck, noise
from tests.card.media import Bytes, Device
from tests.card.test_exfat import read


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


def test_a_volume_that_was_pulled_out_is_dirty_and_not_damaged(tmp_path: Path) -> None:
    """3.1.13.2. fsck.exfat -n does not look there."""
    image = filled(tmp_path)
    image.flip(106, 2)
    contents = read(image.path)
    assert (contents.volume.dirty, contents.damage) == (True, ())
    assert fsck(image.path)[0]


def test_bad_clusters_are_neither_lost_nor_damage(tmp_path: Path) -> None:
    """7.1.5.1: the bitmap counts them as taken."""
    image = filled(tmp_path)
    image.take([1000, 1001])
    image.set_fat(1000, FAT_BAD)
    image.set_fat(1001, FAT_BAD)
    assert read(image.path).damage == ()


def entry_of(image: Filled, path: str) -> Entry:
    return next(entry for entry in read(image.path).entries if entry.path == path)


def runs_of(entry: Entry) -> tuple[Run, ...]:
    assert isinstance(entry.location, Within)
    return entry.location.runs


def test_a_file_that_was_not_written_to_its_end_breaks_off_there(tmp_path: Path) -> None:
    """What stands behind the valid length is what some other file left there (7.6.5): it is not read."""
    image = filled(tmp_path)
    for path, content in (("LOOP1.MP4", noise(1500)), ("LOOP2.MP4", noise(2000))):
        for valid in (1, 512, 513, 1024):
            set_sizes(image, path, len(content), valid)
            entry = entry_of(image, path)
            assert (entry.size_bytes, entry.unusable) == (len(content), None)
            with entry.open() as file:
                assert file.read() == content[:valid]


def test_parts_that_makers_of_devices_add_are_no_damage(tmp_path: Path) -> None:
    """7.8, 7.9: their clusters are taken, and belong to them."""
    extension = b"\xe0\0" + b"G" * 16 + bytes(14)
    allocation = b"\xe1\3" + b"G" * 16 + bytes(2) + (500).to_bytes(4, "little") + (600).to_bytes(8, "little")
    path = composed(tmp_path / "card.img", MIB, 512, 512)
    image = Filled(path).fill([New("a.mp4", noise(600), more=extension + allocation)])
    image.take([500, 501])
    assert read(image.path).damage == ()
    image.take([501], taken=False)
    assert read(image.path).damage == (
        Damage(ON_FREE.replace("@", "an extra part of a.mp4"), only_writing=True),
    )


def test_a_medium_that_ends_too_soon(tmp_path: Path) -> None:
    """Each file of which something is missing is named; what is there is read."""
    image = filled(tmp_path)
    middle = image.byte_of(clusters(image, "LOOP2.MP4")[1]) + 100
    contents = read_exfat(Bytes(image.read(0, middle)))
    loop1, loop2 = contents.entries
    assert (loop1.path, loop1.unusable, loop2.path, loop2.unusable) == ("LOOP1.MP4", None, "LOOP2.MP4", None)
    assert [run.length_bytes for run in runs_of(loop2)] == [512, 100]
    ends = "@ runs past the end of the medium: only {} of its {} bytes are there"
    assert of("LOOP2.MP4", ends.format("612", "2,000")) in contents.damage
    assert Damage(ends.replace("@", "the folder Faces").format("0", "512")) in contents.damage
    assert contents.folders == ("Faces", "Seeds")


def test_clusters_that_cannot_be_read_are_told_and_the_rest_is_listed(tmp_path: Path) -> None:
    image = filled(tmp_path)
    place = image.byte_of(clusters(image, "Faces")[0])
    contents = read_exfat(Aligned(Device(image.read(0, MIB), worn=frozenset((place // 512,)))))
    assert [entry.path for entry in contents.entries] == ["LOOP1.MP4", "LOOP2.MP4"]
    assert contents.damage[0] == Damage(f"byte {place:,} of the card cannot be read (Input/output error)")


def test_only_so_much_damage_is_listed(tmp_path: Path) -> None:
    path = composed(tmp_path / "card.img", MIB, 512, 512)
    image = Filled(path).fill([New(f"{number:03}.jpg", b"p") for number in range(300)])
    for placed in image.placed.values():
        image.flip(placed.entry_byte + 8)
    damage = read(image.path).damage
    assert len(damage) == LISTED_MAX + 1
    assert damage[0] == of("000.jpg", "the directory entry of @ has a wrong checksum")
    assert damage[-1] == Damage("and 100 more faults like these")
