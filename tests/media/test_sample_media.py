"""The sample media beside the project are what their recipes say, small, and can be made again."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from PIL import Image, ImageChops, ImageStat

from mediacheck.media.facts import MediaFacts, StillFacts, VideoFacts
from mediacheck.media.read import read_facts
from sample_media import make
from tests.media.footage import SAMPLES
from tests.media.probe import ours
from tests.media.truth import truth_of

KNOWN = {
    "watering-landscape.mp4": ("MP4; H.264 High 25 8 4:2:0 progressive colour=bt709/bt709; AAC 48000 2", "4"),
    "seeds-portrait.mp4": ("MP4; H.264 Main 30 8 4:2:0 progressive colour=bt709/bt709; AAC 48000 2", "4"),
    "soil-4-3.mp4": ("MP4; H.264 Constrained_Baseline 30000/1001 8 4:2:0 progressive", "3.1"),
    "offers-h265.mp4": ("MP4; H.265 Main 50 8 4:2:0 progressive colour=bt709/bt709", "4"),
    "night.avi": ("AVI; MPEG-4 Simple 25 8 4:2:0 progressive; MP3 48000 2", "1"),
}
"""File to its truth line (see `tests.media.truth`) and level."""
STILLS = {
    "bulbs-baseline.jpg": StillFacts("JPEG", 1920, 1080, False, "RGB", 8),
    "bulbs-progressive.jpg": StillFacts("JPEG", 1024, 600, True, "RGB", 8),
    "watering.png": StillFacts("PNG", 1024, 600, False, "RGB", 8),
}


def facts_of(name: str, folder: Path = SAMPLES) -> MediaFacts:
    facts = read_facts(folder / name, name)
    assert isinstance(facts, MediaFacts)
    return facts


def video_of(name: str, folder: Path = SAMPLES) -> VideoFacts:
    video = facts_of(name, folder).video
    assert video is not None
    return video


def test_the_folder_holds_what_the_script_makes() -> None:
    made = {each.file_name for each in (*make.CLIPS, *make.STILLS)}
    assert {path.name for path in SAMPLES.iterdir() if path.is_file()} == made | {"make.py"}
    assert made == set(KNOWN) | set(STILLS)


def test_the_files_are_small_enough_to_be_kept_with_the_project() -> None:
    sizes = {path.name: path.stat().st_size for path in SAMPLES.iterdir() if path.is_file()}
    assert max(sizes.values()) < 1_000_000
    assert sum(sizes.values()) < 5_000_000


@pytest.mark.parametrize("clip", make.CLIPS, ids=lambda clip: clip.file_name)
def test_each_clip_is_what_its_recipe_says(clip: make.Clip) -> None:
    line, level = KNOWN[clip.file_name]
    found, known = ours(facts_of(clip.file_name)), truth_of(line, f"{clip.width}x{clip.height}")
    known.pop("frame_rate_mode")
    assert {name: found[name] for name in known} == known
    video = video_of(clip.file_name)
    assert (video.level, video.frame_rate_mode) == (level, "constant")
    assert video.packets is not None
    assert (video.packets.count, video.frame_rate) == (clip.frames, clip.rate)
    assert video.duration == pytest.approx(Fraction(clip.frames) / clip.rate)


@pytest.mark.parametrize("name", STILLS)
def test_each_still_is_what_its_recipe_says(name: str) -> None:
    assert facts_of(name).still == STILLS[name]


def test_a_clip_can_be_made_again(ffmpeg: str, tmp_path: Path) -> None:
    """Ten frames of the smallest: another version of ffmpeg makes other bytes, but the same facts."""
    soil = next(clip for clip in make.CLIPS if clip.file_name == "soil-4-3.mp4")
    short = make.Clip(soil.file_name, soil.poster, soil.width, soil.height, soil.rate, 10, soil.arguments)
    make.make_clip(short, tmp_path, ffmpeg)
    again, kept = video_of(soil.file_name, tmp_path), video_of(soil.file_name)
    names = ("codec", "profile", "level", "width", "height", "frame_rate", "chroma", "scan", "rotation")
    assert [getattr(again, name) for name in names] == [getattr(kept, name) for name in names]
    assert again.packets is not None
    assert again.packets.count == 10


def test_a_still_can_be_made_again(tmp_path: Path) -> None:
    """Pixel for pixel, as far as JPEG keeps them: the font and the drawing are part of the recipe."""
    png = next(still for still in make.STILLS if still.file_name == "watering.png")
    with Image.open(make.make_still(png, tmp_path)) as again, Image.open(SAMPLES / png.file_name) as kept:
        difference = ImageChops.difference(again.convert("L"), kept.convert("L"))
    assert sum(difference.histogram()[32:]) < 0.001 * png.width * png.height


def test_the_portrait_clip_is_stored_on_its_side() -> None:
    """The seedlings grow from the lower edge of the poster: counter-clockwise that edge is on the right."""
    seeds = next(clip for clip in make.CLIPS if clip.turned)
    upright = make.draw(seeds.poster, 90, 160, 0.0)
    stored = Image.frombytes("RGB", (160, 90), next(make.pictures(small(seeds))))
    assert stored.size == (160, 90)
    assert stored.transpose(Image.Transpose.ROTATE_270).tobytes() == upright.tobytes()


def small(clip: make.Clip) -> make.Clip:
    return make.Clip(clip.file_name, clip.poster, 160, 90, clip.rate, 1, clip.arguments, None, clip.turned)


def test_a_round_of_the_drawing_has_no_seam() -> None:
    """The last frame goes over into the first as any frame into the next."""
    for poster in (make.WATERING, make.SEEDS, make.SOIL):
        frames = [make.draw(poster, 160, 90, number / 40).convert("L") for number in (0, 1, 39)]
        step, seam = (
            sum(ImageStat.Stat(ImageChops.difference(frames[0], other)).sum) for other in frames[1:]
        )
        assert step > 0
        assert seam == pytest.approx(step, rel=0.5)
