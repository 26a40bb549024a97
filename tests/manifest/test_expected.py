"""What is expected on a card: read from either kind of list, and matched with the names that are there."""

from __future__ import annotations

import unicodedata
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.errors import ManifestError
from mediacheck.manifest.expected import (
    Expected,
    ExpectedFile,
    ExpectedImage,
    Matched,
    matched,
    paired,
    read_expected,
    tells_case_apart,
)
from mediacheck.manifest.record import manifest_text
from mediacheck.manifest.sums import sums_text
from mediacheck.names import FileSystem
from tests.manifest.make import MANIFEST, paths, sha256
from tests.rules.make import card, other_file, plain_folder, volume


def test_a_manifest_says_all_that_is_expected(tmp_path: Path) -> None:
    path = tmp_path / "card.manifest.json"
    path.write_text(manifest_text(MANIFEST), "utf-8")
    assert read_expected(path) == Expected(
        files=(
            ExpectedFile("1 Watering can.mp4", sha256(b"water"), 5),
            ExpectedFile("read me.txt", sha256(b""), 0),
            ExpectedFile("Spring/Märzenbecher.mp4", sha256(b"seeds"), 5),
        ),
        folders=("Spring",),
        in_disk_order=True,
        play_order=("1 Watering can.mp4", "Spring/Märzenbecher.mp4"),
        image=ExpectedImage("card.img", sha256(b"image"), 44_194_304),
        player_order="disk",
        even_so=True,
        source=str(path),
        sha256=sha256(path.read_bytes()),
    )


def test_a_plain_list_knows_no_sizes_folders_or_order(tmp_path: Path) -> None:
    path = tmp_path / "card.sha256"
    path.write_text(sums_text([("b.mp4", sha256(b"b")), ("a.mp4", sha256(b"a"))]), "utf-8")
    assert read_expected(path) == Expected(
        (ExpectedFile("b.mp4", sha256(b"b"), None), ExpectedFile("a.mp4", sha256(b"a"), None)),
        source=str(path),
        sha256=sha256(path.read_bytes()),
    )


def test_json_that_is_no_manifest_is_told_as_such(tmp_path: Path) -> None:
    path = tmp_path / "report.json"
    path.write_text('\n {"schema": "mediacheck/report/1"}', "utf-8")
    with pytest.raises(ManifestError, match="does not say of itself that it is one"):
        read_expected(path)


def test_equal_names_are_the_same_and_the_rest_is_missing_or_extra() -> None:
    assert matched(["b", "a", "c"], ["a", "d", "b"], True) == Matched(((1, 0), (0, 2)), (2,), (1,))


def test_accents_put_together_in_another_way_are_the_same_name() -> None:
    apart = unicodedata.normalize("NFD", "Märzenbecher.mp4")
    assert matched(["Märzenbecher.mp4"], [apart], True) == Matched(((0, 0),), (), ())


def test_case_is_the_same_name_only_where_the_card_cannot_tell_it_apart() -> None:
    assert matched(["LOOP.MP4"], ["loop.mp4"], case_matters=False) == Matched(((0, 0),), (), ())
    assert matched(["LOOP.MP4"], ["loop.mp4"], case_matters=True) == Matched((), (0,), (0,))


@pytest.mark.parametrize("kind", ["FAT12", "FAT16", "FAT32", "exFAT", "NTFS"])
def test_fat_and_its_like_do_not_tell_case_apart(kind: FileSystem) -> None:
    assert not tells_case_apart(card(volume=volume(file_system=kind)))


def test_a_plain_folder_tells_case_apart_and_a_drive_of_unknown_kind_does_not() -> None:
    assert tells_case_apart(plain_folder())
    assert tells_case_apart(card(volume=volume(file_system="ext")))
    assert not tells_case_apart(card(kind="volume", volume=volume(file_system=None)))


def test_an_equal_name_goes_before_one_that_is_only_alike() -> None:
    assert matched(["a", "A"], ["A", "a"], False) == Matched(((1, 0), (0, 1)), (), ())
    assert matched(["a"], ["A", "a"], False) == Matched(((0, 1),), (), (0,))


LISTED = (ExpectedFile("1.mp4", sha256(b"1"), 10), ExpectedFile("2.mp4", sha256(b"2"), 20))
NOTE = ExpectedFile("read me.txt", sha256(b"3"), 30)
PLAYED = Expected((*LISTED, NOTE), play_order=("1.mp4", "2.mp4"))
PLAIN = Expected(tuple(ExpectedFile(file.path, file.sha256, None) for file in LISTED))
OTHERS: dict[str, tuple[Expected, dict[str, int], bool]] = {
    "other names": (PLAYED, {"a.mp4": 11, "b.mp4": 21}, True),
    "the same names": (PLAYED, {"1.mp4": 11, "2.mp4": 21}, True),
    "what both cards have beside their loop": (PLAYED, {"a.mp4": 11, "read me.txt": 30}, True),
    "one that may be right": (PLAYED, {"1.mp4": 10, "2.mp4": 21}, False),
    "one that may be renamed": (PLAYED, {"a.mp4": 10, "b.mp4": 21}, False),
    "an only one, cut off": (Expected(LISTED[:1]), {"1.mp4": 5}, False),
    "an only one of another name": (Expected(LISTED[:1]), {"a.mp4": 5}, True),
    "an empty card": (PLAYED, {}, False),
    "what computers leave": (PLAYED, {".DS_Store": 11}, False),
    "a list without sizes, other names": (PLAIN, {"a.mp4": 11}, True),
    "a list without sizes, a right name": (PLAIN, {"1.mp4": 11}, False),
    "nothing expected": (Expected(()), {"a.mp4": 11}, False),
}


@pytest.mark.parametrize("name", OTHERS)
def test_the_card_of_another_face_is_known_by_having_none_of_what_is_to_play(name: str) -> None:
    expected, files, told = OTHERS[name]
    there = card(*(other_file(path, size_bytes=size) for path, size in files.items()))
    assert paired(expected, there).is_another_card is told


def test_a_file_that_cannot_be_read_may_be_the_right_one() -> None:
    there = card(other_file("1.mp4", size_bytes=0, unusable="a link"), other_file("b.mp4", size_bytes=21))
    assert paired(PLAYED, there).is_another_card is False


many = st.lists(paths, unique=True, max_size=6)


@given(many, many, st.booleans())
def test_every_name_is_in_exactly_one_place(wanted: list[str], there: list[str], case_matters: bool) -> None:
    found = matched(wanted, there, case_matters)
    ours = [number for number, _ in found.pairs] + list(found.missing)
    theirs = [place for _, place in found.pairs] + list(found.extra)
    assert sorted(ours) == list(range(len(wanted)))
    assert sorted(theirs) == list(range(len(there)))
    assert {wanted[number] for number in found.missing}.isdisjoint(there)
