"""Our quick check against a shell loop of ffprobe over the same files.

Figures are seconds per file, whole programs with their start-up: `mediacheck check --depth quick` once
over the folder, and `ffprobe -show_format -show_streams` once for each file.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from side_by_side import Goal, finish, in_turn, seconds_of, small

KINDS = (
    ("mp4", ("-c:v", "libx264", "-pix_fmt", "yuv420p", "-c:a", "aac", "-movflags", "+faststart")),
    ("mov", ("-c:v", "libx264", "-pix_fmt", "yuv420p", "-c:a", "aac")),
    ("mkv", ("-c:v", "libx264", "-pix_fmt", "yuv420p", "-c:a", "ac3")),
    ("ts", ("-c:v", "mpeg2video", "-c:a", "mp2")),
    ("avi", ("-c:v", "mpeg4", "-c:a", "libmp3lame")),
)
SHELL_LOOP = 'for f in "$1"/*; do ffprobe -v error -show_format -show_streams "$f" > /dev/null; done'


def make_clips(folder: Path, count: int) -> None:
    """`count` clips of 1920x1080, five kinds in turn, each a different length."""
    for number in range(count):
        ending, options = KINDS[number % len(KINDS)]
        length = 1 + number % 7 * 0.2
        sources = ("-f", "lavfi", "-i", f"testsrc2=s=1920x1080:r=30:d={length}")
        sound = ("-f", "lavfi", "-i", f"sine=f={300 + number}:r=48000:d={length}")
        target = folder / f"clip{number:03}.{ending}"
        call = ["ffmpeg", "-v", "error", "-y", *sources, *sound, *options]
        if "libx264" in options:
            call += ["-preset", "ultrafast"]
        subprocess.run([*call, str(target)], check=True)


def main() -> None:
    """Make the clips, run both in turn, print the result."""
    count = 20 if small() else 200
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        make_clips(folder, count)
        ours = [sys.executable, "-m", "mediacheck", "check", name, "--profile", "basic-1080p"]
        ours += ["--depth", "quick", "--json", "-"]
        shell = shutil.which("sh")
        figures = in_turn(
            {
                "ours_s": lambda: seconds_of(ours),
                "ffprobe_loop_s": lambda: (
                    seconds_of([shell, "-c", SHELL_LOOP, "sh", name]) if shell else None
                ),
            }
        )
    each = {key: None if value is None else value / count for key, value in figures.items()}
    finish("facts", each, [Goal("ours_s", "ffprobe_loop_s", 0.2)])


if __name__ == "__main__":
    main()
