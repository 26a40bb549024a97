"""Folders made to hurt: whatever they hold, the walk ends soon, takes little memory, and tells all."""

from __future__ import annotations

import time
import tracemalloc
from collections.abc import Iterable
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mediacheck.card.contents import Contents
from mediacheck.card.damages import LISTED_MAX
from mediacheck.card.fat import read_fat
from mediacheck.card.fat_boot import geometry_of
from mediacheck.card.fat_layout import FAT16, BootSector
from mediacheck.card.fat_names import long_name_slots
from mediacheck.card.fat_slots import ShortEntry
from mediacheck.card.model import Damage
from mediacheck.card.within import Within
from mediacheck.errors import CardError
from tests.card.media import Bytes, image
from tests.card.test_fat_boot import with_clusters
from tests.card.test_fat_layout import NEW

END = FAT16.mask
SECONDS_MAX = 10
"""Of processor time, on a slow machine: each of these takes less than two on an ordinary one."""


def slot(name: str, head: int = 0, size_bytes: int = 0, attributes: int = 0x20) -> bytes:
    base, _, extension = name.partition(".")
    raw = base.encode().ljust(8) + extension.encode().ljust(3)
    return ShortEntry(raw, attributes, cluster_low=head, size_bytes=size_bytes).compose()


def folder(name: str, head: int) -> bytes:
    return slot(name, head, attributes=0x10)


def dots(own: int, above: int) -> bytes:
    raw = (b".          ", own), (b"..         ", above)
    return b"".join(ShortEntry(name, 0x10, cluster_low=head).compose() for name, head in raw)


def volume(table: Iterable[int], root: bytes, data: bytes = b"", clusters: int = 5_000) -> Bytes:
    """A FAT16 volume with 512 bytes a cluster; `table` is of the clusters from 2 on, `data` their content."""
    boot = with_clusters(clusters)
    found = geometry_of(boot)
    entries = b"".join(entry.to_bytes(2, "little") for entry in (0xFFF8, 0xFFFF, *table))
    tables = [(found.fat_start_byte + copy * found.fat_bytes, entries) for copy in (0, 1)]
    boot = replace(boot, nt_flags=0)
    return Bytes(
        image(
            found.size_bytes,
            [(0, boot.compose()), *tables, (found.root_start_byte, root), (found.data_start_byte, data)],
        )
    )


def clusters(*contents: bytes) -> bytes:
    return b"".join(content.ljust(512, b"\0") for content in contents)


def read(medium: Bytes) -> Contents:
    """Read a volume within the time that is enough for every card of so few MiB."""
    begin = time.process_time()
    contents = read_fat(medium)
    assert time.process_time() - begin < SECONDS_MAX
    assert len(contents.damage) <= LISTED_MAX + 1
    return contents


def paths(contents: Contents) -> list[str]:
    return [entry.path for entry in contents.entries]


def test_files_come_before_the_folders_beside_them_in_the_order_of_the_disk() -> None:
    root = slot("Z.MP4") + folder("B", 2) + slot("A.MP4") + folder("A", 3) + slot("M.MP4")
    data = clusters(
        dots(2, 0) + slot("2.MP4") + folder("IN", 4), dots(3, 0) + slot("1.MP4"), dots(4, 2) + slot("0.MP4")
    )
    contents = read(volume([END, END, END], root, data))
    assert paths(contents) == ["Z.MP4", "A.MP4", "M.MP4", "B/2.MP4", "B/IN/0.MP4", "A/1.MP4"]
    assert contents.folders == ("B", "B/IN", "A")
    assert contents.damage == ()


def test_nothing_behind_the_end_mark_is_listed() -> None:
    contents = read(volume([], slot("A.MP4") + bytes(32) + slot("B.MP4")))
    assert (paths(contents), contents.damage) == (["A.MP4"], ())


