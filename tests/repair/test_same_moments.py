"""The page shows a new file beside its master at the same moments, and nothing that was not looked at."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from mediacheck.measure.model import Picture
from mediacheck.repair.model import Wishes
from mediacheck.repair.outcome import Fixed
from mediacheck.repair.page import as_html
from mediacheck.repair.run import Helpers
from tests.repair.bench import AT_ONCE, fixed
from tests.repair.films import Film, player

MOVING = Film(picture="testsrc2=s=320x180:r=25:d=6", tone=None)
OLD = ("-c:v", "mpeg4", "-q:v", "3", "-g", "50")
BLACK_HEAD = "fade=in:st=2:d=0.04"


pytestmark = pytest.mark.usefixtures("empty_cache")


USUAL = Wishes()


def paged(source: Path, out: Path, wishes: Wishes = USUAL, use_cache: bool = True) -> Fixed:
    return fixed(source, out, player(), wishes, Helpers(crew=AT_ONCE.crew, page=as_html), use_cache)


def apart(one: Picture, other: Picture) -> float:
    """Mean difference in steps of 256, whatever size they were brought to."""
    small = [
        Image.frombytes("RGB", (each.width, each.height), each.rgb).resize((160, 90), Image.Resampling.BOX)
        for each in (one, other)
    ]
    return float(np.abs(np.subtract(*(np.asarray(each, float) for each in small))).mean())


@pytest.mark.parametrize("use_cache", [True, False])
def test_what_is_encoded_is_shown_at_the_moments_of_its_master(tmp_path: Path, use_cache: bool) -> None:
    folder = tmp_path / "masters"
    folder.mkdir()
    replace(MOVING, video=OLD).make(folder / "a.mp4")
    found = paged(folder, tmp_path / "ready", use_cache=use_cache)
    seconds = [[one.second for one in of["a.mp4"]] for of in (found.pictures_before, found.pictures_after)]
    assert seconds[0] == pytest.approx(seconds[1], abs=0.01)
    assert len(seconds[0]) == 3
    before, after = found.pictures_before["a.mp4"], found.pictures_after["a.mp4"]
    assert 2 * max(map(apart, before, after)) < min(map(apart, before, after[1:])), "other moments differ"


def test_after_a_cut_the_moments_are_still_the_same(tmp_path: Path) -> None:
    folder = tmp_path / "masters"
    folder.mkdir()
    replace(MOVING, filters=BLACK_HEAD).make(folder / "a.mp4")
    found = paged(folder, tmp_path / "ready", Wishes(trim_ends=True))
    recipe = found.results[0].item.recipe
    assert recipe is not None
    assert "-ss" in recipe.before
    before, after = found.pictures_before["a.mp4"], found.pictures_after["a.mp4"]
    assert after
    kept = before[len(before) - len(after) :]
    assert 2 * max(map(apart, kept, after)) < min(map(apart, kept, after[1:])), "other moments differ"


def test_what_was_wrapped_anew_shows_the_pictures_of_its_master(tmp_path: Path) -> None:
    folder = tmp_path / "masters"
    folder.mkdir()
    replace(MOVING, wrapping=()).make(folder / "a.mp4")
    found = paged(folder, tmp_path / "ready")
    assert found.pictures_after["a.mp4"] == found.pictures_before["a.mp4"]
    assert len(found.pictures_after["a.mp4"]) == 3


def test_what_was_not_looked_at_is_not_shown(tmp_path: Path) -> None:
    folder = tmp_path / "masters"
    folder.mkdir()
    replace(MOVING, video=OLD).make(folder / "a.mp4")
    found = paged(folder, tmp_path / "ready", Wishes(prove=False))
    assert len(found.pictures_before["a.mp4"]) == 3
    assert "a.mp4" not in found.pictures_after
    assert "<img" not in (tmp_path / "ready.fix-report.html").read_text("utf-8")


def test_a_still_is_shown_beside_the_new_one(tmp_path: Path) -> None:
    folder = tmp_path / "masters"
    folder.mkdir()
    tone = np.linspace(0, 255, 640, dtype=np.uint8)
    Image.fromarray(np.dstack([np.tile(tone, (360, 1))] * 3)).save(folder / "a.png")
    found = paged(folder, tmp_path / "ready")
    assert len(found.pictures_after["a.jpg"]) == 1
    (shown,) = found.pictures_after["a.jpg"]
    assert (shown.width, shown.height) == (320, 180)
