"""What is told of a raw device, by invented computers and by this one."""

from __future__ import annotations

import os
import plistlib
from pathlib import Path
from typing import Any

import pytest

from mediacheck.device.drive import Drive, describe
from mediacheck.device.linux import Places
from mediacheck.device.linux import describe as describe_linux
from mediacheck.device.macos import Questions
from mediacheck.device.macos import describe as describe_mac
from mediacheck.errors import CardError, ProgramError
from tests.device.sysfs import NVME, SATA, SLOT, USB, VIRTUAL, Computer, reader


@pytest.fixture
def computer(tmp_path: Path) -> Computer:
    return Computer(tmp_path)


def test_a_card_in_a_reader_on_usb(computer: Computer) -> None:
    reader(computer, parts=(2, 1), queue__logical_block_size="4096", diskseq="17")
    path, *parts = computer.dev("sdb", "sdb1", "sdb2")
    assert computer.describe("sdb") == Drive(
        path=path,
        model="Generic SD/MMC Reader",
        bus="usb",
        size_bytes=31_914_983_424,
        sector_bytes=4096,
        removable=True,
        read_only=False,
        parts=tuple(parts),
        number=os.makedev(8, 16),
        insertion="17",
    )


def test_a_card_in_a_slot_can_be_taken_out_although_the_kernel_says_not(computer: Computer) -> None:
    disk = computer.disk("mmcblk0", SLOT, (179, 0), device__type="SD", device__name="SU32G")
    computer.part(disk, "mmcblk0p1", (179, 1))
    path, part = computer.dev("mmcblk0", "mmcblk0p1")
    assert computer.describe("mmcblk0") == Drive(
        path, "SU32G", "sd", 31_914_983_424, 512, True, False, parts=(part,), number=os.makedev(179, 0)
    )


@pytest.mark.parametrize(
    ("name", "under", "told", "bus"),
    [
        ("mmcblk1", SLOT, {"device__type": "MMC"}, "mmc"),
        ("mmcblk1boot0", SLOT, {"device__type": "MMC"}, "mmc"),
        ("mmcblk2", SLOT, {}, "mmc"),
        ("nvme0n1", NVME, {"device__model": "Fast"}, "nvme"),
        ("sda", SATA, {}, "sata"),
        ("sdc", USB, {}, "usb"),
        ("sr0", SATA, {"removable": "1"}, "optical"),
        ("sdd", USB, {"device__type": "5"}, "optical"),
        ("loop3", VIRTUAL, {"loop__backing_file": "/home/ann/card.img"}, "loop"),
        ("dm-0", VIRTUAL, {}, "mapped"),
        ("md0", VIRTUAL, {}, "mapped"),
        ("zram0", VIRTUAL, {}, "mapped"),
        ("vda", "pci0000:00/0000:00:02.0/virtio1/block", {}, "other"),
    ],
)
def test_how_a_drive_is_attached(
    computer: Computer, name: str, under: str, told: dict[str, str], bus: str
) -> None:
    computer.disk(name, under, (240, 0), **told)
    drive = computer.describe(name)
    assert (drive.bus, drive.removable) == (bus, told.get("removable") == "1")


def test_a_number_in_place_of_a_maker_is_no_model(computer: Computer) -> None:
    computer.disk("vda", VIRTUAL, (254, 16), device__vendor="0x1af4")
    assert computer.describe("vda").model == ""


def test_a_write_protected_card_and_an_empty_reader(computer: Computer) -> None:
    reader(computer, "sdb", ro="1")
    reader(computer, "sdc", parts=(), size="0")
    assert computer.describe("sdb").read_only
    assert computer.describe("sdc").size_bytes == 0


