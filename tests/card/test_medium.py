"""Images and devices are read at any place, in whole sectors where that is needed, and never written."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.card import medium as room
from mediacheck.card.device import Geometry
from mediacheck.card.medium import (
    BLOCK_BYTES,
    BLOCKS_KEPT,
    Aligned,
    FileMedium,
    Medium,
    Window,
    open_medium,
    read_or_nothing,
)
from tests.card.card_programs import found
from tests.card.media import Bytes, Device

CONTENT = bytes(range(251)) * 1200  # 301,200 bytes: several blocks, and a period that no power of two has


def whole(size_bytes: int, sector_bytes: int) -> bytes:
    """Content of about this size, as a device has it: whole sectors."""
    return CONTENT[: size_bytes - size_bytes % sector_bytes]


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "card.img"
    path.write_bytes(CONTENT)
    return path


@pytest.mark.parametrize("sector_bytes", [512, 4096])
@given(reads=st.lists(st.tuples(st.integers(0, 310_000), st.integers(-1, 150_000)), max_size=20))
def test_a_device_read_in_whole_sectors_gives_any_bytes(
    sector_bytes: int, reads: list[tuple[int, int]]
) -> None:
    data = whole(300_000, sector_bytes)
    device = Device(data, sector_bytes)
    aligned = Aligned(device)
    for offset, length in reads:
        assert aligned.read(offset, length) == data[offset : offset + max(0, length)]
    assert (aligned.size_bytes, aligned.sector_bytes, aligned.start_byte) == (len(data), sector_bytes, 0)


@given(
    worn=st.frozensets(st.integers(0, 585), max_size=6),
    reads=st.lists(st.tuples(st.integers(0, 300_000), st.integers(1, 80_000)), max_size=10),
)
def test_a_worn_sector_costs_only_the_reads_that_need_it(
    worn: frozenset[int], reads: list[tuple[int, int]]
) -> None:
    data = whole(300_000, 512)
    aligned = Aligned(Device(data, worn=worn))
    for offset, length in reads:
        needed = range(offset // 512, -(-min(offset + length, len(data)) // 512))
        if worn & set(needed):
            with pytest.raises(OSError, match="Input/output error"):
                aligned.read(offset, length)
        else:
            assert aligned.read(offset, length) == data[offset : offset + length]


def test_what_was_read_lately_is_not_asked_for_again() -> None:
    device = Device(whole(300_000, 512))
    aligned = Aligned(device)
    for offset in (70_000, 70_001, BLOCK_BYTES, 2 * BLOCK_BYTES - 1):
        assert aligned.read(offset, 1) == CONTENT[offset : offset + 1]
    assert device.asked == [(BLOCK_BYTES, BLOCK_BYTES)]


def test_what_is_kept_has_a_bound() -> None:
    device = Device(bytes((BLOCKS_KEPT + 1) * BLOCK_BYTES))
    aligned = Aligned(device)
    for number in (*range(BLOCKS_KEPT + 1), BLOCKS_KEPT, 0):
        aligned.read(number * BLOCK_BYTES, 1)
    assert [offset // BLOCK_BYTES for offset, _ in device.asked] == [*range(BLOCKS_KEPT + 1), 0]


def test_a_device_that_ends_early_gives_what_it_has() -> None:
    class Shrunk(Bytes):
        @property
        def size_bytes(self) -> int:
            return 3 * BLOCK_BYTES

    aligned = Aligned(Shrunk(CONTENT[: BLOCK_BYTES + 512]))
    assert aligned.read(BLOCK_BYTES, 600) == CONTENT[BLOCK_BYTES : BLOCK_BYTES + 512]
    assert aligned.read(BLOCK_BYTES + 500, BLOCK_BYTES) == CONTENT[BLOCK_BYTES + 500 : BLOCK_BYTES + 512]


def test_closing_lets_go_of_the_device_below() -> None:
    device = Device(bytes(512))
    Aligned(device).close()
    assert device.closed


@given(offset=st.integers(0, 310_000), length=st.integers(-1, 310_000))
def test_an_image_gives_any_bytes(tmp_path_factory: pytest.TempPathFactory, offset: int, length: int) -> None:
    path = tmp_path_factory.getbasetemp() / "any.img"
    if not path.exists():
        path.write_bytes(CONTENT)
    medium = open_medium(str(path))
    assert medium.read(offset, length) == CONTENT[offset : offset + max(0, length)]
    medium.close()


@pytest.mark.parametrize("offset", [2**63 - 1, 2**63, 2**70])
def test_places_beyond_every_disk_are_behind_the_end(file: Path, offset: int) -> None:
    medium = open_medium(str(file))
    assert medium.read(offset, 512) == b""
    assert medium.read(100, offset) == CONTENT[100:]
    assert Window(medium, offset, 512).read(0, 512) == b""
    medium.close()


def test_an_image_is_described_and_told_from_its_name(file: Path) -> None:
    medium = open_medium(str(file))
    assert (medium.source, medium.size_bytes, medium.start_byte, medium.sector_bytes) == (
        *(str(file), len(CONTENT), 0, 512),
    )
    medium.close()
    with pytest.raises(ValueError, match="closed"):
        medium.read(0, 1)


def test_nothing_is_ever_opened_for_writing(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    modes: list[tuple[Any, ...]] = []

    def watched(*arguments: Any, **named: Any) -> Any:
        modes.append(arguments[1:])
        return open(*arguments, **named)  # noqa: PTH123  # what is watched

    monkeypatch.setattr(room, "open", watched, raising=False)
    medium = open_medium(str(file))
    assert modes == [("rb",)]
    assert isinstance(medium, FileMedium)
    with pytest.raises(OSError, match=r"not open for writing|Bad file descriptor"):
        os.write(medium._file.fileno(), b"x")
    medium.close()


def test_an_image_that_is_not_there_or_a_folder_is_an_os_error(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        open_medium(str(tmp_path / "none.img"))
    with pytest.raises(OSError, match=r"directory|Permission"):
        open_medium(str(tmp_path))


def test_without_a_way_to_read_at_a_place_the_place_is_sought(
    file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Windows has no pread."""
    monkeypatch.delattr(os, "pread", raising=False)
    medium = open_medium(str(file))
    assert [medium.read(offset, 7) for offset in (300_000, 0, 301_199)] == [
        *(CONTENT[300_000:300_007], CONTENT[:7], CONTENT[301_199:]),
    ]
    medium.close()


