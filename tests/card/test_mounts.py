"""Which folder is the root of a drive, as the system tells it."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import psutil
import pytest

from mediacheck.card.mounts import Mount, System, mount_at


@dataclass(frozen=True)
class Told:
    """As psutil tells one."""

    mountpoint: str
    fstype: str = "vfat"
    device: str = "/dev/sdb1"
    opts: str = "rw,noatime"


def system(*mounts: Told, table: str | None = None, folder: Path | None = None) -> System:
    """A system with these drives, and what Linux says of them in its own table."""
    path = (folder or Path()) / "mountinfo"
    if table is not None:
        path.write_text(table, "utf-8")
    return System(mounts=lambda: mounts, mount_table=path, settle=lambda: None)


def test_the_root_of_a_drive_is_told(tmp_path: Path) -> None:
    found = mount_at(tmp_path, system(Told("/other"), Told(str(tmp_path))))
    assert found == Mount("/dev/sdb1", None, read_only=False)


@pytest.mark.parametrize("inner", ["Media", "Media/Old", ".."])
def test_other_folders_are_no_roots(tmp_path: Path, inner: str) -> None:
    (tmp_path / "card" / "Media" / "Old").mkdir(parents=True)
    assert mount_at(tmp_path / "card" / inner, system(Told(str(tmp_path / "card")))) is None


def test_a_root_is_known_by_any_path_to_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "Media").mkdir()
    monkeypatch.chdir(tmp_path)
    drives = system(Told(str(tmp_path)))
    assert all(mount_at(Path(path), drives) for path in (".", "Media/..", str(tmp_path)))


@pytest.mark.skipif(os.name != "posix", reason="links need a special right")
def test_a_link_to_a_root_is_that_root(tmp_path: Path) -> None:
    (tmp_path / "card").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "card")
    assert mount_at(tmp_path / "link", system(Told(str(tmp_path / "card")))) is not None


@pytest.mark.parametrize(
    ("told", "file_system"),
    [
        ("exfat", "exFAT"),
        ("exFAT", "exFAT"),
        ("FAT32", "FAT32"),
        ("NTFS", "NTFS"),
        ("ntfs3", "NTFS"),
        ("hfs", "HFS+"),
        ("apfs", "APFS"),
        ("ext4", "ext"),
        ("iso9660", "ISO 9660"),
        ("CDFS", "ISO 9660"),
        ("udf", "UDF"),
        # More than one file system has this name
        ("vfat", None),
        ("msdos", None),
        ("FAT", None),
        ("fuseblk", None),
    ],
)
def test_names_of_the_system_are_turned_into_ours(tmp_path: Path, told: str, file_system: str | None) -> None:
    found = mount_at(tmp_path, system(Told(str(tmp_path), told)))
    assert found is not None
    assert found.file_system == file_system


@pytest.mark.parametrize("told", ["nfs4", "tmpfs", "overlay", "fuse.sshfs", "9p", "virtiofs", "cifs", ""])
def test_what_is_no_drive_stays_a_folder(tmp_path: Path, told: str) -> None:
    assert mount_at(tmp_path, system(Told(str(tmp_path), told))) is None


@pytest.mark.parametrize(
    ("opts", "read_only"), [("ro,nosuid", True), ("rw,errors=remount-ro", False), ("rw,removable", False)]
)
def test_whether_it_is_mounted_for_writing_is_told(tmp_path: Path, opts: str, read_only: bool) -> None:
    found = mount_at(tmp_path, system(Told(str(tmp_path), opts=opts)))
    assert found is not None
    assert found.read_only == read_only


def test_of_two_drives_at_one_place_the_later_is_seen(tmp_path: Path) -> None:
    place = str(tmp_path)
    found = mount_at(tmp_path, system(Told(place, "ext4", "/dev/sda1"), Told(place, "exfat", "/dev/sdb1")))
    assert found == Mount("/dev/sdb1", "exFAT", read_only=False)
    assert mount_at(tmp_path, system(Told(place, "ext4"), Told(place, "tmpfs"))) is None


@pytest.mark.parametrize(("inside", "is_root"), [("/", True), ("/cards/one", False)])
def test_a_folder_of_a_drive_that_is_mounted_again_is_no_drive(
    tmp_path: Path, inside: str, is_root: bool
) -> None:
    """proc(5): number, parent, device, folder inside of the drive, place, ...; as containers do it."""
    card = tmp_path / "my card"
    card.mkdir()
    shown = str(card).replace(" ", r"\040")
    table = f"22 27 0:21 / /proc rw - proc proc rw\n31 27 8:17 {inside} {shown} rw - vfat /dev/sdb1 rw\n"
    drives = system(Told(str(card)), table=table, folder=tmp_path)
    assert (mount_at(card, drives) is not None) == is_root


def raising(error: Exception) -> Callable[[], Sequence[Told]]:
    def mounts() -> Sequence[Told]:
        raise error

    return mounts


@pytest.mark.parametrize("error", [PermissionError(), OSError(), psutil.AccessDenied()])
def test_a_system_that_does_not_say_leaves_a_folder(tmp_path: Path, error: Exception) -> None:
    assert mount_at(tmp_path, System(mounts=raising(error))) is None


def test_this_system_is_asked_for_its_own_drives(tmp_path: Path) -> None:
    assert mount_at(tmp_path, System()) is None
    assert all(isinstance(told.mountpoint, str) for told in System().mounts())
    assert System().usage(str(tmp_path)).total > 0
