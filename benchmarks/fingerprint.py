"""Our fingerprint against the MPEG-7 video signature (ISO/IEC 15938-3; ffmpeg's filter `signature`).

Clips that look nothing alike are each copied in eight ways: encoded anew, scaled, cropped, made brighter,
slower and smoother in time, with a logo, and cut short. Each copy is held against its own original, and
against the original of another clip. How many copies are recognised, how many wrong ones are, and the
seconds it takes. Ours recognises below a distance of 0.25, between the copies and the other clips of
tests/measure/test_fingerprint.py; the signature filter has its own limits (detectmode=full).

Ours is what a full check brings along with all its other numbers, and two fingerprints compare without
their clips. The filter keeps no library: it decodes both clips for every comparison.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from side_by_side import finish, small

from mediacheck.inspection import Wanted, inspect
from mediacheck.measure.fingerprint import distance
from mediacheck.measure.model import Measurements
from mediacheck.which_ffmpeg import find_ffmpeg

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT))

from tests.media.footage import SAMPLES, real_footage  # noqa: E402  # needs the path

NEAR = 0.25
SAMPLE_NAMES = (
    "watering-landscape.mp4",
    "seeds-portrait.mp4",
    "offers-h265.mp4",
    "soil-4-3.mp4",
    "night.avi",
)
FOOTAGE_NAMES = ("bikes.mp4", "bigbuckbunny.mp4", "carphone_pristine.mp4")
GENERATED = {
    "zoom": "mandelbrot=s=640x360:rate=25:end_pts=200",
    "test picture": "testsrc2=s=640x360:r=25",
    "cells": "life=s=160x90:r=25:mold=10:ratio=0.1:seed=7:death_color=#703010,scale=640:360",
    "colours": "gradients=s=640x360:r=25:seed=3:speed=0.02:nb_colors=5",
}
COPIES = {
    "encoded anew, poorly": ("null", "-crf 36"),
    "a quarter of the size": ("scale=trunc(iw/8)*2:-2", "-crf 26"),
    "cropped by 5 %": ("crop=trunc(iw*0.475)*2:trunc(ih*0.475)*2", "-crf 28"),
    "brighter": ("eq=brightness=0.1", "-crf 28"),
    "15 frames a second": ("fps=15", "-crf 28 -r 15"),
    "50 a second, blended": ("framerate=50", "-crf 28 -r 50"),
    "with a logo": (
        "drawbox=iw*0.76:ih*0.06:iw*0.18:ih*0.18:white:fill,drawbox=iw*0.79:ih*0.1:iw*0.12:ih*0.1:green:fill",
        "-crf 28",
    ),
}
CUT = "0.8 s cut off the head"
ENCODE = ("-an", "-c:v", "libx264", "-preset", "veryfast", "-pix_fmt", "yuv420p")


@dataclass(slots=True)
class Tally:
    """What one contender made of all pairs."""

    missed: int = 0
    missed_cut: int = 0
    wrong: int = 0
    compare_s: tuple[float, ...] = ()


def run(*arguments: str) -> str:
    """What ffmpeg says on standard error."""
    command = ["ffmpeg", "-hide_banner", "-nostdin", "-nostats", "-y", *arguments]
    return subprocess.run(command, check=True, capture_output=True, text=True).stderr


def sources(folder: Path) -> dict[str, Path]:
    """The originals by name: 3 s at most, 640 wide."""
    footage = {clip.name: clip for clip in real_footage()}
    known = [*(footage[name] for name in FOOTAGE_NAMES), *(SAMPLES / name for name in SAMPLE_NAMES)]
    inputs = {path.stem: ["-i", str(path)] for path in known}
    inputs |= {name: ["-f", "lavfi", "-i", source] for name, source in GENERATED.items()}
    clips = {}
    for name in list(inputs)[::4] if small() else inputs:
        clips[name] = folder / f"{name}.mp4"
        run(*inputs[name], "-t", "3", "-vf", "scale=640:-2", *ENCODE, "-crf", "20", str(clips[name]))
    return clips


def copies(clip: Path, folder: Path) -> dict[str, Path]:
    """Every copy of a clip by its way."""
    made = {way: folder / f"{clip.stem}-{number}.mp4" for number, way in enumerate((*COPIES, CUT))}
    for way, (picture, options) in COPIES.items():
        run("-i", str(clip), "-vf", picture, *ENCODE, *options.split(), str(made[way]))
    run("-ss", "0.8", "-i", str(clip), *ENCODE, "-crf", "28", str(made[CUT]))
    return made


def fingerprint(clip: Path, ffmpeg: Path) -> bytes:
    """Ours, as a full check finds it."""
    found = inspect(clip, clip.name, clip.stat().st_size, Wanted("full", sha256=False, ffmpeg=ffmpeg))
    assert isinstance(found.measurements, Measurements), found
    assert found.measurements.fingerprint is not None
    return bytes.fromhex(found.measurements.fingerprint)


def signature_matches(one: Path, other: Path) -> bool:
    """Whether the filter calls any stretch of two clips the same."""
    compare = "[0:v][1:v]signature=nb_inputs=2:detectmode=full"
    said = run("-i", str(one), "-i", str(other), "-filter_complex", compare, "-f", "null", "-")
    told = [line for line in said.splitlines() if "matching of video 0" in line]
    assert told, said
    return any("no matching" not in line for line in told)


def judged(
    matches: Callable[[Path, Path], bool], clips: Mapping[str, Path], made: Mapping[str, Mapping[str, Path]]
) -> tuple[Tally, dict[str, int]]:
    """Each copy against its original and against the one before; and recognised copies by way."""
    tally, by_way, names = Tally(), dict.fromkeys((*COPIES, CUT), 0), list(clips)
    seconds = []
    for number, name in enumerate(names):
        other = clips[names[number - 1]]
        for way, copy in made[name].items():
            start = time.perf_counter()
            same, wrong = matches(clips[name], copy), matches(other, copy)
            seconds.append((time.perf_counter() - start) / 2)
            by_way[way] += same
            tally.wrong += wrong
            tally.missed += not same and way != CUT
            tally.missed_cut += not same and way == CUT
        tally.wrong += matches(clips[name], other)
    tally.compare_s = tuple(seconds)
    return tally, by_way


def taken(clips: Sequence[Path], ffmpeg: Path) -> tuple[dict[Path, bytes], Mapping[str, float]]:
    """Our fingerprints, and median seconds that a clip takes either way, in turn."""
    prints, ours_s, theirs_s = {}, [], []
    for clip in clips:
        start = time.perf_counter()
        prints[clip] = fingerprint(clip, ffmpeg)
        ours_s.append(time.perf_counter() - start)
        start = time.perf_counter()
        run("-i", str(clip), "-vf", "signature", "-f", "null", "-")
        theirs_s.append(time.perf_counter() - start)
    return prints, {
        "ours_make_s": statistics.median(ours_s),
        "signature_make_s": statistics.median(theirs_s),
    }


def apart(one: bytes, other: bytes) -> float:
    """Our distance of the shorter one from the start of the longer one."""
    length = min(len(one), len(other))
    return distance(one[:length], other[:length])


def margins(
    prints: Mapping[Path, bytes], clips: Mapping[str, Path], made: Mapping[str, Mapping[str, Path]]
) -> dict[str, float]:
    """How far the farthest copy is from its original, and how near the nearest one is to another clip."""
    own = [
        apart(prints[clips[name]], prints[copy])
        for name, each in made.items()
        for way, copy in each.items()
        if way != CUT
    ]
    others = [
        apart(prints[clip], prints[copy])
        for name, clip in clips.items()
        for other, each in made.items()
        for copy in each.values()
        if other != name
    ]
    return {"ours_farthest_copy": max(own), "ours_nearest_other": min(others)}


def main() -> None:
    """Make the copies, take both signatures of everything, compare, and print what came of it."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        clips = sources(folder)
        made = {one: copies(clip, folder) for one, clip in clips.items()}
        everything = (*clips.values(), *(copy for each in made.values() for copy in each.values()))
        prints, seconds = taken(everything, find_ffmpeg().path)
        ours, ours_by_way = judged(lambda a, b: apart(prints[a], prints[b]) < NEAR, clips, made)
        theirs, theirs_by_way = judged(signature_matches, clips, made)
        room = margins(prints, clips, made)
    print(f"{len(clips)} clips; copies recognised:")
    for way, count in ours_by_way.items():
        print(f"  {way:<24} ours {count:>3}, signature {theirs_by_way[way]:>3}")
    counts: dict[str, float | None] = {
        "copies": len(clips) * len(COPIES),
        "ours_missed": ours.missed,
        "signature_missed": theirs.missed,
        "cut_copies": len(clips),
        "ours_missed_cut": ours.missed_cut,
        "signature_missed_cut": theirs.missed_cut,
        "unrelated": len(clips) * (len(COPIES) + 2),
        "ours_wrong": ours.wrong,
        "signature_wrong": theirs.wrong,
        "ours_compare_s": statistics.median(ours.compare_s),
        "signature_compare_s": statistics.median(theirs.compare_s),
    }
    finish("fingerprint", {**counts, **room, **seconds}, [], {"ours_missed": theirs.missed, "ours_wrong": 0})


if __name__ == "__main__":
    main()
