"""Images are written to invented devices: what is written, in which order, and what each fault leads to."""

from __future__ import annotations

import errno
import os
import random
import signal
import threading
import time
from dataclasses import replace
from pathlib import Path

import pytest

from mediacheck.build.proven_image import ProvenImage, prove_image
from mediacheck.build.write import HEAD_BYTES, write_devices
from mediacheck.build.written import FROM_MEMORY, Outcome, Stopped, exit_code
from mediacheck.card.opening import open_card
from mediacheck.device.drive import Drive
from mediacheck.device.raw_device import Device
from mediacheck.watching import NoByteWatcher
from tests.card.filled import MIB, fat_card
from tests.device.ending import listens as listens
from tests.device.false_devices import FalseDevice, Hook, fails, filled_with, gone_after, holding
from tests.device.false_media import FALSE, Drops, Refuses, Whole

BLOCK = 4 * MIB
IMAGE_BYTES = 17 * MIB
"""Five blocks, of which the last is not a whole one."""
DEVICE_BYTES = 20 * MIB
CLIP = random.Random(5).randbytes(6 * MIB)
SHOWN = "/dev/sdb (Reader, 21.0 MB)"


@pytest.fixture(scope="module")
def image(tmp_path_factory: pytest.TempPathFactory) -> ProvenImage:
    """A card with one clip over two blocks; the last blocks are holes."""
    path = tmp_path_factory.mktemp("image") / "face-a.img"
    fat_card(path, IMAGE_BYTES, {"SEEDS.MP4": CLIP}, "-F", "16")
    return prove_image(path, NoByteWatcher())


@pytest.fixture(scope="module")
def content(image: ProvenImage) -> bytes:
    return image.path.read_bytes()


def drive(name: str = "sdb") -> Drive:
    return Drive(f"/dev/{name}", "Reader", "usb", DEVICE_BYTES, 512, True, False)


class Watcher:
    """Adds up what it is told."""

    def __init__(self) -> None:
        self.told: list[tuple[int, str]] = []
        self.done_bytes = 0
        self.ended = False
        self._lock = threading.Lock()

    def begin(self, total_bytes: int, what: str) -> None:
        self.told.append((total_bytes, what))

    def advanced(self, count_bytes: int) -> None:
        with self._lock:
            self.done_bytes += count_bytes

    def end(self) -> None:
        self.ended = True


def write_one(image: ProvenImage, device: Device) -> Outcome:
    """The outcome for one device."""
    (outcome,) = write_devices(image, [(drive(), device)], NoByteWatcher())
    return outcome


def is_unusable(medium: Whole) -> bool:
    """Whether no computer can take it for a card."""
    return medium.read(0, HEAD_BYTES) == bytes(HEAD_BYTES)


@pytest.mark.parametrize("byte", [0x00, 0xFF, 0x55])
def test_a_device_holds_the_image_afterwards_holes_too(image: ProvenImage, content: bytes, byte: int) -> None:
    device = FalseDevice(filled_with(byte, DEVICE_BYTES))
    outcome = write_one(image, device)
    assert outcome == Outcome(drive(), "written", from_medium=True)
    assert outcome.line == f"{SHOWN}: written and proven"
    assert device.medium.read(0, IMAGE_BYTES) == content
    assert device.medium.read(IMAGE_BYTES, DEVICE_BYTES) == bytes((byte,)) * (DEVICE_BYTES - IMAGE_BYTES)
    assert device.is_closed


def test_the_written_card_reads_as_the_image_does(image: ProvenImage, tmp_path: Path) -> None:
    device = FalseDevice(filled_with(0xFF, IMAGE_BYTES))
    write_one(image, device)
    copy = tmp_path / "copy.img"
    copy.write_bytes(device.medium.cells)
    read = open_card(copy)
    assert [(entry.path, entry.size_bytes) for entry in read.entries] == [("SEEDS.MP4", len(CLIP))]
    assert read.entries[0].open().read() == CLIP
    assert read.damage == ()


def test_the_first_block_is_emptied_first_and_its_beginning_written_last(image: ProvenImage) -> None:
    device = FalseDevice(filled_with(0xFF, DEVICE_BYTES))
    write_one(image, device)
    assert device.log == [
        ("write", 0, BLOCK),
        ("sync", 0, 0),
        ("write", BLOCK, BLOCK),
        ("write", 2 * BLOCK, BLOCK),
        ("write", 3 * BLOCK, BLOCK),
        ("write", 4 * BLOCK, MIB),
        ("write", HEAD_BYTES, BLOCK - HEAD_BYTES),
        ("sync", 0, 0),
        ("write", 0, HEAD_BYTES),
        ("sync", 0, 0),
    ]