def test_what_is_no_file_is_read_as_a_device_with_its_own_geometry(
    file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(room, "is_device", lambda source: True)
    monkeypatch.setattr(room, "geometry", lambda opened: Geometry(8192, 4096))
    medium = open_medium(str(file))
    assert isinstance(medium, Aligned)
    assert (medium.size_bytes, medium.sector_bytes, medium.source) == (8192, 4096, str(file))
    assert medium.read(8190, 100) == CONTENT[8190:8192]
    medium.close()


def test_a_device_that_tells_no_size_is_closed_again(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    opened: list[Any] = []

    def silent(device: Any) -> Geometry:
        opened.append(device)
        raise OSError("it holds nothing")

    monkeypatch.setattr(room, "geometry", silent)
    with pytest.raises(OSError, match="it holds nothing"):
        FileMedium(str(file), device=True)
    assert opened[0].closed


@given(
    outer=st.tuples(st.integers(0, 900), st.integers(0, 1200)),
    inner=st.tuples(st.integers(0, 900), st.integers(0, 1200)),
    read=st.tuples(st.integers(0, 1300), st.integers(-1, 1300)),
)
def test_windows_in_windows_give_the_bytes_of_the_whole(
    outer: tuple[int, int], inner: tuple[int, int], read: tuple[int, int]
) -> None:
    data = CONTENT[:1000]
    first: Medium = Window(Bytes(data), *outer)
    second: Medium = Window(first, *inner)
    claimed = data[outer[0] : outer[0] + outer[1]][inner[0] : inner[0] + inner[1]]
    assert second.read(*read) == claimed[read[0] : read[0] + max(0, read[1])]
    assert (second.start_byte, second.size_bytes, second.source) == (outer[0] + inner[0], inner[1], "memory")


def test_closing_a_window_leaves_the_medium_open() -> None:
    below = Bytes(CONTENT[:512])
    Window(below, 0, 512).close()
    assert not below.closed


def test_what_cannot_be_read_can_be_taken_as_missing() -> None:
    assert read_or_nothing(Device(bytes(1024), worn=frozenset({1})), 512, 512) == b""
    assert read_or_nothing(Device(bytes(1024), worn=frozenset({1})), 0, 512) == bytes(512)


@pytest.fixture
def block_device(tmp_path: Path) -> Iterator[str]:
    """A real block device over an image file, where this system lets us have one."""
    losetup = found("losetup")
    if sys.platform != "linux" or losetup is None or os.geteuid() != 0:
        pytest.skip("only root of a Linux system may make a block device")
    image = tmp_path / "card.img"
    image.write_bytes(whole(300_000, 4096))
    made = subprocess.run(
        [losetup, "--find", "--show", "--sector-size", "4096", str(image)],
        capture_output=True,
        text=True,
        check=False,
    )
    if made.returncode:
        pytest.skip("this system gives out no loop devices")
    yield made.stdout.strip()
    subprocess.run([losetup, "--detach", made.stdout.strip()], check=True)


def test_a_real_block_device_tells_its_size_and_its_sectors(block_device: str) -> None:
    data = whole(300_000, 4096)
    medium = open_medium(block_device)
    assert (type(medium), medium.size_bytes, medium.sector_bytes) == (Aligned, len(data), 4096)
    assert medium.read(12_345, 70_000) == data[12_345:82_345]
    assert medium.read(len(data) - 3, 10) == data[-3:]
    medium.close()
