"""Names are compared as this volume's up-case table has it, and only as far as the table can be trusted."""

from __future__ import annotations

from pathlib import Path

import pytest

from mediacheck.card.exfat import UPCASE_WORDS
from mediacheck.card.exfat_layout import name_hash, table_checksum
from mediacheck.card.exfat_upcase import compressed, recommended
from mediacheck.card.model import Damage
from tests.card.exfat_damages import HASH, UPCASE, of, special
from tests.card.exfat_images import MIB, Filled, New, composed
from tests.card.test_exfat import read

UPCASE_CLUSTER = 3
"""Behind one cluster of the bitmap."""


def volume(folder: Path, *names: str) -> Filled:
    return Filled(composed(folder / "card.img", MIB, 512, 512)).fill([New(name) for name in names])


def change_table(image: Filled, *letters: str) -> None:
    """Leave these letters as they are in the up-case table of the volume, and put its checksum right."""
    table = bytearray(compressed(recommended()))
    for letter in letters:
        table[2 * ord(letter) : 2 * ord(letter) + 2] = ord(letter).to_bytes(2, "little")
    image.write_cluster(UPCASE_CLUSTER, bytes(table))
    image.write(special(image, UPCASE) + 4, table_checksum(bytes(table)).to_bytes(4, "little"))


def test_a_volume_with_a_table_of_its_own(tmp_path: Path) -> None:
    """7.2.5.1 allows it beyond the first 128 letters; hashes then go by that table."""
    image = volume(tmp_path, "größe.mp4", "grosse.mp4")
    change_table(image, "ö")
    assert read(image.path).damage == (of("größe.mp4", HASH),)


def test_a_table_that_changes_plain_letters(tmp_path: Path) -> None:
    image = volume(tmp_path, "1.txt")
    change_table(image, "a")
    assert read(image.path).damage == (Damage(f"{UPCASE_WORDS} gives plain letters the wrong capitals"),)


def test_without_a_sound_table_only_plain_names_are_hashed(tmp_path: Path) -> None:
    """A damaged table is told once, and not once for each name with a letter beyond the first 128."""
    image = volume(tmp_path, "größe.mp4", "plain.mp4", "other.mp4")
    image.set_entry("größe.mp4", 32 + 4, b"\1\2")
    image.set_entry("plain.mp4", 32 + 4, b"\1\2")
    image.flip(image.byte_of(UPCASE_CLUSTER) + 2000)
    assert read(image.path).damage == (Damage(f"{UPCASE_WORDS} has a wrong checksum"), of("plain.mp4", HASH))


@pytest.mark.parametrize(
    "name", [".", "..", 'a"', "a*", "a/", "a:", "a<", "a>", "a?", "a\\", "a|", "a\x1f", "\0"]
)
def test_names_that_the_standard_forbids(tmp_path: Path, name: str) -> None:
    """7.7.3, Table 35."""
    image = volume(tmp_path, "x" * len(name))
    image.placed[name] = image.placed["x" * len(name)]
    text = name.encode("utf-16-le")
    image.set_entry(name, 66, text)
    capitals = recommended().upper(name).encode("utf-16-le")
    image.set_entry(name, 36, name_hash(capitals).to_bytes(2, "little"))
    (damage,) = read(image.path).damage
    assert damage.what.endswith("has a name that exFAT forbids")


@pytest.mark.parametrize("name", ["...", "a.", " a ", "a'b", "{}~`!@#$%^&()-_=+[];,", "ä", "con"])
def test_names_that_the_standard_allows(tmp_path: Path, name: str) -> None:
    assert read(volume(tmp_path, name).path).damage == ()


def test_names_in_different_folders_may_be_the_same(tmp_path: Path) -> None:
    image = volume(tmp_path, "a/LOOP.MP4", "b/LOOP.MP4", "LOOP.MP4", "loop.mp")
    assert read(image.path).damage == ()


def test_names_that_differ_only_in_case_are_the_same(tmp_path: Path) -> None:
    image = volume(tmp_path, "a/Größe.mp4", "a/GRÖßE.MP4")
    twice = of("a/GRÖßE.MP4", "@ has the same name as another file beside it")
    assert read(image.path).damage == (twice,)
