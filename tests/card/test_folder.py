"""A folder as a card: everything in it is told, nothing outside it is touched, nothing makes it crash."""

from __future__ import annotations

import errno
import os
import socket
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path, PurePosixPath, PureWindowsPath
from types import SimpleNamespace
from typing import Any, cast

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.card import folder as room
from mediacheck.card.folder import open_folder, printable, whole_drive
from mediacheck.card.model import Card, Entry
from mediacheck.errors import CardError
from mediacheck.loop import name_order

links = pytest.mark.skipif(os.name != "posix", reason="links need no special right on POSIX only")
any_bytes_in_names = pytest.mark.skipif(sys.platform != "linux", reason="macOS and Windows refuse such names")


def fill(root: Path, files: dict[str, int]) -> None:
    """Make files of the given sizes in bytes."""
    for name, size_bytes in files.items():
        path = root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"x" * size_bytes)


def told(card: Card) -> dict[str, tuple[int, str | None]]:
    return {entry.path: (entry.size_bytes, entry.unusable) for entry in card.entries}


def refused(path: Path, scandir: room.Scandir = os.scandir) -> str:
    with pytest.raises(CardError) as caught:
        open_folder(path, scandir=scandir)
    return str(caught.value)


def test_a_card_is_told_whole_in_name_order_with_files_before_folders(tmp_path: Path) -> None:
    fill(tmp_path, {"b.mp4": 2, "Media/z.mp4": 3, "Media/Old/a.mp4": 4, "A.mp4": 1, "c.txt": 0})
    (tmp_path / "empty").mkdir()
    assert open_folder(tmp_path) == Card(
        source=str(tmp_path),
        kind="folder",
        entries=(
            Entry("A.mp4", 1, 0, tmp_path / "A.mp4"),
            Entry("b.mp4", 2, 1, tmp_path / "b.mp4"),
            Entry("c.txt", 0, 2, tmp_path / "c.txt"),
            Entry("Media/z.mp4", 3, 3, tmp_path / "Media" / "z.mp4"),
            Entry("Media/Old/a.mp4", 4, 4, tmp_path / "Media" / "Old" / "a.mp4"),
        ),
        folders=("empty", "Media", "Media/Old"),
        volume=None,
        order_known=False,
        damage=None,
    )


def test_the_order_is_that_of_a_player_that_goes_by_name(tmp_path: Path) -> None:
    names = ("b/a", "B.mp4", "b.MP4", "a b/c", "a/z", "10.mp4", "2.mp4", "é.mp4", "a/Z/1")
    fill(tmp_path, dict.fromkeys(names, 1))
    entries = open_folder(tmp_path).entries
    assert tuple(sorted(entries, key=name_order)) == entries


def test_an_entry_opens_the_file_it_stands_for(tmp_path: Path) -> None:
    fill(tmp_path, {"clip.mp4": 3})
    with open_folder(tmp_path).entries[0].open() as file:
        assert file.read() == b"xxx"


def test_an_empty_folder_is_a_card_without_entries(tmp_path: Path) -> None:
    assert open_folder(tmp_path) == Card(str(tmp_path), "folder", ())


