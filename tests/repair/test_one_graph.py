"""Several outputs of one master go through one graph: a new ffmpeg stops for good where each has its own."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from mediacheck.repair.model import Made, Recipe
from mediacheck.repair.one_graph import in_one_graph, is_needed
from mediacheck.repair.task import Task
from mediacheck.repair.work import convert, convert_together
from mediacheck.which_ffmpeg import Program, find_ffmpeg
from tests.repair.masters import ENCODED, FPS, PICTURE, facts_of, master, task

PROGRAMS = tuple({found.path: found for found in (find_ffmpeg(), find_ffmpeg(lambda _: None))}.values())
BOTH = pytest.mark.parametrize("ffmpeg", PROGRAMS, ids=lambda found: found.version[:12])
SHOWN = ("-map", "0:V:0")
IN = ("-i", "a.mp4", "-f", "lavfi", "-i", "anullsrc")


def at_rate(rate: int, seconds: float) -> Recipe:
    """Without sound."""
    filters = PICTURE.filters.replace(f"fps={FPS}", f"fps={rate}")
    assert filters != PICTURE.filters
    picture = replace(PICTURE, filters=filters, frames_per_s=Fraction(rate))
    return replace(ENCODED, picture=picture, sound=None, seconds=seconds)


def with_(ffmpeg: Program, source: Path, recipe: Recipe, out: Path) -> Task:
    return task(source, recipe, out, ffmpeg=ffmpeg.path, ffmpeg_version=ffmpeg.version)


@pytest.fixture
def patience(monkeypatch: pytest.MonkeyPatch) -> None:
    """An encoder that waits for good is given up soon."""
    for room in ("making", "work"):
        monkeypatch.setattr(f"mediacheck.repair.{room}.encode_limit_s", lambda task: 20.0)


@BOTH
@pytest.mark.parametrize("seconds", [1.2, 10.0])
@pytest.mark.usefixtures("patience")
def test_a_raised_frame_rate_does_not_stop_the_encoder(
    tmp_path: Path, ffmpeg: Program, seconds: float
) -> None:
    source, out = master(tmp_path, seconds), tmp_path / "new.mp4"
    found = convert(with_(ffmpeg, source, at_rate(60, seconds), out))
    assert isinstance(found, Made), found
    assert found.likeness is not None
    assert found.likeness.enough
    video = facts_of(out).video
    assert video is not None
    assert video.frame_rate == 60


@BOTH
@pytest.mark.usefixtures("patience")
def test_nor_do_two_files_at_two_rates(tmp_path: Path, ffmpeg: Program) -> None:
    source = master(tmp_path, 4.0)
    tasks = [with_(ffmpeg, source, at_rate(rate, 4.0), tmp_path / f"{rate}.mp4") for rate in (30, 50)]
    found = convert_together(tasks)
    assert all(isinstance(made, Made) for made in found), found
    rates = [video.frame_rate for one in tasks if (video := facts_of(one.out).video)]
    assert rates == [30, 50]


def test_two_pictures_are_handed_out_in_one_graph() -> None:
    first = (*SHOWN, "-vf", "fps=30,scale=160:90", "-c:v", "libx264", "-map", "0:a:0", "one.mp4")
    second = (*SHOWN, "-c:v", "ffvhuff", "-an", "two.nut")
    assert in_one_graph((*IN, *first, *second)) == (
        *IN,
        "-filter_complex",
        "[0:V:0]split=2[to1][to2];[to1]fps=30,scale=160:90[of1];[to2]null[of2]",
        *("-map", "[of1]", "-c:v", "libx264", "-map", "0:a:0", "one.mp4"),
        *("-map", "[of2]", "-c:v", "ffvhuff", "-an", "two.nut"),
    )


@pytest.mark.parametrize(
    "outputs",
    [
        (),
        (*SHOWN, "-vf", "fps=30", "-c:v", "libx264", "one.mp4"),
        (*SHOWN, "-c:v", "copy", "one.mp4", *SHOWN, "-c:v", "copy", "two.mp4"),
        (*SHOWN, "-c:v", "copy", "one.mp4", *SHOWN, "-vf", "fps=30", "-c:v", "libx264", "two.mp4"),
        ("-map", "0:v:0", "-vf", "scale=160:90", "one.jpg", "-map", "0:v:0", "-vf", "null", "two.nut"),
    ],
)
def test_where_one_picture_at_most_is_encoded_the_line_stays(outputs: tuple[str, ...]) -> None:
    assert in_one_graph((*IN, *outputs)) == (*IN, *outputs)


@pytest.mark.parametrize(
    ("version", "needed"),
    [
        ("5.1.9-0+deb12u1", False),
        ("6.1.1-3ubuntu5", False),
        ("n6.0", False),
        ("7.0.2-static", True),
        ("n9.0.2-17-g2a571b6068", True),
        ("N-107213-g5f5f2a3f1b", True),
        ("2024-01-01-git-0f5592cfc7", True),
    ],
)
def test_which_ffmpegs_need_it(version: str, needed: bool) -> None:
    assert is_needed(version) is needed
