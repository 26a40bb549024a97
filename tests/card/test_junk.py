"""What desktop systems leave behind is known by name, with who left it; what people put there is not."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.card.junk import NAMES, is_junk

# The names and who leaves them: github/gitignore (Global/macOS, Global/Windows, Global/Linux), Microsoft's
# pages on chkdsk and AutoPlay, dosfstools check.c; LOST.DIR is common practice, no source.
LEFT_BEHIND = [
    ("._clip.mp4", "macOS"),
    ("video/._clip.mp4", "macOS"),
    (".DS_Store", "macOS"),
    ("video/.DS_Store", "macOS"),
    (".Spotlight-V100", "macOS"),
    (".Spotlight-V100/Store-V2/0/store.db", "macOS"),
    (".Trashes/501/clip.mp4", "macOS"),
    (".fseventsd/0000000000001234", "macOS"),
    (".TemporaryItems/folders.501/x", "macOS"),
    (".DocumentRevisions-V100/.cs/x", "macOS"),
    (".VolumeIcon.icns", "macOS"),
    (".apdisk", "macOS"),
    ("__MACOSX/clip.mp4", "macOS"),
    ("Icon\r", "macOS"),
    ("System Volume Information/IndexerVolumeGuid", "Windows"),
    ("System Volume Information/WPSettings.dat", "Windows"),
    ("$RECYCLE.BIN/S-1-5-21/$R0.mp4", "Windows"),
    ("$Recycle.Bin/desktop.ini", "Windows"),
    ("RECYCLER/clip.mp4", "Windows"),
    ("Thumbs.db", "Windows"),
    ("video/thumbs.db", "Windows"),
    ("ehthumbs.db", "Windows"),
    ("desktop.ini", "Windows"),
    ("Desktop.ini", "Windows"),
    ("autorun.inf", "Windows"),
    ("AUTORUN.INF", "Windows"),
    ("LOST.DIR/12345", "Android"),
    ("FOUND.000/FILE0000.CHK", "repair"),
    ("found.012/dir0000.chk/clip.mp4", "repair"),
    ("FILE0001.CHK", "repair"),
    ("FSCK0000.000", "repair"),
    ("FSCK0012.REN", "repair"),
    ("lost+found/#123", "Linux"),
    (".Trash-1000/files/clip.mp4", "Linux"),
    (".directory", "Linux"),
]


@pytest.mark.parametrize(("path", "who"), LEFT_BEHIND)
def test_what_a_computer_leaves_behind_is_known_with_who_left_it(path: str, who: str) -> None:
    said = is_junk(path)
    assert said is not None
    assert who in said


@pytest.mark.parametrize("path", [path for path, _ in LEFT_BEHIND if path.lower() != "autorun.inf"])
def test_all_that_lies_in_a_left_over_folder_is_left_over_too(path: str) -> None:
    assert is_junk(f"video/{path}/clip.mp4") == is_junk(path)


@pytest.mark.parametrize("name", sorted(NAMES))
def test_case_does_not_matter_as_on_fat(name: str) -> None:
    assert is_junk(name.upper()) == is_junk(name.title()) == NAMES[name]


@pytest.mark.parametrize(
    "path",
    [
        "clip.mp4",
        "_clip.mp4",
        ".clip.mp4",
        "..clip.mp4",
        "recycling/clip.mp4",
        "thumbs/clip.mp4",
        "FOUND.mp4",
        "FOUND.0001",
        "FILE0000.mp4",
        "FILE00001.CHK",
        "FSCK.mp4",
        "lost.mp4",
        "Icon",
        "Icons/rose.png",
        "trashes/clip.mp4",
        "System Volume Information.txt",
        "video/autorun.inf",
        "autorun.info",
        "directory",
        "Thumbs.db.mp4",
    ],
)
def test_what_only_looks_alike_is_no_junk(path: str) -> None:
    assert is_junk(path) is None


@given(st.text())
def test_any_name_gets_an_answer(path: str) -> None:
    answer = is_junk(path)
    assert answer is None or answer[0].isalpha()


@given(st.lists(st.sampled_from(["video", "day", "rose.mp4", "2024"]), min_size=1))
def test_plain_names_are_never_junk(parts: list[str]) -> None:
    assert is_junk("/".join(parts)) is None