def test_a_root_folder_may_be_full_to_its_last_slot() -> None:
    contents = read(volume([], b"".join(slot(f"F{number}.MP4") for number in range(512))))
    assert (len(contents.entries), contents.damage) == (512, ())


def test_a_folder_that_holds_itself_is_listed_once() -> None:
    contents = read(
        volume([END], folder("LOOP", 2), clusters(dots(2, 0) + slot("A.MP4") + folder("LOOP", 2)))
    )
    assert paths(contents) == ["LOOP/A.MP4"]
    assert contents.folders == ("LOOP", "LOOP/LOOP")
    assert contents.damage == (
        Damage(
            "the folder LOOP/LOOP leads back to the folder LOOP: what was in it cannot be found", "LOOP/LOOP"
        ),
    )


def test_folders_that_hold_each_other_are_listed_once() -> None:
    data = clusters(dots(2, 0) + folder("B", 3), dots(3, 2) + folder("A", 2) + slot("A.MP4"))
    contents = read(volume([END, END], folder("A", 2), data))
    assert (paths(contents), contents.folders) == (["A/B/A.MP4"], ("A", "A/B", "A/B/A"))
    assert contents.damage == (
        Damage("the folder A/B/A leads back to the folder A: what was in it cannot be found", "A/B/A"),
    )


def test_folders_in_folders_without_end_are_left_at_a_depth_that_is_told() -> None:
    count = 5_000
    data = clusters(
        *(dots(own, own - 1 if own > 2 else 0) + folder("A", own + 1) for own in range(2, count + 1))
    )
    contents = read(volume([END] * count, folder("A", 2), data))
    assert max(map(len, contents.folders)) <= 1_026
    assert contents.folders[:3] == ("A", "A/A", "A/A/A")
    assert contents.damage == (
        Damage("a folder lies so deep in other folders that it was not looked into", contents.folders[-1]),
    )


