"""Builds that are killed at any moment: no file under its final name that is not complete."""

from __future__ import annotations

import hashlib
import random
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

import pytest

from mediacheck.build.there import STAGING
from mediacheck.manifest.record import read_manifest
from tests.build import made
from tests.build.killed_builds import build

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="needs fork and signals")
LARGE = {**made.FACE, "04 Lawn.mp4": random.Random(4).randbytes(6 << 20)}
OLD = {"old.mp4": b"last year"}


@contextmanager
def killer(kind: str, source: Path, out: Path) -> Iterator[tuple[IO[str], IO[str]]]:
    command = [sys.executable, "-m", "tests.build.killed_builds", kind, str(source), str(out)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdin
        assert process.stdout
        yield process.stdin, process.stdout


def lasts_s(kind: str, source: Path, out: Path) -> float:
    """How long a whole build takes, after one to warm up."""
    for _ in range(2):
        begun = time.monotonic()
        build(kind, source, out)
        took = time.monotonic() - begun
        shutil.rmtree(out.parent)
        out.parent.mkdir()
        if kind == "folder":
            out.mkdir()
    return took


def delays_s(count: int, seconds: float, seed: int) -> list[float]:
    """So many: two that end it at once, two that let it end by itself, and random ones between."""
    chance = random.Random(seed)
    return [0.0, 0.0, 120.0, 120.0, *(chance.uniform(0, seconds) for _ in range(count - 4))]


def sha256_of(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def require_whole_or_nothing(folder: Path, hashes: dict[str, str]) -> str:
    """What is left of a killed build is the old image, or the new one, or none; what tells of it is true."""
    names = {path.name for path in folder.iterdir() if not path.name.endswith(".partial")}
    assert names <= {"card.img", "card.img.sha256", "card.manifest.json"}
    if "card.img" not in names:
        assert names == set()
        return "nothing"
    found = sha256_of(folder / "card.img")
    assert found in hashes
    if "card.img.sha256" in names:
        assert (folder / "card.img.sha256").read_text() == f"{found}  card.img\n"
    if "card.manifest.json" in names:
        image = read_manifest(folder / "card.manifest.json").image
        assert image is not None
        assert image.sha256 == found
    return hashes[found] if "card.manifest.json" in names else f"{hashes[found]} alone"


@pytest.mark.parametrize("part", range(2))
def test_an_image_is_there_whole_or_not_at_all(part: int, tmp_path: Path) -> None:
    """140 builds, each killed at a random moment of its life; half of them over an image that is there."""
    source, before = made.folder_of(tmp_path / "face", LARGE), made.folder_of(tmp_path / "before", OLD)
    out = tmp_path / "out" / "card.img"
    out.parent.mkdir()
    seconds = lasts_s("image", source, out)
    hashes, left = {}, set()
    for name, folder in (("new", source), ("old", before)):
        build("image", folder, out)
        hashes[sha256_of(out)] = name
    with killer("image", source, out) as (orders, answers):
        for number, delay_s in enumerate(delays_s(70, seconds, part)):
            shutil.rmtree(out.parent)
            out.parent.mkdir()
            if number % 2:
                build("image", before, out)
            orders.write(f"{delay_s}\n")
            orders.flush()
            assert answers.readline() in ("killed\n", "done\n")
            left.add(require_whole_or_nothing(out.parent, hashes))
    assert {"nothing", "old", "new"} <= left
    build("image", source, out)
    assert require_whole_or_nothing(out.parent, hashes) == "new"
    assert [path.name for path in out.parent.iterdir() if path.name.endswith(".img.partial")] == []


def test_a_filled_card_has_whole_files_only(tmp_path: Path) -> None:
    """60 cards, each killed at a random moment while it is filled."""
    source, out = made.folder_of(tmp_path / "face", LARGE), tmp_path / "out" / "card"
    out.mkdir(parents=True)
    seconds, counts = lasts_s("folder", source, out), set()
    with killer("folder", source, out) as (orders, answers):
        for delay_s in delays_s(60, seconds, 3):
            orders.write(f"{delay_s}\n")
            orders.flush()
            assert answers.readline() in ("killed\n", "done\n")
            named = [p for p in out.rglob("*") if p.is_file() and STAGING not in p.relative_to(out).parts]
            for path in named:
                assert path.read_bytes() == LARGE[path.relative_to(out).as_posix()]
            assert all(path.suffix == ".partial" for path in out.glob(f"{STAGING}/*"))
            counts.add(len(named))
            if named:
                shutil.rmtree(out)
                out.mkdir()
    assert {0, len(LARGE)} <= counts