def test_what_is_mounted_of_it_by_number_or_by_name(computer: Computer) -> None:
    reader(computer, parts=(1, 2))
    computer.mount("8:17", r"/media/ann/LOAM\040&\040LANTERN")
    computer.mount("0:44", "/srv/seeds", "/dev/sdb2", "btrfs")  # btrfs has numbers of its own
    computer.mount("8:1", "/home", "/dev/sda1")
    computer.mount("8:17", r"/media/ann/LOAM\040&\040LANTERN")
    assert computer.describe("sdb").mounts == ("/media/ann/LOAM & LANTERN", "/srv/seeds")


def test_a_whole_card_without_parts_that_is_mounted(computer: Computer) -> None:
    reader(computer, parts=())
    computer.mount("8:16", "/media/card")
    assert computer.describe("sdb").mounts == ("/media/card",)


def test_what_is_mounted_of_what_is_made_from_it(computer: Computer) -> None:
    """An encrypted part, in which there is a volume of LVM, which is mounted."""
    disk = reader(computer)
    outer = computer.disk("dm-0", VIRTUAL, (253, 0), dm__name="luks-7", dm__uuid="CRYPT-LUKS2-7")
    inner = computer.disk("dm-1", VIRTUAL, (253, 1), dm__name="loam-root", dm__uuid="LVM-abc")
    computer.hold(disk / "sdb1", outer)
    computer.hold(outer, inner)
    computer.hold(inner, outer)  # a ring, which no kernel makes, must not be followed for ever
    computer.mount("253:1", "/")
    drive = computer.describe("sdb")
    assert drive.mounts == ("/",)
    assert drive.uses == ("opened as the encrypted drive luks-7", "part of the volume loam-root")


def test_parts_of_a_raid_that_has_parts(computer: Computer) -> None:
    disk = reader(computer, parts=())
    raid = computer.disk("md127", VIRTUAL, (9, 127), md__level="raid1")
    computer.part(raid, "md127p1", (259, 0))
    computer.hold(disk, raid)
    computer.mount("259:0", "/srv")
    drive = computer.describe("sdb")
    assert (drive.mounts, drive.uses) == (("/srv",), ("part of the RAID md127",))


def test_a_loop_device_that_shows_a_part_again(computer: Computer) -> None:
    reader(computer)
    computer.disk("loop3", VIRTUAL, (7, 3), loop__backing_file="/dev/sdb1")
    computer.disk("loop4", VIRTUAL, (7, 4), loop__backing_file="/home/ann/sdb1")
    computer.mount("7:3", "/mnt")
    drive = computer.describe("sdb")
    assert (drive.mounts, drive.uses) == (("/mnt",), ("shown again as loop3",))


def test_a_device_that_the_person_may_not_write_to(
    computer: Computer, monkeypatch: pytest.MonkeyPatch
) -> None:
    reader(computer)
    assert computer.describe("sdb").allowed
    asked: list[tuple[str, int]] = []
    monkeypatch.setattr(os, "access", lambda place, mode: asked.append((str(place), mode)))
    assert not computer.describe("sdb").allowed
    assert asked == [(computer.dev("sdb")[0], os.R_OK | os.W_OK)]


def test_something_else_that_is_made_from_it(computer: Computer) -> None:
    disk = reader(computer)
    computer.hold(disk / "sdb1", computer.disk("bcache0", VIRTUAL, (252, 0)))
    computer.hold(disk / "sdb1", computer.disk("dm-3", VIRTUAL, (253, 3), dm__name="seeds", dm__uuid=""))
    assert computer.describe("sdb").uses == ("part of bcache0", "part of seeds")


def test_swap_space_on_it(computer: Computer) -> None:
    reader(computer, parts=(1, 2))
    with computer.swaps.open("a") as swaps:
        swaps.write("/swapfile  file  1 0 -2\n\n/dev/zram0 partition 1 0 100\n/dev/sdb2 partition 1 0 -3\n")
    assert computer.describe("sdb").uses == ("swap space on /dev/sdb2",)


def test_a_kernel_without_swap(computer: Computer) -> None:
    reader(computer)
    computer.swaps.unlink()
    assert computer.describe("sdb").uses == ()


