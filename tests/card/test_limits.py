"""Names that cards refuse, and names that a card cannot tell apart."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.card.exfat_upcase import recommended
from mediacheck.card.limits import (
    FORBIDDEN_CHARACTERS,
    FORBIDDEN_IN_FAT_LABELS,
    GREATEST_FILE_BYTES,
    LIMITS,
    SD_CLASSES,
    WINDOWS_NAMES,
    directory_entries,
    folder_room,
    is_short_name,
    label_refusal,
    refusal,
    same_name,
    sd_class,
    utf16_units,
)
from mediacheck.names import FileSystem
from tests.card.card_programs import run
from tests.card.filled import FILES, MIB, fat_card, sized


@given(st.text(st.characters(exclude_characters="".join(FORBIDDEN_CHARACTERS)), min_size=5))
def test_a_name_of_allowed_characters_is_refused_only_for_its_end_or_a_device(name: str) -> None:
    why = refusal(name)
    if why is None:
        assert not name.endswith((".", " "))
    else:
        assert why in ("it ends in a full stop", "it ends in a space") or "for a device" in why


@given(st.text(), st.sampled_from(sorted(FORBIDDEN_CHARACTERS)), st.text())
def test_a_forbidden_character_anywhere_is_refused(before: str, character: str, after: str) -> None:
    why = refusal(before + character + after)
    assert why is not None
    assert why.startswith("it contains ")


@given(st.text())
def test_turning_letters_to_capitals_changes_no_length_and_is_final(path: str) -> None:
    assert len(same_name(path)) == len(path)
    assert same_name(same_name(path)) == same_name(path)


@given(st.text(st.characters(max_codepoint=127)))
def test_plain_letters_are_compared_without_their_capitals(path: str) -> None:
    assert same_name(path) == same_name(path.lower()) == same_name(path.upper()) == path.upper()


@pytest.mark.parametrize(("one", "other"), [("é", "É"), ("я", "Я"), ("ω", "Ω")])
def test_other_alphabets_are_compared_without_capitals_too(one: str, other: str) -> None:
    assert same_name(one) == same_name(other)


@pytest.mark.parametrize(("one", "other"), [("ß", "SS"), ("e", "é"), ("ﬁ", "FI")])
def test_no_letter_becomes_two(one: str, other: str) -> None:
    assert same_name(one) != same_name(other)


def test_every_file_system_with_a_limit_follows_the_same_rules_for_names() -> None:
    assert set(GREATEST_FILE_BYTES) == set(WINDOWS_NAMES)


# Entries of a folder


@pytest.mark.parametrize(
    ("name", "entries"),
    [
        ("LOOP.MP4", 1),
        ("12345678.123", 1),
        ("README", 1),
        ("A", 1),
        ("loop.mp4", 2),
        ("LOOP.MPEG", 2),
        ("123456789", 2),
        ("A.B.C", 2),
        ("A B.MP4", 2),
        ("A+B.MP4", 2),
        (".A", 2),
        ("É.MP4", 2),
        ("a" * 13, 2),
        ("a" * 14, 3),
        ("a" * 26, 3),
        ("a" * 27, 4),
        ("a" * 255, 21),
        ("🌱" * 7, 3),
    ],
)
def test_a_name_takes_one_entry_and_one_for_each_thirteen_units(name: str, entries: int) -> None:
    """Microsoft FAT32 specification 1.03, long directory entries: ceil(n/13) beside the short one."""
    assert directory_entries(name) == entries
    assert is_short_name(name) == (entries == 1)


@pytest.mark.parametrize(("length", "entries"), [(1, 3), (15, 3), (16, 4), (30, 4), (31, 5), (255, 2 + 17)])
def test_exfat_takes_two_entries_and_one_for_each_fifteen_units(length: int, entries: int) -> None:
    """exFAT specification 1.00, 7.7: 15 units in each file name entry."""
    assert directory_entries("a" * length, "exFAT") == entries


def test_folders_are_as_full_as_the_specifications_say() -> None:
    """FAT: 2,097,152 bytes, exFAT: 256 MB and 2,796,202 files (9.5)."""
    for kind in ("FAT12", "FAT16", "FAT32"):
        assert LIMITS[kind].folder_entries == 2_097_152 // 32
    assert LIMITS["exFAT"].folder_entries == 8_388_608
    assert 8_388_608 // directory_entries("a", "exFAT") == 2_796_202
    assert {kind: limits.root_entries for kind, limits in LIMITS.items() if limits.root_entries} == {
        "FAT12": 512,
        "FAT16": 512,
    }


@pytest.mark.parametrize(
    ("kind", "root", "folder"),
    [
        ("FAT12", 511, 65_534),
        ("FAT16", 511, 65_534),
        ("FAT32", 65_535, 65_534),
        ("exFAT", 8_388_605, 8_388_608),
    ],
)
def test_a_folder_has_room_for_names_besides_its_own_entries(
    kind: FileSystem, root: int, folder: int
) -> None:
    assert (folder_room(kind, root=True), folder_room(kind, root=False)) == (root, folder)


@pytest.mark.parametrize("kind", ["NTFS", "ext", "APFS"])
def test_the_room_of_other_file_systems_is_not_known(kind: FileSystem) -> None:
    assert folder_room(kind, root=False) is None


def test_a_name_of_255_units_is_the_longest() -> None:
    assert refusal("a" * 255) is None
    assert refusal("a" * 253 + "\U0001f33b") is None
    assert refusal("a" * 254 + "\U0001f33b") == "it is longer than 255 characters"


def test_mtools_takes_no_more_entries_than_are_reckoned(tmp_path: Path) -> None:
    image = fat_card(tmp_path / "card.img", 2880 * 512, FILES, "-F", "12").read_bytes()
    start = (
        int.from_bytes(image[14:16], "little") + image[16] * int.from_bytes(image[22:24], "little")
    ) * 512
    slots = [image[place : place + 32] for place in range(start, start + 32 * 224, 32)]
    used = sum(1 for slot in slots if slot[0])
    in_root = ("Watering Can 1.mp4", "B.MP4", "A.MP4", "Spring")
    assert used == 1 + sum(map(directory_entries, in_root))  # 1: the label


@given(st.text())
def test_units_are_counted_as_on_the_disk(text: str) -> None:
    assert utf16_units(text) == sum(2 if ord(letter) > 0xFFFF else 1 for letter in text)


# Labels


@pytest.mark.parametrize(
    ("label", "kind", "why"),
    [
        ("GARDEN", "FAT32", None),
        ("", "FAT32", None),
        ("GARDEN 2026", "FAT16", None),
        ("GARDEN 2026!", "FAT32", "it is longer than 11 characters"),
        ("A*B?", "FAT12", "it contains * ?"),
        ("A.B", "FAT32", "it contains ."),
        (" SEEDS", "FAT32", "it begins with a space"),
        ("BLÜTE", "FAT32", "it has letters that not every system reads alike (use A to Z, 0 to 9)"),
        ("A\x01", "FAT32", "it contains the control character 1"),
        ("BLÜTE", "exFAT", None),
        ("A.B", "exFAT", None),
        ("A*B", "exFAT", "it contains *"),
        ("🌱" * 6, "exFAT", "it is longer than 11 characters"),
        ("a label that only NTFS can hold", "NTFS", None),
        ("anything at all, for as long as one likes", "ext", None),
    ],
)
def test_labels_are_refused_for_their_length_or_their_letters(
    label: str, kind: FileSystem, why: str | None
) -> None:
    assert label_refusal(label, kind) == why


@pytest.mark.parametrize("label", ["GARDEN", "GARDEN 2026", "A_B-1", "ABCDEFGHIJK"])
def test_mkfs_fat_takes_what_is_not_refused(tmp_path: Path, label: str) -> None:
    assert label_refusal(label, "FAT32") is None
    assert "label" not in run("mkfs.fat", "-n", label, sized(tmp_path / "card.img", MIB))


def test_mkfs_fat_names_the_same_forbidden_characters(tmp_path: Path) -> None:
    """dosfstools, common.c."""
    visible = {letter for letter in FORBIDDEN_IN_FAT_LABELS if letter.isprintable()}
    with pytest.raises(AssertionError, match="are not allowed") as refused:
        run("mkfs.fat", "-n", "A*B", sized(tmp_path / "card.img", MIB))
    told = str(refused.value).partition("Labels with characters ")[2].partition(" are not")[0]
    assert set(told) == visible
    assert {letter: label_refusal(f"A{letter}B", "FAT32") for letter in visible} == {
        letter: f"it contains {letter}" for letter in visible
    }


# Classes of cards


@pytest.mark.parametrize(
    ("capacity_bytes", "name", "file_systems"),
    [
        (1_015_808_000, "SDSC", ("FAT12", "FAT16")),
        (2**31, "SDSC", ("FAT12", "FAT16")),
        (2**31 + 1, "SDHC", ("FAT32",)),
        (31_914_983_424, "SDHC", ("FAT32",)),
        (32_010_928_128, "SDHC", ("FAT32",)),
        (2**35 + 1, "SDXC", ("exFAT",)),
        (63_864_569_856, "SDXC", ("exFAT",)),
        (2**41 + 1, "SDUC", ("exFAT",)),
    ],
)
def test_a_card_belongs_to_the_class_of_its_capacity(
    capacity_bytes: int, name: str, file_systems: tuple[FileSystem, ...]
) -> None:
    """SD Association: up to 2 GB, over 2 to 32 GB, over 32 GB to 2 TB, over 2 to 128 TB (second-hand)."""
    found = sd_class(capacity_bytes)
    assert found is not None
    assert (found.name, found.file_systems) == (name, file_systems)


def test_no_class_has_impossible_sizes() -> None:
    assert [sd_class(size) for size in (-1, 0, SD_CLASSES[-1].capacity_bytes_max + 1)] == [None] * 3


def test_names_that_exfat_takes_for_the_same_are_the_same() -> None:
    """Every letter of the recommended up-case table (exFAT specification 1.00, 7.2.5.1) and its capital."""
    capitals = recommended().table.tolist()
    pairs = [(chr(letter), chr(capital)) for letter, capital in enumerate(capitals) if letter != capital]
    assert len(pairs) > 800
    assert [pair for pair in pairs if same_name(pair[0]) != same_name(pair[1])] == []
