"""The files that fill a drive: what is written, and that nothing stays."""

from __future__ import annotations

import errno
import os
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from mediacheck.capacity import files as filling
from mediacheck.capacity.examination import Capacity, examine
from mediacheck.capacity.files import Calls, files_on
from mediacheck.capacity.folder import FOLDER
from mediacheck.capacity.kept import Kept
from mediacheck.capacity.stream import new_stream
from mediacheck.errors import CardError
from mediacheck.watching import NoByteWatcher
from tests.capacity.drives import MIB, Limited, computer_with, drive, everything, with_loops
from tests.device.false_media import Clock, Drops, RepeatsLast, Whole, Wraps


def silent(sentence: str) -> None:
    raise AssertionError(sentence)


def examined(root: Path, calls: Calls, room: int = 3 * MIB, used: int = MIB) -> Capacity:
    with files_on(drive(root, room, used), silent, calls) as files:
        return examine(files, new_stream(), NoByteWatcher(), Clock())


def forgotten(descriptor: int, size_bytes: int) -> bool:
    """As a system that tells so, where the file was written whole."""
    return os.fstat(descriptor).st_size == size_bytes > 0


@pytest.fixture
def small_files(monkeypatch: pytest.MonkeyPatch) -> None:
    """Files of 2 MiB in place of 1 GiB."""
    monkeypatch.setattr(filling, "FILE_BYTES", 2 * MIB)


def test_the_room_is_filled_but_for_a_reserve_and_nothing_stays(tmp_path: Path, small_files: None) -> None:
    before, seen = with_loops(tmp_path), []

    def forget(descriptor: int, size_bytes: int) -> bool:
        seen.append({path.name: path.stat().st_size for path in (tmp_path / FOLDER).iterdir()})
        return forgotten(descriptor, size_bytes)

    found = examined(tmp_path, Calls(forget=forget), room=5 * MIB + 512, used=3 * MIB)
    assert found.kept == Kept(right=5 * 2048 + 1)
    assert (found.used_bytes, found.room_bytes, found.from_medium) == (3 * MIB, 5 * MIB + 512, True)
    assert seen[0] == {
        "mediacheck-capacity-000.tmp": 2 * MIB,
        "mediacheck-capacity-001.tmp": 2 * MIB,
        "mediacheck-capacity-002.tmp": MIB + 512,
    }
    assert len(seen) == 3
    assert everything(tmp_path) == before


