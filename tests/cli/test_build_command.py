"""`mediacheck build` as a person calls it: what is made, what is refused, and what is said."""

from __future__ import annotations

import hashlib
import json
import os
import shlex
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from PIL import Image

from mediacheck.build.fill import Filled
from mediacheck.card.opening import open_card
from mediacheck.check import judged
from mediacheck.cli.app import run
from mediacheck.errors import OutputError
from mediacheck.manifest.record import read_manifest
from tests.cli.building import build, names

Capture = pytest.CaptureFixture[str]


def test_an_image_stands_with_its_sums_and_its_manifest(
    face: Path, profile: str, tmp_path: Path, capsys: Capture
) -> None:
    out = tmp_path / "out" / "frame.img"
    out.parent.mkdir()
    assert build(face, "-p", profile, "--out", out, "--label", "GARDEN") == 0
    told, err = capsys.readouterr()
    assert names(out.parent) == ["frame.img", "frame.img.sha256", "frame.manifest.json"]
    sha256 = hashlib.sha256(out.read_bytes()).hexdigest()
    assert told.startswith("Built:")
    assert sha256 in told
    assert err == ""
    subprocess.run(["sha256sum", "-c", "frame.img.sha256"], cwd=out.parent, check=True, capture_output=True)
    manifest = read_manifest(out.parent / "frame.manifest.json")
    assert manifest.image is not None
    assert (manifest.image.sha256, manifest.image.size_bytes) == (sha256, out.stat().st_size)
    assert (manifest.profile_id, manifest.verdict, manifest.even_so) == ("frame", "pass", False)
    assert manifest.play_order == ("1 pots.jpg", "2 pots.jpg")
    assert manifest.loop_seconds == 10.0
    assert manifest.left_out == (".DS_Store",)
    assert [(f.path, f.sha256, f.kind) for f in manifest.files] == [
        (name, hashlib.sha256((face / name).read_bytes()).hexdigest(), "still")
        for name in ("1 pots.jpg", "2 pots.jpg")
    ]
    card = open_card(out)
    assert [entry.path for entry in card.entries] == ["1 pots.jpg", "2 pots.jpg"]
    assert card.volume is not None
    assert (
        (card.volume.label, card.volume.serial)
        == (manifest.label, manifest.serial)
        == ("GARDEN", manifest.serial)
    )


def test_what_was_built_verifies_and_checks(
    face: Path, profile: str, tmp_path: Path, capsys: Capture
) -> None:
    out = tmp_path / "frame.img"
    assert build(face, "-p", profile, "--out", out, "--label", "GARDEN") == 0
    manifest = str(tmp_path / "frame.manifest.json")
    assert run(["verify", str(out), "--manifest", manifest]) == 0
    assert (
        run(["check", str(out), "-p", profile, "--manifest", manifest, "--json", str(tmp_path / "r.json")])
        == 0
    )
    report = json.loads((tmp_path / "r.json").read_text())
    assert (report["verdict"], report["findings"]) == ("pass", [])
    capsys.readouterr()


def test_content_that_would_fail_is_not_built(
    face: Path, profile: str, tmp_path: Path, capsys: Capture
) -> None:
    Image.new("RGB", (1024, 600)).save(face / "3.jpg", progressive=True)
    out = tmp_path / "out" / "frame.img"
    out.parent.mkdir()
    assert build(face, "-p", profile, "--out", out) == 1
    told, err = capsys.readouterr()
    assert "still-progressive" in told
    assert "nothing was built" in err
    assert names(out.parent) == []


def test_it_is_built_even_so_where_that_is_asked_for(
    face: Path, profile: str, tmp_path: Path, capsys: Capture
) -> None:
    Image.new("RGB", (1024, 600)).save(face / "3.jpg", progressive=True)
    assert build(face, "-p", profile, "--out", tmp_path / "frame.img", "--label", "GARDEN", "--even-so") == 0
    assert "FAILED (1 fault," in " ".join(capsys.readouterr().out.split())
    manifest = read_manifest(tmp_path / "frame.manifest.json")
    assert (manifest.verdict, manifest.even_so) == ("fail", True)
    assert manifest.findings == (("still-progressive", "3.jpg"),)


def test_an_image_that_is_there_is_not_written_over(
    face: Path, profile: str, tmp_path: Path, capsys: Capture
) -> None:
    out = tmp_path / "frame.img"
    out.write_bytes(b"the only copy")
    assert build(face, "-p", profile, "--out", out) == 2
    assert "is there already: choose another name, or write over it with --replace" in capsys.readouterr().err
    assert out.read_bytes() == b"the only copy"
    assert build(face, "-p", profile, "--out", out, "--replace") == 0
    assert open_card(out).unlisted is None