def test_a_link_leads_to_its_device(computer: Computer) -> None:
    reader(computer)
    link = computer.place / "dev" / "usb-Generic_SD_Reader-0:0"
    link.symlink_to("sdb")
    assert computer.describe(link.name) == computer.describe("sdb")


@pytest.mark.parametrize("links", [False, True])
def test_a_part_is_no_card(computer: Computer, links: bool) -> None:
    reader(computer)
    if links:
        (computer.place / "dev/usb-part1").symlink_to("sdb1")
    given, whole = computer.dev("usb-part1" if links else "sdb1", "sdb")
    with pytest.raises(CardError) as refused:
        computer.describe(Path(given).name)
    assert str(refused.value) == f"{given} is only a part of a card: give the whole card {whole}"


def test_a_name_that_sysfs_has_for_another_device_is_not_believed(computer: Computer) -> None:
    reader(computer)
    computer.numbers["sdb"] = os.makedev(8, 0)
    with pytest.raises(CardError, match=r"does not tell what kind of device .*sdb is"):
        computer.describe("sdb")


def test_a_device_that_sysfs_does_not_know(computer: Computer) -> None:
    computer.numbers["sdz"] = os.makedev(8, 400)
    with pytest.raises(CardError, match=r"does not tell what kind of device .*sdz is"):
        computer.describe("sdz")


def test_where_nobody_tells_what_is_mounted_nothing_is_described(computer: Computer) -> None:
    reader(computer)
    places = Places(computer.place / "class", computer.place / "none", computer.swaps, lambda _: 0x810)
    with pytest.raises(CardError, match=r"does not tell what it uses: .*none cannot be read"):
        describe_linux(computer.dev("sdb")[0], places)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ("card.img", "card.img is an ordinary file, and only raw devices are written"),
        (".", " is a folder, and only raw devices are written"),
        ("none", "there is no device "),
        ("no\0ne", "there is no device "),
    ],
)
def test_what_is_no_device_is_refused(tmp_path: Path, given: str, said: str) -> None:
    (tmp_path / "card.img").write_bytes(bytes(512))
    with pytest.raises(CardError) as refused:
        describe(f"{tmp_path}/{given}", "linux")
    assert said in str(refused.value)
    assert refused.value.advice.startswith("Give the device of the whole card, such as /dev/sdb")


def test_a_character_device_is_no_drive() -> None:
    with pytest.raises(CardError, match="/dev/null is no drive, and only raw devices are written"):
        describe("/dev/null", "linux")


def test_windows_is_told_what_to_do_instead() -> None:
    with pytest.raises(CardError, match="raw devices are written on Linux and macOS only") as refused:
        describe(r"\\.\PhysicalDrive1", "win32")
    assert refused.value.advice == (
        r"Format the card, and have it filled with `mediacheck build FOLDER --profile PROFILE --out E:\`."
    )


CARD_ON_MAC: dict[str, Any] = {
    "DeviceIdentifier": "disk4",
    "WholeDisk": True,
    "ParentWholeDisk": "disk4",
    "MediaName": "Built In SDXC Reader",
    "BusProtocol": "Secure Digital",
    "Internal": True,
    "RemovableMedia": True,
    "WritableMedia": True,
    "VirtualOrPhysical": "Physical",
    "TotalSize": 31_914_983_424,
    "DeviceBlockSize": 512,
}
CARD_LISTED: dict[str, Any] = {
    "DeviceIdentifier": "disk4",
    "Content": "FDisk_partition_scheme",
    "Partitions": [
        {"DeviceIdentifier": "disk4s1", "Content": "DOS_FAT_32", "MountPoint": "/Volumes/GARDEN"},
        {"DeviceIdentifier": "disk4s2", "Content": "Linux"},
    ],
}
SYSTEM_LISTED: dict[str, Any] = {
    "DeviceIdentifier": "disk3",
    "APFSPhysicalStores": [{"DeviceIdentifier": "disk0s2"}],
    "APFSVolumes": [
        {"DeviceIdentifier": "disk3s1", "MountPoint": "/System/Volumes/Data"},
        {"DeviceIdentifier": "disk3s3", "MountedSnapshots": [{"SnapshotMountPoint": "/"}]},
    ],
}


