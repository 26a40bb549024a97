"""Recipes of images by a seeded chance: any kind, size, cluster and table, any names in any folders.

It must not build one. The number of a recipe is enough to make it again.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from unicodedata import normalize

from mediacheck.card.exfat_upcase import recommended
from mediacheck.card.fat_folder import PATH_LENGTH_MAX
from mediacheck.card.limits import refusal, same_name, utf16_units
from mediacheck.names import FileSystem
from tests.build.built_images import Recipe, Sizes
from tests.build.built_readings import spelled
from tests.card.fat_new_images import GIB
from tests.card.filled import MIB

ALPHABETS = (
    *(
        "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789",
        "abcdefghijklmnopqrstuvwxyz",
        "aB cD-eF_gH.",
        "!#%&'()+,;=@[]^`{}~ ",
    ),
    *("äöüÄÖÜßéèçñøåÅæÆ", "абвгдежзАБВГДЕЖЗ", "αβγδεζΑΒΓΔΕΖς", "אבגדהוזח", "سقيحدثةماء", "बगचकसनप"),
    *(
        "水種春夏秋冬園芸庭花",
        "かきくけこカキクケコ",
        "가나다라마바사",
        "ไทยสวนน้ำ",
        "ǅǆᾀᾈİıſKÅ",
        "e\u0301a\u0308",
    ),
)
EMOJI = "🌱🌻🌷🪴💧"
PLAIN_UNITS_MAX = 190
"""Names with letters beyond 16 bits are no longer: The Sleuth Kit would cut one through the middle."""
EXFAT_SMALL_UNITS_MAX = 210
"""With clusters of 512 bytes: fsck.exfat 1.2 does not come to an end where a longer name takes two."""


def recipe_of(number: int) -> Recipe:
    """The recipe of this number."""
    chance = random.Random(f"recipe {number}")
    kind: FileSystem = chance.choice(("FAT16", "FAT32", "exFAT"))
    if chance.random() < 0.25:  # as the plan has it
        cluster, size = None, chance.choice((None, None, 10**9, 4 * 10**9, 32 * 10**9, 64 * 10**9))
        size = min(size or 0, 2 * 10**9) or None if kind == "FAT16" else size
    else:
        cluster = 1 << chance.randint(9, 25 if kind == "exFAT" else 15)
        size = None if chance.random() < 0.4 else _size_bytes(chance, kind, cluster)
    label = chance.choice((None, "GARDEN", "A", "SPRING 2026"))
    return Recipe(kind, f"chance {number}", cluster, size, chance.choice(("none", "MBR")), label)


def _size_bytes(chance: random.Random, kind: FileSystem, cluster_bytes: int) -> int:
    """Between a hundredth more than the least volume and 64 GiB, small ones as often as large ones."""
    least = {"FAT16": 4200, "FAT32": 66_000, "exFAT": 64}[kind] * cluster_bytes + 16 * MIB
    most = 65_000 * cluster_bytes if kind == "FAT16" else 64 * GIB
    return int(least * (max(most, least) / least) ** chance.random()) // 512 * 512


def tree_by_chance(number: int, file_system: FileSystem, cluster_bytes: int) -> Sizes:
    """Names and sizes for the recipe of this number."""
    chance = random.Random(f"tree {number}")
    few = cluster_bytes > 256 << 10
    count = chance.choice((1, 2, 5, 12)) if few else chance.choice((1, 3, 10, 30, 100, 100, 300, 1000))
    units_max = EXFAT_SMALL_UNITS_MAX if (file_system, cluster_bytes) == ("exFAT", 512) else 255
    names = _names(chance, units_max)
    folders = [""]
    for _ in range(chance.randint(0, 2) if few else chance.choice((0, 0, 1, 3, 8, 40))):
        above = chance.choice([folder for folder in folders if len(folder) < PATH_LENGTH_MAX - 256])
        folders.append(f"{above}{next(names)}/")
    sizes = {
        f"{chance.choice(folders)}{next(names)}": _file_bytes(chance, cluster_bytes) for _ in range(count)
    }
    nothing = {folder: 0 for folder in folders[1:] if not any(path.startswith(folder) for path in sizes)}
    return {**sizes, **nothing}


def _file_bytes(chance: random.Random, cluster_bytes: int) -> int:
    edges = (0, 1, cluster_bytes - 1, cluster_bytes, cluster_bytes + 1, 2 * cluster_bytes)
    some = chance.choice((chance.choice(edges), chance.randint(0, 5000)))
    return chance.randint(0, min(3 * MIB, 64 * cluster_bytes)) if chance.random() < 0.02 else some


def _names(chance: random.Random, units_max: int) -> Iterator[str]:
    """Names that no file system takes for the same, anywhere on the card."""
    taken: set[str] = set()
    start = _letters(chance, units_max)
    while True:
        alike = chance.random() < 0.4
        name = f"{start[:12]}{chance.randint(0, 2000)}.mp4" if alike else _letters(chance, units_max)
        keys = {same_name(name), recommended().upper(name), spelled(name)}
        units = PLAIN_UNITS_MAX if max(name) > "\uffff" else units_max
        if refusal(name) or name[0] in " $." or utf16_units(name) > units or keys & taken:
            continue
        taken |= keys
        yield name


def _letters(chance: random.Random, units_max: int) -> str:
    alphabet = "".join(chance.sample(ALPHABETS, chance.randint(1, 3)))
    if chance.random() < 0.1:
        alphabet += EMOJI
    length = chance.choice((chance.randint(1, 12), chance.randint(1, 40), chance.randint(1, units_max)))
    name = "".join(chance.choices(alphabet, k=length))
    whole = name + chance.choice(("", ".mp4", ".MP4", ".jpg")) if len(name) < units_max - 4 else name
    return normalize("NFC", whole)  # as the plan writes them
