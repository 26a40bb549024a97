"""Raw devices are opened only if they are what was described, and are written by whole sectors."""

from __future__ import annotations

import errno
import os
import random
from dataclasses import replace
from pathlib import Path

import pytest

from mediacheck.build.proven_image import prove_image
from mediacheck.build.write import write_devices
from mediacheck.build.written import FROM_MEMORY
from mediacheck.device import raw_device
from mediacheck.device.drive import Drive, describe
from mediacheck.device.guard import refusal
from mediacheck.device.raw_device import RawDevice, open_device
from mediacheck.errors import CardError
from mediacheck.watching import NoByteWatcher
from tests.card.filled import MIB, fat_card, sized
from tests.device.loop_devices import loop_device, mounted

CARD = Drive("/dev/sdb", "Reader", "usb", 16 * MIB, 512, True, False)


def over(path: Path, sector_bytes: int) -> RawDevice:
    """A file in place of a device."""
    return RawDevice(path.open("r+b", buffering=0), path.stat().st_size, sector_bytes)


def test_a_tail_is_written_as_a_whole_sector_and_the_rest_of_it_stays(tmp_path: Path) -> None:
    path = tmp_path / "device"
    path.write_bytes(b"\xff" * 16384)
    device = over(path, 4096)
    asked: list[tuple[int, int]] = []
    real = os.pwrite

    def noting(descriptor: int, content: bytes, offset: int) -> int:
        asked.append((offset, len(content)))
        return real(descriptor, content, offset)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(os, "pwrite", noting)
        device.write(4096, b"a" * 5000)
        device.write(12288, b"")
    device.sync()
    device.close()
    assert asked == [(4096, 8192)]
    assert path.read_bytes() == b"\xff" * 4096 + b"a" * 5000 + b"\xff" * 7288


@pytest.mark.parametrize(
    ("offset", "length"),
    [(0, 100), (100, 100), (4000, 200), (0, 20000), (16000, 384), (16384, 512), (20000, 1)],
)
def test_any_bytes_are_read_by_whole_sectors(tmp_path: Path, offset: int, length: int) -> None:
    path = tmp_path / "device"
    content = random.Random(1).randbytes(16384)
    path.write_bytes(content)
    asked: list[tuple[int, int]] = []
    real = os.pread

    def noting(descriptor: int, count: int, place: int) -> bytes:
        asked.append((count % 4096, place % 4096))
        return real(descriptor, count, place)

    device = over(path, 4096)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(os, "pread", noting)
        assert device.read(offset, length) == content[offset : offset + length]
    device.close()
    assert set(asked) <= {(0, 0)}


