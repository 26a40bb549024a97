"""Whatever a path names is opened as a card, or one sentence says why not."""

from __future__ import annotations

import errno
import os
import socket
import stat
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path, PureWindowsPath
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from mediacheck.card import opening as room
from mediacheck.card import raw as raw_room
from mediacheck.card.mbr_layout import Mbr, MbrEntry
from mediacheck.card.medium import Aligned
from mediacheck.card.model import Card, Damage, Volume
from mediacheck.card.mounts import System
from mediacheck.card.opening import open_card
from mediacheck.card.raw import open_raw
from mediacheck.errors import CardError
from tests.card.card_programs import run
from tests.card.filled import FILES, MIB, fat_card, overwrite, placed, sized
from tests.card.media import Device

NO_CARD = "is a file that holds no card: neither partition table nor file system was found"
EMPTY_SYSTEM = System(mounts=lambda: (), settle=lambda: None)


@pytest.fixture(scope="module")
def fat(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A FAT32 card without a table. For reading only."""
    return fat_card(tmp_path_factory.mktemp("fat") / "card.img")


@pytest.fixture
def copy(fat: Path, tmp_path: Path) -> Path:
    """One that may be changed."""
    path = tmp_path / "card.img"
    path.write_bytes(fat.read_bytes())
    return path


def contents(card: Card) -> dict[str, bytes]:
    found = {}
    for entry in card.entries:
        with entry.open() as file:
            found[entry.path] = file.read()
    return found


def refused(path: Path, system: System = EMPTY_SYSTEM) -> CardError:
    with pytest.raises(CardError) as caught:
        open_card(path, system=system)
    return caught.value


def broken(card: Card) -> list[str] | None:
    return None if card.damage is None else [damage.what for damage in card.damage]


# Images


def test_an_image_is_listed_in_disk_order_and_its_files_are_read_in_place(fat: Path) -> None:
    seen: list[int] = []
    card = open_card(fat, seen.append)
    assert contents(card) == FILES
    assert list(contents(card)) == list(FILES)
    assert [entry.position for entry in card.entries] == [0, 1, 2, 3]
    assert (card.source, card.kind, card.folders, card.order_known) == (str(fat), "image", ("Spring",), True)
    assert (card.damage, card.unlisted, card.raw_reason, card.notes) == ((), None, None, ())
    assert seen == [4]


def test_the_volume_of_an_image_is_told_whole(fat: Path) -> None:
    volume = open_card(fat).volume
    assert volume is not None
    assert replace(volume, used_bytes=None, free_bytes=None) == Volume(
        file_system="FAT32",
        partition_table="none",
        label="GARDEN",
        serial="1234-ABCD",
        capacity_bytes=40 * MIB,
        cluster_bytes=512,
        medium_bytes=40 * MIB,
        claimed_bytes=40 * MIB,
        dirty=False,
    )


def test_an_image_given_by_its_name_alone_is_opened_from_elsewhere_too(
    fat: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """Files are read by other processes, later."""
    monkeypatch.chdir(fat.parent)
    card = open_card(Path("card.img"))
    monkeypatch.chdir(tmp_path)
    assert card.source == "card.img"
    assert contents(card) == FILES


def test_a_link_to_an_image_is_that_image(fat: Path, tmp_path: Path) -> None:
    if os.name != "posix":
        pytest.skip("links need a special right")
    (tmp_path / "link.img").symlink_to(fat)
    assert contents(open_card(tmp_path / "link.img")) == FILES


@pytest.mark.parametrize("table", ["MBR", "GPT"])
def test_a_part_of_an_image_is_read_where_it_lies(fat: Path, tmp_path: Path, table: str) -> None:
    path = sized(tmp_path / "card.img", 48 * MIB)
    sectors = 40 * MIB // 512
    run("sgdisk", f"--new=1:4096:{4096 + sectors - 1}", "--typecode=1:0700", path)
    if table == "MBR":
        run("sgdisk", "--gpttombr=1", path)
    overwrite(path, 4096 * 512, fat.read_bytes())
    card = open_card(path)
    assert contents(card) == FILES
    assert (broken(card), card.notes) == ([], ())
    assert card.volume is not None
    assert (card.volume.partition_table, card.volume.medium_bytes, card.volume.claimed_bytes) == (
        *(table, 48 * MIB, 42 * MIB),
    )


def test_of_several_parts_the_first_that_players_read_is_read_and_named(fat: Path, tmp_path: Path) -> None:
    ext = sized(tmp_path / "ext.img", MIB)
    overwrite(ext, 1080, b"\x53\xef")
    path = placed(tmp_path / "card.img", 64 * MIB, {MIB: ext, 4 * MIB: fat})
    table = Mbr.of(
        MbrEntry.of(0x83, 2048, 2048), MbrEntry.of(0x0C, 8192, 81_920), MbrEntry.of(0x0C, 90_112, 2048)
    )
    card = open_card(overwrite(path, 0, table.compose()))
    assert contents(card) == FILES
    assert card.notes == ("the card has 3 parts, and only part 2 (FAT32) was read",)
    assert broken(card) == []


def test_an_exfat_image_is_read_as_such(tmp_path: Path) -> None:
    path = sized(tmp_path / "card.img", 8 * MIB)
    run("mkfs.exfat", "-L", "SEEDS", path)
    card = open_card(path)
    assert (card.entries, broken(card), card.unlisted) == ((), [], None)
    assert card.volume is not None
    assert (card.volume.file_system, card.volume.label, card.volume.medium_bytes) == (
        *("exFAT", "SEEDS", 8 * MIB),
    )


def test_a_table_that_is_damaged_is_told_beside_the_files(fat: Path, tmp_path: Path) -> None:
    path = placed(tmp_path / "card.img", 42 * MIB, {MIB: fat})
    table = Mbr.of(MbrEntry.of(0x0C, 2048, 90_000))
    card = open_card(overwrite(path, 0, table.compose()))
    assert contents(card) == FILES
    assert broken(card) == ["part 1 of the card ends beyond the end of the card"]


def test_the_end_of_a_part_is_told_beside_that_of_the_file_system_in_it(fat: Path, tmp_path: Path) -> None:
    path = placed(tmp_path / "card.img", 42 * MIB, {MIB: fat})
    table = Mbr.of(MbrEntry.of(0x0C, 2048, 81_920 - 1))
    card = open_card(overwrite(path, 0, table.compose()))
    assert card.volume is not None
    assert (card.volume.part_end_bytes, card.volume.claimed_bytes) == (41 * MIB - 512, 41 * MIB)
    assert contents(card) == FILES


def test_a_part_that_ends_beyond_the_medium_with_its_file_system_is_told_once(
    fat: Path, tmp_path: Path
) -> None:
    path = placed(tmp_path / "card.img", 41 * MIB, {MIB: fat})
    overwrite(path, 0, Mbr.of(MbrEntry.of(0x0C, 2048, 81_920)).compose())
    os.truncate(path, 40 * MIB)
    card = open_card(path)
    assert card.volume is not None
    assert (card.volume.medium_bytes, card.volume.claimed_bytes) == (40 * MIB, 41 * MIB)
    assert broken(card) == []


def test_an_image_that_was_cut_off_claims_more_than_it_holds(copy: Path) -> None:
    os.truncate(copy, 30 * MIB)
    volume = open_card(copy).volume
    assert volume is not None
    assert (volume.claimed_bytes, volume.medium_bytes) == (40 * MIB, 30 * MIB)


# Cards whose files cannot be listed


@pytest.mark.parametrize("fill", [b"\x00", b"\xff"])
def test_a_blank_image_is_a_card_that_is_not_formatted(tmp_path: Path, fill: bytes) -> None:
    path = tmp_path / "card.img"
    path.write_bytes(fill * (2 * MIB))
    assert open_card(path) == Card(
        source=str(path),
        kind="image",
        entries=(),
        volume=Volume(partition_table="none", capacity_bytes=2 * MIB, medium_bytes=2 * MIB),
        unlisted="it is not formatted",
    )


def test_a_part_that_is_not_formatted_is_named(tmp_path: Path) -> None:
    path = sized(tmp_path / "card.img", 4 * MIB)
    card = open_card(overwrite(path, 0, Mbr.of(MbrEntry.of(0x0C, 2048, 4096)).compose()))
    assert (card.unlisted, card.raw_reason, card.damage) == ("part 1 is not formatted", None, None)
    assert card.volume == Volume(partition_table="MBR", capacity_bytes=2 * MIB, medium_bytes=4 * MIB)


def test_a_part_with_noise_in_it_holds_no_file_system(tmp_path: Path) -> None:
    path = sized(tmp_path / "card.img", 4 * MIB)
    overwrite(path, MIB, b"noise" * 1000)
    card = open_card(overwrite(path, 0, Mbr.of(MbrEntry.of(0x0C, 2048, 4096)).compose()))
    assert card.unlisted == "no file system was found in part 1, which is said to hold FAT32"
    assert card.damage is None


def test_a_table_without_parts_holds_nothing(tmp_path: Path) -> None:
    path = sized(tmp_path / "card.img", 4 * MIB)
    assert open_card(overwrite(path, 0, Mbr.of().compose())).unlisted == (
        "it has a list of its parts (MBR), and no part in it"
    )
    run("sgdisk", "--zap-all", "--clear", sized(path, 4 * MIB))
    assert open_card(path).unlisted == "it has a list of its parts (GPT), and no part in it that can be read"


@pytest.mark.parametrize(("kind", "place", "mark"), [("NTFS", 3, b"NTFS    "), ("HFS+", 1024, b"H+\0\4")])
def test_a_file_system_that_is_not_read_here_is_named(
    tmp_path: Path, kind: Any, place: int, mark: bytes
) -> None:
    path = overwrite(sized(tmp_path / "card.img", 4 * MIB), place, mark)
    assert open_card(path) == Card(
        source=str(path),
        kind="image",
        entries=(),
        volume=Volume(kind, "none", capacity_bytes=4 * MIB, medium_bytes=4 * MIB),
        unlisted=f"it is formatted as {kind}, and files are read here from FAT and exFAT only",
        raw_reason="only FAT and exFAT are looked into",
    )


def test_a_lost_boot_sector_leaves_the_files_to_its_backup(copy: Path) -> None:
    card = open_card(overwrite(copy, 0, bytes(512)))
    assert contents(card) == FILES
    assert card.damage is not None
    (told,) = card.damage
    assert told.what.startswith("the boot sector is broken (it says that a sector holds 0 bytes)")


def test_a_lost_boot_sector_without_a_backup_is_damage_and_says_what_is_wrong(copy: Path) -> None:
    overwrite(copy, 6 * 512, bytes(512))
    card = open_card(overwrite(copy, 13, b"\0"))
    why = card.unlisted or ""
    assert why.endswith("it says that a cluster holds 0 sectors")
    assert (card.entries, broken(card), card.raw_reason) == ((), [why], why)
    assert card.volume == Volume(partition_table="none", capacity_bytes=40 * MIB, medium_bytes=40 * MIB)


def test_a_field_of_the_boot_sector_that_no_player_needs_does_not_hide_the_files(copy: Path) -> None:
    card = open_card(overwrite(copy, 21, b"\x07"))
    assert contents(card) == FILES
    assert "the boot sector names a kind of medium that does not exist (07h)" in (broken(card) or ())


# No cards


@pytest.mark.parametrize(
    "content", [b"\0\0\0\x18ftypmp42" + b"clip" * 100_000, bytes(100_000), b"x", b"\x55\xaa" * 1000]
)
def test_a_file_that_is_no_card_is_wrong_use(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "clip.mp4"
    path.write_bytes(content)
    error = refused(path)
    assert (str(error), error.exit_code) == (f"{path} {NO_CARD}", 2)


def test_an_empty_file_is_wrong_use(tmp_path: Path) -> None:
    assert str(refused(sized(tmp_path / "card.img", 0))) == f"{tmp_path / 'card.img'} is an empty file"


def test_nothing_there_is_wrong_use(tmp_path: Path) -> None:
    assert str(refused(tmp_path / "none")) == f"there is nothing at {tmp_path / 'none'}"


@pytest.mark.skipif(os.name != "posix", reason="Windows has no such files")
def test_pipes_and_sockets_are_wrong_use_and_are_not_waited_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    os.mkfifo(tmp_path / "pipe")
    with socket.socket(socket.AF_UNIX) as listener:
        monkeypatch.chdir(tmp_path)  # the whole path may be too long for a socket
        listener.bind("socket")
    for name in ("pipe", "socket"):
        assert "is a device or pipe" in str(refused(tmp_path / name))


@pytest.mark.skipif(sys.platform != "linux", reason="other systems have other devices")
def test_a_device_that_is_no_drive_is_wrong_use() -> None:
    assert "is a device or pipe" in str(refused(Path("/dev/zero")))


# Folders


def test_a_folder_is_listed_as_before(tmp_path: Path) -> None:
    (tmp_path / "clip.mp4").write_bytes(b"x")
    card = open_card(tmp_path, system=EMPTY_SYSTEM)
    assert (card.kind, card.volume, card.damage, card.raw_reason) == ("folder", None, None, None)
    assert [entry.path for entry in card.entries] == ["clip.mp4"]


# Devices


def as_device(monkeypatch: pytest.MonkeyPatch, kind: int = stat.S_IFBLK) -> None:
    monkeypatch.setattr(room, "_mode", lambda path: kind)


def failing(error: OSError) -> System:
    def raw(source: str, shown: str, kind: object) -> Card:
        raise error

    return replace(EMPTY_SYSTEM, raw=raw)


def test_a_block_device_is_read_as_a_device(fat: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    as_device(monkeypatch)
    card = open_card(fat)
    assert (card.kind, card.source) == ("device", str(fat))
    assert contents(card) == FILES


def test_a_device_without_a_file_system_is_a_card_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    as_device(monkeypatch)
    path = tmp_path / "device"
    path.write_bytes(b"noise" * 1000)
    assert open_card(path).unlisted == "no file system was found in it"


def test_a_part_of_a_drive_has_the_table_of_the_drive(
    fat: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = placed(tmp_path / "whole.img", 42 * MIB, {MIB: fat})
    overwrite(whole, 0, Mbr.of(MbrEntry.of(0x0C, 2048, 90_000)).compose())
    as_device(monkeypatch)
    monkeypatch.setattr(raw_room, "whole_device", lambda source: str(whole))
    card = open_card(fat)
    assert card.volume is not None
    assert (card.volume.partition_table, card.volume.medium_bytes) == ("MBR", 40 * MIB)
    assert broken(card) == ["part 1 of the card ends beyond the end of the card"]
    assert card.notes == ()


def test_a_part_of_a_drive_that_is_not_formatted_is_not_taken_for_the_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = overwrite(
        sized(tmp_path / "whole.img", 4 * MIB), 0, Mbr.of(MbrEntry.of(0x0C, 2048, 64)).compose()
    )
    as_device(monkeypatch)
    monkeypatch.setattr(raw_room, "whole_device", lambda source: str(whole))
    card = open_card(sized(tmp_path / "part.img", MIB))
    assert card.unlisted == "it is not formatted"
    assert card.volume is not None
    assert card.volume.partition_table == "MBR"


def test_a_part_of_a_drive_that_may_not_be_read_has_no_known_table(
    fat: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    as_device(monkeypatch)
    monkeypatch.setattr(raw_room, "whole_device", lambda source: str(fat.parent / "none"))
    card = open_card(fat)
    assert card.volume is not None
    assert (card.volume.partition_table, broken(card)) == (None, [])


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (OSError(errno.ENXIO, "No such device or address"), "cannot be read: No such device or address"),
        (FileNotFoundError(), "there is nothing at"),
    ],
)
def test_a_device_that_cannot_be_opened_is_wrong_use(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, error: OSError, words: str
) -> None:
    as_device(monkeypatch)
    assert words in str(refused(tmp_path / "device", failing(error)))


def test_a_person_without_rights_to_a_device_is_told_what_to_run(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    as_device(monkeypatch)
    device = tmp_path / "sdb"
    error = refused(device, failing(PermissionError(errno.EACCES, "Permission denied")))
    assert str(error) == f"you may not read {device} directly"
    assert "sudo" in error.advice or "administrator" in error.advice
    assert CardError.advice != error.advice


def test_a_person_without_rights_to_an_image_is_told_so(tmp_path: Path) -> None:
    path = sized(tmp_path / "card.img", MIB)
    assert str(refused(path, failing(PermissionError()))) == f"you may not read {path}"


def test_the_name_of_a_windows_device_is_not_looked_up_in_folders() -> None:
    asked: list[tuple[str, str, str]] = []

    def raw(source: str, shown: str, kind: Any) -> Card:
        asked.append((source, shown, kind))
        return Card(shown, kind, ())

    for path in (PureWindowsPath(r"\\.\E:"), PureWindowsPath(r"\\.\PhysicalDrive1")):
        open_card(path, system=replace(EMPTY_SYSTEM, raw=raw))  # type: ignore[arg-type]  # as on Windows
    assert asked == [
        (r"\\.\E:", r"\\.\E:", "device"),
        (r"\\.\PhysicalDrive1", r"\\.\PhysicalDrive1", "device"),
    ]


# Worn-out cards


def worn(monkeypatch: pytest.MonkeyPatch, data: bytes, sectors: range) -> Callable[[], Card]:
    device = Device(data, worn=frozenset(sectors), source="/dev/worn")
    monkeypatch.setattr(raw_room, "open_medium", lambda source: Aligned(device))
    return lambda: open_raw("/dev/worn", "/dev/worn", "device")


WORN = "some of its sectors cannot be read (Input/output error)"


def test_a_card_whose_first_sector_cannot_be_read_is_damaged(
    fat: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    card = worn(monkeypatch, fat.read_bytes(), range(1))()
    assert card == Card(
        source="/dev/worn",
        kind="device",
        entries=(),
        volume=Volume(medium_bytes=40 * MIB),
        damage=(Damage(WORN),),
        unlisted=WORN,
        raw_reason=WORN,
    )


def test_a_card_whose_records_cannot_be_read_is_damaged(fat: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    card = worn(monkeypatch, fat.read_bytes(), range(32, 1200))()
    assert (card.entries, card.unlisted, broken(card)) == ((), WORN, [WORN])
    assert card.volume is not None
    assert card.volume.file_system == "FAT32"


def test_a_bad_sector_under_a_file_leaves_the_listing_whole(
    fat: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    sectors = 40 * MIB // 512
    card = worn(monkeypatch, fat.read_bytes(), range(sectors - 10, sectors))()
    assert [entry.path for entry in card.entries] == list(FILES)
    assert broken(card) == []


# Anything


@pytest.fixture(scope="module")
def divided(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """A small card with a GPT and a FAT12 part with a file."""
    folder = tmp_path_factory.mktemp("divided")
    part = fat_card(folder / "part.img", 360 * 512, {"A.MP4": b"seeds" * 300}, "-F", "12")
    path = sized(folder / "card.img", 512 * 512)
    run("sgdisk", "--set-alignment=1", "--new=1:64:423", path)
    return overwrite(path, 64 * 512, part.read_bytes()).read_bytes()


def test_a_small_card_with_a_table_is_sound(divided: bytes, tmp_path: Path) -> None:
    path = tmp_path / "card.img"
    path.write_bytes(divided)
    card = open_card(path)
    assert (contents(card), broken(card)) == ({"A.MP4": b"seeds" * 300}, [])


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=2000)
@given(
    changes=st.lists(
        st.tuples(st.integers(0, 512 * 512 - 1), st.binary(min_size=1, max_size=8)), min_size=1, max_size=10
    ),
    end=st.integers(1, 512 * 512),
)
def test_any_damaged_card_is_a_card_or_wrong_use(
    divided: bytes, tmp_path: Path, changes: list[tuple[int, bytes]], end: int
) -> None:
    path = tmp_path / "card.img"
    path.write_bytes(divided)
    for place, new in changes:
        overwrite(path, place % 8192 if place % 3 else place, new)  # mostly where tables and records stand
    os.truncate(path, end if end % 3 == 0 else 512 * 512)
    card = opened(path)
    if isinstance(card, str):
        assert card == f"{path} {NO_CARD}"
        return
    assert (card.unlisted is None) == card.order_known
    for entry in card.entries:
        with entry.open() as file:
            assert len(file.read()) <= entry.size_bytes


def opened(path: Path) -> Card | str:
    try:
        return open_card(path)
    except CardError as error:
        return str(error)
