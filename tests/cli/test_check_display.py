"""`mediacheck check --display --face`: cards that were built, in the right player and in the wrong one."""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest

from mediacheck.cli.app import run

Capture = pytest.CaptureFixture[str]
SAMPLES = Path(__file__).parents[2] / "sample_media"
PLAYER = """
id: any
player: {order: disk}
card: {file_systems: [FAT32], partition_tables: [MBR]}
rules: {container-index: off, loop-seam: off, picture-black: off}
"""
DISPLAY = """
id: loam
title: Loam & Lantern
faces:
  - name: aisle side
    profile: any.yaml
    card_label: AISLE
    loop:
      version: 3
      manifest: aisle.manifest.json
      earlier: [{version: 2, manifest: aisle-2.manifest.json}]
  - name: window side
    profile: any.yaml
    loop: {manifest: window.manifest.json}
  - {name: back, profile: any.yaml}
"""
FACES = "Its faces are: aisle side, window side, back."
CARDS = {
    "aisle": ("watering-landscape.mp4", "offers-h265.mp4"),
    "aisle-2": ("watering-landscape.mp4",),
    "window": ("seeds-portrait.mp4", "offers-h265.mp4"),
}
"""Both faces share an item."""


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The display, its profile, and the images and manifests of three cards. For reading only."""
    folder = tmp_path_factory.mktemp("store")
    (folder / "any.yaml").write_text(PLAYER)
    (folder / "display.yaml").write_text(DISPLAY)
    for name, clips in CARDS.items():
        content = folder / name
        content.mkdir()
        for clip in clips:
            shutil.copy(SAMPLES / clip, content)
        out = str(folder / f"{name}.img")
        assert run(["build", str(content), "-p", str(folder / "any.yaml"), "--out", out, "--jobs", "1"]) == 0
    return folder


def check(store: Path, card: Path | str, face: str, *options: str) -> int:
    display = str(store / "display.yaml")
    return run(["check", str(store / card), "--display", display, "--face", face, "--jobs", "1", *options])


def found(store: Path, card: Path | str, face: str, capsys: Capture, depth: str = "quick") -> dict[str, Any]:
    """The record of a check, without what is not about the face."""
    capsys.readouterr()
    code = check(store, card, face, "--json", "-", "--depth", depth)
    record: dict[str, Any] = json.loads(capsys.readouterr().out)
    rules = ("loop-wrong-face", "loop-outdated")
    return {
        "code": code,
        "verdict": record["verdict"],
        "display": (record["display"], record["face"]),
        "findings": [(one["rule"], one["found"]) for one in record["findings"]],
        "not_checked": [one["rule"] for one in record["not_checked"] if one["rule"] in rules],
        "hashed": all(file["sha256"] for file in record["files"]),
    }


def answer(code: int, verdict: str, *findings: tuple[str, str], **changes: Any) -> dict[str, Any]:
    return {
        "code": code,
        "verdict": verdict,
        "display": ("loam", "aisle side"),
        "findings": list(findings),
        "not_checked": [],
        "hashed": True,
        **changes,
    }


@pytest.mark.parametrize("depth", ["quick", "full"])
def test_the_right_card_passes_as_image_and_as_folder(depth: str, store: Path, capsys: Capture) -> None:
    for card in ("aisle.img", "aisle"):
        assert found(store, card, "Aisle Side", capsys, depth) == answer(0, "pass")
    window = answer(0, "pass", display=("loam", "window side"))
    assert found(store, "window.img", "window side", capsys, depth) == window


@pytest.mark.parametrize("card", ["window.img", "window"])
def test_the_card_of_the_other_face_fails_at_quick_depth(card: str, store: Path, capsys: Capture) -> None:
    assert found(store, card, "aisle side", capsys) == answer(
        1, "fail", ("loop-wrong-face", "the loop of the window side")
    )


def test_the_terminal_says_what_to_do(store: Path, capsys: Capture) -> None:
    capsys.readouterr()
    assert check(store, "window.img", "aisle side", "--depth", "quick") == 1
    told = " ".join(capsys.readouterr().out.split())
    assert "Display loam, face aisle side" in told
    assert "This card carries the loop of the window side: the aisle side would show the wrong film." in told
    assert "Put this card into the player of the window side, and look for the card labelled AISLE." in told


def test_an_earlier_version_is_a_warning(store: Path, capsys: Capture) -> None:
    assert found(store, "aisle-2.img", "aisle side", capsys) == answer(
        0, "warn", ("loop-outdated", "version 2")
    )
    assert check(store, "aisle-2.img", "aisle side", "--depth", "quick", "--strict") == 1


def test_what_was_encoded_again_is_known_by_its_pictures(
    store: Path, tmp_path: Path, ffmpeg: str, capsys: Capture
) -> None:
    smaller = [
        "-vf",
        "scale=640:360",
        "-c:v",
        "libx264",
        "-crf",
        "34",
        "-preset",
        "ultrafast",
        "-c:a",
        "copy",
    ]
    for clip in ("watering-landscape.mp4", "seeds-portrait.mp4"):
        (tmp_path / clip).mkdir()
        command = [ffmpeg, "-v", "error", "-i", str(SAMPLES / clip), *smaller, str(tmp_path / clip / clip)]
        subprocess.run(command, check=True, timeout=60)
    again = '"watering-landscape.mp4" shows the same pictures in other files; "offers-h265.mp4" is missing'
    assert found(store, tmp_path / "watering-landscape.mp4", "aisle side", capsys, "full") == answer(
        0, "warn", ("loop-outdated", again)
    )
    assert found(store, tmp_path / "seeds-portrait.mp4", "aisle side", capsys, "full") == answer(
        1, "fail", ("loop-wrong-face", "the loop of the window side")
    )


def test_a_loop_that_is_not_known_is_incomplete_at_quick_depth_and_wrong_at_full(
    store: Path, tmp_path: Path, capsys: Capture
) -> None:
    shutil.copy(SAMPLES / "soil-4-3.mp4", tmp_path)
    both = ["loop-wrong-face", "loop-outdated"]
    assert found(store, tmp_path, "aisle side", capsys) == answer(3, "incomplete", not_checked=both)
    assert found(store, tmp_path, "aisle side", capsys, "full") == answer(
        1, "fail", ("loop-wrong-face", "none of the display's loops")
    )


def test_a_face_of_which_no_loop_is_said_passes_and_says_so(store: Path, capsys: Capture) -> None:
    both = ["loop-wrong-face", "loop-outdated"]
    assert found(store, "aisle.img", "back", capsys) == answer(
        0, "pass", display=("loam", "back"), not_checked=both
    )


def test_the_manifest_of_the_face_is_not_held_against_every_file(
    store: Path, tmp_path: Path, capsys: Capture
) -> None:
    """A note on the card is no fault of the loop; with --manifest, it is one of the copy."""
    shutil.copytree(store / "aisle", tmp_path / "card")
    (tmp_path / "card" / "note.txt").write_text("left shelf")
    assert found(store, tmp_path / "card", "aisle side", capsys) == answer(0, "pass")
    manifest = ("--manifest", str(store / "aisle.manifest.json"))
    assert check(store, tmp_path / "card", "aisle side", "--depth", "quick", *manifest) == 1
    assert "manifest-extra" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ([], "What the player takes was not said: give --profile, or --display with --face."),
        (["--face", "aisle side"], "--face needs the display file that it is a face of: --display FILE."),
        (
            ["--display", "{store}/display.yaml", "--face", "back", "-p", "basic-1080p"],
            "With --display, the face says which profile it has: leave --profile out.",
        ),
        (
            ["--display", "{store}/display.yaml"],
            f"display.yaml has 3 faces: say with --face which one it is. {FACES}",
        ),
        (
            ["--display", "{store}/display.yaml", "--face", "isle side"],
            f'has no face named "isle side"; did you mean "aisle side"? {FACES}',
        ),
        (
            ["--display", "{store}/gone.yaml", "--face", "back"],
            "expected a file, found no file of this name.",
        ),
        (["--display", "{store}/any.yaml", "--face", "back"], "line 3: player: expected a key that is known"),
        (
            [
                "--display",
                "{store}/display.yaml",
                "--face",
                "back",
                "--json",
                "{store}/aisle-2.manifest.json",
            ],
            "is only read",
        ),
        (
            ["--display", "{store}/display.yaml", "--face", "back", "--html", "{store}/display.yaml"],
            "is only read",
        ),
    ],
)
def test_wrong_use_is_told_with_code_2(arguments: list[str], says: str, store: Path, capsys: Capture) -> None:
    capsys.readouterr()
    before = (store / "display.yaml").read_bytes()
    given = [argument.format(store=store) for argument in arguments]
    assert run(["check", str(store / "aisle"), *given]) == 2
    out, err = capsys.readouterr()
    assert (out, says in err, "Traceback" in err) == ("", True, False), err
    assert (store / "display.yaml").read_bytes() == before
