"""What goes on a card, in which order, with which times."""

from __future__ import annotations

import os
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from unicodedata import normalize

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.build.tree import (
    FIXED_TIME,
    as_written,
    in_disk_order,
    paths_of,
    taken_along,
    time_of,
    tree_of,
)
from mediacheck.card.model import Entry
from mediacheck.card.new_volume import NewFile, NewFolder
from mediacheck.errors import WrongUse


def entry(path: str, size_bytes: int = 1, unusable: str | None = None) -> Entry:
    return Entry(path, size_bytes, 0, Path("/card") / path, unusable)


def entries(*paths: str) -> list[Entry]:
    return [entry(path) for path in paths]


def paths(found: list[Entry]) -> list[str]:
    return [one.path for one in found]


def test_what_computers_leave_behind_and_what_cannot_be_read_stays_behind() -> None:
    found = taken_along(
        [
            entry("a.mp4"),
            entry("._a.mp4"),
            entry("Thumbs.db"),
            entry("System Volume Information/x"),
            entry("b", unusable="gone"),
        ]
    )
    assert [one.path for one in found] == ["a.mp4"]


def test_files_go_by_name_those_of_a_folder_before_its_folders() -> None:
    assert paths(in_disk_order(entries("b/c.mp4", "B.mp4", "a.mp4", "A0/x.mp4"), keep=False)) == [
        *("a.mp4", "B.mp4", "A0/x.mp4", "b/c.mp4")
    ]


def test_a_known_order_is_kept() -> None:
    assert paths(in_disk_order(entries("b.mp4", "a.mp4"), keep=True)) == ["b.mp4", "a.mp4"]


def test_an_order_that_is_wanted_goes_before_the_names_and_what_it_does_not_name_follows() -> None:
    found = in_disk_order(entries("a.mp4", "b.mp4", "c.mp4", "notes.txt"), False, ["c.mp4", "A.MP4"])
    assert paths(found) == ["c.mp4", "a.mp4", "b.mp4", "notes.txt"]


@pytest.mark.parametrize(
    ("wanted", "words"),
    [
        (["x.mp4"], "names x.mp4, which is not among the files"),
        (["a.mp4", "A.mp4"], "names A.mp4 twice"),
        (["s/d.mp4", "a.mp4"], "s/d.mp4 would come after a.mp4"),
        (["a.mp4", "s/d.mp4", "t/f.mp4", "s/e.mp4"], "t/f.mp4 would come after s/e.mp4"),
        (["s/d.mp4"], "s/d.mp4 would come after a.mp4"),  # which nobody asked for, and which is played
    ],
)
def test_an_order_that_no_card_can_hold_is_refused(wanted: list[str], words: str) -> None:
    with pytest.raises(WrongUse, match=words):
        in_disk_order(entries("a.mp4", "s/d.mp4", "s/e.mp4", "t/f.mp4"), False, wanted)


def test_a_tree_holds_the_files_and_folders_in_order_also_empty_ones() -> None:
    tree = tree_of(entries("b.mp4", "s/t/a.mp4", "a.mp4"), ("s", "empty/inner"), lambda _: FIXED_TIME)
    here = [NewFile(name, 1, FIXED_TIME) for name in ("b.mp4", "a.mp4")]
    inner = NewFolder("t", FIXED_TIME, (NewFile("a.mp4", 1, FIXED_TIME),))
    assert tree == NewFolder(
        "",
        FIXED_TIME,
        tuple(here),
        (
            NewFolder("s", FIXED_TIME, (), (inner,)),
            NewFolder("empty", FIXED_TIME, (), (NewFolder("inner", FIXED_TIME),)),
        ),
    )


def test_a_known_order_is_kept_as_far_as_files_come_before_folders() -> None:
    assert paths(in_disk_order(entries("s/b.mp4", "a.mp4", "s/a.mp4"), keep=True)) == [
        *("a.mp4", "s/b.mp4", "s/a.mp4")
    ]


def test_an_order_that_is_wanted_may_be_written_with_accents_apart() -> None:
    found = in_disk_order(entries("a.mp4", "é.mp4"), False, [normalize("NFD", "É.mp4")])
    assert paths(found) == ["é.mp4", "a.mp4"]


def test_letters_are_written_in_one_piece_with_their_accents() -> None:
    assert as_written(normalize("NFD", "Gärten/é 園芸.mp4")) == "Gärten/é 園芸.mp4"


def test_no_depth_of_folders_is_too_much() -> None:
    deep = "/".join("d" * 3000)
    assert paths_of(tree_of(entries(f"{deep}/a.mp4"), (f"{deep}/d",), lambda _: FIXED_TIME)) == [
        f"{deep}/a.mp4"
    ]


NAMES = st.sampled_from(["a", "b", "c", "A1", "z", "ß", "ss"])


@given(st.lists(st.lists(NAMES, min_size=1, max_size=4).map("/".join), unique=True, max_size=12))
def test_a_walk_through_the_tree_meets_every_file_in_the_order_of_the_names(found: list[str]) -> None:
    files = [f"{path}.mp4" for path in found]
    ordered = in_disk_order(entries(*files), keep=False)
    assert paths_of(tree_of(ordered, (), lambda _: FIXED_TIME)) == paths(ordered)
    assert sorted(paths(ordered)) == sorted(files)


def test_times_are_fixed_or_given_or_those_of_the_files(tmp_path: Path) -> None:
    clip = tmp_path / "clip.mp4"
    clip.write_bytes(b"x")
    os.utime(clip, (1_700_000_001.7, 1_700_000_001.7))  # 2023-11-14 22:13:21 UTC
    found = Entry("clip.mp4", 1, 0, clip)
    assert time_of(found, "fixed") == FIXED_TIME
    assert time_of(found, "files") == datetime(2023, 11, 14, 22, 13, 20)
    east = datetime(2026, 3, 1, 1, 30, 59, 5, tzinfo=timezone(timedelta(hours=2)))
    assert time_of(found, east) == datetime(2026, 2, 28, 23, 30, 58)
    os.utime(clip, (0, 0))
    assert time_of(found, "files") == FIXED_TIME  # 1970 cannot be written
    os.utime(clip, (0, 4_354_819_200))
    assert time_of(found, "files") == FIXED_TIME  # 2108 neither
    clip.unlink()
    assert time_of(found, "files") == FIXED_TIME  # copying it tells what is wrong
    of_card = Entry("clip.mp4", 1, 0, clip, modified=datetime(2024, 2, 29, 13, 45, 58, tzinfo=UTC))
    assert time_of(of_card, "files") == datetime(2024, 2, 29, 13, 45, 58)
