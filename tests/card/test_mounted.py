"""A mounted drive has the paths of the system, and the order and the damage of its medium."""

from __future__ import annotations

import errno
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from mediacheck.card.model import Card, Damage, Entry, Volume
from mediacheck.card.mounted import UNFINISHED
from mediacheck.card.mounts import System
from mediacheck.card.opening import open_card
from mediacheck.card.within import Run, Within
from mediacheck.errors import CardError
from tests.card.filled import FILES, fat_card

WHEN = datetime(2026, 1, 31, 9, 30)
USAGE = SimpleNamespace(total=4000, used=1000, free=3000)
MEDIUM = Volume(
    file_system="FAT32",
    partition_table="MBR",
    label="GARDEN",
    serial="1234-ABCD",
    capacity_bytes=3900,
    cluster_bytes=512,
    used_bytes=900,
    free_bytes=2900,
    medium_bytes=5000,
    claimed_bytes=5000,
    dirty=False,
)


@dataclass(frozen=True)
class Told:
    """As psutil tells one."""

    mountpoint: str
    opts: str = "rw"
    fstype: str = "vfat"
    device: str = "/dev/sdb1"


def system(
    folder: Path, raw: Callable[[], Card], told: Told | None = None, platform: str = "linux"
) -> System:
    """A system where the folder is a drive, whose medium is read so."""
    return System(
        mounts=lambda: (told or Told(str(folder)),),
        usage=lambda path: USAGE,
        raw=lambda source, shown, kind: raw(),
        settle=lambda: None,
        mount_table=folder / "no such file",
        platform=platform,
    )


def raw_entry(path: str, position: int, size_bytes: int = 1) -> Entry:
    return Entry(
        path,
        size_bytes,
        position,
        Within("/dev/sdb1", (Run(0, size_bytes),), size_bytes),
        short_name=f"SHORT~{position}",
        attributes=frozenset({"archive"}),
        modified=WHEN,
    )


def raw_card(*names: str, volume: Volume = MEDIUM, damage: Sequence[str] = (), **more: Any) -> Card:
    """What the medium lists, in this order."""
    entries = tuple(raw_entry(name, position) for position, name in enumerate(names))
    return Card(
        *("/dev/sdb1", "volume", entries, (), volume, True, tuple(Damage(what) for what in damage)), **more
    )


def fill(folder: Path, *names: str) -> None:
    for name in names:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(b"x")


def opened(folder: Path, raw: Card, told: Told | None = None, platform: str = "linux") -> Card:
    return open_card(folder, system=system(folder, lambda: raw, told, platform))


def order(card: Card) -> list[str]:
    assert [entry.position for entry in card.entries] == list(range(len(card.entries)))
    return [entry.path for entry in card.entries]


def test_entries_keep_the_paths_of_the_system_and_take_the_order_of_the_medium(tmp_path: Path) -> None:
    fill(tmp_path, "A.mp4", "B.mp4", "Media/C.mp4")
    card = opened(tmp_path, raw_card("B.mp4", "A.mp4", "Media/C.mp4", damage=["a fault"]))
    assert order(card) == ["B.mp4", "A.mp4", "Media/C.mp4"]
    assert [entry.location for entry in card.entries] == [tmp_path / path for path in order(card)]
    assert (card.source, card.kind, card.order_known, card.folders) == (
        *(str(tmp_path), "volume", True, ("Media",)),
    )
    assert (card.damage, card.raw_reason, card.unlisted) == ((Damage("a fault"),), None, None)
    first = card.entries[0]
    assert (first.short_name, first.attributes, first.modified) == ("SHORT~0", frozenset({"archive"}), WHEN)


def test_the_medium_knows_more_of_the_volume_than_the_system(tmp_path: Path) -> None:
    assert opened(tmp_path, raw_card()).volume == MEDIUM


def test_what_the_medium_does_not_say_the_system_does(tmp_path: Path) -> None:
    told = Told(str(tmp_path), fstype="ntfs3")
    raw = raw_card(
        volume=Volume("NTFS", "MBR", medium_bytes=5000),
        unlisted="it is formatted as NTFS, and files are read here from FAT and exFAT only",
        raw_reason="only FAT and exFAT are looked into",
    )
    fill(tmp_path, "A.mp4")
    card = opened(tmp_path, replace(raw, damage=None, order_known=False), told)
    assert card.volume == Volume(
        "NTFS", "MBR", capacity_bytes=4000, used_bytes=1000, free_bytes=3000, medium_bytes=5000
    )
    assert (order(card), card.order_known, card.damage) == (["A.mp4"], False, None)
    assert (card.unlisted, card.raw_reason) == (None, "only FAT and exFAT are looked into")


@pytest.mark.parametrize(
    ("on_medium", "in_system"),
    [("LOOP.MP4", "loop.mp4"), ("Blu\u0308te.mp4", "Bl\u00fcte.mp4"), ("Media/A.mp4", "MEDIA/a.MP4")],
)
def test_names_that_the_system_shows_otherwise_are_the_same_files(
    tmp_path: Path, on_medium: str, in_system: str
) -> None:
    fill(tmp_path, in_system)
    card = opened(tmp_path, raw_card(on_medium))
    assert (card.order_known, card.entries[0].short_name) == (True, "SHORT~0")


def test_a_file_that_the_medium_does_not_know_leaves_the_order_unknown(tmp_path: Path) -> None:
    fill(tmp_path, "A.mp4", "B.mp4", "C.mp4")
    card = opened(tmp_path, raw_card("B.mp4", "A.mp4"))
    assert (order(card), card.order_known, card.damage) == (["A.mp4", "B.mp4", "C.mp4"], False, ())


