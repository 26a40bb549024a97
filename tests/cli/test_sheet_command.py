"""`mediacheck sheet` as a person calls it: which files come out, and what is refused before any work."""

from __future__ import annotations

from pathlib import Path

import pytest
from PIL import Image

from mediacheck.cli.app import run
from tests.cli.test_check_command import snapshot
from tests.test_sheets import DISPLAY, FRAME, card

Capture = pytest.CaptureFixture[str]


@pytest.fixture
def store(tmp_path: Path) -> Path:
    """A display file with its profile, and two cards."""
    (tmp_path / "frame.yaml").write_text(FRAME)
    (tmp_path / "stand.yaml").write_text(DISPLAY)
    card(tmp_path / "aisle", 1, 2)
    card(tmp_path / "window", 3)
    return tmp_path


def called(store: Path, *arguments: str) -> int:
    return run(["sheet", *(argument.format(store=store) for argument in arguments)])


@pytest.mark.parametrize(
    ("name", "begins", "files"),
    [
        ("s.pdf", b"%PDF-1.", ["s.pdf"]),
        ("s.html", b"<!DOCTYPE html>", ["s.html"]),
        ("s.png", b"\x89PNG", ["s.png", "s-2.png", "s-3.png"]),
    ],
)
def test_a_display_is_drawn_as_the_name_ends(
    name: str, begins: bytes, files: list[str], store: Path, capsys: Capture
) -> None:
    before = snapshot(store / "aisle"), snapshot(store / "window")
    arguments = ("{store}/aisle", "window side={store}/window", "--display", "{store}/stand.yaml")
    assert called(store, *arguments, "--out", f"{{store}}/{name}") == 0
    out, err = capsys.readouterr()
    assert out.split() == [str(store / file) for file in files]
    assert err == ""
    for file in files:
        assert (store / file).read_bytes().lstrip().startswith(begins)
    assert (snapshot(store / "aisle"), snapshot(store / "window")) == before


@pytest.mark.parametrize(("paper", "size"), [("a4", (1240, 1754)), ("letter", (1275, 1650))])
def test_cards_without_a_display_need_a_profile(paper: str, size: tuple[int, int], store: Path) -> None:
    arguments = ("{store}/aisle", "{store}/window", "--profile", "{store}/frame.yaml", "--paper", paper)
    assert called(store, *arguments, "--out", "{store}/s.png") == 0
    for name in ("s.png", "s-2.png"):
        with Image.open(store / name) as page:
            assert page.size == size
    assert not (store / "s-3.png").exists()


def test_a_display_without_cards_is_drawn_with_its_words(store: Path) -> None:
    assert called(store, "--display", "{store}/stand.yaml", "--out", "{store}/s.html") == 0
    assert (store / "s.html").read_text("utf-8").count("no card was given for this face") == 3


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("{store}/aisle", "--out", "{store}/s.pdf"), "give --profile, or --display"),
        (("--profile", "{store}/frame.yaml", "--out", "{store}/s.pdf"), "No card was given"),
        (
            (
                "{store}/aisle",
                "-p",
                "{store}/frame.yaml",
                "--display",
                "{store}/stand.yaml",
                "--out",
                "{store}/s.pdf",
            ),
            "leave --profile out",
        ),
        (
            ("{store}/aisle", "-p", "{store}/frame.yaml", "--out", "{store}/s.doc"),
            "ends in .png, .pdf or .html",
        ),
        (("{store}/aisle", "-p", "{store}/frame.yaml", "--out", "{store}/none/s.pdf"), "there is no folder"),
        (("{store}/aisle", "-p", "{store}/frame.yaml", "--out", "{store}/aisle/s.pdf"), "is only read"),
        (("{store}/absent", "-p", "{store}/frame.yaml", "--out", "{store}/s.pdf"), "absent"),
        (
            ("a", "b", "c", "d", "--display", "{store}/stand.yaml", "--out", "{store}/s.pdf"),
            "There is no face left for the card 'd'",
        ),
        (("--display", "{store}/absent.yaml", "--out", "{store}/s.pdf"), "absent.yaml"),
    ],
)
def test_what_cannot_be_done_is_said_in_one_sentence(
    arguments: tuple[str, ...], said: str, store: Path, capsys: Capture
) -> None:
    assert called(store, *arguments) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert said in err
    assert "Traceback" not in err
    assert not [path for path in store.iterdir() if path.name.startswith("s.")]
