"""What goes on a card, its number, and what a check says of it before anything is written."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest

from mediacheck.build.plan import Wishes, check_content, content_of, require_names
from mediacheck.card.model import Volume
from mediacheck.errors import WrongUse
from tests.build import made

DISK = made.loaded(player={"order": "disk"})


def test_content_stands_in_play_order_and_what_computers_left_is_named(tmp_path: Path) -> None:
    made.folder_of(tmp_path, {**made.FACE, ".DS_Store": b"x", "Spring/._x.mp4": b"y", ".Trashes/z": b"z"})
    (tmp_path / "Autumn").mkdir()
    found = made.content(tmp_path)
    assert tuple(file.entry.path for file in found.files) == made.IN_ORDER
    assert found.folders == ("Autumn", "Spring")
    assert sorted(found.left_out) == [".DS_Store", ".Trashes/z", "Spring/._x.mp4"]
    assert found.size_bytes == sum(map(len, made.FACE.values()))


def test_a_player_that_goes_by_the_disk_gets_the_order_that_is_wanted(tmp_path: Path) -> None:
    made.folder_of(tmp_path)
    found = made.content(tmp_path, DISK, ["03 Späte Blüte 🌻.mp4", "02 Watering can.mp4"])
    assert [file.entry.path for file in found.files][:3] == [
        *("03 Späte Blüte 🌻.mp4", "02 Watering can.mp4", "01 Seeds.mp4")
    ]


def test_a_player_that_goes_by_names_is_given_no_other_order(tmp_path: Path) -> None:
    made.folder_of(tmp_path)
    with pytest.raises(WrongUse, match="This player goes by the names of the files"):
        made.content(tmp_path, order=["02 Watering can.mp4"])


def test_an_empty_folder_makes_no_card(tmp_path: Path) -> None:
    made.folder_of(tmp_path, {".DS_Store": b"x"})
    with pytest.raises(WrongUse, match="There is nothing in"):
        made.content(tmp_path)


@pytest.mark.parametrize(
    ("path", "words"),
    [
        ("a:b.mp4", '"a:b.mp4" cannot be written on a card: it contains :'),
        ("Spring/end.", '"Spring/end." cannot be written on a card: it ends in a full stop'),
        ("nul/clip.mp4", "Windows keeps the name nul for a device"),
        ("01 SEEDS.MP4", '"01 Seeds.mp4" and "01 SEEDS.MP4" cannot lie side by side'),
        ("SPRING/x.mp4", '"SPRING" and "Spring" cannot lie side by side|"Spring" and "SPRING" cannot'),
    ],
)
def test_names_that_no_card_can_hold_are_refused(path: str, words: str, tmp_path: Path) -> None:
    made.folder_of(tmp_path, {**made.FACE, path: b"x"})
    with pytest.raises(WrongUse, match=words):
        require_names(made.content(tmp_path))


def test_the_number_of_a_card_follows_from_all_that_is_on_it(tmp_path: Path) -> None:
    base = made.folder_of(tmp_path / "a")
    serial = made.planned(base).volume.serial
    assert made.planned(made.folder_of(tmp_path / "elsewhere")).volume.serial == serial
    others = {
        "a byte": made.planned(made.folder_of(tmp_path / "b", {**made.FACE, "01 Seeds.mp4": b"sead" * 3000})),
        "a name": made.planned(made.folder_of(tmp_path / "c", {"x.mp4": b"", **made.FACE})),
        "the label": made.planned(base, wishes=Wishes(label="FACE-A")),
        "the size": made.planned(base, wishes=Wishes(size_bytes=10**9)),
        "the times": made.planned(base, wishes=Wishes(times=datetime(2026, 3, 1))),
        "the file system": made.planned(base, made.loaded(card={"file_systems": ["exFAT"]})),
    }
    numbers = {name: plan.volume.serial for name, plan in others.items()}
    assert len({serial, *numbers.values()}) == len(numbers) + 1, numbers


def test_a_label_that_the_card_cannot_hold_is_refused(tmp_path: Path) -> None:
    with pytest.raises(WrongUse, match=r'The label "FACE\*A" cannot be written on FAT32: it contains \*'):
        made.planned(made.folder_of(tmp_path), wishes=Wishes(label="FACE*A"))


def test_the_card_is_checked_as_it_will_be(tmp_path: Path) -> None:
    profile = made.loaded(
        player={"order": "disk"},
        card={
            "file_systems": ["FAT32"],
            "partition_tables": ["MBR"],
            "capacity_max_gb": 0.1,
            "label_pattern": "FACE-[AB]",
            "free_percent_min": 10,
        },
        rules={"play-order": "off"},
    )
    wishes = Wishes(label="FACE-C", size_bytes=200_000_000, order=("02 Watering can.mp4",))
    plan = made.planned(made.folder_of(tmp_path), profile, wishes)
    assert plan.report.volume == Volume(
        file_system="FAT32",
        partition_table="MBR",
        label="FACE-C",
        serial=f"{plan.volume.serial >> 16:04X}-{plan.volume.serial & 0xFFFF:04X}",
        capacity_bytes=plan.laid_out.capacity_bytes,
        cluster_bytes=512,
        used_bytes=plan.laid_out.used_bytes,
        free_bytes=plan.laid_out.free_bytes,
        medium_bytes=200_000_000 // 512 * 512,
        claimed_bytes=200_000_000 // 512 * 512,
        part_end_bytes=200_000_000 // 512 * 512,
        dirty=False,
    )
    assert [found.rule for found in plan.report.findings if found.rule.startswith("card-")] == [
        *("card-capacity", "card-label")
    ]
    unknown = [item.rule for item in plan.report.not_checked if item.rule.startswith("card-")]
    assert unknown == ["card-damaged"]
    assert plan.report.files[0].entry.path == "02 Watering can.mp4"


def test_the_content_is_checked_without_a_card_too(tmp_path: Path) -> None:
    made.folder_of(tmp_path, {"a.txt": b"x"})
    profile = made.loaded(layout={"other_files": []}, rules={"file-unexpected": "fail"})
    seen = made.surveyed(tmp_path)
    report = check_content(seen, content_of(seen, profile, Wishes()), profile, "quick")
    assert ("file-unexpected", "a.txt") in [(found.rule, found.path) for found in report.findings]
    assert report.verdict == "fail"


def test_what_cannot_be_read_is_in_the_report_of_the_card(tmp_path: Path) -> None:
    made.folder_of(tmp_path)
    seen = made.surveyed(tmp_path)
    first = seen.files[0]
    broken = replace(first, entry=replace(first.entry, path="gone.mp4", unusable="a link to nothing"))
    seen = replace(
        seen, files=(*seen.files, broken), card=replace(seen.card, entries=(*seen.card.entries, broken.entry))
    )
    content = content_of(seen, made.loaded(), Wishes())
    assert content.left_out == ("gone.mp4",)
    report = check_content(seen, content, made.loaded(), "quick")
    assert ("file-unreadable", "gone.mp4") in [(found.rule, found.path) for found in report.findings]
