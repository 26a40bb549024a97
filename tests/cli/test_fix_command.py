"""`mediacheck fix` as a person runs it: what it prints, which code it leaves with, what it refuses."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from tests.repair.films import Film

PROFILE = """
id: garden
screen: {width: 320, height: 180}
video: {containers: [MP4], codecs: {H.264: {}}, width: 320, height: 180, frame_rates: [25]}
"""
SHORT = Film(picture="testsrc2=s=320x180:r=25:d=1", tone=None)


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Masters and a profile. For reading only."""
    folder = tmp_path_factory.mktemp("fix")
    (folder / "masters").mkdir()
    replace(SHORT, wrapping=()).make(folder / "masters" / "a.mp4")
    replace(SHORT, video=("-c:v", "mpeg4", "-q:v", "3"), wrapping=()).make(folder / "masters" / "b.mov")
    (folder / "garden.yaml").write_text(PROFILE, "utf-8")
    return folder


def fix(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "mediacheck", "fix", *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, encoding="utf-8", check=False)


def test_a_plan_and_then_the_copy(place: Path, tmp_path: Path) -> None:
    profile = ("--profile", place / "garden.yaml")
    plan = fix(place / "masters", *profile, "--plan")
    assert (plan.returncode, plan.stderr) == (0, "")
    assert "wrapped anew: a.mp4" in plan.stdout
    assert "encoded again: b.mov -> b.mp4" in plan.stdout
    done = fix(place / "masters", *profile, "--out", tmp_path / "ready")
    assert (done.returncode, done.stderr) == (0, "")
    assert "FIXED: all 2 files pass their check." in done.stdout
    assert sorted(path.name for path in (tmp_path / "ready").iterdir()) == ["a.mp4", "b.mp4"]
    record = json.loads((tmp_path / "ready.fix-report.json").read_text("utf-8"))
    assert record["verdict"] == "pass"
    assert "Before" in (tmp_path / "ready.fix-report.html").read_text("utf-8")
    again = fix(place / "masters", *profile, "--out", tmp_path / "ready")
    assert again.stdout.startswith("DONE ALREADY: all 2 files are there and right.")


def test_what_cannot_be_mended_leaves_with_1(place: Path, tmp_path: Path) -> None:
    (tmp_path / "masters").mkdir()
    (tmp_path / "masters" / "a.mp4").write_bytes((place / "masters" / "a.mp4").read_bytes())
    (tmp_path / "masters" / "b.mp4").write_bytes(b"no film at all" * 100)
    done = fix(tmp_path / "masters", "--profile", place / "garden.yaml", "--out", tmp_path / "ready")
    assert done.returncode == 1
    assert "NOT ALL FIXED" in done.stdout
    assert "b.mp4" in done.stdout
    assert [path.name for path in (tmp_path / "ready").iterdir()] == ["a.mp4"]


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (("masters", "--profile", "garden.yaml"), "give --out FOLDER, or --plan"),
        (("nowhere", "--profile", "garden.yaml", "--plan"), "nothing at"),
        (("", "--profile", "garden.yaml", "--plan"), "No source was given"),
        (("masters", "--profile", "nothing.yaml", "--plan"), "nothing.yaml"),
        (("masters", "--profile", "garden.yaml", "--profile", "garden.yaml", "--plan"), "given twice"),
        (("masters", "--profile", "garden.yaml", "--out", "masters/ready"), "is only read"),
        (("masters", "--profile", "garden.yaml", "--out", "ready", "--size", "much"), "much"),
        (("masters", "--profile", "garden.yaml", "--out", "ready", "--quality-floor", "101"), "equal to 100"),
        (("masters", "--profile", "garden.yaml", "--out", "ready", "--fit", "squeeze"), "squeeze"),
    ],
)
def test_wrong_use_is_one_sentence(place: Path, arguments: tuple[str, ...], sentence: str) -> None:
    command = [sys.executable, "-m", "mediacheck", "fix", *arguments]
    done = subprocess.run(command, cwd=place, capture_output=True, text=True, encoding="utf-8", check=False)
    assert done.returncode == 2
    assert sentence in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1
    assert done.stdout == ""
    assert sorted(path.name for path in place.iterdir()) == ["garden.yaml", "masters"]


def test_help_has_an_example() -> None:
    said = fix("--help").stdout
    assert "mediacheck fix masters --profile basic-1080p --plan" in said
