"""Whatever lies in whatever folders under whatever names: a new FAT volume reads back as it was asked for."""

from __future__ import annotations

from collections import defaultdict
from datetime import datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mediacheck.card.damages import printable
from mediacheck.card.fat import read_fat
from mediacheck.card.fat_writer import lay_out
from mediacheck.card.limits import label_refusal, refusal, same_name
from mediacheck.card.medium import FileMedium
from mediacheck.card.new_volume import NewFile, NewFolder, NewVolume
from mediacheck.names import FileSystem
from tests.card.fat_new_images import expected_contents, expected_entries, found_entries, fsck_counts
from tests.card.filled import MIB
from tests.card.new_images import folder_paths, write
from tests.card.test_image_sweep import content_of

NAMES = st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=60) | st.from_regex(
    r"(?:LOOP|loop|Loop )[12~]{0,3}(?:\.MP4|\.mp4)?", fullmatch=True
)
"""Any that Unicode has, and such as meet each other when they are made short."""
LABELS = st.text(st.characters(codec="ascii"), min_size=1, max_size=11).filter(
    lambda label: label_refusal(label, "FAT32") is None and label == label.strip()
)
MOMENTS = st.datetimes(datetime(1980, 1, 1), datetime(2107, 12, 31, 23, 59, 59)).map(
    lambda moment: moment.replace(microsecond=moment.microsecond // 10_000 * 10_000)
)
SHAPES: list[tuple[FileSystem, int, int]] = [
    ("FAT16", 4 * MIB, 512),
    ("FAT16", 40 * MIB, 8192),
    ("FAT32", 34 * MIB, 512),
    ("FAT32", 300 * MIB, 4096),
]


@st.composite
def trees(draw: st.DrawFn, depth: int = 3) -> NewFolder:
    """Folders with files and folders in them, all of names that FAT takes side by side."""
    names = draw(st.lists(NAMES.filter(lambda name: refusal(name) is None), max_size=9, unique_by=same_name))
    count = draw(st.integers(0, len(names))) if depth else len(names)
    files = tuple(NewFile(name, draw(st.integers(0, 3000)), draw(MOMENTS)) for name in names[:count])
    inner = ((name, draw(trees(depth=depth - 1))) for name in names[count:])
    folders = tuple(NewFolder(name, one.modified, one.files, one.folders) for name, one in inner)
    return NewFolder("", draw(MOMENTS), files, folders)


def shown(path: str) -> str:
    """As our reader writes it: letters that would spoil a line are told by their numbers."""
    return "/".join(map(printable, path.split("/")))


@settings(max_examples=40)
@given(trees(), st.sampled_from(SHAPES), st.integers(0, 2**32 - 1), st.none() | LABELS)
def test_any_tree_reads_back(
    tmp_path_factory: pytest.TempPathFactory,
    root: NewFolder,
    shape: tuple[FileSystem, int, int],
    serial: int,
    label: str | None,
) -> None:
    file_system, size_bytes, cluster_bytes = shape
    volume = NewVolume(file_system, 0, size_bytes, cluster_bytes, serial, root, label)
    laid_out = lay_out(volume)
    image = write(tmp_path_factory.getbasetemp() / "any-fat-tree.img", volume, laid_out)
    found = read_fat(FileMedium(str(image)))
    assert found.damage == ()
    assert (found.volume.serial, found.volume.label) == (
        f"{serial >> 16:04X}-{serial & 0xFFFF:04X}",
        label,
    )
    assert found_entries(found) == [
        (shown(path), *rest) for path, *rest in expected_entries(volume, laid_out)
    ]
    assert list(found.folders) == [*map(shown, folder_paths(root))]
    contents = {}
    for entry in found.entries:
        with entry.open() as file:
            contents[entry.path] = content_of(file.read())
    assert contents == {shown(path): told for path, told in expected_contents(volume).items()}
    short: dict[str, list[str | None]] = defaultdict(list)
    for entry in found.entries:
        short[entry.folder].append(entry.short_name)
    assert all(len(set(names)) == len(names) for names in short.values())
    fsck_counts(image)