def test_long_paths_and_many_files_are_left_at_an_amount_that_is_told(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("mediacheck.card.fat_folder.LISTING_MAX", 1_500)
    data = clusters(dots(2, 0) + b"".join(slot(f"F{number:07}.MP4") for number in range(14)))
    name = long_name_slots("a folder with a long name", b"AFOLDE~1   ")
    contents = read(volume([END], name + folder("AFOLDE~1", 2), data))
    assert 0 < len(contents.entries) < 14
    assert contents.damage == (Damage("the card lists too many files: the rest was not looked at"),)


def test_a_folder_longer_than_a_folder_can_be_is_read_up_to_there() -> None:
    """65,536 entries of 32 bytes are 4,096 clusters of 512 bytes."""
    table = [*range(3, 4_203), END]
    files = dots(2, 0) + b"".join(slot(f"F{number:07}.MP4") for number in range(4_200 * 16 - 2))
    contents = read(volume(table, folder("MANY", 2), files))
    assert len(contents.entries) == 65_536 - 2
    assert contents.damage == (Damage("the folder MANY is longer than a folder can be", "MANY"),)


def test_a_card_full_of_entries_is_listed_whole() -> None:
    """Each of 8,000 clusters holds 16 entries: no card of this size can hold more."""
    count, long = 8_000, 4_000
    table = [END if cluster % long == 0 else cluster + 2 for cluster in range(1, count + 1)]
    heads = range(2, count + 2, long)
    data = b"".join(
        dots(head, 0) + b"".join(slot(f"F{number:07}.MP4", head, 9) for number in range(long * 16 - 2))
        for head in heads
    )
    root = b"".join(folder(f"DIR{head}", head) for head in heads)
    contents = read(volume(table, root, data, clusters=count))
    assert len(contents.entries) == count * 16 - 4
    assert contents.damage[-1].what.startswith("and ")
    assert contents.damage[-1].what.endswith(" more faults like these")


def test_what_is_kept_of_an_entry_is_bounded() -> None:
    """A card of 2 MiB of nothing but entries takes what 200 MB leave for one of 8 MiB."""
    table = [*range(3, 4_098), END]
    data = dots(2, 0) + b"".join(slot(f"F{number:07}.MP4", 2, 9) for number in range(65_534))
    medium = volume(table, folder("DIR", 2), data)
    tracemalloc.start()
    try:
        contents = read_fat(medium)
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert len(contents.entries) == 65_534
    assert peak < 50_000_000


def test_a_tangle_of_folders_is_walked_once() -> None:
    """Each of 5,000 folders holds 13 of the others."""
    count = 5_000
    data = clusters(
        *(
            dots(own, 0)
            + b"".join(folder(f"F{number}", (own * 13 + number) % count + 2) for number in range(13))
            for own in range(2, count + 2)
        )
    )
    contents = read(volume([END] * count, folder("START", 2), data))
    assert contents.entries == ()
    assert len(set(contents.folders)) == len(contents.folders)
    assert len(contents.folders) <= 13 * count + 1


def test_many_files_in_one_endless_chain_end() -> None:
    """4,000 clusters, each leading to the one before, in a ring; 500 files begin at different ones."""
    count = 4_000
    table = [count + 1, *range(2, count + 1)]
    root = b"".join(slot(f"F{number}.MP4", count + 1 - number, 10**9) for number in range(500))
    contents = read(volume(table, root))
    assert contents.damage[0] == Damage(
        "F0.MP4 leads in a circle: its chain of clusters has no end, 2,048,000 of its 1,000,000,000 bytes "
        "are there",
        "F0.MP4",
    )
    assert contents.damage[-1].what.startswith("and ")


def test_every_file_in_a_crowd_that_shares_clusters_is_named() -> None:
    table = [3, 4, 5, 6, 7, END, END]
    starts = {"A.MP4": 2, "B.MP4": 4, "C.MP4": 6, "D.MP4": 3, "E.MP4": 8}
    root = b"".join(slot(name, head, (8 - min(head, 7)) * 512) for name, head in starts.items())
    contents = read(volume(table, root))
    shared = [damage for damage in contents.damage if "shares clusters" in damage.what]
    named = {name for name in starts for damage in shared if name in damage.what}
    assert named == {"A.MP4", "B.MP4", "C.MP4", "D.MP4"}


@pytest.mark.parametrize("held", [700, 1 << 20])
def test_a_claim_of_terabytes_in_a_small_image_ends_at_the_image(held: int) -> None:
    made = with_clusters(70_000, NEW)
    assert made.fat32
    boot = replace(
        made, sectors_32=0xFFFFFFFF, sectors_per_cluster=128, fat32=replace(made.fat32, fat_sectors=1 << 21)
    )
    contents = read(Bytes(image(held, [(0, boot.compose())])))
    assert contents.volume.capacity_bytes == 0xFFFFFFFF * 512
    assert Damage("the card ends within its own table of clusters") in contents.damage
    assert contents.entries == ()


def test_names_that_cannot_be_are_told_as_one_where_a_folder_is_full_of_them() -> None:
    bad = b"".join(slot(f"F*{number}.MP4") for number in range(4))
    contents = read(
        volume([END], slot("OK.MP4") + slot("A?.MP4") + folder("BAD", 2), clusters(dots(2, 0) + bad))
    )
    assert contents.damage == (
        Damage("A?.MP4 has a short name with signs that no short name can have", "A?.MP4"),
        Damage("the folder BAD holds 4 names that cannot be: something was written over it", "BAD"),
    )
    assert len(contents.entries) == 6


def test_a_name_that_is_not_unicode_is_shown_escaped_and_said_to_be_invalid() -> None:
    name = long_name_slots("half \ud83c of a pair.mp4", b"HALF~1  MP4")
    contents = read(volume([], name + slot("HALF~1.MP4") + slot("OK.MP4")))
    assert [(entry.path, entry.valid_name) for entry in contents.entries] == [
        (r"half \ud83c of a pair.mp4", False),
        ("OK.MP4", True),
    ]


def test_long_names_that_differ_in_capitals_only_are_told() -> None:
    first = long_name_slots("Spring Seeds.mp4", b"SPRING~1MP4") + slot("SPRING~1.MP4")
    second = long_name_slots("spring seeds.MP4", b"SPRING~2MP4") + slot("SPRING~2.MP4")
    contents = read(volume([], first + second))
    assert contents.damage == (
        Damage(
            "spring seeds.MP4 has the same name as Spring Seeds.mp4: only one of them can be found",
            "spring seeds.MP4",
        ),
    )


def test_one_short_name_for_two_long_ones_is_told() -> None:
    first = long_name_slots("Spring seeds.mp4", b"SPRING~1MP4") + slot("SPRING~1.MP4")
    second = long_name_slots("Spring water.mp4", b"SPRING~1MP4") + slot("SPRING~1.MP4")
    contents = read(volume([], first + second))
    assert contents.damage == (
        Damage(
            "Spring water.mp4 has the same short name as Spring seeds.mp4: only one of them can be found",
            "Spring water.mp4",
        ),
    )


def test_equal_names_in_different_folders_are_no_fault() -> None:
    data = clusters(dots(2, 0) + slot("A.MP4"), dots(3, 0) + slot("A.MP4"))
    assert read(volume([END, END], slot("A.MP4") + folder("B", 2) + folder("C", 3), data)).damage == ()


SOUND = volume(
    [3, 4, END, END, END, 8, END],
    slot("A.MP4", 2, 1300)
    + long_name_slots("Spring.mp4", b"SPRING~1MP4")
    + slot("SPRING~1.MP4", 7, 600)
    + folder("M", 5),
    clusters(b"", b"", b"", dots(5, 0) + slot("B.MP4", 6, 5) + slot("C.MP4"), b"hello"),
)
PLACES = geometry_of(BootSector.parse(SOUND.data))
CHANGED = st.one_of(
    st.integers(11, 62),
    st.integers(PLACES.fat_start_byte, PLACES.fat_start_byte + 18),
    st.integers(PLACES.root_start_byte, PLACES.root_start_byte + 160),
    st.integers(PLACES.data_start_byte + 3 * 512, PLACES.data_start_byte + 3 * 512 + 160),
)


def test_the_volume_that_is_mutated_is_sound() -> None:
    contents = read(SOUND)
    assert (paths(contents), contents.damage) == (["A.MP4", "Spring.mp4", "M/B.MP4", "M/C.MP4"], ())


@settings(max_examples=400, deadline=None)
@given(
    st.lists(
        st.tuples(CHANGED, st.one_of(st.integers(0, 255), st.sampled_from([0, 1, 0xE5, 0xF7, 0xFF]))),
        max_size=12,
    ),
    st.one_of(st.none(), st.integers(0, 40_000)),
)
def test_any_change_gives_contents_or_our_own_error(changes: list[tuple[int, int]], held: int | None) -> None:
    data = bytearray(SOUND.data)
    for place, value in changes:
        data[place] = value
    try:
        contents = read_fat(Bytes(bytes(data[:held])))
    except CardError:
        return
    assert [entry.position for entry in contents.entries] == list(range(len(contents.entries)))
    for entry in contents.entries:
        assert not {"", ".", ".."} & set(entry.path.split("/"))
        assert min(entry.path) >= " "
        assert entry.path.encode().decode() == entry.path
        assert entry.folder == "" or entry.folder in contents.folders
        assert isinstance(entry.location, Within)
        assert entry.unusable or entry.location.runs or not entry.size_bytes
        assert all(run.start_byte >= 0 and run.length_bytes > 0 for run in entry.location.runs)
    assert all(damage.what and not damage.what.endswith(".") for damage in contents.damage)
