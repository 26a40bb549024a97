"""Images of every shape, built as `mediacheck build` builds them: what lies on them, and how they are made.

It must not read an image back: `built_readings` does, with every reader there is.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping
from contextlib import nullcontext
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal
from unittest.mock import patch

from mediacheck.build import image as image_module
from mediacheck.build.image import write_image
from mediacheck.build.plan import ImagePlan, Wishes, content_of, plan_image
from mediacheck.build.prove import prove
from mediacheck.build.shape import PART_START_BYTE, Shape
from mediacheck.card.model import Card, Entry
from mediacheck.card.new_volume import NewFolder
from mediacheck.card.new_volumes import lay_out, least_size_bytes
from mediacheck.card.within import Run, Within
from mediacheck.loop import File
from mediacheck.names import FileSystem
from mediacheck.survey import Surveyed
from mediacheck.watching import NoByteWatcher
from tests.build import made
from tests.card import fat_new_images
from tests.card.filled import MIB
from tests.card.new_images import content, folder_paths, tree, walked

ZEROS_BYTES = 4 * MIB
Sizes = Mapping[str, int]
"""Paths and sizes; a path that ends in "/" is a folder with nothing in it."""


def one(_: int) -> Sizes:
    """The least that a card can hold."""
    return {"LOOP.MP4": 1}


def edges(cluster_bytes: int) -> Sizes:
    """Sizes at every border of a cluster."""
    sizes = (cluster_bytes, 0, 1, cluster_bytes + 1, cluster_bytes - 1)
    return {f"{size} bytes.mp4": size for size in sizes}


def fifty(_: int) -> Sizes:
    """Folders in folders, 50 deep, with a file here and there."""
    paths = ["/".join(f"Level {level:02}" for level in range(1, depth + 1)) for depth in range(51)]
    return {
        f"{path}/loop {depth}.mp4".lstrip("/"): 10 * depth
        for depth, path in enumerate(paths)
        if depth % 5 == 0
    }


def wide(_: int) -> Sizes:
    """Three levels of folders, four in each, and a file beside them."""
    sides = ("North", "East", "South", "West")
    places = [f"{a}/{b}/{c}/" for a in sides for b in sides for c in sides]
    return {
        "first.mp4": 7,
        **{f"{side}/loop.mp4": 100 for side in reversed(sides)},
        **{f"{place}Seeds of {number}.mp4": number for number, place in enumerate(places)},
        "North/nothing here/": 0,
    }


def longest(_: int) -> Sizes:
    """Names as long as they can be: 255 units, in letters of one to four bytes in UTF-8."""
    letters = ("w", "Ж", "م", "水")
    return {
        **{letter * 251 + ".mp4": 300 + number for number, letter in enumerate(letters)},
        "x"
        + "🌻" * 125
        + ".mp4": 77,  # The Sleuth Kit cuts a name behind 195 units, here behind a whole letter
        "s" * 255 + "/" + "b" * 254 + "1": 5,
        "s" * 255 + "/" + "b" * 254 + "2": 6,
    }


def scripts(_: int) -> Sizes:
    """Letters of the world, joined ones among them, and such as no single one stands for."""
    names = (
        *(
            "水やり 種まき.mp4",
            "春の庭/ひまわり.mp4",
            "春の庭/正月/百合.jpg",
            "물뿌리개 정원.mp4",
            "园艺中心.mp4",
        ),
        *("سقي الحديقة.mp4", "بذور/ربيع.mp4", "השקיית הגינה.mp4", "Полив и семена.mp4", "Сад/Весна/роза.mp4"),
        *("Πότισμα κήπου.mp4", "बगीचे की सिंचाई.mp4", "รดน้ำสวน.mp4", "Tưới vườn hoa.mp4", "ä and g\u0308.mp4"),
        *(
            "🌱🌻 seedlings.mp4",
            "👩\u200d🌾 at work.mp4",
            "👍🏽.mp4",
            "🇳🇱 tulips.mp4",
            "☘️/🌷/🌹.mp4",
            "𝄞.mp4",
        ),
        *("Gießkanne.mp4", "ﬁg.mp4", "ǅ.mp4", "i.mp4", "İ.mp4", "ſ.mp4", "ß.mp4"),
    )
    return {name: 11 * number for number, name in enumerate(names)}


def alike(_: int) -> Sizes:
    """500 names with the same beginning and ending, and some that look like the short ones made of them."""
    names = [f"Watering can and seeds {number:03}.mp4" for number in range(500)]
    names[250:250] = ["WATERI~1.MP4", "WATERI~7.MP4", "WATER~10.MP4", "WATE~100.MP4", "Wateri~2.mp4"]
    return {name: number % 5 for number, name in enumerate(names)}


def crowd(_: int) -> Sizes:
    """5,000 files in one folder."""
    return {f"Seed packet number {number:04}.mp4": number % 50 for number in range(5_000)}


def thousands(_: int) -> Sizes:
    """5,000 files in 50 folders, short names and long ones."""
    return {
        f"Range {number // 100:02}/{'SEEDS' if number % 2 else 'Seeds of '}{number:04}.MP4": 1 + number % 700
        for number in range(5_000)
    }


def giant(_: int) -> Sizes:
    """A file that is as long as FAT32 can hold, between two small ones."""
    return {"LOOP1.MP4": 5000, "LOOP2.MP4": 2**32 - 1, "LOOP3.MP4": 2**20 + 1}


def nearly(_: int) -> Sizes:
    """As that, and a cluster less: fsck.fat 4.2 can count no more."""
    return {"LOOP1.MP4": 5000, "LOOP2.MP4": 2**32 - 1 - 32_768, "LOOP3.MP4": 2**20 + 1}


def beyond(_: int) -> Sizes:
    """A file whose length needs more than 32 bits."""
    return {"LOOP1.MP4": 5000, "LOOP2.MP4": 2**32 + 4097, "LOOP3.MP4": 2**20 + 1}


TREES: dict[str, Callable[[int], Sizes]] = {
    **{name: fat_new_images.TREES[name] for name in ("usual", "names", "many", "full", "deep")},
    **{made.__name__: made for made in (one, edges, fifty, wide, longest, scripts, alike)},
    **{made.__name__: made for made in (crowd, thousands, giant, nearly, beyond)},
}


@dataclass(frozen=True)
class Recipe:
    """An image to be built."""

    file_system: FileSystem
    tree: str = "usual"
    cluster_bytes: int | None = None
    """None: as the plan has it."""
    image_bytes: int | None = None
    """None: the least that holds the tree."""
    table: Literal["none", "MBR"] = "none"
    label: str | None = None

    def __str__(self) -> str:
        size = "least" if self.image_bytes is None else f"{self.image_bytes / MIB:g}M"
        cluster = "usual" if self.cluster_bytes is None else str(self.cluster_bytes)
        return "-".join((self.file_system, self.tree, size, cluster, self.table, self.label or ""))

    @property
    def sizes(self) -> Sizes:
        """What is to be on it."""
        return TREES[self.tree](self.cluster_bytes or 4096)


@dataclass(frozen=True)
class Built:
    """An image, and what it was built from."""

    plan: ImagePlan
    image: Path
    root: NewFolder
    """What was asked for, in its order."""
    hashes: Mapping[str, str]
    """Of all files."""
    sha256: str | None
    """Of the image, as the writer tells it; None where that was left out."""

    @property
    def start_byte(self) -> int:
        """Where the volume begins."""
        return self.plan.shape.start_byte


def build(
    recipe: Recipe, folder: Path, sizes: Sizes | None = None, hashed_bytes_max: int = 256 * MIB
) -> Built:
    """Plan, write and prove it, with what the recipe names on it, or these files.

    Of larger images the hash is left out: it takes a minute for 64 GiB of zeros.
    """
    root = tree(recipe.sizes if sizes is None else sizes)
    surveyed = _surveyed(root, folder)
    card = {"file_systems": [recipe.file_system], "partition_tables": [recipe.table]}
    loaded = made.loaded(card=card, player={"order": "disk"})
    order = tuple(one.path for one in walked(root))
    size = recipe.image_bytes if recipe.cluster_bytes is None else None
    wishes = Wishes(recipe.label, size, order=order)
    plan = plan_image(surveyed, content_of(surveyed, loaded, wishes), loaded, wishes, "quick")
    if recipe.cluster_bytes is not None:
        plan = _shaped(plan, recipe, recipe.cluster_bytes)
    hashed = plan.shape.image_bytes <= hashed_bytes_max
    image = folder / "card.img"
    left_out = patch.object(image_module._Stream, "_hash", lambda *_: None)
    with nullcontext() if hashed else left_out, image.open("w+b", buffering=0) as target:
        written = write_image(plan, target, NoByteWatcher())
    prove(image, plan)
    hashes = {file.entry.path: file.sha256 or "" for file in surveyed.files}
    return Built(plan, image, root, hashes, written.sha256 if hashed else None)


def _surveyed(root: NewFolder, folder: Path) -> Surveyed:
    """Files as a survey tells of them, in an order that nobody asked for."""
    files = []
    for number, asked in enumerate(reversed(walked(root))):
        size = asked.new.size_bytes
        location = _source(folder / f"{number}.source", asked.path, size)
        file = File(Entry(asked.path, size, number, location), "other")
        files.append(replace(file, sha256=_sha256_of(file)))
    entries = tuple(file.entry for file in files)
    return Surveyed(Card(str(folder), "folder", entries, tuple(folder_paths(root))), tuple(files), {})


def _sha256_of(file: File) -> str:
    digest = hashlib.sha256()
    with file.entry.open() as source:
        while block := source.read(ZEROS_BYTES):
            digest.update(block)
    return digest.hexdigest()


def _source(source: Path, path: str, size_bytes: int) -> Path | Within:
    """A file with bytes that no other has. Of a giant the same zeros are read over and over."""
    pieces = [data for _, data in content(path, size_bytes)]
    if len(pieces) == 1:
        source.write_bytes(pieces[0])
        return source
    first, last = map(len, pieces)
    source.write_bytes(pieces[0] + bytes(ZEROS_BYTES) + pieces[1])
    again, rest = divmod(size_bytes - first - last, ZEROS_BYTES)
    zeros = (Run(first, ZEROS_BYTES),) * again + ((Run(first, rest),) if rest else ())
    return Within(str(source), (Run(0, first), *zeros, Run(first + ZEROS_BYTES, last)), size_bytes)


def _shaped(plan: ImagePlan, recipe: Recipe, cluster_bytes: int) -> ImagePlan:
    """The plan with a cluster and size that it would not choose."""
    kind, start = recipe.file_system, PART_START_BYTE if recipe.table == "MBR" else 0
    least = start + least_size_bytes(kind, plan.volume.root, cluster_bytes, start, 0)
    shape = Shape(kind, recipe.table, recipe.image_bytes or least, start, cluster_bytes)
    volume = replace(
        plan.volume, start_byte=start, size_bytes=shape.volume_bytes, cluster_bytes=cluster_bytes
    )
    return replace(plan, shape=shape, volume=volume, laid_out=lay_out(volume))
