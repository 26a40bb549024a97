"""`mediacheck verify` as a person calls it: exit codes, what goes where, and that no card is touched."""

from __future__ import annotations

import hashlib
import json
import subprocess
from pathlib import Path

import pytest

from mediacheck.cli.app import run
from mediacheck.manifest.record import manifest_text
from tests.card.filled import fat_card, overwrite, sized
from tests.cli.test_check_command import snapshot
from tests.manifest.make import manifest_of
from tests.report.make import one_line

Capture = pytest.CaptureFixture[str]
FILES = {"a.mp4": b"water", "Spring/b.mp4": b"seeds"}


@pytest.fixture
def card(tmp_path: Path) -> Path:
    """A folder with these files."""
    for path, content in FILES.items():
        (tmp_path / "card" / path).parent.mkdir(exist_ok=True, parents=True)
        (tmp_path / "card" / path).write_bytes(content)
    return tmp_path / "card"


@pytest.fixture
def manifest(tmp_path: Path) -> Path:
    """Of these files."""
    path = tmp_path / "card.manifest.json"
    path.write_text(manifest_text(manifest_of(FILES)), "utf-8")
    return path


def test_a_right_card_gives_code_0_and_is_not_touched(card: Path, manifest: Path, capsys: Capture) -> None:
    before = snapshot(card)
    assert run(["verify", str(card), "--manifest", str(manifest)]) == 0
    out, err = capsys.readouterr()
    assert out.startswith("RIGHT: both files are right.\n")
    assert err == ""
    assert snapshot(card) == before


def test_a_changed_file_gives_code_1_and_is_named(card: Path, manifest: Path, capsys: Capture) -> None:
    (card / "a.mp4").write_bytes(b"Water")
    assert run(["verify", str(card), "-m", str(manifest)]) == 1
    text = one_line(capsys.readouterr().out)
    assert text.startswith("NOT RIGHT: 1 file is changed; 1 file is right.")
    assert "CHANGED a.mp4 (it has the right size and other contents)" in text


def test_what_a_computer_left_gives_code_0(card: Path, manifest: Path) -> None:
    (card / ".DS_Store").write_bytes(b"m")
    assert run(["verify", str(card), "-m", str(manifest)]) == 0
    (card / "c.mp4").write_bytes(b"c")
    assert run(["verify", str(card), "-m", str(manifest)]) == 1


def test_a_card_that_cannot_be_listed_gives_code_3(tmp_path: Path, manifest: Path, capsys: Capture) -> None:
    image = sized(tmp_path / "card.img", 1 << 20)
    assert run(["verify", str(image), "-m", str(manifest)]) == 3
    assert capsys.readouterr().out.startswith("NOT SURE: nothing could be compared.\n")


def test_the_record_goes_to_a_file_or_is_printed(
    card: Path, manifest: Path, tmp_path: Path, capsys: Capture
) -> None:
    place = tmp_path / "result.json"
    assert run(["verify", str(card), "-m", str(manifest), "--json", str(place)]) == 0
    capsys.readouterr()
    assert run(["verify", str(card), "-m", str(manifest), "--json", "-"]) == 0
    printed, written = json.loads(capsys.readouterr().out), json.loads(place.read_text("utf-8"))
    unlike = {"seconds": 0, "verified_at": ""}
    assert printed | unlike == written | unlike
    assert written["manifest"] == {
        "source": str(manifest),
        "sha256": hashlib.sha256(manifest.read_bytes()).hexdigest(),
    }
    assert (written["verdict"], written["right"]) == ("pass", ["a.mp4", "Spring/b.mp4"])


def test_a_list_made_by_sha256sum_serves(card: Path, tmp_path: Path, capsys: Capture) -> None:
    listed = tmp_path / "card.sha256"
    with listed.open("wb") as file:
        subprocess.run("find . -type f | xargs sha256sum", shell=True, cwd=card, stdout=file, check=True)
    assert run(["verify", str(card), "-m", str(listed)]) == 0
    text = one_line(capsys.readouterr().out)
    assert (
        "sizes, empty folders and the order of the files: a plain list of checksums does not tell them"
        in text
    )


def test_the_list_beside_an_image_serves(tmp_path: Path, capsys: Capture) -> None:
    image = fat_card(tmp_path / "card.img", files=FILES)
    listed = tmp_path / "card.img.sha256"
    with listed.open("wb") as file:
        subprocess.run(["sha256sum", "card.img"], cwd=tmp_path, stdout=file, check=True)
    assert run(["verify", str(image), "-m", str(listed)]) == 0
    assert capsys.readouterr().out.startswith("RIGHT: every byte of the card is right.\n")
    overwrite(image, 20 << 20, b"x")
    assert run(["verify", str(image), "-m", str(listed)]) == 1


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["verify", "{card}"], "Missing option '--manifest' / '-m'"),
        (["verify", " ", "-m", "{manifest}"], "No card was given"),
        (["verify", "{card}/nothing", "-m", "{manifest}"], "there is nothing at"),
        (["verify", "{card}", "-m", "{card}"], "cannot be read: it is a folder. Give the manifest that was"),
        (
            ["verify", "{card}", "-m", "{card}/a.mp4"],
            "is no manifest and no list of SHA-256: see line 1. Give",
        ),
        (["verify", "{card}", "-m", "{manifest}", "--json", "{card}/x.json"], "is only read"),
        (["verify", "{card}", "-m", "{manifest}", "--json", "{manifest}"], "is only read"),
    ],
)
def test_wrong_use_is_told_in_one_line(
    arguments: list[str], told: str, card: Path, manifest: Path, capsys: Capture
) -> None:
    assert run([each.format(card=card, manifest=manifest) for each in arguments]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert told in err
    assert err.startswith("mediacheck: ")
    assert err.count("\n") == 1
