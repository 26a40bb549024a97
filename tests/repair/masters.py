"""Small masters for the tests of making: pictures and sounds of known content, and recipes written by hand.

It must not convert anything.
"""

from __future__ import annotations

import os
import subprocess
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from mediacheck.media.facts import MediaFacts
from mediacheck.media.read import read_facts
from mediacheck.repair.model import PictureRecipe, Recipe, SoundRecipe
from mediacheck.repair.task import Task
from mediacheck.which_ffmpeg import find_ffmpeg

LIMIT_S = 60.0
RATE_HZ = 48_000
WIDTH, HEIGHT, FPS = 160, 90, 25
Samples = NDArray[np.float32]

COLOURS = "out_color_matrix=bt709:out_range=tv"
FILTERS = (
    f"fps={FPS}:start_time=0,scale={WIDTH}:{HEIGHT}:flags=lanczos:{COLOURS},setsar=1,format=yuv420p,"
    "setparams=range=tv:colorspace=bt709:color_primaries=bt709:color_trc=bt709"
)
X264 = ("-c:v", "libx264", "-crf", "18", "-g", "25")
WRAPPING = ("-sn", "-dn", "-map_metadata", "-1", "-map_chapters", "-1", "-movflags", "+faststart")
PICTURE = PictureRecipe(False, X264, FILTERS, frames_per_s=Fraction(FPS), width=WIDTH, height=HEIGHT)
SOUND = SoundRecipe(
    "0:a:0",
    False,
    mixing="aresample=async=1:first_pts=0,aformat=channel_layouts=stereo:sample_rates=48000",
    ending="apad=whole_dur=1.000000,atrim=end=1.000000",
    encoder=("-c:a", "aac", "-b:a", "192k", "-ar", "48000", "-ac", "2"),
)
ENCODED = Recipe("picture", ".mp4", ("-colorspace", "bt709"), PICTURE, SOUND, wrapping=WRAPPING, seconds=1.0)
COPIED = PictureRecipe(copied=True)
WRAPPED = Recipe("container", ".mp4", (), COPIED, SoundRecipe("0:a:0", True), wrapping=WRAPPING)


def both_ffmpegs() -> tuple[Path, ...]:
    """The one in use and that of the wheel: often an old one without VMAF, and a new one with it."""
    return tuple(dict.fromkeys((find_ffmpeg().path, find_ffmpeg(lambda _: None).path)))


def run(*arguments: str | Path, given: bytes | None = None) -> bytes:
    """What ffmpeg writes to its standard output."""
    command = [str(find_ffmpeg().path), "-v", "error", "-y", *map(str, arguments)]
    return subprocess.run(command, input=given, check=True, capture_output=True, timeout=LIMIT_S).stdout


def master(folder: Path, seconds: float = 1.0, name: str = "master.mp4", size: str = "192x108") -> Path:
    """A moving picture with a tone on two channels."""
    place = folder / name
    picture = f"testsrc2=size={size}:rate={FPS}:duration={seconds}"
    tone = f"sine=frequency=440:sample_rate={RATE_HZ}:duration={seconds},aformat=channel_layouts=stereo"
    sources = ("-f", "lavfi", "-i", picture, "-f", "lavfi", "-i", tone)
    run(*sources, "-c:v", "libx264", "-pix_fmt", "yuv420p", "-crf", "10", "-c:a", "aac", place)
    return place


def with_sound(folder: Path, samples: Samples, layout: str) -> Path:
    """A tiny picture with these samples (count, channels), kept without loss."""
    place, seconds = folder / "sound.mkv", len(samples) / RATE_HZ
    picture = ("-f", "lavfi", "-i", f"testsrc2=size=32x32:rate=25:duration={max(seconds, 0.2)}")
    raw = ("-f", "f32le", "-ar", str(RATE_HZ), "-ac", str(samples.shape[1]), "-i", "pipe:0")
    coded = ("-c:v", "libx264", "-c:a", "pcm_f32le", "-af", f"aformat=channel_layouts={layout}")
    run(*raw, *picture, *coded, place, given=samples.astype("<f4").tobytes())
    return place


def heard(place: Path) -> NDArray[np.float64]:
    """The sound of a file, (count, channels)."""
    facts = facts_of(place)
    channels = facts.audio[0].channels
    assert channels
    raw = run("-i", place, "-vn", "-f", "f32le", "-ar", str(RATE_HZ), "pipe:1")
    return np.frombuffer(raw, "<f4").astype(np.float64).reshape(-1, channels)


def luma(place: Path, width: int = WIDTH, height: int = HEIGHT) -> NDArray[np.uint8]:
    """The luminance of every frame, as it is stored."""
    raw = run("-i", place, "-fps_mode", "passthrough", "-pix_fmt", "yuv420p", "-f", "rawvideo", "pipe:1")
    frames = np.frombuffer(raw, np.uint8).reshape(-1, width * height * 3 // 2)
    return frames[:, : width * height].reshape(-1, height, width)


def facts_of(place: Path) -> MediaFacts:
    """What the file says of itself."""
    facts = read_facts(place, place.name)
    assert isinstance(facts, MediaFacts), facts
    return facts


def task(place: Path, recipe: Recipe, out: Path, **others: object) -> Task:
    """With the ffmpeg in use."""
    found = find_ffmpeg()
    made = Task(place, facts_of(place), recipe, out, found.path, found.version)
    return replace(made, **others)  # type: ignore[arg-type]


def program(folder: Path, name: str, script: str) -> Path:
    """A stand-in for ffmpeg: a script of the shell."""
    place = folder / name
    place.write_text(f"#!/bin/sh\n{script}\n")
    os.chmod(place, 0o755)  # noqa: PTH101
    return place