def test_a_file_that_only_the_medium_knows_does_not_matter(tmp_path: Path) -> None:
    fill(tmp_path, "A.mp4", "B.mp4")
    card = opened(tmp_path, raw_card("B.mp4", "hidden", "A.mp4"))
    assert (order(card), card.order_known) == (["B.mp4", "A.mp4"], True)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=20)
@given(st.permutations(["a", "b", "c", "d/a", "d/b"]))
def test_any_order_of_the_medium_is_taken(tmp_path: Path, names: list[str]) -> None:
    fill(tmp_path, *names)
    assert order(opened(tmp_path, raw_card(*names))) == names


# A drive that is in use


def test_a_size_that_is_not_yet_on_the_medium_is_no_damage(tmp_path: Path) -> None:
    fill(tmp_path, "A.mp4")
    raw = raw_card("A.mp4", damage=["A.mp4 has clusters and no size"])
    raw = replace(raw, entries=(raw_entry("A.mp4", 0, 0),))
    card = opened(tmp_path, raw)
    assert (card.damage, card.raw_reason, card.order_known) == (None, UNFINISHED, False)


def test_damage_that_is_gone_a_moment_later_is_none(tmp_path: Path) -> None:
    fill(tmp_path, "A.mp4")
    states = [raw_card("A.mp4", damage=["1 cluster is lost"]), raw_card("A.mp4")]
    done: list[str] = []
    drives = replace(system(tmp_path, lambda: states.pop(0)), settle=lambda: done.append("waited"))
    card = open_card(tmp_path, system=drives)
    assert (card.damage, done, states) == ((), ["waited"], [])


@pytest.mark.parametrize(("damage", "opts"), [([], "rw"), (["a fault"], "ro")])
def test_there_is_no_wait_without_need(tmp_path: Path, damage: list[str], opts: str) -> None:
    done: list[str] = []
    drives = system(tmp_path, lambda: raw_card(damage=damage), Told(str(tmp_path), opts))
    card = open_card(tmp_path, system=replace(drives, settle=lambda: done.append("waited")))
    assert (card.damage, done) == (tuple(map(Damage, damage)), [])


@pytest.mark.parametrize(
    ("platform", "opts", "on_medium", "told"),
    [
        ("linux", "rw", True, None),
        ("darwin", "rw", True, None),
        ("win32", "rw", True, True),
        ("linux", "ro", True, True),
        ("linux", "rw", False, False),
        ("linux", "rw", None, None),
    ],
)
def test_a_drive_in_use_is_marked_as_dirty_and_that_means_nothing(
    tmp_path: Path, platform: str, opts: str, on_medium: bool | None, told: bool | None
) -> None:
    raw = raw_card(volume=replace(MEDIUM, dirty=on_medium))
    volume = opened(tmp_path, raw, Told(str(tmp_path), opts), platform).volume
    assert volume is not None
    assert volume.dirty == told


# A drive whose medium cannot be read


def failing(error: Exception) -> Callable[[], Card]:
    def raw() -> Card:
        raise error

    return raw


@pytest.mark.parametrize(
    ("platform", "told", "instead"),
    [
        (
            "linux",
            "/dev/sdb1",
            "you may not read /dev/sdb1 directly; to have the medium itself checked, run the same command "
            "with sudo or as a member of the group disk, or copy the card with `sudo dd if=/dev/sdb1 "
            "of=card.img bs=4M` and check card.img",
        ),
        (
            "win32",
            "E:\\",
            r"you may not read \\.\E: directly; to have the medium itself checked, open a terminal as "
            r"administrator and run the same command on \\.\E:",
        ),
    ],
)
def test_without_rights_the_files_are_listed_and_it_is_said_what_to_run(
    tmp_path: Path, platform: str, told: str, instead: str
) -> None:
    fill(tmp_path, "A.mp4")
    drive = Told(str(tmp_path), fstype="exFAT", device=told)
    card = open_card(
        tmp_path, system=system(tmp_path, failing(PermissionError(errno.EACCES, "no")), drive, platform)
    )
    assert card.raw_reason == instead
    assert (order(card), card.order_known, card.damage) == (["A.mp4"], False, None)
    assert card.volume == Volume("exFAT", capacity_bytes=4000, used_bytes=1000, free_bytes=3000)


@pytest.mark.parametrize(
    ("error", "reason"),
    [
        (FileNotFoundError(errno.ENOENT, "No such file"), "/dev/sdb1 cannot be read (No such file)"),
        (CardError("nothing there"), "nothing there"),
    ],
)
def test_a_medium_that_cannot_be_read_is_said(tmp_path: Path, error: Exception, reason: str) -> None:
    card = open_card(tmp_path, system=system(tmp_path, failing(error)))
    assert (card.kind, card.raw_reason, card.damage) == ("volume", reason, None)


def test_a_drive_that_does_not_tell_its_room_is_a_drive(tmp_path: Path) -> None:
    def usage(path: str) -> Any:
        raise OSError

    drives = replace(system(tmp_path, failing(PermissionError())), usage=usage)
    assert open_card(tmp_path, system=drives).volume == Volume(None)


def test_a_real_medium_gives_its_order_to_the_files_of_the_folder(tmp_path: Path) -> None:
    """As root of a Linux system: the image stands for the device that is mounted."""
    image = fat_card(tmp_path / "card.img")
    folder = tmp_path / "mounted"
    for name, content in FILES.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(content)
    told = Told(str(folder), device=str(image))
    card = open_card(folder, system=System(lambda: (told,), mount_table=tmp_path / "none"))
    assert order(card) == list(FILES)
    assert (card.order_known, card.damage, card.raw_reason) == (True, (), None)
    assert card.volume is not None
    assert (card.volume.file_system, card.volume.label) == ("FAT32", "GARDEN")