def test_a_mounted_card_is_filled(face: Path, profile: str, tmp_path: Path, capsys: Capture) -> None:
    card = tmp_path / "out" / "card"
    card.mkdir(parents=True)
    assert build(face, "-p", profile, "--out", card) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "Filled and read back:" in told
    assert "order" not in told  # this player goes by name
    assert names(card) == ["1 pots.jpg", "2 pots.jpg"]
    assert names(card.parent) == ["card", "card.manifest.json", "card.sha256"]
    subprocess.run(["sha256sum", "-c", "../card.sha256"], cwd=card, check=True, capture_output=True)
    assert run(["verify", str(card), "--manifest", str(card.parent / "card.manifest.json")]) == 0
    capsys.readouterr()
    (face / "1 pots.jpg").unlink()
    assert build(face, "-p", profile, "--out", card) == 2
    assert build(face, "-p", profile, "--out", card, "--replace") == 0
    assert names(card) == ["2 pots.jpg"]
    capsys.readouterr()


def test_the_order_of_a_list_is_the_order_of_the_disk(
    face: Path, disk_profile: str, tmp_path: Path, capsys: Capture
) -> None:
    order = tmp_path / "order.txt"
    order.write_text("2 pots.jpg\n\n./1 pots.jpg\n")
    out = tmp_path / "frame.img"
    assert build(face, "-p", disk_profile, "--out", out, "--label", "A", "--order", order) == 0
    assert [entry.path for entry in open_card(out).entries] == ["2 pots.jpg", "1 pots.jpg"]
    told = capsys.readouterr().out
    assert told.index("1. 2 pots.jpg") < told.index("2. 1 pots.jpg")


def test_size_and_times_are_kept(face: Path, profile: str, tmp_path: Path, capsys: Capture) -> None:
    out = tmp_path / "frame.img"
    assert build(face, "-p", profile, "--out", out, "--size", "2GB", "--times", "2026-03-01T09:30") == 0
    assert out.stat().st_size == 2 * 10**9
    assert {str(entry.modified) for entry in open_card(out).entries} == {"2026-03-01 09:30:00"}
    capsys.readouterr()


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--out", "OUT/frame"], "name a mounted card, or an image such as OUT/frame.img"),
        (["--out", "OUT/none/frame.img"], "cannot be written: there is no folder OUT/none"),
        (["--out", "FACE/frame.img"], "is only read. Choose another place."),
        (["--out", "OUT", "--size", "8GB"], "--size and --label are for images"),
        (["--out", "OUT/a.img", "--size", "8 apples"], "8 apples"),
        (["--out", "OUT/a.img", "--size", "1MB"], "1,000,000 bytes"),
        (["--out", "OUT/a.img", "--times", "noon"], '--times noon: give "fixed", "files" or a time'),
        (["--out", "OUT/a.img", "--times", "1970-01-01"], "a card knows only the years 1980 to 2107"),
        (["--out", "OUT/a.img", "--order", "OUT/none.txt"], "cannot be read as a list of paths"),
        (["--out", "OUT/a.img", "--order", "FACE/.DS_Store"], "goes by the names of the files"),
        (["--out", "OUT/a.img", "--label", "GARDEN*"], "cannot be written on FAT32: it contains *"),
        (["--out", "OUT/a.img", "--label", "GARDEN CENTRE"], "it is longer than 11 characters"),
    ],
)
def test_bad_input_is_one_sentence_and_leaves_nothing(
    arguments: list[str], words: str, face: Path, profile: str, tmp_path: Path, capsys: Capture
) -> None:
    out = tmp_path / "out"
    out.mkdir()

    def placed(text: str) -> str:
        return text.replace("OUT", str(out)).replace("FACE", str(face))

    assert build(face, "-p", profile, *map(placed, arguments)) == 2
    _, err = capsys.readouterr()
    assert placed(words) in err
    assert err.count("\n") == 1
    assert "Traceback" not in err
    assert names(out) == []


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="rights do not bind the administrator")
def test_a_place_without_rights_is_one_sentence(
    face: Path, profile: str, tmp_path: Path, capsys: Capture
) -> None:
    out = tmp_path / "out"
    out.mkdir(mode=0o500)
    assert build(face, "-p", profile, "--out", out / "a.img") == 2
    assert "you may not write there" in capsys.readouterr().err


