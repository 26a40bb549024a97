"""The main job on images of cards: the same files as in a folder, judged alike, in the order of the disk."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import pytest

from mediacheck.card.exfat_layout import compose_boot_region
from mediacheck.card.mbr_layout import Mbr, MbrEntry
from mediacheck.card.raw import ONE_PART
from mediacheck.check import check
from mediacheck.names import FileSystem
from mediacheck.profile_files import LoadedProfile
from mediacheck.report.model import Finding, Report
from mediacheck.report.verdict import verdict_line
from mediacheck.survey import Options
from tests.card.card_programs import run
from tests.card.exfat_images import Filled, New, formatted
from tests.card.fat_images import Hand
from tests.card.filled import MIB, fat_card, overwrite, placed, sized
from tests.rules import make

SAMPLES = Path(__file__).parent.parent / "sample_media"
NAMES = ("watering-landscape.mp4", "bulbs-baseline.jpg", "bulbs-progressive.jpg")
"""In the order in which they are copied: that of the names is another."""
BY_NAME = ("bulbs-baseline.jpg", "bulbs-progressive.jpg", "watering-landscape.mp4")
LABEL = "GARDEN"
CLUSTER_BYTES = 4096


def checked(image: Path, order: str = "disk", depth: str = "quick", **card: object) -> Report:
    """Check with a profile that takes what these cards are: FAT32 or exFAT, with or without a table."""
    taken = {"file_systems": ["FAT32", "exFAT"], "partition_tables": ["MBR", "none"], "free_percent_min": 0}
    made = make.profile(card={**taken, **card}, player={"order": order})
    options = Options(depth="full" if depth == "full" else "quick", jobs=1, use_cache=False)
    return check(image, LoadedProfile(made, "by hand", "0" * 64), options).report


def contents(names: Sequence[str] = NAMES) -> dict[str, bytes]:
    return {name: (SAMPLES / name).read_bytes() for name in names}


def fat32(path: Path) -> Path:
    """FAT32 over the whole image."""
    return fat_card(path, 40 * MIB, contents())


def fat32_in_mbr(path: Path) -> Path:
    """FAT32 in the first part."""
    inner = fat32(path.with_suffix(".part"))
    placed(path, 41 * MIB, {MIB: inner})
    return overwrite(path, 0, Mbr.of(MbrEntry.of(0x0C, 2048, 40 * MIB // 512)).compose())


def exfat_in_pieces(path: Path) -> Path:
    """exFAT with a free cluster between each two of each file."""
    formatted(path, 8 * MIB, CLUSTER_BYTES, LABEL)
    Filled(path).fill([New(name, data, chained=True, gap=1) for name, data in contents().items()])
    return path


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("folder")
    for name in NAMES:
        shutil.copy(SAMPLES / name, place)
    return place


def of_files(report: Report) -> set[Finding]:
    """What was found but on the card itself, and on the order that only a card has."""
    return {f for f in report.findings if not f.rule.startswith("card-") and f.rule != "play-order"}


@pytest.mark.parametrize("make_card", [fat32, fat32_in_mbr, exfat_in_pieces])
def test_an_image_is_judged_as_the_folder_with_the_same_files(
    make_card: Callable[[Path], Path], folder: Path, tmp_path: Path
) -> None:
    image, plain = checked(make_card(tmp_path / "card.img")), checked(folder)
    assert of_files(image) == of_files(plain)
    assert {f.rule for f in image.findings} - {f.rule for f in plain.findings} == {"play-order"}
    facts = [{f.entry.path: (f.kind, f.facts, f.sha256) for f in report.files} for report in (image, plain)]
    assert facts[0] == facts[1]
    assert image.loop_seconds == plain.loop_seconds
    assert not [gap for gap in image.not_checked if gap.rule.startswith("card-")]


@pytest.mark.parametrize("make_card", [fat32, exfat_in_pieces])
@pytest.mark.parametrize(("order", "items"), [("disk", NAMES), ("name", BY_NAME)])
def test_the_loop_follows_the_order_that_the_player_goes_by(
    make_card: Callable[[Path], Path], order: str, items: tuple[str, ...], tmp_path: Path
) -> None:
    report = checked(make_card(tmp_path / "card.img"), order)
    assert tuple(item.path for item in report.items) == items
    assert report.order_known
    assert ("play-order" in {f.rule for f in report.findings}) == (order == "disk")
    assert tuple(f.entry.path for f in report.files) == NAMES


def test_a_file_in_pieces_is_decoded_and_hashed_as_the_whole_one(folder: Path, tmp_path: Path) -> None:
    image, plain = (
        checked(exfat_in_pieces(tmp_path / "card.img"), depth="full"),
        checked(folder, depth="full"),
    )
    assert of_files(image) == of_files(plain)
    found = [
        {f.entry.path: (f.facts, f.measurements, f.sha256) for f in report.files} for report in (image, plain)
    ]
    assert found[0] == found[1]
    assert all(sha256 for _, _, sha256 in found[0].values())


def test_damage_is_named_with_the_file_and_the_others_are_left_alone(folder: Path, tmp_path: Path) -> None:
    path = fat_card(
        tmp_path / "card.img",
        40 * MIB,
        {"LOOP1.JPG": contents()[NAMES[1]], "LOOP2.JPG": contents()[NAMES[2]]},
    )
    hand = Hand(path)
    hand.set_head(b"LOOP2   JPG", hand.head(b"LOOP1   JPG"))
    report = checked(path)
    assert [(f.severity, f.path) for f in report.findings if f.rule == "card-damaged"] == [
        ("fail", "LOOP2.JPG"),
        ("fail", "LOOP2.JPG"),
        ("warn", None),
    ]
    assert any("LOOP2.JPG shares clusters with LOOP1.JPG" in f.message for f in report.findings)
    assert {item.path: item.skipped for item in report.items} == {"LOOP1.JPG": False, "LOOP2.JPG": True}
    assert report.verdict == "fail"


def test_a_wrong_count_of_free_clusters_does_not_keep_a_card_from_playing(tmp_path: Path) -> None:
    path = fat_card(tmp_path / "card.img", 40 * MIB, {"A.JPG": contents()[NAMES[1]]})
    Hand(path).put(512 + 488, "I", 12)
    report = checked(path)
    assert [(f.rule, f.severity) for f in report.findings] == [("card-damaged", "warn")]
    assert (report.verdict, verdict_line(report).headline[:9]) == ("warn", "WILL PLAY")


@pytest.mark.parametrize(
    ("found", "words"), [("NTFS", "the way Windows formats hard disks"), ("ext", "the way Linux formats")]
)
def test_a_format_that_is_not_listed_is_named_and_nothing_on_it_passes(
    found: FileSystem, words: str, tmp_path: Path
) -> None:
    path = sized(tmp_path / "card.img", 16 * MIB)
    if found == "NTFS":
        overwrite(path, 0, b"\xeb\x52\x90NTFS    " + bytes(499) + b"\x55\xaa")
    else:
        overwrite(path, 1080, b"\x53\xef")
    report = checked(path)
    (told,) = report.findings
    assert (told.rule, told.severity, told.found) == ("card-file-system", "fail", found)
    assert words in told.message
    line = verdict_line(report)
    assert line.headline == "NOTHING TO PLAY"
    assert line.rest.startswith("no file of this card could be listed.")


def test_a_player_that_reads_a_format_which_is_not_listed_here_gets_no_verdict(tmp_path: Path) -> None:
    path = overwrite(sized(tmp_path / "card.img", 16 * MIB), 1080, b"\x53\xef")
    report = checked(path, file_systems=["ext"])
    assert (report.verdict, report.findings) == ("incomplete", ())
    assert verdict_line(report).headline == "NOT SURE"


def test_a_blank_card_is_one_failure(tmp_path: Path) -> None:
    report = checked(sized(tmp_path / "card.img", 16 * MIB), partition_tables=["MBR"])
    assert [(f.rule, f.severity, f.found) for f in report.findings] == [
        ("card-file-system", "fail", "it is not formatted")
    ]


@pytest.mark.parametrize("left_mib", [2, 20])
def test_an_image_that_was_cut_off_is_one_failure_of_the_card(left_mib: int, tmp_path: Path) -> None:
    path = fat32_in_mbr(tmp_path / "card.img")
    with path.open("r+b") as file:
        file.truncate(left_mib * MIB)
    report = checked(path)
    failures = [f.rule for f in report.findings if f.severity == "fail" and f.path is None]
    assert failures == ["card-size-mismatch"]


def test_files_beyond_the_end_of_the_medium_are_named(tmp_path: Path) -> None:
    path = fat32(tmp_path / "card.img")
    hand = Hand(path)
    with path.open("r+b") as file:
        file.truncate(hand.byte_of(hand.head(b"BULBS-~1JPG")) + 512)
    report = checked(path)
    damaged = {f.path for f in report.findings if f.rule == "card-damaged"}
    assert damaged == {"bulbs-baseline.jpg", "bulbs-progressive.jpg"}
    assert "watering-landscape.mp4" not in damaged


def test_dirty_marks_are_a_warning(tmp_path: Path) -> None:
    path = fat_card(tmp_path / "card.img", 40 * MIB, {"A.JPG": contents()[NAMES[1]]})
    hand = Hand(path)
    hand.set_entry(1, 0x0FFFFFFF & ~0x08000000)
    report = checked(path)
    assert [(f.rule, f.severity) for f in report.findings] == [("card-dirty", "warn")]


def test_gpt_is_named_to_a_player_that_wants_mbr(tmp_path: Path) -> None:
    inner = fat32(tmp_path / "inner.img")
    path = placed(tmp_path / "card.img", 44 * MIB, {MIB: inner})
    run("sgdisk", "-n", "1:2048:+40M", "-t", "1:0700", path)
    report = checked(path)
    card = [(f.rule, f.found, f.wanted) for f in report.findings if f.rule.startswith("card-")]
    assert card == [("card-partition-table", "GPT", "MBR or no partition table")]


@pytest.mark.parametrize("kind", ["FAT32", "exFAT"])
def test_the_image_of_one_part_is_not_blamed_for_the_table_that_it_cannot_have(
    kind: str, tmp_path: Path
) -> None:
    """What formats a part notes in it how many sectors lie before it."""
    name = tmp_path / "card.img"
    if kind == "FAT32":
        path = fat_card(name, 40 * MIB, contents(), "-F", "32", "-h", "2048")
    else:
        path = formatted(name, 8 * MIB, CLUSTER_BYTES, LABEL)
        image = Filled(path)
        boot = replace(image.boot, partition_offset=2048)
        image.write(0, compose_boot_region(boot) * 2)
    report = checked(path, partition_tables=["MBR"])
    gaps = [(gap.rule, gap.expected) for gap in report.not_checked if gap.rule.startswith("card-")]
    assert gaps == [("card-partition-table", True)]
    assert "card-partition-table" not in {f.rule for f in report.findings}
    assert report.notes == (ONE_PART,)
