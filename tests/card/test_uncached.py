"""Reading past what the system keeps in memory: what is said to be forgotten is, and nothing else is said."""

from __future__ import annotations

import mmap
import os
import subprocess
import sys
from pathlib import Path

import pytest

from mediacheck.card import uncached
from mediacheck.card.uncached import STRETCH_BYTES, forget, is_all_forgotten

PAGES = 600
SIZE = PAGES * mmap.PAGESIZE - 7
linux = pytest.mark.skipif(sys.platform != "linux", reason="only Linux tells what it keeps in memory")


def file_in_memory(folder: Path) -> Path:
    """A file that was just written, so that the system has all of it in memory."""
    path = folder / "loop.mp4"
    path.write_bytes(os.urandom(SIZE))
    return path


def kept_by_linux_alone(folder: Path) -> bool:
    """What stat(1) calls the file system, which is not asked in the way of the code under test."""
    kind = subprocess.run(["stat", "-f", "-c", "%T", folder], capture_output=True, text=True, check=True)
    return kind.stdout.strip() in {"ext2/ext3", "xfs", "btrfs", "f2fs"}


@linux
def test_a_file_on_a_disk_is_forgotten_and_reads_the_same_again(tmp_path: Path) -> None:
    if not kept_by_linux_alone(tmp_path):
        pytest.skip("the temporary folder is on no file system that keeps nothing of its own")
    path = file_in_memory(tmp_path)
    before = path.read_bytes()
    with path.open("rb") as file:
        assert 1 in uncached._kept_pages(file.fileno(), 0, SIZE)
        assert forget(file.fileno(), SIZE)
        assert bytes(uncached._kept_pages(file.fileno(), 0, SIZE)) == bytes(PAGES)
    assert path.read_bytes() == before


@linux
def test_what_is_not_yet_written_is_written_and_forgotten_too(tmp_path: Path) -> None:
    if not kept_by_linux_alone(tmp_path):
        pytest.skip("the temporary folder is on no file system that keeps nothing of its own")
    with file_in_memory(tmp_path).open("r+b", buffering=0) as file:
        file.seek(mmap.PAGESIZE * 3)
        file.write(b"new")
        assert forget(file.fileno(), SIZE)
        file.seek(mmap.PAGESIZE * 3)
        assert file.read(3) == b"new"


@linux
def test_a_page_that_another_program_holds_on_to_is_no_proof(tmp_path: Path) -> None:
    with (
        file_in_memory(tmp_path).open("rb") as file,
        mmap.mmap(file.fileno(), SIZE, prot=mmap.PROT_READ) as held,
    ):
        assert held[mmap.PAGESIZE * 500] in range(256)
        assert not forget(file.fileno(), SIZE)


@linux
def test_what_lies_on_a_loop_device_is_no_proof_whatever_the_file_system_says(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Btrfs shows no device in `st_dev`; the line of the mount does."""
    if not kept_by_linux_alone(tmp_path):
        pytest.skip("the temporary folder is on no file system that keeps nothing of its own")
    with file_in_memory(tmp_path).open("rb") as file:
        monkeypatch.setattr(uncached, "_type_of_mount", lambda _: "btrfs /dev/sda2")
        assert forget(file.fileno(), SIZE)
        monkeypatch.setattr(uncached, "_type_of_mount", lambda _: "btrfs /dev/loop0")
        assert not forget(file.fileno(), SIZE)


@linux
def test_a_file_system_whose_device_is_a_loop_is_no_proof(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(uncached, "_type_of_mount", lambda _: "vfat /dev/disk/by-label/GARDEN")
    monkeypatch.setattr(os, "major", lambda _: uncached.LOOP_MAJOR)
    with file_in_memory(tmp_path).open("rb") as file:
        assert not forget(file.fileno(), SIZE)


@linux
def test_samples_say_what_the_whole_would_say(tmp_path: Path) -> None:
    if not kept_by_linux_alone(tmp_path):
        pytest.skip("the temporary folder is on no file system that keeps nothing of its own")
    with file_in_memory(tmp_path).open("rb") as file:
        file.read()  # another program on this computer may have had the system forget everything
        assert not uncached._is_forgotten_in_samples(file.fileno(), SIZE)
        assert forget(file.fileno(), SIZE)
        assert uncached._is_forgotten_in_samples(file.fileno(), SIZE)


@linux
def test_a_file_in_memory_only_cannot_be_forgotten() -> None:
    descriptor = os.memfd_create("card")
    try:
        os.write(descriptor, b"tulips" * 1000)
        assert not forget(descriptor, 6000)
    finally:
        os.close(descriptor)


@linux
def test_a_pipe_and_a_closed_file_are_no_proof_and_no_error(tmp_path: Path) -> None:
    reading, writing = os.pipe()
    assert not forget(reading, 100)
    os.close(reading)
    os.close(writing)
    assert not forget(reading, 100)


@linux
def test_a_file_that_has_fewer_bytes_than_are_asked_about_is_no_proof_and_no_error(tmp_path: Path) -> None:
    with file_in_memory(tmp_path).open("rb") as file:
        assert not forget(file.fileno(), 2 * SIZE)


def test_every_stretch_of_a_large_device_is_asked_about() -> None:
    asked: list[tuple[int, int]] = []

    def none_kept(offset: int, length: int) -> bytes:
        asked.append((offset, length))
        return bytes(3)

    assert is_all_forgotten(none_kept, 2 * STRETCH_BYTES + 5) is True
    assert asked == [(0, STRETCH_BYTES), (STRETCH_BYTES, STRETCH_BYTES), (2 * STRETCH_BYTES, 5)]


def test_one_kept_page_is_no_proof_and_all_kept_says_nothing() -> None:
    assert is_all_forgotten(lambda offset, _: b"\0\0\1" if offset else b"\0", 2 * STRETCH_BYTES) is False
    assert is_all_forgotten(lambda *_: b"\1\1", 2 * STRETCH_BYTES) is None
    assert is_all_forgotten(lambda *_: b"", 0) is True


def test_other_systems_prove_nothing(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(sys, "platform", "win32")
    with file_in_memory(tmp_path).open("rb") as file:
        assert not forget(file.fileno(), SIZE)
