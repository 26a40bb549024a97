"""The guard: which of many invented drives may be written over, and why the others must not."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.device.drive import Drive
from mediacheck.device.guard import MAX_SIZE_BYTES, changed, confirmed, drive_words, refusal, refusals
from mediacheck.sizes import shown_size
from tests.device.sysfs import VIRTUAL, Computer, reader

NEED_BYTES = 8_000_000_000
ELSEWHERE = Path("/home/ann/face-a.img")
END_USE = "choose the device of the card, or end that use of it first"
MADE_UP = "is not a card but made up by this computer from a file or from other drives"
ONLY_CARDS = "only cards and sticks that can be taken out are written: choose the device of the card"

CARD = Drive("/dev/sdb", "Generic SD Reader", "usb", 31_914_983_424, 512, True, False)
SHOWN = "/dev/sdb (Generic SD Reader, 31.9 GB)"
SLOT = replace(CARD, path="/dev/mmcblk0", model="SU32G", bus="sd", parts=("/dev/mmcblk0p1",))

WRITTEN = {
    "a card in a reader on USB": CARD,
    "a card in a slot": SLOT,
    "a card in a Mac": replace(CARD, path="/dev/disk4", bus="sd"),
    "a stick": replace(CARD, model="Stick", size_bytes=64_000_000_000),
    "as large as the limit": replace(CARD, size_bytes=MAX_SIZE_BYTES),
    "as large as the image": replace(CARD, size_bytes=NEED_BYTES),
    "no model": replace(CARD, model=""),
    "larger sectors": replace(CARD, sector_bytes=4096),
}

REFUSED = {
    "an NVMe SSD inside": (
        replace(CARD, path="/dev/nvme0n1", model="Fast 500", bus="nvme", removable=False),
        f"/dev/nvme0n1 (Fast 500, 31.9 GB) is built into this computer, and {ONLY_CARDS}.",
    ),
    "an NVMe SSD that says it is removable": (
        replace(CARD, bus="nvme"),
        f"{SHOWN} is built into this computer, and {ONLY_CARDS}.",
    ),
    "a hard disk on SATA": (
        replace(CARD, bus="sata", removable=False),
        f"{SHOWN} is built into this computer, and {ONLY_CARDS}.",
    ),
    "a start-up disk on SATA that says it is removable": (
        replace(CARD, bus="sata"),
        f"{SHOWN} is built into this computer, and {ONLY_CARDS}.",
    ),
    "an SSD on USB": (
        replace(CARD, removable=False),
        f"{SHOWN} is a fixed drive in a case of its own, such as a hard disk or SSD on USB, and "
        f"{ONLY_CARDS}.",
    ),
    "storage that is soldered in (eMMC)": (
        replace(SLOT, bus="mmc", removable=False),
        f"/dev/mmcblk0 (SU32G, 31.9 GB) is built into this computer, and {ONLY_CARDS}.",
    ),
    "a virtual disk": (
        replace(CARD, path="/dev/vda", model="", bus="other", removable=False),
        f"/dev/vda (31.9 GB) is built into this computer, and {ONLY_CARDS}.",
    ),
    "a loop device": (
        replace(CARD, path="/dev/loop3", model="", bus="loop", removable=False),
        f"/dev/loop3 (31.9 GB) {MADE_UP}, and {ONLY_CARDS}.",
    ),
    "a RAID": (
        replace(CARD, path="/dev/md0", model="", bus="mapped", removable=False),
        f"/dev/md0 (31.9 GB) {MADE_UP}, and {ONLY_CARDS}.",
    ),
    "a mapped drive that says it is removable": (
        replace(CARD, bus="mapped"),
        f"{SHOWN} {MADE_UP}, and {ONLY_CARDS}.",
    ),
    "a drive for discs": (
        replace(CARD, path="/dev/sr0", model="Writer", bus="optical", read_only=True, size_bytes=0),
        "/dev/sr0 (Writer) is a drive for discs (CD, DVD), not a card.",
    ),
    "a reader without a card": (
        replace(CARD, size_bytes=0),
        "/dev/sdb (Generic SD Reader) is a reader, and there is no card in it: put the card in, or into the "
        "other slot.",
    ),
    "a card that is mounted": (
        replace(CARD, mounts=("/media/ann/GARDEN",)),
        f"{SHOWN} is mounted (/media/ann/GARDEN): close what works with it, then run `umount "
        "/media/ann/GARDEN`.",
    ),
    "a card of which two parts are mounted, one with a space in its name": (
        replace(CARD, mounts=("/media/ann/LOAM & LANTERN", "/media/ann/b")),
        f"{SHOWN} is mounted (/media/ann/LOAM & LANTERN, /media/ann/b): close what works with it, then run "
        "`umount '/media/ann/LOAM & LANTERN' /media/ann/b`.",
    ),
    "a card that is mounted on a Mac": (
        replace(CARD, path="/dev/disk4", mounts=("/Volumes/GARDEN",)),
        "/dev/disk4 (Generic SD Reader, 31.9 GB) is mounted (/Volumes/GARDEN): close what works with it, "
        "then run `diskutil unmountDisk /dev/disk4`.",
    ),
    "a card with swap space": (
        replace(CARD, uses=("swap space on /dev/sdb2",)),
        f"{SHOWN} is in use by this computer (swap space on /dev/sdb2): {END_USE}.",
    ),
    "a member of a volume group": (
        replace(CARD, uses=("part of the volume loam-data",)),
        f"{SHOWN} is in use by this computer (part of the volume loam-data): {END_USE}.",
    ),
    "a member of a RAID that is mounted": (
        replace(CARD, uses=("part of the RAID md0",), mounts=("/media/seeds",)),
        f"{SHOWN} is in use by this computer (part of the RAID md0): {END_USE}.",
    ),
    "a system on a stick": (
        replace(CARD, mounts=("/boot/efi", "/")),
        f"{SHOWN} is what this computer works from, and is never written over.",
    ),
    "a system on the card of a small computer": (
        replace(SLOT, mounts=("/boot/firmware", "/")),
        "/dev/mmcblk0 (SU32G, 31.9 GB) is what this computer works from, and is never written over.",
    ),
    "where only the start-up files are": (
        replace(CARD, mounts=("/boot",)),
        f"{SHOWN} is what this computer works from, and is never written over.",
    ),
    "where people's files are": (
        replace(CARD, mounts=("/home",)),
        f"{SHOWN} is what this computer works from, and is never written over.",
    ),
    "an encrypted system inside": (
        replace(CARD, bus="nvme", removable=False, mounts=("/",), uses=("opened as the encrypted drive x",)),
        f"{SHOWN} is what this computer works from, and is never written over.",
    ),
    "where the image lies": (
        replace(CARD, mounts=("/home/ann",)),
        f"{SHOWN} holds the image /home/ann/face-a.img itself: copy the image to another drive first.",
    ),
    "where this program lies": (
        replace(CARD, mounts=(str(Path(sys.prefix).parent),)),
        f"{SHOWN} holds this very program, and is never written over.",
    ),
    "a write-protected card": (
        replace(CARD, read_only=True),
        f"{SHOWN} is write-protected: move the little slider at the side of the card or of its adapter.",
    ),
    "a card for which the person has no right": (
        replace(CARD, allowed=False),
        f"{SHOWN} may not be written to by you: run the same command with sudo.",
    ),
    "a drive of 1 TB on USB": (
        replace(CARD, size_bytes=1_000_204_886_016),
        "/dev/sdb (Generic SD Reader, 1.0 TB) holds 1,000,204,886,016 bytes, which is more than the "
        "512,000,000,000 bytes that are allowed: if it is a card all the same, allow its size with "
        "--max-size.",
    ),
    "a byte too large": (
        replace(CARD, size_bytes=MAX_SIZE_BYTES + 1),
        "/dev/sdb (Generic SD Reader, 512.0 GB) holds 512,000,000,001 bytes, which is more than the "
        "512,000,000,000 bytes that are allowed: if it is a card all the same, allow its size with "
        "--max-size.",
    ),
    "a byte too small": (
        replace(CARD, size_bytes=NEED_BYTES - 1),
        "/dev/sdb (Generic SD Reader, 8.0 GB) holds 7,999,999,999 bytes, which is less than the "
        "8,000,000,000 bytes that are needed: take a larger card, or a smaller image.",
    ),
}


@pytest.mark.parametrize("what", WRITTEN)
def test_cards_that_nothing_uses_may_be_written_over(what: str) -> None:
    assert refusal(WRITTEN[what], NEED_BYTES, MAX_SIZE_BYTES, ELSEWHERE) is None


@pytest.mark.parametrize("what", REFUSED)
def test_all_else_is_refused_with_its_reason(what: str) -> None:
    drive, why = REFUSED[what]
    assert refusal(drive, NEED_BYTES, MAX_SIZE_BYTES, ELSEWHERE) == why


drives = st.builds(
    Drive,
    path=st.just("/dev/sdb"),
    model=st.text(max_size=9),
    bus=st.sampled_from(("usb", "sd", "mmc", "sata", "nvme", "loop", "optical", "mapped", "other")),
    size_bytes=st.sampled_from((0, 1, NEED_BYTES, MAX_SIZE_BYTES, MAX_SIZE_BYTES + 1)),
    sector_bytes=st.just(512),
    removable=st.booleans(),
    read_only=st.booleans(),
    mounts=st.lists(st.sampled_from(("/", "/media/card", "/boot")), max_size=2).map(tuple),
    uses=st.lists(st.just("swap space on /dev/sdb1"), max_size=1).map(tuple),
    allowed=st.booleans(),
)


@given(drives)
def test_no_combination_of_facts_lets_a_drive_through_that_one_of_them_forbids(drive: Drive) -> None:
    allowed = (
        drive.bus in ("usb", "sd")
        and drive.removable
        and drive.allowed
        and not (drive.read_only or drive.mounts or drive.uses)
        and NEED_BYTES <= drive.size_bytes <= MAX_SIZE_BYTES
    )
    assert (refusal(drive, NEED_BYTES) is None) == allowed


def test_a_device_that_is_given_twice_is_refused_once_for_each_reason() -> None:
    mounted = replace(CARD, path="/dev/sdc", mounts=("/media/c",))
    assert refusals((CARD, SLOT), NEED_BYTES) == ()
    assert refusals((CARD, mounted, CARD, mounted), NEED_BYTES) == (
        "/dev/sdc (Generic SD Reader, 31.9 GB) is mounted (/media/c): close what works with it, then run "
        "`umount /media/c`.",
        "/dev/sdb was given more than once.",
        "/dev/sdc was given more than once.",
    )


def test_a_device_and_a_link_to_it_are_the_same(tmp_path: Path) -> None:
    computer = Computer(tmp_path)
    reader(computer)
    (computer.place / "dev/usb-0:0").symlink_to("sdb")
    both = computer.describe("sdb"), computer.describe("usb-0:0")
    assert refusals(both, NEED_BYTES) == (f"{computer.dev('sdb')[0]} was given more than once.",)


def test_two_nodes_of_one_device_are_the_same_although_their_names_differ() -> None:
    """As mknod makes them, which no link leads to."""
    one, node = replace(CARD, number=2064), replace(CARD, path="/srv/reader/sdb", number=2064)
    assert refusals((one, node), NEED_BYTES) == ("/srv/reader/sdb was given more than once.",)
    assert refusals((one, replace(node, number=2080)), NEED_BYTES) == ()


def test_from_the_system_to_the_reason(tmp_path: Path) -> None:
    """What Linux tells of a card whose encrypted part is open leads to the right sentence."""
    computer = Computer(tmp_path)
    disk = reader(computer)
    computer.hold(
        disk / "sdb1", computer.disk("dm-0", VIRTUAL, (253, 0), dm__name="luks", dm__uuid="CRYPT-1")
    )
    drive = computer.describe("sdb")
    assert refusal(drive, NEED_BYTES) == (
        f"{drive_words(drive)} is in use by this computer (opened as the encrypted drive luks): {END_USE}."
    )


def test_another_card_that_was_put_in_meanwhile_is_seen() -> None:
    first = replace(CARD, insertion="17")
    assert changed(first, replace(first)) is None
    for other in (replace(first, insertion="18"), replace(first, size_bytes=NEED_BYTES), SLOT):
        assert changed(first, other) == (
            f"{SHOWN} changed after it was shown: leave the card in, and run the command again."
        )


@pytest.mark.parametrize(
    "typed", ["31.9 GB", "31.9GB\n", " 31.9 gb ", "31914983424", "31914983424 bytes", "31900 MB"]
)
def test_the_size_as_shown_or_to_the_byte_confirms(typed: str) -> None:
    assert confirmed(CARD, typed)


@pytest.mark.parametrize(
    "typed",
    [
        "",
        "\n",
        "y",
        "yes",
        "32 GB",
        "31.9",
        "31",
        "31.8 GB",
        "31.91 GB",
        "32.0 GB",
        "31914983425",
        "29.7 GiB",
    ],
)
def test_nothing_else_confirms(typed: str) -> None:
    assert not confirmed(CARD, typed)


@given(st.integers(1, 10**13), st.integers(1, 10**13))
def test_the_size_of_another_drive_confirms_only_where_both_are_shown_alike(one: int, other: int) -> None:
    drive = replace(CARD, size_bytes=one)
    assert confirmed(drive, shown_size(one))
    assert confirmed(drive, shown_size(other)) == (shown_size(one) == shown_size(other))


def test_a_reader_without_a_card_is_confirmed_by_nothing() -> None:
    assert not any(confirmed(replace(CARD, size_bytes=0), typed) for typed in ("0", "0 bytes", "1 byte", ""))


def test_names_that_would_change_the_line_are_shown_escaped() -> None:
    assert drive_words(replace(CARD, model="Bad\udcffname", size_bytes=0)) == "/dev/sdb (Bad\\xffname)"