def test_the_device_is_waited_for_on_the_way(image: ProvenImage, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("mediacheck.build.write.SYNC_BYTES", 2 * BLOCK)
    device = FalseDevice(filled_with(0xFF, DEVICE_BYTES))
    write_one(image, device)
    assert [(what, place) for what, place, _ in device.log][2:8] == [
        ("write", BLOCK),
        ("write", 2 * BLOCK),
        ("sync", 0),
        ("write", 3 * BLOCK),
        ("write", 4 * BLOCK),
        ("write", HEAD_BYTES),
    ]


def test_what_is_right_already_is_not_written(image: ProvenImage, content: bytes) -> None:
    device = FalseDevice(holding(content, DEVICE_BYTES))
    outcome = write_one(image, device)
    assert outcome == Outcome(drive(), "already right", from_medium=True)
    assert outcome.line == f"{SHOWN}: already right: nothing was written"
    assert device.log == []


def test_only_blocks_that_differ_are_written_and_the_first(image: ProvenImage, content: bytes) -> None:
    medium = holding(content, DEVICE_BYTES)
    medium.cells[2 * BLOCK + 77] ^= 1
    device = FalseDevice(medium)
    assert write_one(image, device).result == "written"
    assert device.writes == [
        (0, BLOCK),
        (2 * BLOCK, BLOCK),
        (HEAD_BYTES, BLOCK - HEAD_BYTES),
        (0, HEAD_BYTES),
    ]
    assert medium.read(0, IMAGE_BYTES) == content


def test_a_fault_in_the_first_block_alone(image: ProvenImage, content: bytes) -> None:
    medium = holding(content, DEVICE_BYTES)
    medium.cells[0] ^= 1
    device = FalseDevice(medium)
    assert write_one(image, device).result == "written"
    assert device.writes == [(0, BLOCK), (HEAD_BYTES, BLOCK - HEAD_BYTES), (0, HEAD_BYTES)]
    assert medium.read(0, IMAGE_BYTES) == content


@pytest.mark.parametrize("right", [True, False])
def test_what_may_have_come_from_memory_is_not_called_proven(
    image: ProvenImage, content: bytes, right: bool
) -> None:
    device = FalseDevice(holding(content if right else b"", DEVICE_BYTES), forgets=False)
    said = "already right: nothing was written" if right else "written, and the same when it was read back"
    outcome = write_one(image, device)
    assert outcome.line == f"{SHOWN}: {said}{FROM_MEMORY}"
    assert exit_code([outcome]) == 3


def test_a_stuck_cell_is_told_to_the_byte_and_the_card_is_made_unusable(
    image: ProvenImage, content: bytes
) -> None:
    place = next(at for at in range(BLOCK + 1000, BLOCK + 2000) if not content[at] & 4)
    device = FalseDevice(Whole(DEVICE_BYTES, stuck={place: 4, 3 * BLOCK: 1}))
    outcome = write_one(image, device)
    assert outcome == Outcome(drive(), "differs", True, place, bad_blocks=2, blocks=5)
    assert outcome.line == (
        f"{SHOWN}: FAILED at byte {place:,}: 2 of 5 blocks of 4 MiB read back otherwise than they were "
        "written: the card is bad, or smaller than it claims; do not use it"
    )
    assert is_unusable(device.medium)
    assert exit_code([outcome]) == 1


@pytest.mark.parametrize("kind", FALSE)
@pytest.mark.parametrize("true_bytes", [2 * MIB, 5 * MIB + 512])
def test_a_card_of_false_capacity_is_found(image: ProvenImage, kind: type[Whole], true_bytes: int) -> None:
    outcome = write_one(image, FalseDevice(kind(DEVICE_BYTES, true_bytes)))
    assert outcome.result == "differs"
    assert outcome.at_byte < IMAGE_BYTES


def test_where_a_card_forgets_is_told_to_the_byte(image: ProvenImage, content: bytes) -> None:
    true_bytes = BLOCK + 512
    first_bad = next(at for at in range(true_bytes, IMAGE_BYTES) if content[at])
    outcome = write_one(image, FalseDevice(Drops(DEVICE_BYTES, true_bytes)))
    assert outcome == Outcome(drive(), "differs", True, first_bad, bad_blocks=1, blocks=5)


FAULTS = {
    "cannot be written in the middle": (
        fails(errno.EIO, "write", 2 * BLOCK, 3 * BLOCK),
        2 * BLOCK,
        "the card or its reader failed, or it was taken out (input/output error)",
    ),
    "cannot be written at its start": (
        fails(errno.EIO, "write", 0, 1),
        BLOCK,
        "the card or its reader failed, or it was taken out (input/output error)",
    ),
    "takes no more": (
        fails(errno.ENOSPC, "write", 2 * BLOCK),
        2 * BLOCK,
        "it takes no more, although it claims to hold 20,971,520 bytes",
    ),
    "is gone": (
        gone_after(9),
        4 * BLOCK,
        "it is not there any more: it was taken out, or its reader failed",
    ),
    "is gone before anything is compared": (
        fails(errno.ENXIO, "read", 0),
        0,
        "it is not there any more: it was taken out, or its reader failed",
    ),
    "locks itself": (
        fails(errno.EROFS, "write", 3 * BLOCK),
        3 * BLOCK,
        "it cannot be written to any more: it is write-protected",
    ),
    "does not finish": (
        fails(errno.EIO, "sync", 0),
        BLOCK,
        "the card or its reader failed, or it was taken out (input/output error)",
    ),
    "fails in a way of its own": (
        fails(errno.ETIMEDOUT, "write", BLOCK),
        BLOCK,
        "Connection timed out",
    ),
}


@pytest.mark.parametrize("what", FAULTS)
def test_a_device_that_fails_is_one_sentence_and_the_others_go_on(
    image: ProvenImage, content: bytes, what: str
) -> None:
    hook, place, why = FAULTS[what]
    bad = FalseDevice(filled_with(0xFF, DEVICE_BYTES), hook)
    good = FalseDevice(filled_with(0xFF, DEVICE_BYTES))
    watcher = Watcher()
    outcomes = write_devices(image, [(drive("sdc"), bad), (drive(), good)], watcher)
    assert [outcome.line for outcome in outcomes] == [
        f"/dev/sdc (Reader, 21.0 MB): FAILED at byte {place:,}: {why}",
        f"{SHOWN}: written and proven",
    ]
    assert good.medium.read(0, IMAGE_BYTES) == content
    assert exit_code(outcomes) == 2
    assert (bad.is_closed, good.is_closed) == (True, True)
    assert watcher.told == [(4 * IMAGE_BYTES, "writing and reading back")]
    assert (watcher.done_bytes, watcher.ended) == (4 * IMAGE_BYTES, True)


def test_what_cannot_be_read_back_is_not_proven(image: ProvenImage) -> None:
    device = FalseDevice(filled_with(0xFF, DEVICE_BYTES))
    device.hook = lambda what, place: (
        fails(errno.EIO, "read", 3 * BLOCK, 4 * BLOCK)(what, place) if _is_written(device) else None
    )
    outcome = write_one(image, device)
    assert (outcome.result, outcome.at_byte) == ("failed", 3 * BLOCK)
    assert is_unusable(device.medium)


def _is_written(device: FalseDevice) -> bool:
    return ("write", 0, HEAD_BYTES) in device.log


def test_what_could_not_be_read_before_may_be_written_and_proven(image: ProvenImage, content: bytes) -> None:
    """As a worn sector that the card replaces when it is written."""
    device = FalseDevice(holding(content, DEVICE_BYTES))
    device.hook = lambda what, place: (
        None if _is_written(device) else fails(errno.EIO, "read", BLOCK, 2 * BLOCK)(what, place)
    )
    assert write_one(image, device) == Outcome(drive(), "written", from_medium=True)
    assert (BLOCK, BLOCK) in device.writes


def test_a_card_that_refuses_its_second_half(image: ProvenImage) -> None:
    outcome = write_one(image, FalseDevice(Refuses(DEVICE_BYTES, 10 * MIB)))
    assert (outcome.result, outcome.at_byte) == ("failed", 2 * BLOCK)


@pytest.mark.parametrize("calls", range(24))
def test_whenever_it_breaks_off_the_card_is_not_taken_for_a_finished_one(
    image: ProvenImage, content: bytes, calls: int
) -> None:
    """After so many calls nothing reaches the device any more, as when the plug is pulled."""
    old = b"\x55" * IMAGE_BYTES
    device = FalseDevice(filled_with(0x55, DEVICE_BYTES), gone_after(calls))
    outcome = write_one(image, device)
    head = device.medium.read(0, HEAD_BYTES)
    if not any(device.medium.read(offset, BLOCK) != old[offset : offset + BLOCK] for offset in (0, BLOCK)):
        assert outcome.result == "failed"
        assert head == old[:HEAD_BYTES]
    elif head == content[:HEAD_BYTES]:
        assert device.medium.read(0, IMAGE_BYTES) == content
    else:
        assert is_unusable(device.medium)
        assert outcome.result == "failed"


def with_old_gpt(content: bytes, sector_bytes: int, at_sector: int = -1) -> FalseDevice:
    """A device that holds the image already, and the spare copy of a table that it had before."""
    medium = holding(content, DEVICE_BYTES)
    medium.write(DEVICE_BYTES + at_sector * sector_bytes, b"EFI PART" + bytes(84))
    medium.write(DEVICE_BYTES - 20 * sector_bytes, b"an entry")
    return FalseDevice(medium, sector_bytes=sector_bytes)


@pytest.mark.parametrize("sector_bytes", [512, 4096])
def test_the_spare_copy_of_an_old_gpt_is_emptied(
    image: ProvenImage, content: bytes, sector_bytes: int
) -> None:
    device = with_old_gpt(content, sector_bytes)
    assert write_one(image, device).result == "written"
    assert device.writes[1] == (DEVICE_BYTES - sector_bytes, sector_bytes)
    assert device.medium.read(DEVICE_BYTES - sector_bytes, sector_bytes) == bytes(sector_bytes)
    assert device.medium.read(DEVICE_BYTES - 20 * sector_bytes, 8) == b"an entry"
    assert device.medium.read(0, IMAGE_BYTES) == content


def test_what_lies_farther_from_the_end_is_no_spare_copy(image: ProvenImage, content: bytes) -> None:
    device = with_old_gpt(content, 512, -34)
    assert write_one(image, device).result == "already right"


def test_an_image_with_a_gpt_of_its_own_leaves_the_end_alone(image: ProvenImage, content: bytes) -> None:
    device = with_old_gpt(content, 512)
    assert write_one(replace(image, has_gpt=True), device).result == "already right"
    assert device.log == []


def test_an_end_that_cannot_be_read_confuses_nobody(image: ProvenImage, content: bytes) -> None:
    device = with_old_gpt(content, 512)
    device.hook = fails(errno.EIO, "read", IMAGE_BYTES)
    assert write_one(image, device).result == "already right"


def test_the_end_of_the_image_is_no_old_gpt(tmp_path: Path) -> None:
    path = tmp_path / "card.img"
    path.write_bytes(bytes(DEVICE_BYTES - 512) + b"EFI PART" + bytes(504))
    image = replace(prove_image(path, NoByteWatcher()), has_gpt=False)
    device = FalseDevice(holding(path.read_bytes(), DEVICE_BYTES))
    assert write_one(image, device).result == "already right"


@pytest.mark.parametrize("size_bytes", [512, HEAD_BYTES, HEAD_BYTES + 512, BLOCK, BLOCK + 512])
def test_small_images(tmp_path: Path, size_bytes: int) -> None:
    path = tmp_path / "small.img"
    path.write_bytes(random.Random(size_bytes).randbytes(size_bytes))
    device = FalseDevice(filled_with(0xFF, DEVICE_BYTES))
    assert write_one(prove_image(path, NoByteWatcher()), device).result == "written"
    assert device.medium.read(0, size_bytes + 512) == path.read_bytes() + b"\xff" * 512


def copy_of(image: ProvenImage, tmp_path: Path) -> ProvenImage:
    path = tmp_path / "face-a.img"
    path.write_bytes(image.path.read_bytes())
    return prove_image(path, NoByteWatcher())


def changes(path: Path, what: str, at_byte: int) -> Hook:
    """A hook that changes the image when the work on the device has come so far."""

    def hook(asked: str, place: int) -> None:
        if (asked, place) == (what, at_byte):
            with path.open("r+b") as file:
                file.seek(BLOCK - 1)
                file.write(b"changed" if file.read(1) else b"")
                file.truncate(IMAGE_BYTES - MIB)

    return hook


def test_an_image_that_changes_and_looks_unchanged_is_seen(image: ProvenImage, tmp_path: Path) -> None:
    """As by a program that puts the time of the file back."""
    own = copy_of(image, tmp_path)

    def hook(asked: str, place: int) -> None:
        if (asked, place) == ("sync", 0) and _is_written(device):
            status = own.path.stat()
            with own.path.open("r+b") as file:
                file.seek(BLOCK + 5)
                file.write(b"changed")
            os.utime(own.path, ns=(status.st_atime_ns, status.st_mtime_ns))

    device = FalseDevice(filled_with(0xFF, DEVICE_BYTES), hook)
    outcome = write_one(own, device)
    assert (outcome.result, outcome.why) == ("failed", f"{own.path} was changed while it was read")
    assert is_unusable(device.medium)


@pytest.mark.parametrize(("what", "at_byte"), [("write", BLOCK), ("write", HEAD_BYTES), ("write", 0)])
def test_an_image_that_changes_meanwhile_is_seen(
    image: ProvenImage, tmp_path: Path, what: str, at_byte: int
) -> None:
    own = copy_of(image, tmp_path)
    device = FalseDevice(filled_with(0xFF, DEVICE_BYTES), changes(own.path, what, at_byte))
    outcome = write_one(own, device)
    assert (outcome.result, outcome.why) == ("failed", f"{own.path} was changed while it was read")
    assert is_unusable(device.medium)


def test_an_image_that_was_changed_before_is_not_written(image: ProvenImage, tmp_path: Path) -> None:
    own = copy_of(image, tmp_path)
    with own.path.open("r+b") as file:
        file.write(b"x")
    medium = holding(image.path.read_bytes(), DEVICE_BYTES)
    outcome = write_one(own, FalseDevice(medium))
    assert (outcome.result, outcome.why) == ("failed", f"{own.path} was changed while it was read")


def test_an_image_that_is_gone_is_told(image: ProvenImage, tmp_path: Path) -> None:
    own = copy_of(image, tmp_path)
    own.path.unlink()
    outcome = write_one(own, FalseDevice(Whole(DEVICE_BYTES)))
    assert (outcome.result, outcome.why) == (
        "failed",
        f"{own.path} cannot be read: No such file or directory",
    )


@pytest.mark.skipif(os.name != "posix", reason="signals as POSIX has them")
def test_stopping_ends_all_of_them_and_leaves_no_card_that_looks_finished(
    image: ProvenImage, content: bytes, monkeypatch: pytest.MonkeyPatch, listens: None
) -> None:
    stop, proving = threading.Event(), threading.Event()
    monkeypatch.setattr("mediacheck.build.write.Event", lambda: stop)
    right = FalseDevice(holding(content, DEVICE_BYTES))

    def writes(what: str, place: int) -> None:
        if (what, place) == ("write", 2 * BLOCK):
            assert proving.wait(20)
            while not right.is_closed:
                time.sleep(0.001)
            signal.pthread_kill(threading.main_thread().ident or 0, signal.SIGINT)
            assert stop.wait(20)
            signal.pthread_kill(threading.main_thread().ident or 0, signal.SIGINT)  # an impatient person

    def proves(what: str, place: int) -> None:
        if (what, place) == ("read", BLOCK) and _is_written(other):
            proving.set()
            assert stop.wait(20)

    one, other = (FalseDevice(filled_with(0xFF, DEVICE_BYTES), hook) for hook in (writes, proves))
    with pytest.raises(Stopped) as caught:
        write_devices(image, [(drive("a"), one), (drive("b"), other), (drive("c"), right)], NoByteWatcher())
    again = "it was stopped, and has to be written again"
    assert [outcome.line for outcome in caught.value.outcomes] == [
        f"/dev/a (Reader, 21.0 MB): FAILED at byte {2 * BLOCK:,}: {again}",
        f"/dev/b (Reader, 21.0 MB): FAILED at byte {BLOCK:,}: {again}",
        "/dev/c (Reader, 21.0 MB): already right: nothing was written",
    ]
    assert (is_unusable(one.medium), is_unusable(other.medium), right.log) == (True, True, [])
    assert all(device.is_closed for device in (one, other, right))


@pytest.mark.parametrize("when", ["writing", "reading back"])
def test_a_mistake_of_ours_leaves_no_card_that_looks_finished(image: ProvenImage, when: str) -> None:
    def fails(what: str, place: int) -> None:
        if (what, place) == ("read", 2 * BLOCK) and (when == "writing" or _is_written(device)):
            raise RuntimeError(when)

    device = FalseDevice(filled_with(0xFF, DEVICE_BYTES), fails)
    with pytest.raises(RuntimeError, match=when):
        write_one(image, device)
    assert (is_unusable(device.medium), device.is_closed) == (True, True)


def test_the_worst_of_all_decides_the_exit_code() -> None:
    proven, right = Outcome(drive(), "written", from_medium=True), Outcome(drive(), "already right", True)
    unproven, differs, failed = (
        Outcome(drive(), "written"),
        Outcome(drive(), "differs", True),
        Outcome(drive(), "failed"),
    )
    assert exit_code([proven, right]) == 0
    assert exit_code([proven, unproven]) == 3
    assert exit_code([proven, unproven, differs]) == 1
    assert exit_code([differs, failed, unproven]) == 2
