"""Folders are walked in on-disk order, and nothing in them makes the walk endless or leaves a file out."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest

from mediacheck.card.contents import TOO_MANY
from mediacheck.card.exfat_entries import ARCHIVE, HIDDEN, READ_ONLY
from mediacheck.card.exfat_folder import NO_BYTES_KNOWN, NOT_FOR_US, NOTHING_THERE, NOTHING_WRITTEN, TOO_DEEP
from mediacheck.card.model import Damage
from tests.card.exfat_damages import STREAM, clusters, filled, of, set_first, set_sizes
from tests.card.exfat_images import MIB, Filled, New, composed, fsck, noise
from tests.card.test_exfat import read


def test_entries_stand_files_first_in_on_disk_order(tmp_path: Path) -> None:
    wanted = ["z.mp4", "b/z.mp4", "a/deep/2.mp4", "a/deep/1.mp4", "a/x.mp4", "A.mp4"]
    image = Filled(composed(tmp_path / "card.img", MIB, 512, 512)).fill([New(path) for path in wanted])
    contents = read(image.path)
    assert [entry.path for entry in contents.entries] == [
        *("z.mp4", "A.mp4", "b/z.mp4", "a/x.mp4", "a/deep/2.mp4", "a/deep/1.mp4")
    ]
    assert [entry.position for entry in contents.entries] == [0, 1, 2, 3, 4, 5]
    assert contents.folders == ("b", "a", "a/deep")


def test_attributes_and_times_are_those_of_the_card(tmp_path: Path) -> None:
    made = datetime(2026, 1, 31, 9, 30, 1, 990_000, tzinfo=timezone(timedelta(hours=-5)))
    new = New(
        "a.mp4", b"", attributes=HIDDEN | READ_ONLY | ARCHIVE, created=made, modified=datetime(2024, 2, 29)
    )
    image = Filled(composed(tmp_path / "card.img", MIB, 512, 512)).fill([new, New("b.mp4", attributes=0)])
    first, second = read(image.path).entries
    assert first.attributes == {"hidden", "read-only", "archive"}
    assert second.attributes == frozenset()
    assert (first.created, first.modified) == (made, datetime(2024, 2, 29))
    assert first.created is not None
    assert first.created.astimezone(UTC).hour == 14
    assert first.modified is not None
    assert first.modified.tzinfo is None
    assert first.short_name is None


def test_a_root_folder_of_many_clusters(tmp_path: Path) -> None:
    new = [New(f"picture {number:03}.jpg", b"p") for number in range(150)]
    image = Filled(composed(tmp_path / "card.img", MIB, 512, 512, "MANY")).fill(new)
    contents = read(image.path)
    assert [entry.path for entry in contents.entries] == [item.path for item in new]
    assert contents.damage == ()
    assert fsck(image.path)[0]


def test_deleted_files_are_not_listed(tmp_path: Path) -> None:
    image = Filled(composed(tmp_path / "card.img", MIB, 512, 512)).fill(
        [New("a.mp4"), New("b.mp4"), New("c.mp4")]
    )
    placed = image.placed["b.mp4"]
    for number in range(placed.entries):
        image.flip(placed.entry_byte + 32 * number, 0x80)
    contents = read(image.path)
    assert [entry.path for entry in contents.entries] == ["a.mp4", "c.mp4"]
    assert contents.damage == ()
    assert fsck(image.path)[0]


def test_files_of_which_nothing_can_be_read_are_unusable(tmp_path: Path) -> None:
    image = filled(tmp_path)
    set_sizes(image, "LOOP1.MP4", 1500, 0)
    set_first(image, "Faces/B.MP4", image.boot.cluster_count + 2)
    image.flip(image.placed["LOOP2.MP4"].entry_byte + STREAM, 0x80)
    found = {entry.path: (entry.size_bytes, entry.unusable) for entry in read(image.path).entries}
    assert found == {
        "LOOP1.MP4": (1500, NOTHING_WRITTEN),
        "(no name, 2)": (0, NO_BYTES_KNOWN),
        "Faces/A.MP4": (700, None),
        "Faces/B.MP4": (600, NOTHING_THERE),
    }


def test_a_file_with_unknown_critical_parts_is_not_for_us(tmp_path: Path) -> None:
    """8.2: nobody may read what such a set leads to."""
    path = composed(tmp_path / "card.img", MIB, 512, 512)
    image = Filled(path).fill([New("a.mp4", noise(600), more=b"\xc9" + bytes(31))])
    contents = read(image.path)
    assert [entry.unusable for entry in contents.entries] == [NOT_FOR_US]
    assert contents.damage == (of("a.mp4", "the directory entry of @ has parts of an unknown kind"),)


def test_folders_that_share_clusters_are_listed_once(tmp_path: Path) -> None:
    """Two hundred folders that all run through the same clusters cost no more than one."""
    path = composed(tmp_path / "card.img", 2 * MIB, 512, 512)
    new = [New(f"{number:03}/inside.jpg", b"p", chained=True) for number in range(200)]
    image = Filled(path).fill(new)
    last = clusters(image, "199")[0]
    for number in range(199):
        image.set_entry(f"{number:03}", STREAM + 1, b"\1")
        image.link([clusters(image, f"{number:03}")[0], last])
    contents = read(image.path)
    assert len(contents.folders) == 200
    assert len(contents.entries) == 200
    shared = [damage for damage in contents.damage if "shares clusters" in damage.what]
    assert shared


def test_folders_that_are_nested_too_deep_are_not_entered(tmp_path: Path) -> None:
    path = composed(tmp_path / "card.img", MIB, 512, 1024)
    deep = "/".join("d" * 250 for _ in range(20))
    contents = read(Filled(path).fill([New(f"{deep}/a.mp4")]).path)
    assert contents.entries == ()
    assert len(contents.folders) == 16
    assert contents.damage[0].what.endswith(TOO_DEEP)


def test_files_without_end_are_left_at_an_amount_that_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """And no cluster is called lost, since not all that holds any is known."""
    names = [f"{folder}/{number:02}.mp4" for folder in "abc" for number in range(40)]
    image = Filled(composed(tmp_path / "card.img", MIB, 512, 512)).fill([New(name) for name in names])
    assert [entry.path for entry in read(image.path).entries] == names
    monkeypatch.setattr("mediacheck.card.exfat_folder.LISTING_MAX", 15_000)
    contents = read(image.path)
    found = [entry.path for entry in contents.entries]
    assert found == names[: len(found)]
    assert 40 <= len(found) < len(names)
    assert contents.damage == (Damage(TOO_MANY),)


def test_names_that_cannot_be_shown_are_escaped(tmp_path: Path) -> None:
    path = composed(tmp_path / "card.img", MIB, 512, 512)
    image = Filled(path).fill([New("a\ud83d.mp4"), New("b\x07.mp4"), New("c\\.mp4"), New("Ä b\u3000c.mp4")])
    contents = read(image.path)
    found = [(entry.path, entry.valid_name) for entry in contents.entries]
    assert found == [
        ("a\\ud83d.mp4", False),
        ("b\\x07.mp4", True),
        ("c\\x5c.mp4", True),
        ("Ä b\u3000c.mp4", True),
    ]
    forbidden = "the directory entry of @ has a name that exFAT forbids"
    assert contents.damage == (of("b\\x07.mp4", forbidden), of("c\\x5c.mp4", forbidden))
