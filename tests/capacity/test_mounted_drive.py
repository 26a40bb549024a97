"""Which drives may be filled."""

from __future__ import annotations

import os
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from mediacheck.capacity.mounted_drive import Computer, drive_at, is_built_in
from mediacheck.device.drive import Bus, Drive
from mediacheck.errors import CardError
from tests.capacity.drives import Told, Usage, computer_with

BYPASS = "Give the root of a mounted card, such as E:\\ or /media/card."


def refusal(path: Path, computer: Computer) -> str:
    with pytest.raises(CardError) as caught:
        drive_at(path, computer)
    return f"{caught.value} / {caught.value.advice}"


def test_the_root_of_a_card_may_be_filled(tmp_path: Path) -> None:
    found = drive_at(tmp_path, computer_with(tmp_path, room=5, used=2))
    assert (found.root, found.shown, found.device) == (tmp_path, str(tmp_path), "cardreader:1")
    assert found.usage().used == 2
    assert found.is_there()


def test_the_real_computer_gives_no_drive_of_its_own(tmp_path: Path) -> None:
    for place in (Path("/"), Path.home(), tmp_path, Path.cwd()):
        assert refusal(place, Computer())


def test_a_folder_of_a_card_is_refused(tmp_path: Path) -> None:
    (tmp_path / "Media").mkdir()
    said = refusal(tmp_path / "Media", computer_with(tmp_path))
    assert (
        said
        == f"{tmp_path / 'Media'} is a folder, not a whole drive, and only whole cards are filled / {BYPASS}"
    )


def test_a_file_is_refused(tmp_path: Path) -> None:
    (tmp_path / "card.img").write_bytes(b"")
    said = refusal(tmp_path / "card.img", computer_with(tmp_path))
    assert said == f"{tmp_path / 'card.img'} is no drive, and only whole cards are filled / {BYPASS}"


@pytest.mark.parametrize("name", ["nothing", "bad\0name"])
def test_nothing_at_all_is_refused(tmp_path: Path, name: str) -> None:
    said = refusal(tmp_path / name, computer_with(tmp_path))
    assert said.startswith(("there is no drive at", f"{tmp_path / name} is no drive"))


def test_a_drive_that_holds_the_home_folder_is_refused(tmp_path: Path) -> None:
    home = tmp_path / "home"
    home.mkdir()
    computer = replace(computer_with(tmp_path), own_places=lambda: (home,), number_of=lambda _: 7)
    assert refusal(tmp_path, computer) == (
        f"{tmp_path} is on a drive that this computer itself works from, which is never filled / {BYPASS}"
    )


def test_a_link_to_what_the_computer_works_from_counts_as_what_it_leads_to(tmp_path: Path) -> None:
    card, link = tmp_path / "card", tmp_path / "link"
    card.mkdir()
    if os.name != "posix":
        pytest.skip("links need a special right")
    link.symlink_to(card)
    computer = computer_with(card)
    numbers = {card: 7, link: 7}
    computer = replace(computer, own_places=lambda: (link,), number_of=lambda place: numbers.get(place, 1))
    assert "itself works from" in refusal(card, computer)


def test_another_part_of_the_disk_that_holds_the_system_is_refused(tmp_path: Path) -> None:
    """As on macOS, where the parts of a container share their room."""
    computer = computer_with(tmp_path, told=Told(str(tmp_path), device="/dev/sysdisk1"))
    assert "itself works from" in refusal(tmp_path, computer)


def test_a_drive_that_does_not_say_what_it_is_is_refused(tmp_path: Path) -> None:
    def number(place: Path) -> int:
        raise OSError

    assert "itself works from" in refusal(tmp_path, replace(computer_with(tmp_path), number_of=number))


def test_places_that_this_computer_has_not_do_not_matter(tmp_path: Path) -> None:
    def number(place: Path) -> int:
        if place != tmp_path:
            raise FileNotFoundError
        return 7

    assert drive_at(tmp_path, replace(computer_with(tmp_path), number_of=number)).root == tmp_path


@pytest.mark.parametrize("opts", ["ro", "ro,noatime"])
def test_a_card_that_is_write_protected_is_refused(tmp_path: Path, opts: str) -> None:
    said = refusal(tmp_path, computer_with(tmp_path, told=Told(str(tmp_path), opts=opts)))
    assert said.startswith(f"{tmp_path} is write-protected / Move the little slider")


@pytest.mark.parametrize("file_system", ["tmpfs", "nfs4", "overlay"])
def test_what_is_no_card_is_refused(tmp_path: Path, file_system: str) -> None:
    said = refusal(tmp_path, computer_with(tmp_path, told=Told(str(tmp_path), fstype=file_system)))
    assert "is a folder, not a whole drive" in said


def test_a_drive_is_gone_when_its_device_is(tmp_path: Path) -> None:
    device = tmp_path / "sdz1"
    here = replace(drive_at(tmp_path, computer_with(tmp_path)), device=f"/dev/../{device}")
    assert not here.is_there()
    device.touch()
    assert here.is_there()
    assert not replace(here, device="E:", root=tmp_path / "gone").is_there()


def test_usage_is_asked_anew(tmp_path: Path) -> None:
    free = [1, 2]
    computer = computer_with(tmp_path)
    system = replace(computer.system, usage=lambda _: Usage(9, 0, free.pop()))
    found = drive_at(tmp_path, replace(computer, system=system))
    assert [found.usage().free, found.usage().free] == [2, 1]


def test_a_disk_inside_the_computer_is_refused_although_the_system_is_on_another(tmp_path: Path) -> None:
    asked: list[str] = []
    computer = replace(
        computer_with(tmp_path),
        is_built_in=lambda device: not asked.append(device),  # type: ignore[func-returns-value]
    )
    assert refusal(tmp_path, computer) == (
        f"{tmp_path} is on a drive that is built into this computer, and only cards are filled / {BYPASS}"
    )
    assert asked == ["cardreader:1"]


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux is asked")
@pytest.mark.parametrize(
    ("bus", "removable", "built_in"),
    [
        ("sata", False, True),
        ("nvme", False, True),
        ("mmc", False, True),
        ("other", False, True),
        ("other", True, False),
        ("sd", True, False),
        ("usb", True, False),
        ("usb", False, False),
        ("loop", False, False),
        ("mapped", False, False),
    ],
)
def test_what_is_built_in(bus: Bus, removable: bool, built_in: bool) -> None:
    drive = Drive("/dev/sdz", "", bus, 8 * 10**9, 512, removable, read_only=False)
    assert is_built_in("/dev/sdz", lambda _: drive) is built_in


def test_what_nobody_describes_is_not_called_built_in() -> None:
    def unknown(device: str) -> Drive:
        raise CardError("there is no device")

    assert not is_built_in("/dev/none", unknown)


@pytest.mark.skipif(not Path("/sys/class/block/vda").exists(), reason="needs a computer with a virtual disk")
def test_the_disk_of_this_computer_is_built_in() -> None:
    assert is_built_in("/dev/vda")
