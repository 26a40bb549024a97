"""Clips come out as their recipes say, from every ffmpeg that the project may use."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import ImageColor

from mediacheck import which_ffmpeg
from mediacheck.demo import clips
from mediacheck.demo.artwork import SOIL
from mediacheck.demo.clips import FRAME_RATE, Flaw, find_encoder, make_clip
from mediacheck.errors import ProgramError
from mediacheck.measure.frames import pictures_of
from mediacheck.media.facts import MediaFacts
from mediacheck.media.read import read_facts
from tests.demo.recipes import small_clip


def made(folder: Path, flaw: Flaw | None = None, *, upright: bool = False) -> tuple[Path, MediaFacts]:
    target = folder / "clip.mp4"
    make_clip(small_clip(flaw, upright=upright), target, find_encoder(), folder)
    facts = read_facts(target, target.name)
    assert isinstance(facts, MediaFacts)
    return target, facts


def frames(path: Path, facts: MediaFacts, count: int) -> list[NDArray[np.uint8]]:
    found = pictures_of(path, facts, count)
    return [np.frombuffer(p.rgb, np.uint8).reshape(p.height, p.width, 3) for p in found]


def near(pixels: NDArray[np.uint8], colour: str) -> float:
    """The share of pixels that have this colour, as far as encoding keeps colours."""
    wanted = np.array(ImageColor.getrgb(colour)[:3], int)
    return float((np.abs(pixels.astype(int) - wanted).max(axis=-1) < 16).mean())


@pytest.mark.parametrize("origin", ["usual", "wheel"])
def test_a_clip_without_a_flaw_is_what_a_simple_player_takes(origin: str, tmp_path: Path) -> None:
    usual, wheel = which_ffmpeg.find_ffmpeg(), which_ffmpeg.find_ffmpeg(path_lookup=lambda name: None)
    target = tmp_path / "clip.mp4"
    make_clip(small_clip(), target, {"usual": usual, "wheel": wheel}[origin].path, tmp_path)
    facts = read_facts(target, target.name)
    assert isinstance(facts, MediaFacts)
    assert facts.container is not None
    assert (facts.container.name, facts.container.index) == ("MP4", "first")
    assert (facts.container.truncated, facts.container.fragmented) == (None, False)
    video, (sound,) = facts.video, facts.audio
    assert video is not None
    assert (video.codec, video.profile, video.level, video.chroma) == ("H.264", "High", "4", "4:2:0")
    assert (video.width, video.height, video.rotation) == (640, 360, 0)
    assert [video.pixel_aspect, video.frame_rate, video.duration] == [1, FRAME_RATE, 1]
    assert (video.frame_rate_mode, video.scan) == ("constant", "progressive")
    assert (video.colour_primaries, video.colour_transfer) == ("bt709", "bt709")
    assert (sound.codec, sound.sample_rate, sound.channels) == ("AAC", 48_000, 2)
    assert facts.disagreements == ()


def test_the_parts_of_a_clip_are_gone_when_it_is_made(tmp_path: Path) -> None:
    target, _ = made(tmp_path)
    assert list(tmp_path.iterdir()) == [target]


def test_the_picture_moves_and_is_never_black(tmp_path: Path) -> None:
    target, facts = made(tmp_path)
    seen = frames(target, facts, 6)
    assert len(seen) == 6
    for before, after in pairwise(seen):
        assert np.abs(before.astype(int) - after.astype(int)).mean() > 1
    assert all(near(frame, "#000000") < 0.01 for frame in seen)


def test_a_landscape_picture_stands_on_its_soil(tmp_path: Path) -> None:
    target, facts = made(tmp_path)
    (frame,) = frames(target, facts, 1)
    assert near(frame[-6:-2], SOIL) > 0.9
    assert near(frame[:4], SOIL) < 0.1


def test_an_upright_picture_lies_in_its_file_so_that_a_panel_turned_clockwise_shows_it_upright(
    tmp_path: Path,
) -> None:
    """Bottom goes to the right edge of the file; turning the panel clockwise brings it down again."""
    target, facts = made(tmp_path, upright=True)
    assert facts.video is not None
    assert (facts.video.width, facts.video.height, facts.video.rotation) == (640, 360, 0)
    (frame,) = frames(target, facts, 1)
    assert near(frame[:, -6:-2], SOIL) > 0.9
    on_the_panel = np.rot90(frame, -1)
    assert on_the_panel.shape == (640, 360, 3)
    assert near(on_the_panel[-6:-2], SOIL) > 0.9


def test_h265(tmp_path: Path) -> None:
    video = made(tmp_path, "H.265")[1].video
    assert video is not None
    assert (video.codec, video.width, video.height) == ("H.265", 640, 360)


def test_uneven_rhythm(tmp_path: Path) -> None:
    video = made(tmp_path, "uneven rhythm")[1].video
    assert video is not None
    assert (video.codec, video.frame_rate_mode) == ("H.264", "variable")
    assert video.packets is not None
    assert video.packets.shortest_interval_s == pytest.approx(1 / FRAME_RATE)
    assert video.packets.longest_interval_s >= 2 / FRAME_RATE - 1e-6


def test_mov_inside(tmp_path: Path) -> None:
    container = made(tmp_path, "MOV inside")[1].container
    assert container is not None
    assert (container.name, container.index) == ("MOV", "first")


def test_index_last(tmp_path: Path) -> None:
    container = made(tmp_path, "index last")[1].container
    assert container is not None
    assert (container.name, container.index) == ("MP4", "last")


def test_cut_off(tmp_path: Path) -> None:
    facts = made(tmp_path, "cut off")[1]
    assert facts.container is not None
    assert facts.container.truncated is not None
    assert facts.video is not None
    assert facts.video.duration == Fraction(1)


def test_an_ffmpeg_without_the_encoders_is_passed_over_for_that_of_the_wheel(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    wheel = which_ffmpeg.find_ffmpeg(path_lookup=lambda name: None).path
    usual = which_ffmpeg.find_ffmpeg().path
    monkeypatch.setattr(clips, "_lacks", lambda path: () if path == wheel else ("libx264",))
    assert find_encoder() == wheel
    monkeypatch.setattr(clips, "_lacks", lambda path: () if path == usual else ("libx264",))
    assert find_encoder() == usual
    monkeypatch.setattr(clips, "_lacks", lambda path: ("libx264", "aac"))
    with pytest.raises(ProgramError, match="no ffmpeg was found that can encode with libx264, aac"):
        find_encoder()


def test_what_an_ffmpeg_lacks_is_read_from_its_own_list(monkeypatch: pytest.MonkeyPatch) -> None:
    encoder = find_encoder()
    assert clips._lacks(encoder) == ()
    monkeypatch.setattr(clips, "ENCODERS", ("libx264", "no-such-encoder"))
    assert clips._lacks(encoder) == ("no-such-encoder",)


def test_a_failing_ffmpeg_is_told_with_its_last_words(tmp_path: Path) -> None:
    with pytest.raises(ProgramError, match="No such file or directory"):
        make_clip(small_clip(), tmp_path / "no folder" / "clip.mp4", find_encoder(), tmp_path)
