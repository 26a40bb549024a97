"""A folder with more names than a card can list is one finding, where the files are still to be copied."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest

from mediacheck.loop import File
from mediacheck.profile import Profile
from mediacheck.rules.crowding import crowded_folders
from mediacheck.rules.model import PASSED, Seen, Whole
from mediacheck.rules.naming import file_name
from tests.rules import make
from tests.rules.judge import assert_sentence, defects

CLIP = make.video_file()
LONG = "a name of twenty-six chars"
"""Takes three entries."""


def named(paths: Sequence[str]) -> list[File]:
    return [replace(CLIP, entry=replace(CLIP.entry, path=path)) for path in paths]


def folder(paths: Sequence[str], kinds: Sequence[str] | None, kind: str | None = None) -> Whole:
    """A folder with these files, or a card of that kind."""
    files = named(paths)
    volume = make.volume(file_system=kind) if kind else None
    card = make.card(*files, volume=volume)
    limits: Profile = make.bare_profile(card={"file_systems": kinds} if kinds else {})
    return make.whole(*files, card=card, profile=limits)


def many(count: int, above: str = "", name: str = "{:08}") -> list[str]:
    return [above + name.format(number) for number in range(count)]


def test_a_root_of_fat16_that_is_too_full_is_one_finding_and_no_other_defect() -> None:
    whole = folder(many(512), ["FAT16"])
    (seen,) = crowded_folders(whole)
    assert seen == Seen(
        "512 directory entries",
        "at most 511 directory entries",
        "The root of the card holds 512 files and folders, and a card formatted as FAT16 cannot list so many "
        "in one place (their names take 512 entries, and there is room for 511): the last ones are lost in "
        "copying.",
        seen.action,
    )
    assert_sentence(seen.message)
    assert_sentence(seen.action)
    assert file_name.judge(whole) == (seen,)
    assert {name for name, _ in defects(whole)} <= {"file-name", "file-extension"}


@pytest.mark.parametrize("kinds", [["FAT16"], ["FAT12", "FAT16"]])
def test_a_root_that_is_just_full_passes(kinds: list[str]) -> None:
    assert file_name.judge(folder(many(511), kinds)) == PASSED


def test_long_names_and_folders_count_as_what_they_take() -> None:
    """170 names of three entries and one folder of one are 511; a name more is too many."""
    paths = [*many(170, name=LONG[:-3] + "{:03}"), "SPRING/A"]
    assert list(crowded_folders(folder(paths, ["FAT16"]))) == []
    (seen,) = crowded_folders(folder([*paths, "B"], ["FAT16"]))
    assert seen.found == "512 directory entries"


@pytest.mark.parametrize(("count", "findings"), [(65_534, 0), (65_535, 1)])
def test_a_folder_of_fat32_has_65_536_entries_and_two_are_its_own(count: int, findings: int) -> None:
    found = list(crowded_folders(folder(many(count, "SPRING/"), ["FAT32"])))
    assert [seen.path for seen in found] == ["SPRING"] * findings


@pytest.mark.parametrize(
    ("kinds", "kind"),
    [
        (None, None),
        (["FAT16", "FAT32"], None),
        (["FAT16", "exFAT"], None),
        (["FAT16", "NTFS"], None),
        (["FAT16"], "FAT16"),
    ],
)
def test_room_enough_elsewhere_or_a_card_that_has_them_already_is_no_defect(
    kinds: list[str] | None, kind: str | None
) -> None:
    assert list(crowded_folders(folder(many(600), kinds, kind))) == []


def test_a_card_of_another_kind_is_still_to_be_copied() -> None:
    assert len(list(crowded_folders(folder(many(600), ["FAT16"], "exFAT")))) == 1
