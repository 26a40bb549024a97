"""What goes on a card, its number, and what a check says of it before anything is written."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path
from unicodedata import normalize

import pytest

from mediacheck.build.plan import Wishes, check_content, content_of, plan_image, require_names
from mediacheck.card.model import Damage, Volume
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
        ("a\u202eb.mp4", r'"a\\u202eb.mp4" cannot be written on a card: it contains characters that cannot'),
        ("\x85/b.mp4", r'"\\x85" cannot be written on a card: it contains characters that cannot be seen'),
        ("SPRING/x.mp4", '"SPRING" and "Spring" cannot lie side by side|"Spring" and "SPRING" cannot'),
    ],
)
def test_names_that_no_card_can_hold_are_refused(path: str, words: str, tmp_path: Path) -> None:
    made.folder_of(tmp_path, {**made.FACE, path: b"x"})
    with pytest.raises(WrongUse, match=words):
        require_names(made.content(tmp_path))


def test_accents_of_a_mac_are_put_together(tmp_path: Path) -> None:
    apart = normalize("NFD", "Gärten/é.mp4")
    found = made.content(made.folder_of(tmp_path, {apart: b"x", ".DS_Store": b"y"}))
    assert [file.entry.path for file in found.files] == ["Gärten/é.mp4"]
    assert found.files[0].entry.open().read() == b"x"
    assert (found.folders, found.left_out) == (("Gärten",), (".DS_Store",))


@pytest.mark.parametrize("name", ["é.mp4", "é/a.mp4"])
def test_names_that_differ_only_in_their_accents_are_refused(name: str, tmp_path: Path) -> None:
    made.folder_of(tmp_path, {name: b"x"})
    made.folder_of(tmp_path, {normalize("NFD", name): b"y"})
    if len(list(tmp_path.iterdir())) == 1:
        pytest.skip("this disk holds no such names")
    with pytest.raises(WrongUse, match=r'Two files or folders called "é.*" cannot lie side by side'):
        require_names(made.content(tmp_path))


def test_folders_that_hardly_any_program_would_find_are_refused(tmp_path: Path) -> None:
    content = made.content(made.folder_of(tmp_path))
    deep = "/".join("d" * 512)
    require_names(replace(content, folders=(*content.folders, deep)))
    with pytest.raises(WrongUse, match=r'"d/d.*\.\.\." cannot be written on a card: it lies so deep'):
        require_names(replace(content, folders=(*content.folders, f"{deep}/d")))


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


@pytest.mark.parametrize(
    ("kind", "label", "words"),
    [
        ("FAT32", "FACE*A", r'"FACE\*A" cannot be written on FAT32: it contains \*'),
        ("FAT32", "FACE A ", '"FACE A " cannot be written on FAT32: it begins or ends with a space'),
        ("exFAT", " FACE A", '" FACE A" cannot be written on exFAT: it begins or ends with a space'),
        ("exFAT", "A\x7f", "cannot be written on exFAT: it contains characters that cannot be seen"),
    ],
)
def test_a_label_that_the_card_cannot_hold_is_refused(
    kind: str, label: str, words: str, tmp_path: Path
) -> None:
    profile = made.loaded(card={"file_systems": [kind]})
    with pytest.raises(WrongUse, match=f"The label .*{words}" if "\x7f" in label else f"The label {words}"):
        made.planned(made.folder_of(tmp_path), profile, Wishes(label=label))


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


def test_what_is_broken_on_a_card_that_is_copied_is_in_the_report(tmp_path: Path) -> None:
    seen = made.surveyed(made.folder_of(tmp_path))
    lost, counts = "a file is destroyed", Damage("a count is wrong", None, only_writing=True)
    sound = replace(seen, card=replace(seen.card, damage=(counts,)))
    broken = replace(seen, card=replace(seen.card, damage=(counts, Damage(lost, "01 Seeds.mp4"))))
    profile, found = made.loaded(), {}
    for name, source in (("sound", sound), ("broken", broken)):
        content = content_of(source, profile, Wishes())
        plan = plan_image(source, content, profile, Wishes(), "quick")
        reports = (check_content(source, content, profile, "quick"), plan.report)
        found[name] = [
            [(one.path, one.found) for one in report.findings if one.rule == "card-damaged"]
            for report in reports
        ]
    assert found == {"sound": [[], []], "broken": [[("01 Seeds.mp4", lost)]] * 2}


def test_a_card_that_is_not_formatted_has_nothing_that_could_be_copied(tmp_path: Path) -> None:
    seen = made.surveyed(made.folder_of(tmp_path, {}))
    seen = replace(seen, card=replace(seen.card, unlisted="it is not formatted"))
    with pytest.raises(WrongUse, match="that could go on a card: it is not formatted"):
        content_of(seen, made.loaded(), Wishes())