def test_a_relative_path_is_kept_as_given_and_files_are_found_from_anywhere(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    fill(tmp_path, {"card/-clip:1.mp4" if os.name == "posix" else "card/-clip.mp4": 3})
    monkeypatch.chdir(tmp_path)
    card = open_folder(Path("card"))
    monkeypatch.chdir("/")
    assert card.source == "card"
    location = card.entries[0].location
    assert isinstance(location, Path)
    assert location.is_absolute()
    assert location.read_bytes() == b"xxx"


def test_ten_thousand_files_in_one_folder_take_about_a_second(tmp_path: Path) -> None:
    for number in range(10_000):
        (tmp_path / f"{number:05}.mp4").touch()
    begun_s = time.process_time()
    card = open_folder(tmp_path)
    assert time.process_time() - begun_s < 2
    assert [entry.path for entry in card.entries] == [f"{number:05}.mp4" for number in range(10_000)]
    assert [entry.position for entry in card.entries] == list(range(10_000))


def test_folders_as_deep_as_a_path_can_be_are_listed(tmp_path: Path) -> None:
    deep = tmp_path.joinpath(*["d"] * 60)
    fill(deep, {"clip.mp4": 1})
    assert told(open_folder(tmp_path)) == {"d/" * 60 + "clip.mp4": (1, None)}


def test_progress_is_told_for_each_folder(tmp_path: Path) -> None:
    fill(tmp_path, {"a": 1, "b": 1, "one/c": 1})
    counts: list[int] = []
    open_folder(tmp_path, progress=counts.append)
    assert counts == [2, 3]


# What is not a card


def test_nothing_there(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    for path in (tmp_path / "none", tmp_path / "file" / "below", tmp_path / "a\0b"):
        assert refused(path) == f"there is nothing at {path}"


def test_a_file_in_place_of_a_folder(tmp_path: Path) -> None:
    (tmp_path / "card.img").touch()
    assert refused(tmp_path / "card.img") == f"{tmp_path / 'card.img'} is a file, not a folder or drive"


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="POSIX files")
def test_a_pipe_in_place_of_a_folder(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    assert refused(tmp_path / "pipe") == f"{tmp_path / 'pipe'} is a device or pipe, not a folder or drive"


def failing_at(path: Path, error: OSError) -> Callable[[str], AbstractContextManager[Any]]:
    """A scandir that fails for one folder (tests may run as a user whom nothing is forbidden)."""

    def scandir(folder: str) -> AbstractContextManager[Any]:
        if folder == str(path):
            raise error
        return os.scandir(folder)

    return scandir


DENIED = PermissionError(errno.EACCES, "Permission denied")


@pytest.mark.parametrize("name", ["", "Media", "Media/Old"])
def test_a_folder_that_may_not_be_read_is_named(tmp_path: Path, name: str) -> None:
    fill(tmp_path, {"Media/Old/a.mp4": 4})
    path = tmp_path / name
    message = f"the folder {path} cannot be read: you may not look into it"
    assert refused(tmp_path, failing_at(path, DENIED)) == message


def test_a_folder_that_the_medium_does_not_give_is_named(tmp_path: Path) -> None:
    fill(tmp_path, {"Media/a.mp4": 4})
    broken = failing_at(tmp_path / "Media", OSError(errno.EIO, "Input/output error"))
    message = f"the folder {tmp_path / 'Media'} cannot be read: Input/output error"
    assert refused(tmp_path, broken) == message


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="needs a user who may not do everything")
def test_a_folder_that_really_may_not_be_read_is_named(tmp_path: Path) -> None:
    (tmp_path / "Media").mkdir(mode=0)
    message = f"the folder {tmp_path / 'Media'} cannot be read: you may not look into it"
    assert refused(tmp_path) == message


@pytest.mark.parametrize("name", ["System Volume Information", ".Trashes", ".Spotlight-V100", "lost+found"])
def test_folders_that_the_computer_guards_do_not_stop_the_check_and_are_told(
    tmp_path: Path, name: str
) -> None:
    fill(tmp_path, {"a.mp4": 4, f"{name}/inside": 1, f"Media/{name}/inside": 1})
    card = open_folder(tmp_path, scandir=failing_at(tmp_path / name, DENIED))
    assert told(card) == {
        "a.mp4": (4, None),
        name: (0, room.GUARDED),
        f"Media/{name}/inside": (1, None),
    }
    assert card.folders == ("Media", f"Media/{name}")
    deeper = failing_at(tmp_path / "Media" / name, DENIED)
    assert "cannot be read" in refused(tmp_path, deeper)  # only in the root are they the computer's own


# Names


@any_bytes_in_names
def test_names_that_are_not_unicode_are_shown_escaped(tmp_path: Path) -> None:
    root = os.fsencode(tmp_path)
    Path(os.fsdecode(root + b"/b\xfcro.mp4")).write_bytes(b"xx")
    Path(os.fsdecode(root + b"/\xff")).mkdir()
    Path(os.fsdecode(root + b"/\xff/clip.mp4")).write_bytes(b"x")
    card = open_folder(tmp_path)
    shown = [(e.path, e.size_bytes, e.valid_name) for e in card.entries]
    assert shown == [("b\\xfcro.mp4", 2, False), ("\\xff/clip.mp4", 1, False)]
    assert card.folders == ("\\xff",)
    assert card.entries[0].open().read() == b"xx"


@any_bytes_in_names
def test_a_root_that_is_not_unicode_is_shown_escaped(tmp_path: Path) -> None:
    root = tmp_path / os.fsdecode(b"\xff")
    assert refused(root) == f"there is nothing at {tmp_path}/\\xff"
    root.mkdir()
    assert open_folder(root).source == f"{tmp_path}/\\xff"


@links
def test_control_characters_in_names_are_kept(tmp_path: Path) -> None:
    fill(tmp_path, {"a\nb\t\x1b[31m.mp4": 1})
    entry = open_folder(tmp_path).entries[0]
    assert (entry.path, entry.valid_name) == ("a\nb\t\x1b[31m.mp4", True)


name_bytes = st.binary(min_size=1, max_size=30).filter(
    lambda name: b"/" not in name and b"\0" not in name and name not in (b".", b"..")
)


@any_bytes_in_names
@given(st.sets(name_bytes, max_size=8), st.sets(name_bytes, max_size=3))
def test_any_names_are_listed_once_printable_and_in_order(files: set[bytes], folders: set[bytes]) -> None:
    with tempfile.TemporaryDirectory() as name:
        root, folders = Path(name), folders - files
        for file in files:
            (root / os.fsdecode(file)).write_bytes(file)
        for below in folders:
            (root / os.fsdecode(below)).mkdir()
            (root / os.fsdecode(below) / "clip").write_bytes(below + b"/clip")
        card = open_folder(root)
        raw = [entry.open().read() for entry in card.entries]
    assert sorted(raw) == sorted([*files, *(below + b"/clip" for below in folders)])
    for entry, stored in zip(card.entries, raw, strict=True):
        assert entry.path == stored.decode("utf-8", "backslashreplace")
        assert entry.valid_name == (entry.path.encode() == stored)
    assert [entry.folder == "" for entry in card.entries] == [True] * len(files) + [False] * len(folders)
    in_root = [entry.path for entry in card.entries[: len(files)]]
    assert in_root == sorted(in_root, key=lambda path: (path.casefold(), path))


# Links and things that are no files


@links
def test_a_link_to_a_file_on_the_card_counts_as_the_file(tmp_path: Path) -> None:
    fill(tmp_path, {"Media/a.mp4": 4})
    (tmp_path / "relative.mp4").symlink_to("Media/a.mp4")
    (tmp_path / "full.mp4").symlink_to(tmp_path / "Media" / "a.mp4")
    wanted = {"full.mp4": (4, None), "relative.mp4": (4, None), "Media/a.mp4": (4, None)}
    assert told(open_folder(tmp_path)) == wanted


@links
def test_links_that_lead_nowhere_outside_or_back_are_unusable(tmp_path: Path) -> None:
    fill(tmp_path, {"outside.mp4": 9, "outside/b.mp4": 9, "card-2/c.mp4": 9, "card/Media/a.mp4": 4})
    card = tmp_path / "card"
    for name, target in {
        "up": "..",
        "file": "../outside.mp4",
        "folder": "../outside",
        "sibling": "../card-2/c.mp4",
        "full": str(tmp_path / "outside.mp4"),
        "through": "folder/b.mp4",
        "outside and gone": "../none.mp4",
        "gone": "none.mp4",
        "self": "self",
        "one": "two",
        "two": "one",
        "root": ".",
        "again": "Media",
        "Media/back": "..",
    }.items():
        (card / name).symlink_to(target)
    assert told(open_folder(card)) == {
        "again": (0, room.FOLDER_AGAIN),
        "file": (0, room.OUTSIDE),
        "folder": (0, room.OUTSIDE),
        "full": (0, room.OUTSIDE),
        "gone": (0, room.TO_NOTHING),
        "one": (0, room.CIRCLE),
        "outside and gone": (0, room.OUTSIDE),
        "root": (0, room.FOLDER_AGAIN),
        "self": (0, room.CIRCLE),
        "sibling": (0, room.OUTSIDE),
        "through": (0, room.OUTSIDE),
        "two": (0, room.CIRCLE),
        "up": (0, room.OUTSIDE),
        "Media/a.mp4": (4, None),
        "Media/back": (0, room.FOLDER_AGAIN),
    }
    assert open_folder(card).folders == ("Media",)


@links
def test_a_card_reached_through_a_link_is_listed_as_itself(tmp_path: Path) -> None:
    fill(tmp_path, {"real/a.mp4": 4})
    (tmp_path / "real" / "b.mp4").symlink_to("a.mp4")
    (tmp_path / "card").symlink_to("real")
    card = open_folder(tmp_path / "card")
    assert card.source == str(tmp_path / "card")
    assert told(card) == {"a.mp4": (4, None), "b.mp4": (4, None)}


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="POSIX files")
def test_pipes_and_sockets_are_told_and_never_opened(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    os.mkfifo(tmp_path / "pipe.mp4")
    (tmp_path / "link.mp4").symlink_to("pipe.mp4")
    monkeypatch.chdir(tmp_path)  # the path of a socket has a low limit
    with socket.socket(socket.AF_UNIX) as one:
        one.bind("socket.mp4")
        card = open_folder(tmp_path)
    assert told(card) == {
        "link.mp4": (0, "a named pipe, not a file"),
        "pipe.mp4": (0, "a named pipe, not a file"),
        "socket.mp4": (0, "a socket, not a file"),
    }


@pytest.mark.skipif(not Path("/dev/null").is_char_device(), reason="POSIX files")
def test_a_device_is_told_and_never_opened(tmp_path: Path) -> None:
    listing = room._Listing(Path("/dev"), "/dev", os.scandir, None)
    listing._take_file(Path("/dev/null").stat(), "null")
    assert [(found.path, found.size_bytes, found.unusable) for found in listing.found] == [
        ("null", 0, "a device, not a file")
    ]


# What changes or answers oddly while it is listed


class _Fake:
    """A directory entry as a system shows it that these tests cannot run on."""

    def __init__(self, path: Path, **status: int) -> None:
        self.name, self.path, self._status = path.name, str(path), status

    def stat(self, *, follow_symlinks: bool) -> os.stat_result:
        assert not follow_symlinks
        if "errno" in self._status:
            raise OSError(self._status["errno"], os.strerror(self._status["errno"]))
        return cast("os.stat_result", SimpleNamespace(**self._status))


def showing(*items: _Fake) -> Callable[[str], AbstractContextManager[Iterator[Any]]]:
    @contextmanager
    def scandir(_: str) -> Iterator[Iterator[Any]]:
        yield iter(items)

    return scandir


def test_files_that_vanish_or_cannot_be_looked_at_are_told(tmp_path: Path) -> None:
    scandir = showing(
        _Fake(tmp_path / "gone.mp4", errno=errno.ENOENT),
        _Fake(tmp_path / "sick.mp4", errno=errno.EIO),
        _Fake(tmp_path / "well.mp4", st_mode=0o100644, st_size=5),
    )
    assert told(open_folder(tmp_path, scandir=scandir)) == {
        "gone.mp4": (0, "a file or folder that was gone before it could be looked at"),
        "sick.mp4": (0, f"a file or folder that cannot be looked at ({os.strerror(errno.EIO)})"),
        "well.mp4": (5, None),
    }


def test_a_folder_that_vanishes_is_told(tmp_path: Path) -> None:
    fill(tmp_path, {"Media/a.mp4": 4, "b.mp4": 1})
    vanishing = failing_at(tmp_path / "Media", FileNotFoundError(errno.ENOENT, "No such file"))
    card = open_folder(tmp_path, scandir=vanishing)
    assert told(card) == {"b.mp4": (1, None), "Media": (0, room.VANISHED)}
    assert card.folders == ()


def test_a_root_that_vanishes_is_a_refusal(tmp_path: Path) -> None:
    vanishing = failing_at(tmp_path, FileNotFoundError(errno.ENOENT, "No such file or directory"))
    assert refused(tmp_path, vanishing).startswith(f"the folder {tmp_path} cannot be read: ")


def test_a_windows_junction_that_leads_outside_is_not_followed(tmp_path: Path) -> None:
    junction = _Fake(tmp_path.parent, st_mode=0o040755, st_size=0, st_reparse_tag=0xA0000003)
    junction.name = "junction"
    assert told(open_folder(tmp_path, scandir=showing(junction))) == {"junction": (0, room.OUTSIDE)}


def test_a_folder_mounted_twice_is_listed_once(tmp_path: Path) -> None:
    """As a loop in the folders of a damaged medium looks: a folder that holds itself."""
    folder = _Fake(tmp_path, st_mode=0o040755, st_size=0)
    folder.name = "round"
    card = open_folder(tmp_path, scandir=showing(folder))
    assert told(card) == {"round": (0, room.SAME_FOLDER)}


# Windows' ways of naming a drive


def test_a_bare_drive_letter_means_the_whole_drive() -> None:
    given_and_meant = {
        PureWindowsPath("E:"): PureWindowsPath("E:\\"),
        PureWindowsPath("E:\\"): PureWindowsPath("E:\\"),
        PureWindowsPath("E:Media"): PureWindowsPath("E:Media"),
        PureWindowsPath("E:\\Media"): PureWindowsPath("E:\\Media"),
        PureWindowsPath("\\\\server\\share\\"): PureWindowsPath("\\\\server\\share\\"),
        PureWindowsPath("Media"): PureWindowsPath("Media"),
    }
    assert {given: whole_drive(given) for given in given_and_meant} == given_and_meant
    assert whole_drive(PurePosixPath("E:")) == PurePosixPath("E:")


@pytest.mark.skipif(os.name == "nt", reason="Windows has names of 16-bit units instead of bytes")
def test_printable_leaves_unicode_alone_and_escapes_the_rest() -> None:
    assert printable("Gärten 花 é") == "Gärten 花 é"
    assert printable(os.fsdecode(b"a\xffb\\")) == "a\\xffb\\"