@pytest.mark.parametrize(("proven", "said"), [(True, False), (False, True)])
def test_what_may_come_from_memory_is_said_with_what_to_do(
    proven: bool, said: bool, face: Path, profile: str, tmp_path: Path, capsys: Capture
) -> None:
    (tmp_path / "card").mkdir()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("mediacheck.build.fill.forget", lambda *_: proven)
        assert build(face, "-p", profile, "--out", tmp_path / "card") == 0
    told = " ".join(capsys.readouterr().out.split())
    assert ("take the card out, put it in again, and run `mediacheck verify` on it" in told) is said


def test_a_card_in_another_order_is_not_called_right(
    face: Path, disk_profile: str, tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    card = tmp_path / "card"
    card.mkdir()

    def unordered(*arguments: object) -> Filled:
        return Filled(past_cache=True, order=False, left_by_computers=(), removed=())

    monkeypatch.setattr("mediacheck.build.build.fill", unordered)
    assert build(face, "-p", disk_profile, "--out", card) == 1
    told = " ".join(capsys.readouterr().out.split())
    assert told.startswith("Filled, but NOT in the order that was wanted:")
    assert told.endswith("What to do next Format the card and run the same command again.")


def test_a_player_that_goes_by_name_does_not_mind_the_order(
    face: Path, profile: str, tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "card").mkdir()
    done = Filled(past_cache=True, order=False, left_by_computers=(), removed=())
    monkeypatch.setattr("mediacheck.build.build.fill", lambda *_: done)
    assert build(face, "-p", profile, "--out", tmp_path / "card") == 0
    assert capsys.readouterr().out.startswith("Filled and read back:")


def test_what_could_not_be_checked_is_not_built(
    face: Path, profile: str, tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(
        "mediacheck.build.plan.judged", lambda *given: replace(judged(*given), verdict="incomplete")
    )
    assert build(face, "-p", profile, "--out", tmp_path / "a.img") == 3
    assert "nothing was built, since not everything could be checked" in capsys.readouterr().err
    assert not (tmp_path / "a.img").exists()
    assert build(face, "-p", profile, "--out", tmp_path / "a.img", "--even-so") == 0
    assert "NOT SURE (not everything could be checked, full depth)" in " ".join(
        capsys.readouterr().out.split()
    )


@pytest.mark.skipif(os.name == "nt", reason="links")
def test_what_cannot_be_read_is_not_said_to_be_useless(
    face: Path, profile: str, tmp_path: Path, capsys: Capture
) -> None:
    (face / "3 pots.jpg").symlink_to("/nowhere")
    assert build(face, "-p", profile, "--out", tmp_path / "a.img", "--even-so") == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "NOT on the card, since it cannot be read: 3 pots.jpg." in told
    assert "a player has no use for it: .DS_Store." in told


def test_a_place_that_fails_at_the_end_is_told_with_what_to_do(
    face: Path, profile: str, tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    def failing(path: Path, data: str) -> None:
        raise OutputError(f"{path.name} cannot be written: the disk is full")

    monkeypatch.setattr("mediacheck.build.build.write_atomically", failing)
    assert build(face, "-p", profile, "--out", tmp_path / "a.img") == 2
    assert capsys.readouterr().err == (
        "mediacheck: a.manifest.json cannot be written: the disk is full. The card itself is whole, and only "
        "this is missing: see to that place, and run the same command again with --replace.\n"
    )
    assert open_card(tmp_path / "a.img").unlisted is None


def test_the_next_command_is_one_line_that_can_be_copied(
    face: Path, profile: str, tmp_path: Path, capsys: Capture
) -> None:
    card = tmp_path / ("a card with a long name that does not fit into eighty columns" * 3)
    card.mkdir()
    assert build(face, "-p", profile, "--out", card) == 0
    command = shlex.split(capsys.readouterr().out.splitlines()[-1])
    assert command[0] == "mediacheck"
    assert run(command[1:]) == 0


@pytest.mark.skipif(os.name == "nt", reason="POSIX pipes")
@pytest.mark.parametrize(("good", "code"), [(True, 0), (False, 1)])
def test_a_reader_that_leaves_changes_no_exit_code(
    good: bool, code: int, face: Path, profile: str, tmp_path: Path
) -> None:
    if not good:
        Image.new("RGB", (1024, 600)).save(face / "3.jpg", progressive=True)
    command = [sys.executable, "-m", "mediacheck", "build", str(face), "-p", profile, "--out", "a.img"]
    command += ["--jobs", "1"]
    read, write = os.pipe()
    os.close(read)
    with os.fdopen(write, "wb") as closed:
        done = subprocess.run(command, cwd=tmp_path, stdout=closed, stderr=subprocess.PIPE, check=False)
    assert (done.returncode, b"Traceback" in done.stderr) == (code, False)
