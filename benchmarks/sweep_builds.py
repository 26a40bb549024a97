"""Builds a great number of card images by a seeded chance, and has every reader find what was asked for.

The images are those of tests/build/built_by_chance.py: FAT16, FAT32 and exFAT, clusters of 512 bytes to 32
MiB, up to 64 GiB, with an MBR and without, 1 to 1,000 files under any names in any folders. Readers: ours,
fsck.fat or fsck.exfat, mtools, The Sleuth Kit, sfdisk and sgdisk (tests/build/built_readings.py). The hash of
the whole image is held against the writer's up to 1 GiB.

`python benchmarks/sweep_builds.py [--small] [--images=N] [--from=NUMBER]`: two processes at once. The number
of an image that has a fault is enough to build it again: `--from=NUMBER --images=1`. Exit code 1: there are
faults.
"""

from __future__ import annotations

import sys
import tempfile
import time
import traceback
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path

from side_by_side import finish, small

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT))

from mediacheck.card.new_volume import DoesNotFit  # noqa: E402  # needs the path
from tests.build.built_by_chance import recipe_of, tree_by_chance  # noqa: E402  # needs the path
from tests.build.built_images import Built, build  # noqa: E402  # needs the path
from tests.build.built_readings import faults  # noqa: E402  # needs the path

PROCESSES = 2
HASHED_BYTES_MAX = 1 << 30
FAULT_SHOWN_MAX = 2000


@dataclass(frozen=True)
class Swept:
    """What came of one image."""

    number: int
    recipe: str
    file_system: str
    files: int
    image_bytes: int
    faults: tuple[str, ...]


def sweep(number: int) -> Swept:
    """Build one image, and hold everything that is read from it against what was asked for."""
    recipe = recipe_of(number)
    with tempfile.TemporaryDirectory() as name:
        try:
            built = built_of(number, Path(name))
            found = faults(built)
        except Exception:  # whatever goes wrong is a fault of this image, and the next one is built
            return Swept(number, str(recipe), recipe.file_system, 0, 0, (traceback.format_exc(),))
    laid_out = built.plan.laid_out
    image_bytes = built.plan.shape.image_bytes
    return Swept(number, str(recipe), recipe.file_system, len(laid_out.files), image_bytes, tuple(found))


def built_of(number: int, folder: Path) -> Built:
    """As the recipe says; of the least size where it does not fit into the one that it names."""
    recipe = recipe_of(number)
    sizes = tree_by_chance(number, recipe.file_system, recipe.cluster_bytes or 4096)
    try:
        return build(recipe, folder, sizes, HASHED_BYTES_MAX)
    except DoesNotFit:
        return build(replace(recipe, image_bytes=None), folder, sizes, HASHED_BYTES_MAX)


def option(name: str, usual: int) -> int:
    """The number that stands behind `--NAME=` on the command line."""
    given = (word.partition("=")[2] for word in sys.argv[1:] if word.startswith(f"--{name}="))
    return int(next(given, usual))


def main() -> None:
    """Build all of them, print the faults, and end with 1 if there are any."""
    first, count = option("from", 0), option("images", 24 if small() else 400)
    start = time.monotonic()
    swept: list[Swept] = []
    with ProcessPoolExecutor(PROCESSES) as pool:
        for one in pool.map(sweep, range(first, first + count)):
            swept.append(one)
            for fault in one.faults:
                print(f"image {one.number}, {one.recipe}: {fault[:FAULT_SHOWN_MAX]}", flush=True)
    kinds = Counter(one.file_system for one in swept)
    figures: dict[str, float | None] = {
        "images": len(swept),
        **{kind: kinds[kind] for kind in sorted(kinds)},
        "files": sum(one.files for one in swept),
        "most_files": max(one.files for one in swept),
        "least_mb": min(one.image_bytes for one in swept) / 1e6,
        "largest_mb": max(one.image_bytes for one in swept) / 1e6,
        "seconds": time.monotonic() - start,
        "images_with_faults": sum(bool(one.faults) for one in swept),
    }
    finish("sweep_builds", figures, [], {"images_with_faults": 0})
    sys.exit(1 if figures["images_with_faults"] else 0)


if __name__ == "__main__":
    main()
