"""Where `mediacheck build` writes and where never: the source, the card, what tells of another card."""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

import pytest

from mediacheck.cli.app import run
from mediacheck.manifest.record import read_manifest
from tests.cli.building import build, names

Capture = pytest.CaptureFixture[str]


def trees(folder: Path) -> dict[str, bytes]:
    """All files below, with what is in them."""
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


@pytest.mark.skipif(os.name == "nt", reason="links")
def test_a_source_is_never_filled(face: Path, profile: str, tmp_path: Path, capsys: Capture) -> None:
    """Not even where a manifest says that all of it may go."""
    manifest = tmp_path / "beside.json"
    (face / ".DS_Store").unlink()
    assert build(face, "-p", profile, "--out", tmp_path / "a.img", "--manifest", manifest) == 0
    (face / "inner").mkdir()
    (tmp_path / "link").symlink_to(face, target_is_directory=True)
    before = trees(tmp_path)
    for out, words in (
        ("face", "face is only read"),
        ("face/inner", "face is only read"),
        (".", "face lies on it, and is only read"),
        ("link", "face is only read"),
    ):
        for more in ([], ["--replace"]):
            assert build(face, "-p", profile, "--out", tmp_path / out, "--manifest", manifest, *more) == 2
            assert words in capsys.readouterr().err
            assert trees(tmp_path) == before


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--out", "OUT/a.img", "--manifest", "OUT/a.img"], "name another with --manifest"),
        (["--out", "OUT/a.img", "--manifest", "OUT/a.img.sha256"], "name another with --manifest"),
        (["--out", "OUT/a.img", "--manifest", "FACE/m.json"], "is only read"),
        (["--out", "OUT/a.img", "--manifest", "OUT"], "there is a folder of that name"),
        (["--out", "OUT/a.img", "--manifest", "OUT/no/m.json"], "there is no folder OUT/no"),
        (["--out", "OUT/a.img", "--manifest", ".."], "name a file, such as card.manifest.json"),
        (["--out", "OUT", "--manifest", "OUT/m.json"], "it would lie on the card"),
        (["--out", "OUT", "--manifest", "OUT/../no/m.json"], "there is no folder"),
        (["--out", "OUT", "--manifest", "FACE/m.json"], "is only read"),
        (["--out", ""], "No place for the card was given"),
        (["--out", "/dev/null"], "is a raw device: build an image"),
    ],
)
def test_a_place_that_cannot_be_is_told_before_the_check(
    arguments: list[str],
    words: str,
    face: Path,
    profile: str,
    tmp_path: Path,
    capsys: Capture,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    out = tmp_path / "out"
    out.mkdir()
    monkeypatch.setattr("mediacheck.build.build.survey", None)
    before = trees(tmp_path)

    def placed(text: str) -> str:
        return text.replace("OUT", str(out)).replace("FACE", str(face))

    assert build(face, "-p", profile, *map(placed, arguments), "--replace") == 2
    assert placed(words) in capsys.readouterr().err
    assert trees(tmp_path) == before


@pytest.mark.parametrize("locked", ["card", "here"])
def test_a_place_without_rights_is_told_before_the_check(
    locked: str, face: Path, profile: str, tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "card").mkdir()
    (tmp_path / "here").mkdir()
    monkeypatch.setattr("mediacheck.build.build.survey", None)
    monkeypatch.setattr(os, "access", lambda path, _: Path(path).name != locked)
    manifest = tmp_path / "here" / "m.json"
    assert build(face, "-p", profile, "--out", tmp_path / "card", "--manifest", manifest) == 2
    assert "you may not write there, or it is write-protected" in capsys.readouterr().err


def test_a_card_that_is_not_empty_is_told_before_the_check(
    face: Path, profile: str, tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    card = tmp_path / "card"
    card.mkdir()
    (card / "holiday.jpg").write_bytes(b"mine")
    monkeypatch.setattr("mediacheck.build.build.survey", None)
    assert build(face, "-p", profile, "--out", card) == 2
    assert capsys.readouterr().err == (
        f"mediacheck: {card} is not empty (holiday.jpg). "
        "Format the card, or use --replace to remove what its manifest lists.\n"
    )


@pytest.mark.parametrize("left", ["a.manifest.json", "a.img.sha256"])
def test_what_tells_of_another_image_is_not_written_over(
    left: str, face: Path, profile: str, tmp_path: Path, capsys: Capture
) -> None:
    (tmp_path / left).write_bytes(b"of an image that is elsewhere now")
    assert build(face, "-p", profile, "--out", tmp_path / "a.img") == 2
    assert f"{left} is there already" in capsys.readouterr().err
    assert (tmp_path / left).read_bytes() == b"of an image that is elsewhere now"
    assert build(face, "-p", profile, "--out", tmp_path / "a.img", "--replace") == 0
    assert run(["verify", str(tmp_path / "a.img"), "-m", str(tmp_path / "a.manifest.json")]) == 0


def test_many_cards_of_one_face_have_one_manifest_and_another_face_another(
    face: Path, profile: str, tmp_path: Path, capsys: Capture
) -> None:
    card = tmp_path / "card"
    for _ in range(2):
        card.mkdir()
        assert build(face, "-p", profile, "--out", card) == 0
        assert run(["verify", str(card), "-m", str(tmp_path / "card.manifest.json")]) == 0
        shutil.rmtree(card)
    before = (tmp_path / "card.manifest.json").read_bytes()
    (face / "1 pots.jpg").unlink()
    card.mkdir()
    assert build(face, "-p", profile, "--out", card) == 2
    assert "is there already, and not of this card: name another place" in capsys.readouterr().err
    assert (tmp_path / "card.manifest.json").read_bytes() == before
    assert names(card) == []
    assert build(face, "-p", profile, "--out", card, "--manifest", tmp_path / "new.manifest.json") == 0
    assert names(tmp_path) == sorted(
        ["card", "card.manifest.json", "card.sha256", "face", "frame.yaml", "new.manifest.json", "new.sha256"]
    )


def test_the_sums_of_an_image_stay_beside_it(
    face: Path, profile: str, tmp_path: Path, capsys: Capture
) -> None:
    (tmp_path / "out").mkdir()
    out, manifest = tmp_path / "out" / "a.img", tmp_path / "told.json"
    assert build(face, "-p", profile, "--out", out, "--manifest", manifest) == 0
    assert names(tmp_path / "out") == ["a.img", "a.img.sha256"]
    assert read_manifest(manifest).image is not None
    subprocess.run(["sha256sum", "-c", "a.img.sha256"], cwd=out.parent, check=True, capture_output=True)


@pytest.mark.parametrize("place", [".", ".."])
def test_the_current_folder_may_be_a_card_but_holds_no_manifest(
    place: str, face: Path, profile: str, tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    card = tmp_path / "out" / "card"
    card.mkdir(parents=True)
    (card / ".Trashes").mkdir()
    monkeypatch.chdir(card / ".Trashes" if place == ".." else card)
    assert build(face, "-p", profile, "--out", place) == 0
    assert names(card) == [".Trashes", "1 pots.jpg", "2 pots.jpg"]
    assert names(card.parent) == ["card", "card.manifest.json", "card.sha256"]


def as_drive(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = os.path.ismount
    monkeypatch.setattr(os.path, "ismount", lambda path: real(path) or Path(path) == folder)


def test_nothing_of_ours_stands_beside_a_drive(
    face: Path, profile: str, tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    drive, here = tmp_path / "media" / "WINDOW", tmp_path / "here"
    drive.mkdir(parents=True)
    here.mkdir()
    as_drive(drive, monkeypatch)
    monkeypatch.chdir(drive)
    assert build(face, "-p", profile, "--out", drive) == 2
    assert (
        "card-face.sha256 cannot be written: it would lie on the card. Name another place with --manifest."
        in (capsys.readouterr().err)
    )
    monkeypatch.chdir(here)
    assert build(face, "-p", profile, "--out", drive) == 0
    assert names(here) == ["card-face.manifest.json", "card-face.sha256"]
    assert names(drive.parent) == ["WINDOW"]
    assert names(drive) == ["1 pots.jpg", "2 pots.jpg"]
    assert run(["verify", str(drive), "--manifest", "card-face.manifest.json"]) == 0
