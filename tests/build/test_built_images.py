"""At least 80 images of every shape: nobody who reads them finds a fault, and all find what was asked for.

And what is published of the formats: each value with its source.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from itertools import cycle
from pathlib import Path

import pytest

from mediacheck.build.shape import shape_for
from mediacheck.card.limits import SD_CLASSES, sd_class
from mediacheck.names import FileSystem
from mediacheck.profile import CardLimits
from tests.build.built_images import Recipe, build
from tests.build.built_readings import readings
from tests.card.fat_new_images import GIB
from tests.card.filled import MIB
from tests.card.new_images import tree

TIB = 1 << 40
FAT_TREES = ("usual", "edges", "names", "fifty", "scripts", "many", "wide", "longest", "alike", "one", "deep")
SHORT_TREES = ("usual", "edges", "fifty", "many", "wide")
"""Without long names: fsck.exfat 1.2 does not come to an end where one takes more than a cluster of 512
bytes."""
FEW_TREES = ("usual", "edges", "one")
"""For clusters of which each holds more than all other trees together."""


def _fats() -> Iterator[Recipe]:
    """The least volumes with clusters of each size, behind a table and without one."""
    trees = cycle(FAT_TREES)
    kinds: tuple[FileSystem, ...] = ("FAT16", "FAT32")
    for kind in kinds:
        for power in range(9, 16):
            yield Recipe(kind, next(trees), 1 << power, table="none", label="GARDEN")
            yield Recipe(kind, next(trees), 1 << power, table="MBR")


def _exfats() -> Iterator[Recipe]:
    trees, few, short = cycle(FAT_TREES), cycle(FEW_TREES), cycle(SHORT_TREES)
    for power in range(9, 26):
        chosen = short if power == 9 else few if power > 18 else trees
        yield Recipe("exFAT", next(chosen), 1 << power, table="none")
        yield Recipe("exFAT", next(chosen), 1 << power, table="MBR", label="Gärten 種")


RECIPES = (
    *_fats(),
    *_exfats(),
    Recipe("FAT16", "usual", 512, 4 * MIB),
    Recipe("FAT16", "edges", 512, 8 * MIB, "MBR"),
    Recipe("FAT16", "full", 1024, 20 * MIB, "MBR", "A"),
    Recipe("FAT16", "names", 8192, 500 * MIB, "MBR"),
    Recipe("FAT16", "many", 32_768, 2 * GIB, "MBR", "SEEDS"),
    Recipe("FAT16", "crowd"),
    Recipe("FAT16", "alike", image_bytes=2 * 10**9, table="MBR"),
    Recipe("FAT32", "usual", 512, 40 * MIB, "MBR"),
    Recipe("FAT32", "full", 2048, 300 * MIB + 512),
    Recipe("FAT32", "alike", table="MBR", label="ALIKE"),
    Recipe("FAT32", "thousands", image_bytes=4 * 10**9, table="MBR", label="SPRING 2026"),
    Recipe("FAT32", "scripts", image_bytes=8 * 10**9, table="MBR"),
    Recipe("FAT32", "longest", image_bytes=16 * 10**9),
    Recipe("FAT32", "fifty", image_bytes=32 * GIB, table="MBR"),
    Recipe("FAT32", "names", 4096, 64 * GIB, "MBR"),
    Recipe("FAT32", "usual", image_bytes=64 * GIB, label="LARGE"),
    Recipe("FAT32", "nearly", table="MBR"),
    Recipe("FAT32", "giant", 32_768, 32 * GIB),
    Recipe("exFAT", "usual", 4096, 4 * MIB),
    Recipe("exFAT", "one", 512, 5 * MIB, "MBR"),
    Recipe("exFAT", "full", table="MBR"),
    Recipe("exFAT", "crowd", table="MBR", label="5000"),
    Recipe("exFAT", "alike", image_bytes=10**9, label="Alike"),
    Recipe("exFAT", "scripts", image_bytes=32 * 10**9, table="MBR"),
    Recipe("exFAT", "names", 32_768, 64 * GIB),
    Recipe("exFAT", "longest", image_bytes=64 * GIB, table="MBR", label="LARGE"),
    Recipe("exFAT", "edges", 32 * MIB, 64 * GIB, "MBR"),
    Recipe("exFAT", "beyond", image_bytes=64 * 10**9, table="MBR"),
)


@pytest.fixture
def folder(tmp_path: Path) -> Iterator[Path]:
    """Gone afterwards: all images together are large."""
    yield tmp_path
    shutil.rmtree(tmp_path)


def test_there_are_as_many_as_were_promised() -> None:
    assert len(set(RECIPES)) == len(RECIPES) >= 80
    assert {recipe.file_system for recipe in RECIPES} == {"FAT16", "FAT32", "exFAT"}


@pytest.mark.parametrize("recipe", RECIPES, ids=str)
def test_all_readers_find_what_was_asked_for(recipe: Recipe, folder: Path) -> None:
    found = list(readings(build(recipe, folder)))
    assert {one.what: one.found for one in found} == {one.what: one.meant for one in found}
    assert _wanted(recipe) <= {one.what for one in found}


def _wanted(recipe: Recipe) -> set[str]:
    """What must have been read, whatever else was."""
    own = {"damage", "the volume", "its space", "where it ends", "our list", "our folders"}
    others = {"the volume by The Sleuth Kit", "the list by The Sleuth Kit", "the folders by The Sleuth Kit"}
    fats = {"fsck.fat", "the kind by the number of clusters", "the files by mdir", "the folders by mdir"}
    tables = {"sfdisk", "sgdisk"} if recipe.table == "MBR" else set()
    return own | others | tables | ({"fsck.exfat"} if recipe.file_system == "exFAT" else fats)


SOLD = {kind.name: kind for kind in SD_CLASSES}
CAPACITIES = [
    *(("SDHC", size) for size in (2 * GIB + 512, 4 * 10**9, 8 * 10**9, 16 * 10**9, 32 * 10**9, 32 * GIB)),
    *(("SDXC", size) for size in (32 * GIB + 512, 64 * 10**9, 128 * 10**9, 10**12, 2 * TIB)),
    *(("SDUC", size) for size in (2 * TIB + 512, 4 * 10**12, 128 * TIB)),
]


@pytest.mark.parametrize("allowed", [None, ("FAT16", "FAT32", "exFAT"), ("exFAT", "FAT32")], ids=str)
@pytest.mark.parametrize(("name", "capacity_bytes"), CAPACITIES)
def test_a_card_gets_the_file_system_of_its_class(
    name: str, capacity_bytes: int, allowed: tuple[FileSystem, ...] | None
) -> None:
    """SD Association: SDHC has FAT32, SDXC and SDUC have exFAT (`limits.SD_CLASSES`, with its sources)."""
    kind = SOLD[name]
    assert sd_class(capacity_bytes) == kind
    limits = CardLimits(file_systems=allowed, partition_tables=("none",))  # an MBR ends at 2 TiB
    shape = shape_for(tree({"LOOP.MP4": 1}), limits, capacity_bytes)
    assert kind.file_systems == (shape.file_system,)


@pytest.mark.parametrize("capacity_bytes", [16 * MIB, 128 * 10**6, 10**9, 2 * 10**9, 2 * GIB])
def test_a_card_of_2_gb_gets_the_file_system_of_its_class_where_the_profile_names_it(
    capacity_bytes: int,
) -> None:
    """SD Association: SDSC has FAT12 or FAT16. Where a profile takes FAT32 too, a card of that size gets it
    all the same (the docstring of `shape._file_systems`)."""
    root, kind = tree({"LOOP.MP4": 1}), SOLD["SDSC"]
    assert sd_class(capacity_bytes) == kind
    named = shape_for(root, CardLimits(file_systems=("FAT16",)), capacity_bytes)
    assert named.file_system in kind.file_systems
    if capacity_bytes > 40 * MIB:
        assert shape_for(root, CardLimits(), capacity_bytes).file_system == "FAT32"