def mac(info: object, *disks: object) -> Questions:
    """A Mac that answers so."""
    answers = {"info": info, "list": {"AllDisksAndPartitions": list(disks)}}
    return Questions(lambda *words: plistlib.dumps(answers[words[0]]), lambda _: 77)  # type: ignore[arg-type]


@pytest.mark.parametrize("given", ["/dev/disk4", "/dev/rdisk4"])
def test_a_card_in_a_mac(given: str) -> None:
    assert describe_mac(given, mac(CARD_ON_MAC, SYSTEM_LISTED, CARD_LISTED)) == Drive(
        path="/dev/disk4",
        model="Built In SDXC Reader",
        bus="sd",
        size_bytes=31_914_983_424,
        sector_bytes=512,
        removable=True,
        read_only=False,
        mounts=("/Volumes/GARDEN",),
        parts=("/dev/disk4s1", "/dev/disk4s2"),
        number=77,
    )


def test_the_system_of_a_mac_is_found_through_its_container() -> None:
    told = {
        **CARD_ON_MAC,
        "DeviceIdentifier": "disk0",
        "BusProtocol": "Apple Fabric",
        "RemovableMedia": False,
    }
    own = {"DeviceIdentifier": "disk0", "Partitions": [{"DeviceIdentifier": "disk0s2"}]}
    drive = describe_mac("/dev/disk0", mac(told, own, SYSTEM_LISTED))
    assert (drive.bus, drive.removable) == ("nvme", False)
    assert drive.mounts == ("/System/Volumes/Data", "/")
    assert drive.uses == ("part of the APFS container disk3",)


def test_a_raid_of_a_mac() -> None:
    own = {
        "DeviceIdentifier": "disk4",
        "Partitions": [{"DeviceIdentifier": "disk4s1", "Content": "Apple_RAID"}],
    }
    drive = describe_mac("/dev/disk4", mac(CARD_ON_MAC, own))
    assert drive.uses == ("part of a volume over several drives (Apple_RAID)",)


def test_what_a_mac_does_not_tell_counts_against_writing() -> None:
    drive = describe_mac("/dev/disk4", mac({"WholeDisk": True}))
    assert drive == Drive("/dev/disk4", "", "other", 0, 512, False, True, number=77)


def test_a_mounted_image_and_a_disc_in_a_mac() -> None:
    image = {**CARD_ON_MAC, "BusProtocol": "Disk Image", "VirtualOrPhysical": "Virtual"}
    disc = {**CARD_ON_MAC, "BusProtocol": "USB", "OpticalDeviceType": "DVD-ROM"}
    drives = [describe_mac("/dev/disk4", mac(told)) for told in (image, disc)]
    assert [(drive.bus, drive.removable) for drive in drives] == [("loop", False), ("optical", True)]


def test_a_part_of_a_card_in_a_mac() -> None:
    told = {"WholeDisk": False, "ParentWholeDisk": "disk4"}
    with pytest.raises(
        CardError, match="/dev/disk4s1 is only a part of a card: give the whole card /dev/disk4"
    ):
        describe_mac("/dev/disk4s1", mac(told))


def test_no_device_of_a_mac() -> None:
    with pytest.raises(CardError, match="/dev/null is no raw device"):
        describe_mac("/dev/null", mac({}))


def test_a_mac_that_gives_no_answer() -> None:
    def silent(*words: str) -> bytes:
        raise ProgramError("diskutil ended with exit code 1")

    for questions in (Questions(silent), Questions(lambda *_: b"not a plist"), mac(["no dictionary"])):
        with pytest.raises(CardError, match="macOS does not tell what kind of device it is"):
            describe_mac("/dev/disk4", questions)
