"""Invented computers with drives, as Linux tells of them: a tree like /sys, two tables like those in /proc.

It must not look at the computer that the tests run on.
"""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from mediacheck.device.drive import Drive, no_drive
from mediacheck.device.linux import Places, describe

USB = "pci0000:00/0000:00:14.0/usb1/1-2/1-2:1.0/host6/target6:0:0/6:0:0:0/block"
SATA = "pci0000:00/0000:00:17.0/ata1/host0/target0:0:0/0:0:0:0/block"
NVME = "pci0000:00/0000:00:1d.0/0000:3d:00.0/nvme/nvme0"
SLOT = "pci0000:00/0000:00:1c.0/0000:02:00.0/rtsx_pci_sdmmc.0/mmc_host/mmc0/mmc0:0001/block"
VIRTUAL = "virtual/block"

ROOT = "27 1 254:0 / / rw,relatime - ext4 /dev/vda rw"


@dataclass
class Computer:
    """A folder in which the system's answers stand."""

    place: Path
    numbers: dict[str, int] = field(default_factory=dict)
    mounts: list[str] = field(default_factory=lambda: [ROOT])

    def __post_init__(self) -> None:
        for folder in ("class", "devices", "dev"):
            (self.place / folder).mkdir()
        self.swaps = self.place / "swaps"
        self.swaps.write_text("Filename\t\t\t\tType\t\tSize\t\tUsed\t\tPriority\n")
        self.table = self.place / "mountinfo"

    def disk(self, name: str, under: str, number: tuple[int, int], **told: str) -> Path:
        """A drive. `told`: what else stands in its folder; two underscores stand for a slash."""
        block = self.place / "devices" / under / name
        return self._block(block, number, {"size": "62333952", "removable": "0", "ro": "0"} | told)

    def part(self, disk: Path, name: str, number: tuple[int, int], place: int = 1) -> Path:
        """A part of it."""
        return self._block(disk / name, number, {"partition": str(place), "size": "2048"})

    def hold(self, held: Path, holder: Path) -> None:
        """The one is made from the other."""
        (held / "holders" / holder.name).symlink_to(os.path.relpath(holder, held / "holders"))

    def mount(self, number: str, place: str, source: str = "/dev/none", kind: str = "vfat") -> None:
        """Something is mounted."""
        self.mounts.append(f"{len(self.mounts) + 40} 27 {number} / {place} rw shared:1 - {kind} {source} rw")

    def describe(self, name: str) -> Drive:
        """What our reader says of the device with this name in /dev."""
        self.table.write_text("".join(f"{line}\n" for line in self.mounts))
        places = Places(self.place / "class", self.table, self.swaps, self._number)
        return describe(str(self.place / "dev" / name), places)

    def dev(self, *names: str) -> tuple[str, ...]:
        """Paths of devices."""
        return tuple(str(self.place / "dev" / name) for name in names)

    def _number(self, path: str) -> int:
        name = Path(os.path.realpath(path)).name
        if name not in self.numbers:
            raise no_drive(f"there is no device {path}")
        return self.numbers[name]

    def _block(self, block: Path, number: tuple[int, int], told: Mapping[str, str]) -> Path:
        (block / "holders").mkdir(parents=True)
        for name, value in {**told, "dev": f"{number[0]}:{number[1]}"}.items():
            file = block / name.replace("__", "/")
            file.parent.mkdir(exist_ok=True)
            file.write_text(f"{value}\n")
        (self.place / "class" / block.name).symlink_to(os.path.relpath(block, self.place / "class"))
        (self.place / "dev" / block.name).touch()
        self.numbers[block.name] = os.makedev(*number)
        return block


def reader(computer: Computer, name: str = "sdb", parts: Sequence[int] = (1,), **told: str) -> Path:
    """A card in a reader on USB, with its parts."""
    minor = (ord(name[2]) - ord("a")) * 16
    about = {"removable": "1", "device__vendor": "Generic ", "device__model": "SD/MMC Reader   "}
    disk = computer.disk(name, USB, (8, minor), **(about | told))
    for part in parts:
        computer.part(disk, f"{name}{part}", (8, minor + part), part)
    return disk
