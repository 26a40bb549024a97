"""Any tree that exFAT can hold is written and read back as it was, also one with a very long file."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mediacheck.card.damages import printable
from mediacheck.card.exfat_upcase import recommended
from mediacheck.card.exfat_writer import lay_out
from mediacheck.card.limits import refusal
from mediacheck.card.new_volume import NewFile, NewFolder, NewVolume
from mediacheck.card.opening import open_card
from tests.card.exfat_images import MIB, fsck
from tests.card.new_images import END_BYTES, MORNING, content, folder_paths, with_mbr, write
from tests.card.test_exfat import read
from tests.card.test_exfat_writer import GIB, SERIAL, TABLE_START_BYTE, expected_entries, found_entries


def test_a_file_beyond_4_gib(tmp_path: Path) -> None:
    """Its length needs more than 32 bits."""
    size = 4 * GIB + 1
    root = NewFolder("", MORNING, (NewFile("first.mp4", 7, MORNING), NewFile("LONG.MP4", size, MORNING)), ())
    volume = NewVolume("exFAT", TABLE_START_BYTE, 8 * GIB, 32_768, SERIAL, root, "LONG")
    laid_out = lay_out(volume)
    card = open_card(with_mbr(write(tmp_path / "card.img", volume, laid_out), volume))
    assert (card.damage, found_entries(card)) == ((), expected_entries(volume, laid_out))
    first, last = content("LONG.MP4", size)
    with card.entries[1].open() as file:
        assert file.read(END_BYTES + 3) == first[1] + bytes(3)
        file.seek(last[0] - 3)
        assert file.read() == bytes(3) + last[1]
    clean, words = fsck(write(tmp_path / "part.img", volume, laid_out, volume.start_byte))
    assert clean, words


NAMES = st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=60).filter(
    lambda name: refusal(name) is None and name not in (".", "..")
)
MOMENTS = st.datetimes(datetime(1980, 1, 1), datetime(2107, 12, 31, 23, 59, 59)).map(
    lambda moment: moment.replace(microsecond=moment.microsecond // 10_000 * 10_000)
)


@st.composite
def trees(draw: st.DrawFn, depth: int = 3) -> NewFolder:
    """Folders with files and folders in them, all of names that exFAT takes side by side."""
    files = draw(st.lists(st.tuples(NAMES, st.integers(0, 3000)), max_size=5))
    inner = draw(st.lists(st.tuples(NAMES, trees(depth=depth - 1)), max_size=3)) if depth else []
    taken: set[str] = set()
    kept = [item for item in files if not taken_before(taken, item[0])]
    below = [item for item in inner if not taken_before(taken, item[0])]
    return NewFolder(
        "",
        draw(MOMENTS),
        tuple(NewFile(name, size, draw(MOMENTS)) for name, size in kept),
        tuple(NewFolder(name, folder.modified, folder.files, folder.folders) for name, folder in below),
    )


def taken_before(taken: set[str], name: str) -> bool:
    """Whether exFAT holds a name of this kind already; it does from now on."""
    capitals = recommended().upper(name)
    known = capitals in taken
    taken.add(capitals)
    return known


def shown(path: str) -> str:
    """As our reader writes it: letters that would spoil a line are told by their numbers."""
    return "/".join(map(printable, path.split("/")))


@settings(max_examples=60)
@given(
    trees(),
    st.sampled_from((1024, 4096, 32_768)),
    st.integers(0, 2**32 - 1),
    st.none() | NAMES.filter(lambda name: len(name.encode("utf-16-le")) <= 22),
)
def test_any_tree_reads_back(
    tmp_path_factory: pytest.TempPathFactory,
    root: NewFolder,
    cluster_bytes: int,
    serial: int,
    label: str | None,
) -> None:
    volume = NewVolume("exFAT", 0, 16 * MIB, cluster_bytes, serial, root, label)
    laid_out = lay_out(volume)
    image = write(tmp_path_factory.getbasetemp() / "any-exfat-tree.img", volume, laid_out)
    found = read(image)
    assert found.damage == ()
    assert (found.volume.serial, found.volume.label) == (
        f"{serial >> 16:04X}-{serial & 0xFFFF:04X}",
        None if label is None else printable(label),
    )
    assert found_entries(found) == [
        (shown(path), *rest) for path, *rest in expected_entries(volume, laid_out)
    ]
    assert list(found.folders) == [*map(shown, folder_paths(root))]
    clean, words = fsck(image)
    assert clean, words
