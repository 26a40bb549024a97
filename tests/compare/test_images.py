"""Whole comparisons of real cards: tiny media in images of cards and in folders."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Sequence
from pathlib import Path

import pytest

from mediacheck.compare.model import Comparison
from mediacheck.compare.run import compare
from mediacheck.errors import CardError, WrongUse
from mediacheck.names import Depth
from mediacheck.survey import Options
from tests.card.exfat_images import Filled, New, formatted
from tests.card.filled import MIB, fat_card
from tests.compare.make import brief
from tests.media.footage import SAMPLES

NAMES = ("watering-landscape.mp4", "bulbs-baseline.jpg", "offers-h265.mp4")
CLUSTER_BYTES = 4096


def contents(names: Sequence[str] = NAMES) -> dict[str, bytes]:
    return {name: (SAMPLES / name).read_bytes() for name in names}


def run(good: Path, bad: Path, depth: Depth = "quick") -> Comparison:
    return compare(good, bad, None, Options(depth, jobs=1, use_cache=False))


@pytest.fixture(scope="module")
def card(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """FAT32 with three files."""
    return fat_card(tmp_path_factory.mktemp("good") / "good.img", 40 * MIB, contents())


def test_a_copy_of_an_image_has_no_differences(card: Path, tmp_path: Path) -> None:
    found = run(card, Path(shutil.copy(card, tmp_path / "bad.img")))
    assert found.differences == ()
    assert [match.how for match in found.matched] == ["same bytes"] * 3
    assert [gap for gap in found.not_compared if not gap.expected] == []
    assert found.same == (
        "The file system: FAT32.",
        "The partition table: no partition table.",
        "The class of the card: SDSC.",
        "The cluster size: 512 bytes.",
        'The label: "GARDEN".',
        "Neither card has folders.",
        "The order in which the files were put onto the card, of the 3 items that both cards have.",
        "The order of the names, of the 3 items that both cards have.",
        "All 3 files: the same bytes on both cards.",
    )


def test_the_same_files_copied_in_another_order(card: Path, tmp_path: Path) -> None:
    found = run(card, fat_card(tmp_path / "bad.img", 40 * MIB, contents(NAMES[::-1])))
    assert brief(found.differences) == [("warn", "play-order", None, None)]
    assert (found.differences[0].good, found.differences[0].bad) == (
        ", ".join(NAMES),
        ", ".join(NAMES[::-1]),
    )


def test_fat32_and_exfat(card: Path, tmp_path: Path) -> None:
    bad = formatted(tmp_path / "bad.img", 40 * MIB, CLUSTER_BYTES, "GARDEN")
    Filled(bad).fill([New(name, data) for name, data in contents().items()])
    found = run(card, bad)
    assert [(each.rule, each.severity, each.good, each.bad) for each in found.differences] == [
        ("card-file-system", "fail", "FAT32", "exFAT"),
        ("card-cluster-size", "warn", "512 bytes", "4,096 bytes"),
    ]


def test_an_image_and_a_folder_with_the_same_files(card: Path, tmp_path: Path) -> None:
    for name, data in contents().items():
        (tmp_path / name).write_bytes(data)
    found = run(card, tmp_path)
    assert found.differences == ()
    assert [match.how for match in found.matched] == ["same bytes"] * 3


def encoded(source: Path, target: Path, *options: str) -> Path:
    command = ["ffmpeg", "-v", "error", "-i", str(source), *options, "-threads", "1", str(target)]
    subprocess.run(command, check=True, timeout=60)
    return target


def test_what_was_encoded_again_under_another_name_is_known_at_full_depth(tmp_path: Path) -> None:
    good, bad = tmp_path / "good", tmp_path / "bad"
    good.mkdir()
    bad.mkdir()
    shutil.copy(SAMPLES / "soil-4-3.mp4", good / "soil.mp4")
    shutil.copy(SAMPLES / "seeds-portrait.mp4", good)
    shutil.copy(SAMPLES / "seeds-portrait.mp4", bad)
    encoded(SAMPLES / "soil-4-3.mp4", bad / "earth.avi", "-c:v", "mpeg4", "-q:v", "5", "-an")
    found = run(good, bad, "full")
    assert [(match.good_path, match.bad_path, match.how) for match in found.matched] == [
        ("seeds-portrait.mp4", "seeds-portrait.mp4", "same bytes"),
        ("soil.mp4", "earth.avi", "same picture, encoded again"),
    ]
    rules = [each.rule for each in found.differences if each.severity == "fail"]
    assert rules[:3] == ["file-extension", "container-format", "video-codec"]
    quick = run(good, bad)
    assert [match.how for match in quick.matched] == ["same bytes"]
    assert "what the pictures of the videos show" in [gap.what for gap in quick.not_compared]


def test_a_copy_that_was_broken_off(tmp_path: Path) -> None:
    good, bad = tmp_path / "good", tmp_path / "bad"
    good.mkdir()
    bad.mkdir()
    data = (SAMPLES / "watering-landscape.mp4").read_bytes()
    (good / "a.mp4").write_bytes(data)
    (bad / "a.mp4").write_bytes(data[: len(data) // 2])
    found = run(good, bad)
    assert brief(found.differences)[0] == ("fail", "container-truncated", "a.mp4", "a.mp4")


def test_one_place_is_not_compared_with_itself(tmp_path: Path) -> None:
    (tmp_path / "in").mkdir()
    for other in (tmp_path, tmp_path / "in" / ".."):
        with pytest.raises(WrongUse, match="are the same place"):
            run(tmp_path, other)
    with pytest.raises(CardError):
        run(tmp_path, tmp_path / "gone")
