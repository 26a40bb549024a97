"""A full check against a bare decode, and against one general tool per question.

(a) `ffmpeg -i FILE -f null -`; (b) our full check of a card with that file; (c) the shell recipe that a
careful person would use: ffprobe, a null decode, blackdetect, freezedetect, idet, cropdetect, ebur128, a
tile sheet and sha256sum, one after the other. Seconds of whole programs with their start-up.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from functools import partial
from pathlib import Path

from side_by_side import Goal, finish, in_turn, seconds_of, small

PICTURE = "testsrc2=s={size}:r=30:d={seconds},noise=alls=12:allf=t"
SOUND = "sine=f=440:r=48000:d={seconds}"
CLIPS: dict[str, tuple[str, tuple[str, ...]]] = {
    "h264_1080p": ("1920x1080", ("-c:v", "libx264", "-preset", "veryfast", "-b:v", "8M")),
    "h265_2160p": ("3840x2160", ("-c:v", "libx265", "-preset", "ultrafast", "-b:v", "15M")),
}
FILTERS = ("-vf blackdetect", "-vf freezedetect", "-vf idet", "-vf cropdetect", "-af ebur128=peak=true")


def make_clip(target: Path, size: str, options: Sequence[str], seconds: int) -> None:
    """One clip with moving, noisy pictures and a tone."""
    sources = ["-f", "lavfi", "-i", PICTURE.format(size=size, seconds=seconds)]
    sources += ["-f", "lavfi", "-i", SOUND.format(seconds=seconds)]
    call = ["ffmpeg", "-v", "error", "-y", *sources, *options, "-pix_fmt", "yuv420p", "-c:a", "aac"]
    subprocess.run([*call, "-movflags", "+faststart", str(target)], check=True)


def recipe(clip: Path, scratch: Path) -> list[list[str]]:
    """One general tool per question."""
    read = ["ffmpeg", "-nostdin", "-hide_banner", "-i", str(clip)]
    sheet = ["-vf", "fps=1/10,scale=320:-2,tile=3x3", "-frames:v", "1", str(scratch / "tile.png")]
    return [
        ["ffprobe", "-v", "error", "-show_format", "-show_streams", str(clip)],
        [*read, "-f", "null", "-"],
        *([*read, *filters.split(), "-f", "null", "-"] for filters in FILTERS),
        [*read, "-y", *sheet],
        ["sha256sum", str(clip)],
    ]


def all_seconds(commands: Sequence[Sequence[str]]) -> float | None:
    """Seconds of all, one after the other; None if one failed."""
    taken = [seconds_of(command) for command in commands]
    return sum(one or 0 for one in taken) if None not in taken else None


def chosen() -> dict[str, tuple[str, tuple[str, ...]]]:
    """The clips named on the command line, or all: `python benchmarks/measure.py h264_1080p`."""
    return {clip: recipe for clip, recipe in CLIPS.items() if clip in sys.argv[1:]} or CLIPS


def main() -> None:
    """Both clips, three contenders each."""
    figures: dict[str, float | None] = {}
    goals = []
    with tempfile.TemporaryDirectory() as name:
        for clip, (size, options) in chosen().items():
            card = Path(name) / clip
            card.mkdir()
            target = card / "clip.mp4"
            make_clip(target, size, options, 5 if small() else 60)
            ours = [sys.executable, "-m", "mediacheck", "check", str(card), "--profile", "uhd-2160p"]
            bare = ["ffmpeg", "-nostdin", "-i", str(target), "-f", "null", "-"]
            found = in_turn(
                {
                    f"{clip}_bare_s": partial(seconds_of, bare),
                    f"{clip}_ours_s": partial(seconds_of, [*ours, "--no-cache", "--json", "-"]),
                    f"{clip}_recipe_s": partial(all_seconds, recipe(target, Path(name))),
                },
                rounds=1 if small() else 3,
            )
            figures |= found
            goals.append(Goal(f"{clip}_ours_s", f"{clip}_bare_s", 1.10))
            goals.append(Goal(f"{clip}_ours_s", f"{clip}_recipe_s", 0.25))
            shutil.rmtree(card)
    finish("measure", figures, goals)


if __name__ == "__main__":
    main()
