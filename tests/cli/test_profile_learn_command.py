"""`mediacheck profile learn` as a person calls it, on small cards: folders and an image."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from mediacheck.cli.app import run
from mediacheck.profile_files import read_profile
from tests.card.filled import MIB, fat_card
from tests.cli.test_check_command import snapshot

Capture = pytest.CaptureFixture[str]
SAMPLES = Path(__file__).parent.parent.parent / "sample_media"
FIRST = ("watering-landscape.mp4", "seeds-portrait.mp4")
SECOND = ("offers-h265.mp4", "soil-4-3.mp4")
"""Of another codec, size, rate and shape."""
QUICK = ("--depth", "quick")


def folder(path: Path, names: tuple[str, ...]) -> Path:
    """A folder that stands for a card."""
    path.mkdir()
    for name in names:
        shutil.copy(SAMPLES / name, path)
    return path


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Two cards as folders, and the folder that both are in."""
    monkeypatch.chdir(tmp_path)
    folder(tmp_path / "first", FIRST)
    folder(tmp_path / "second", SECOND)
    return tmp_path


def check(card: str, profile: str, *options: str) -> int:
    """The exit code of a check that counts warnings too."""
    return run(["check", card, "--profile", profile, "--strict", *options])


def test_a_profile_is_learned_and_its_card_passes_it(place: Path, capsys: Capture) -> None:
    before = snapshot(place / "first")
    assert run(["profile", "learn", "first", "--out", "mine.yaml", *QUICK]) == 0
    out, err = capsys.readouterr()
    assert out.startswith("Learned from 1 card:\n  first: 2 files\nWritten: mine.yaml\nRounded to the next")
    assert "\nNo limits yet, and so only comments: loop.items_min, " in out
    assert err == ""
    assert snapshot(place / "first") == before
    assert (check("first", "mine.yaml", *QUICK), check("second", "mine.yaml", *QUICK)) == (0, 1)


def test_a_second_card_widens_the_profile_so_that_both_pass(place: Path, capsys: Capture) -> None:
    assert run(["profile", "learn", "first", "--out", "mine.yaml", *QUICK]) == 0
    edited = (
        Path("mine.yaml").read_text("utf-8").replace("title: Learned", "title: 'Mine: learned'  # by me\n#")
    )
    Path("mine.yaml").write_text(edited, "utf-8")
    widen = ["profile", "learn", "second", "--merge", "mine.yaml", "--out", "mine.yaml", *QUICK]
    capsys.readouterr()
    assert run(widen) == 0
    out = capsys.readouterr().out
    assert "\nWidened:\n  video.codecs: H.264, H.265 now, H.264 before (" in out
    assert (check("first", "mine.yaml", *QUICK), check("second", "mine.yaml", *QUICK)) == (0, 0)
    text = Path("mine.yaml").read_text("utf-8")
    assert "title: 'Mine: learned'  # by me\n" in text
    assert run(widen) == 0
    assert Path("mine.yaml").read_text("utf-8") == text


def test_an_image_teaches_what_the_card_itself_must_be(place: Path) -> None:
    fat_card(place / "card.img", 40 * MIB, {name: (SAMPLES / name).read_bytes() for name in FIRST})
    assert run(["profile", "learn", "card.img", "first", "--out", "mine.yaml", "--jobs", "2"]) == 0
    card = read_profile("mine.yaml").profile.card
    assert (card.file_systems, card.partition_tables) == (("FAT32",), ("none",))
    assert (check("card.img", "mine.yaml"), check("first", "mine.yaml", *QUICK)) == (0, 0)


def test_junk_is_refused_and_nothing_is_written(place: Path, capsys: Capture) -> None:
    (place / "first" / "._clip.mp4").write_bytes(b"\0\5\x16\7" + bytes(4092))
    assert run(["profile", "learn", "first", "second", "--out", "mine.yaml", *QUICK]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith('mediacheck: first: "._clip.mp4": ')
    assert err.count("\n") == 1
    assert "say --even-so" in err
    assert sorted(path.name for path in place.iterdir()) == ["first", "second"]


def test_even_so_goes_on_and_tells_what_is_wrong(place: Path, capsys: Capture) -> None:
    (place / "first" / "._clip.mp4").write_bytes(b"\0\5\x16\7" + bytes(4092))
    assert run(["profile", "learn", "first", "--out", "mine.yaml", "--even-so", *QUICK]) == 1
    out, err = capsys.readouterr()
    assert "Written: mine.yaml" in out
    wrong, unfit = err.splitlines()
    assert wrong.startswith('first: "._clip.mp4": ')
    assert unfit.startswith("first does not pass this profile: ._clip.mp4: ")
    assert read_profile("mine.yaml").profile.video.codecs is not None


def test_a_card_that_a_kept_value_shuts_out_gives_code_1(place: Path, capsys: Capture) -> None:
    assert run(["profile", "learn", "first", "--out", "mine.yaml", *QUICK]) == 0
    text = Path("mine.yaml").read_text("utf-8")
    Path("mine.yaml").write_text(text.replace("frame_rates: [25, 30]", "frame_rates: [25]"), "utf-8")
    capsys.readouterr()
    assert run(["profile", "learn", "second", "--merge", "mine.yaml", "--out", "mine.yaml", *QUICK]) == 1
    out, err = capsys.readouterr()
    assert "\nKept as it was:\n  video.frame_rates stays 25 frames per second as you wrote it; " in out
    assert err.startswith("second does not pass this profile: ")


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["first"], "--out"),
        (["--out", "mine.yaml"], "CARD"),
        (["gone", "--out", "mine.yaml"], "there is nothing at"),
        (["first", "--out", "first/mine.yaml"], "cards are only read"),
        (["first", "--out", "there.yaml"], "there.yaml is there already: choose another name, or widen it"),
    ],
)
def test_wrong_use_is_one_sentence_and_code_2(
    arguments: list[str], says: str, place: Path, capsys: Capture
) -> None:
    Path("there.yaml").write_text("id: there\n")
    assert run(["profile", "learn", *arguments, *QUICK]) == 2
    out, err = capsys.readouterr()
    assert (out, says in err, err.count("\n")) == ("", True, 1)
    assert Path("there.yaml").read_text() == "id: there\n"


def test_help_has_an_example(capsys: Capture) -> None:
    assert run(["profile", "learn", "--help"]) == 0
    assert "Example: mediacheck profile learn" in capsys.readouterr().out


def test_a_merge_that_finds_nothing_new_says_so(place: Path, capsys: Capture) -> None:
    assert run(["profile", "learn", "first", "--out", "mine.yaml", *QUICK]) == 0
    text = Path("mine.yaml").read_bytes()
    capsys.readouterr()
    assert run(["profile", "learn", "first", "--merge", "mine.yaml", "--out", "mine.yaml", *QUICK]) == 0
    assert capsys.readouterr().out.splitlines()[-1] == "Nothing had to be widened."
    assert Path("mine.yaml").read_bytes() == text