@pytest.mark.parametrize("limit", [3 * MIB, 2 * MIB, 4 * MIB, 3 * MIB + 700, 512])
def test_a_full_drive_is_the_normal_end(tmp_path: Path, small_files: None, limit: int) -> None:
    before = with_loops(tmp_path)
    found = examined(tmp_path, Calls(write=Limited(limit), forget=forgotten), room=6 * MIB)
    assert found.kept == Kept(right=limit // 512)
    assert (found.written.size_bytes, found.written.stopped) == (limit // 512 * 512, None)
    assert everything(tmp_path) == before


def test_a_folder_that_takes_no_more_names_is_full(
    tmp_path: Path, small_files: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = os.open

    def opened(path: str | Path, flags: int, *rest: int) -> int:
        if flags & os.O_CREAT and str(path).endswith("002.tmp"):
            raise OSError(errno.ENOSPC, "No space left on device")
        return real(path, flags, *rest)

    monkeypatch.setattr(os, "open", opened)
    found = examined(tmp_path, Calls(forget=forgotten), room=6 * MIB)
    assert (found.kept, found.written.stopped) == (Kept(right=4 * 2048), None)
    assert everything(tmp_path) == {}


def test_what_came_from_memory_is_said_to(tmp_path: Path, small_files: None) -> None:
    answers = [True, False, True]
    found = examined(tmp_path, Calls(forget=lambda *_: answers.pop()), room=6 * MIB)
    assert not found.from_medium
    assert answers == []


def fails(number: int) -> Callable[..., Any]:
    def call(*_: object) -> Any:
        raise OSError(number, os.strerror(number))

    return call


@pytest.mark.parametrize(
    ("calls", "error"),
    [
        (Calls(write=fails(errno.EIO)), "nothing can be written to"),
        (Calls(write=fails(errno.EROFS)), "nothing can be written to"),
        (Calls(write=fails(errno.ENODEV)), "went away in the middle"),
        (Calls(write=Limited(2 * MIB, errno.ENXIO)), "went away in the middle"),
        (Calls(read=fails(errno.ENODEV)), "went away in the middle"),
    ],
)
def test_nothing_stays_after_an_error(tmp_path: Path, calls: Calls, error: str) -> None:
    before = with_loops(tmp_path)
    with pytest.raises(CardError, match=error):
        examined(tmp_path, calls)
    assert everything(tmp_path) == before


def test_a_drive_that_is_taken_out_is_told_from_one_with_bad_cells(tmp_path: Path) -> None:
    device = tmp_path / "sdz1"
    here = replace(drive(tmp_path), device=f"/dev/../{device}")

    def read(descriptor: int, length: int) -> bytes:
        device.unlink(missing_ok=True)
        raise OSError(errno.EIO, "Input/output error")

    device.touch()
    with (
        pytest.raises(CardError, match="went away in the middle"),
        files_on(here, silent, Calls(read=read)) as files,
    ):
        examine(files, new_stream(), NoByteWatcher(), Clock())
    assert everything(tmp_path) == {}


@pytest.mark.parametrize("error", [KeyboardInterrupt, RuntimeError, SystemExit])
@pytest.mark.parametrize("what", ["write", "sync", "read", "forget"])
def test_nothing_stays_however_it_ends(
    tmp_path: Path, small_files: None, what: str, error: type[BaseException]
) -> None:
    before = with_loops(tmp_path)

    def call(*_: object) -> Any:
        raise error

    calls: dict[str, Any] = {what: call}
    with pytest.raises(error):
        examined(tmp_path, Calls(**calls))
    assert everything(tmp_path) == before


def test_what_cannot_be_removed_is_told(tmp_path: Path) -> None:
    with files_on(drive(tmp_path), silent, Calls(unlink=fails(errno.EROFS))) as files:
        examine(files, new_stream(), NoByteWatcher(), Clock())
    assert files.left_behind == f"{FOLDER} could not be removed from the card ({os.strerror(errno.EROFS)})"
    assert list(everything(tmp_path)) == [FOLDER, f"{FOLDER}/{FOLDER}-000.tmp"]


def test_what_cannot_be_removed_is_told_of_a_run_that_is_stopped(tmp_path: Path) -> None:
    def stopped(*_: object) -> Any:
        raise KeyboardInterrupt

    with pytest.raises(CardError, match=r"^it was stopped, and mediacheck-capacity could not be removed"):
        examined(tmp_path, Calls(read=stopped, unlink=fails(errno.EROFS)))


def test_what_somebody_put_beside_our_files_stays(tmp_path: Path) -> None:
    with files_on(drive(tmp_path), silent, Calls()) as files:
        files.write(memoryview(bytes(512)))
        (tmp_path / FOLDER / ".DS_Store").write_bytes(b"Finder")
    assert everything(tmp_path) == {FOLDER: None, f"{FOLDER}/.DS_Store": b"Finder"}
    assert files.left_behind is not None
    assert files.left_behind.startswith(f"the folder {FOLDER} could not be removed")


def test_a_file_that_appears_under_our_next_name_is_not_touched(tmp_path: Path, small_files: None) -> None:
    """However it comes there: no run goes on with it, and none removes it."""
    foreign = tmp_path / FOLDER / f"{FOLDER}-001.tmp"

    def write(descriptor: int, content: memoryview) -> int:
        foreign.write_bytes(b"not ours")
        return os.write(descriptor, content)

    with pytest.raises(CardError, match=f"^somebody else puts files into {tmp_path / FOLDER}"):
        examined(tmp_path, Calls(write=write, forget=forgotten), room=5 * MIB)
    assert everything(tmp_path) == {FOLDER: None, f"{FOLDER}/{foreign.name}": b"not ours"}


def test_a_full_drive_is_refused_before_anything_is_written(tmp_path: Path) -> None:
    with pytest.raises(CardError, match=r"has only 5\.24 MB free, too little to be tested"):
        examined(tmp_path, Calls(), room=MIB - 512)
    assert everything(tmp_path) == {}


class OnMedium:
    """Files whose content goes to an invented medium, in order from where its free space begins."""

    def __init__(self, medium: Whole, used: int) -> None:
        self.medium, self.used = medium, used

    def _place(self, descriptor: int) -> int:
        name = str(Path(f"/proc/self/fd/{descriptor}").readlink())
        return self.used + int(name[-7:-4]) * 2 * MIB + os.lseek(descriptor, 0, os.SEEK_CUR)

    def write(self, descriptor: int, content: memoryview) -> int:
        self.medium.write(self._place(descriptor), content)
        return os.write(descriptor, content)

    def read(self, descriptor: int, length: int) -> bytes:
        place = self._place(descriptor)
        return self.medium.read(place, len(os.read(descriptor, length)))

    @property
    def calls(self) -> Calls:
        return Calls(write=self.write, read=self.read, forget=forgotten)


@pytest.mark.skipif(not Path("/proc/self/fd").exists(), reason="asks Linux for the names of open files")
@pytest.mark.parametrize("kind", [Wraps, Drops, RepeatsLast])
@pytest.mark.parametrize(
    ("room", "true"), [(15 * MIB, 8 * MIB), (21 * MIB + 512, 5 * MIB + 512), (9 * MIB, 4 * MIB)]
)
def test_the_true_size_of_a_drive_is_found_to_the_byte(
    tmp_path: Path, small_files: None, kind: type[Whole], room: int, true: int
) -> None:
    used = MIB + 1024
    medium = kind(used + room + 4 * MIB, true)
    found = examined(tmp_path, OnMedium(medium, used).calls, room, used)
    assert (found.claimed_bytes, found.true_bytes, found.is_false) == (medium.claimed, true, True)
    first = found.kept.first_bad_byte
    assert first is not None
    assert found.first_bad_file == f"{FOLDER}-{first // (2 * MIB):03}.tmp"
    assert everything(tmp_path) == {}


def test_two_runs_do_not_use_one_drive(tmp_path: Path) -> None:
    with files_on(drive(tmp_path), silent, Calls()) as files:
        files.write(memoryview(bytes(512)))
        before = everything(tmp_path)
        with (
            pytest.raises(CardError, match=f"^another test of the capacity of {tmp_path} is at work$"),
            files_on(drive(tmp_path), silent, Calls()),
        ):
            pass
        assert everything(tmp_path) == before
    assert everything(tmp_path) == {}


def test_the_room_is_asked_for_when_leftovers_are_gone(tmp_path: Path) -> None:
    assert computer_with(tmp_path).system.usage("").free == 7 * MIB
    with files_on(drive(tmp_path), silent) as files:
        assert (files.claimed_bytes, files.used_bytes, files.room_bytes) == (8 * MIB, MIB, 3 * MIB)
