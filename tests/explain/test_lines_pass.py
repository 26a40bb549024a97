"""The promise of the page: what its lines make passes, for every bundled profile and every kind of item."""

from __future__ import annotations

from pathlib import Path

import pytest

from mediacheck import which_ffmpeg
from mediacheck.explain.page import page_of
from mediacheck.profile_files import bundled_names, load_profile
from tests.encoding import masters
from tests.encoding.running import checked, run_line, told

CASES: dict[str, tuple[tuple[int, int], dict[str, float]]] = {
    "basic-1080p": ((320, 180), {"tape.ts": 0.5, "noise.mkv": 1.05}),
    "photo-frame-1024x600": ((256, 150), {"prores.mov": 1.1, "screen.mkv": 1.05}),
    "portrait-1080p": ((216, 384), {"prores.mov": 0.3}),
    "shelf-strip-1920x540": ((384, 108), {"screen.mkv": 0.3, "noise.mkv": 1.05}),
    "uhd-2160p": ((320, 180), {"soft.mov": 0.1}),
}
"""For each profile the shape of its screen as people see it, and the masters to try, with their seconds.

One second or more where the bits of busy pictures are at stake, else as little as shows the faults: large
pictures are slow. MPEG-2 knows the shapes 4:3, 16:9 and 2.21:1 only, so that the tape is no master for the
other screens.
"""


def fill(folder: Path, name: str, ffmpeg: str, encoder: str, which: dict[str, float]) -> set[str]:
    """A card with what every line of the page makes of every master; the kinds of item."""
    source, card = folder / "masters", folder / "card"
    source.mkdir()
    card.mkdir()
    stills = masters.make_stills(source)
    size = CASES[name][0]
    videos = [masters.make(ffmpeg, master, size, source, seconds) for master, seconds in which.items()]
    page = page_of(load_profile(name))
    assert page.without == ()
    for number, recipe in enumerate(page.recipes):
        for place, master in enumerate(stills if recipe.heading.startswith("Still") else videos):
            run_line(recipe.command, encoder, master, card / f"{number}{place}.x")
    return {recipe.heading for recipe in page.recipes}


def test_every_bundled_profile_is_tried() -> None:
    assert tuple(CASES) == bundled_names()


@pytest.mark.parametrize("name", CASES)
def test_what_the_lines_make_passes(name: str, ffmpeg: str, tmp_path: Path) -> None:
    headings = fill(tmp_path, name, ffmpeg, ffmpeg, CASES[name][1])
    profile = load_profile(name).profile
    assert {heading.split()[1] for heading in headings} == {
        *(profile.video.codecs or {}),
        *(profile.stills.formats or ()),
    }
    report = checked(tmp_path / "card", load_profile(name))
    assert told(report) == set()
    assert report.verdict == "pass"


def test_the_ffmpeg_of_the_wheel_makes_files_that_pass_as_well(ffmpeg: str, tmp_path: Path) -> None:
    wheel = which_ffmpeg.find_ffmpeg(path_lookup=lambda _: None)
    name = "photo-frame-1024x600"
    fill(tmp_path, name, ffmpeg, str(wheel.path), {"noise.mkv": 1.05})
    report = checked(tmp_path / "card", load_profile(name))
    assert told(report) == set()
    assert report.verdict == "pass"


def test_a_master_of_another_shape_gets_bars_and_nothing_else(ffmpeg: str, tmp_path: Path) -> None:
    (tmp_path / "card").mkdir()
    loaded = load_profile("photo-frame-1024x600")
    master = masters.make(ffmpeg, "prores.mov", (300, 300), tmp_path)
    run_line(page_of(loaded).recipes[0].command, ffmpeg, master, tmp_path / "card" / "01.x")
    assert told(checked(tmp_path / "card", loaded)) == {("picture-bars", "01.mp4")}