def test_writing_that_goes_slowly_goes_to_its_end(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = sized(tmp_path / "device", 4096)
    real = os.pwrite
    monkeypatch.setattr(os, "pwrite", lambda to, content, place: real(to, content[:700], place))
    device = over(path, 512)
    device.write(0, b"seeds" * 512)
    device.close()
    assert path.read_bytes() == b"seeds" * 512 + bytes(1536)


def test_a_device_that_takes_nothing_is_full(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "pwrite", lambda to, content, place: 0)
    device = over(sized(tmp_path / "device", 4096), 512)
    with pytest.raises(OSError, match="No space left on device"):
        device.write(0, b"seeds" * 512)
    device.close()


def test_an_ordinary_file_is_never_opened_as_a_device(tmp_path: Path) -> None:
    path = sized(tmp_path / "card.img", 16 * MIB)
    for number in (None, path.stat().st_rdev, path.stat().st_dev):
        with pytest.raises(CardError, match="is another device by now than the one that was shown"):
            open_device(replace(CARD, path=str(path), number=number))
    assert path.read_bytes() == bytes(16 * MIB)


def test_another_card_in_the_reader_is_not_written_to(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The file of a reader stays open while one card goes and another one comes."""
    path = tmp_path / "device"
    path.write_bytes(b"first" * 4096)
    device = RawDevice(path.open("r+b", buffering=0), path.stat().st_size, 512, insertion="17")
    told = ["17", "17"]
    monkeypatch.setattr(raw_device, "insertion_of", lambda file: told.pop(0) if told else "18")
    device.write(0, bytes(512))
    assert device.read(0, 5) == bytes(5)
    for call in (lambda: device.write(512, bytes(512)), lambda: device.read(0, 512)):
        with pytest.raises(OSError, match="No such device"):
            call()
    device.close()
    assert path.read_bytes() == bytes(512) + (b"first" * 4096)[512:]


def test_where_the_system_does_not_count_cards_nothing_is_asked(tmp_path: Path) -> None:
    with sized(tmp_path / "device", MIB).open("r+b", buffering=0) as file:
        assert raw_device.insertion_of(file) is None
        RawDevice(file, MIB, 512).write(0, b"seeds")
    assert (tmp_path / "device").read_bytes()[:5] == b"seeds"


REASONS = {
    errno.EACCES: ("may not be written to by you", "Run the same command with sudo."),
    errno.EPERM: ("may not be written to by you", "Run the same command with sudo."),
    errno.EBUSY: (
        "is in use by this computer",
        "Close what works with it, unmount it, and run the same command again.",
    ),
    errno.EROFS: ("is write-protected", "Move the little slider at the side of the card or of its adapter."),
    errno.ENOENT: ("is not there any more", "Put the card in, and run the same command again."),
    errno.ENXIO: ("is not there any more", "Put the card in, and run the same command again."),
    errno.ENODEV: ("is not there any more", "Put the card in, and run the same command again."),
    errno.EIO: (
        "cannot be written to: Input/output error",
        "Run the same command again, and leave the card in.",
    ),
}


@pytest.mark.parametrize("number", REASONS)
def test_why_a_device_cannot_be_opened(number: int, monkeypatch: pytest.MonkeyPatch) -> None:
    flags_used = []

    def refuses(path: str, flags: int) -> int:
        flags_used.append((path, flags))
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(os, "open", refuses)
    with pytest.raises(CardError) as refused:
        open_device(CARD)
    what, advice = REASONS[number]
    assert (str(refused.value), refused.value.advice) == (f"/dev/sdb (Reader, 16.8 MB) {what}", advice)
    assert flags_used == [("/dev/sdb", os.O_RDWR | os.O_EXCL)]


def as_card(device: str) -> Drive:
    """A loop device as if it were a card in a reader; only tests may say so."""
    return replace(describe(device), bus="usb", removable=True)


def test_an_image_is_written_to_a_loop_device_and_read_back(tmp_path: Path) -> None:
    image = prove_image(
        fat_card(tmp_path / "a.img", 9 * MIB, {"A.MP4": b"a" * 99}, "-F", "16"), NoByteWatcher()
    )
    file = tmp_path / "card"
    file.write_bytes(b"\xff" * 12 * MIB)
    with loop_device(file) as path:
        drive = as_card(path)
        assert (drive.size_bytes, drive.mounts, drive.uses) == (12 * MIB, (), ())
        device = open_device(drive)
        with pytest.raises(CardError, match="is in use by this computer"):  # O_EXCL: by us
            open_device(drive)
        (outcome,) = write_devices(image, [(drive, device)], NoByteWatcher())
    assert outcome.line == (
        f"{path} (12.6 MB): written, and the same when it was read back{FROM_MEMORY}"
    )  # of a loop device nothing is proven: behind it is a file
    assert file.read_bytes() == image.path.read_bytes() + b"\xff" * 3 * MIB


def test_a_loop_device_is_refused_by_the_guard(tmp_path: Path) -> None:
    with loop_device(sized(tmp_path / "card", MIB)) as path:
        why = refusal(describe(path), 0)
    assert why is not None
    assert why.startswith(f"{path} (1.0 MB) is not a card but made up by this computer from a file")


def test_another_number_or_size_than_was_described(tmp_path: Path) -> None:
    with loop_device(sized(tmp_path / "card", MIB)) as path:
        drive = as_card(path)
        with pytest.raises(CardError, match="is another device by now than the one that was shown"):
            open_device(replace(drive, number=(drive.number or 0) + 1))
        with pytest.raises(CardError, match="is another device by now than the one that was shown"):
            open_device(replace(drive, insertion="another card"))
        with pytest.raises(CardError, match="holds 1,048,576 bytes by now, so it is not the card"):
            open_device(replace(drive, size_bytes=2 * MIB))


def test_a_mounted_device_is_told_and_cannot_be_opened(tmp_path: Path) -> None:
    place = tmp_path / "mounted here"
    with loop_device(sized(tmp_path / "card", 4 * MIB)) as path, mounted(path, place):
        drive = as_card(path)
        assert drive.mounts == (str(place),)
        why = refusal(drive, 0)
        with pytest.raises(CardError, match="is in use by this computer"):
            open_device(replace(drive, mounts=()))
    assert why == (
        f"{path} (4.2 MB) is mounted ({place}): close what works with it, then run `umount '{place}'`."
    )
