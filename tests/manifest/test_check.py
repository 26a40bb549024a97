"""`mediacheck check --manifest`: every file is hashed at any depth, and the report names what differs."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from mediacheck.cli.app import run
from mediacheck.manifest.record import manifest_text
from tests.manifest.make import manifest_of

Capture = pytest.CaptureFixture[str]
CLIPS = Path(__file__).parents[2] / "sample_media"


@pytest.fixture
def card(tmp_path: Path) -> Path:
    """A folder with two clips."""
    (tmp_path / "card").mkdir()
    for clip in sorted(CLIPS.glob("*.mp4"))[:2]:
        shutil.copy(clip, tmp_path / "card")
    return tmp_path / "card"


@pytest.fixture
def manifest(card: Path, tmp_path: Path) -> Path:
    """Of these clips."""
    path = tmp_path / "card.manifest.json"
    files = {clip.name: clip.read_bytes() for clip in sorted(card.iterdir())}
    path.write_text(manifest_text(manifest_of(files)), "utf-8")
    return path


def by_manifest(
    card: Path, manifest: Path, capsys: Capture, depth: str = "quick"
) -> tuple[set[tuple[str, str]], bool]:
    """Rule and file of each finding of the manifest, and whether all files were hashed."""
    arguments = ["--profile", "basic-1080p", "--depth", depth, "--json", "-", "--jobs", "1"]
    run(["check", str(card), *arguments, "--manifest", str(manifest)])
    report = json.loads(capsys.readouterr().out)
    hashed = all(file["sha256"] for file in report["files"])
    found = {
        (each["rule"], each["path"]) for each in report["findings"] if each["rule"].startswith("manifest-")
    }
    return found, hashed


def test_a_card_as_it_was_built_has_no_finding(card: Path, manifest: Path, capsys: Capture) -> None:
    assert by_manifest(card, manifest, capsys) == (set(), True)


@pytest.mark.parametrize("depth", ["quick", "full"])
def test_every_difference_is_found_at_any_depth(
    depth: str, card: Path, manifest: Path, capsys: Capture
) -> None:
    changed, missing = sorted(card.iterdir())
    content = bytearray(changed.read_bytes())
    content[-1] ^= 1
    changed.write_bytes(content)
    missing.rename(card / "moved.mp4")
    found, hashed = by_manifest(card, manifest, capsys, depth)
    assert found == {
        ("manifest-changed", changed.name),
        ("manifest-missing", missing.name),
        ("manifest-extra", "moved.mp4"),
    }
    assert hashed


def test_a_list_that_cannot_serve_is_told_before_the_check(
    card: Path, tmp_path: Path, capsys: Capture
) -> None:
    listed = tmp_path / "card.img.sha256"
    listed.write_text(f"{'0' * 64}  card.img\n")
    assert run(["check", str(card), "--profile", "basic-1080p", "--manifest", str(listed)]) == 2
    assert capsys.readouterr().err == (
        "mediacheck: this list of checksums is of the image card.img, and tells nothing of the files on a "
        "card. Give the manifest (.manifest.json) that stands beside it.\n"
    )
