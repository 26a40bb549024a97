"""What stands in the folders of a new FAT volume, and what FAT cannot list."""

from __future__ import annotations

from datetime import datetime

import pytest

from mediacheck.card.fat_new_folders import Folder, Heads, folder_slots, in_disk_order
from mediacheck.card.fat_slots import SLOT_BYTES, LongEntry, ShortEntry
from mediacheck.card.new_volume import DoesNotFit, NewFile, NewFolder

NOON = datetime(2024, 2, 29, 13, 45, 59, 990_000)
DATE, TIME = 0x585D, 0x6DBD
"""Worked out from Microsoft's specification for 2024-02-29 13:45:58."""


def file(name: str, size_bytes: int = 1) -> NewFile:
    return NewFile(name, size_bytes, NOON)


def folder(name: str, *inside: NewFile | NewFolder) -> NewFolder:
    files = tuple(one for one in inside if isinstance(one, NewFile))
    return NewFolder(name, NOON, files, tuple(one for one in inside if isinstance(one, NewFolder)))


def entry(name: bytes, attributes: int, cluster: int, size_bytes: int = 0) -> ShortEntry:
    """As it should stand there: 199 hundredths above an even second, and the day alone of the last access."""
    high, low = cluster >> 16, cluster & 0xFFFF
    return ShortEntry(name, attributes, 0, 199, TIME, DATE, DATE, high, TIME, DATE, low, size_bytes)


def slots(raw: bytes) -> list[bytes]:
    assert len(raw) % SLOT_BYTES == 0
    return [raw[place : place + SLOT_BYTES] for place in range(0, len(raw), SLOT_BYTES)]


def test_each_folder_comes_before_those_in_it() -> None:
    root = folder("", file("a"), folder("B", folder("C"), file("d"), folder("E")), folder("F", folder("G")))
    found = in_disk_order(root)
    assert [(one.path, one.parent, one.inner, one.slots) for one in found] == [
        ("", 0, (1, 4), 1 + 2 + 1 + 1),
        ("B", 0, (2, 3), 2 + 1 + 2 + 1),
        ("B/C", 1, (), 2),
        ("B/E", 1, (), 2),
        ("F", 0, (5,), 3),
        ("F/G", 4, (), 2),
    ]
    assert [path for one in found for path, _ in one.files] == ["a", "B/d"]


def test_the_root_has_its_label_then_files_then_folders() -> None:
    new = folder("", folder("SEEDS"), file("LOOP.MP4", 77), file("EMPTY", 0))
    root = Folder("", new, 0, (1,), 4)
    found = slots(folder_slots(root, Heads(2, 0, (0x12345, 0), (3,)), b"GARDEN     "))
    assert [ShortEntry.parse(slot) for slot in found] == [
        entry(b"GARDEN     ", 0x08, 0),
        entry(b"LOOP    MP4", 0x20, 0x12345, 77),
        entry(b"EMPTY      ", 0x20, 0),
        entry(b"SEEDS      ", 0x10, 3),
    ]


def test_a_root_without_a_label_begins_with_its_files() -> None:
    found = slots(folder_slots(Folder("", folder("", file("A")), 0, (), 2), Heads(2, 0, (3,), ()), None))
    assert [ShortEntry.parse(slot) for slot in found] == [entry(b"A          ", 0x20, 3, 1)]


def test_a_folder_begins_with_itself_and_the_one_above() -> None:
    inner = Folder("Spring/Seeds", folder("Seeds", file("loop.mp4", 9)), 1, (), 4)
    dot, dot_dot, piece, short = slots(folder_slots(inner, Heads(0x20001, 7, (8,), ()), b"GARDEN     "))
    assert ShortEntry.parse(dot) == entry(b".          ", 0x10, 0x20001)
    assert ShortEntry.parse(dot_dot) == entry(b"..         ", 0x10, 7)
    assert ShortEntry.parse(short) == entry(b"LOOP    MP4", 0x20, 8, 9)
    long = LongEntry.parse(piece)
    assert (long.order, long.attributes, long.kind, long.cluster) == (0x41, 0x0F, 0, 0)
    text = (long.units_1 + long.units_2 + long.units_3).decode("utf-16-le")
    assert text == "loop.mp4\0" + "\uffff" * 4


def test_a_letter_beyond_16_bits_takes_two_units() -> None:
    """Six of them and a digit fill one piece, which then has no end; seven and a digit take two."""
    for name, pieces in (("\U0001f331" * 6 + "1", 1), ("\U0001f331" * 7 + "1", 2)):
        one = in_disk_order(folder("", file(name)))[0]
        assert one.slots == 2 + pieces
        assert len(slots(folder_slots(one, Heads(2, 0, (3,), ()), None))) == pieces + 1


def test_a_folder_is_as_long_as_its_slots_say() -> None:
    names = ("x" * 255, "x" * 13, "x" * 14, "SHORT.TXT", "short.txt", "Z")
    root = folder("", *(file(name) for name in names[:-1]), folder(names[-1]))
    found = in_disk_order(root)[0]
    written = folder_slots(found, Heads(2, 0, (3,) * 5, (4,)), b"GARDEN     ")
    assert found.slots == 1 + 21 + 2 + 3 + 1 + 2 + 1 == len(slots(written))


@pytest.mark.parametrize("path", ["", "Seeds"])
def test_a_folder_holds_65_536_slots(path: str) -> None:
    """Microsoft's specification, "FAT Directory Structure": what stands in it itself counts too."""
    own = 2 if path else 1
    files = [file(f"F{number}") for number in range(65_536 - own)]

    def tree(*inside: NewFile) -> NewFolder:
        return folder("", folder(path, *inside)) if path else folder("", *inside)

    assert in_disk_order(tree(*files))[-1].slots == 65_536
    where = "the folder Seeds" if path else "the root folder"
    with pytest.raises(DoesNotFit) as caught:
        in_disk_order(tree(*files, file("ONE")))
    assert str(caught.value) == (
        f"{where} has {65_537 - own:,} files and folders, whose names take 65,537 entries, and FAT allows "
        "65,536 there"
    )


def test_a_fixed_root_holds_less() -> None:
    files = [file(f"F{number}") for number in range(100)]
    assert in_disk_order(folder("", *files), 101)[0].slots == 101
    with pytest.raises(DoesNotFit, match=r"the root folder has 100 .* FAT allows 100 there"):
        in_disk_order(folder("", *files), 100)
    assert in_disk_order(folder("", folder("F", *files)), 100)[1].slots == 102


def test_a_file_ends_one_byte_before_4_gib() -> None:
    root = folder("", folder("Seeds", file("whole.mp4", 4_294_967_295)))
    assert [path for one in in_disk_order(root) for path, _ in one.files] == ["Seeds/whole.mp4"]
    with pytest.raises(DoesNotFit) as caught:
        in_disk_order(folder("", folder("Seeds", file("long.mp4", 4_294_967_296))))
    assert str(caught.value) == (
        "Seeds/long.mp4 is 4,294,967,296 bytes long, and FAT holds 4,294,967,295 in one file"
    )


def test_folders_may_lie_as_deep_as_they_like() -> None:
    root = folder("F")
    for _ in range(3_000):
        root = folder("F", root)
    assert len(in_disk_order(root)) == 3_001
