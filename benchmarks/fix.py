"""Mending ten masters beside a plain line of ffmpeg for each, with the same settings of the encoder.

`plain_s`: one after the other, each by the line that our record says. `proved_s`: `mediacheck fix`, with
nothing known of the masters before: their full check, encoding, comparison, and the full check of the copy.
`unproved_s`: the same with `--no-proof`. `proved_after_plan_s` and `unproved_after_plan_s`: where the
masters were checked before, as by `--plan`. `again_s`: a second time, with nothing to do. `half_s`: a folder
in which half of the masters need their container rewritten only, beside `unproved_s`, which encodes all ten.

`python benchmarks/fix.py [--small] [--rounds=N]`
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from garden import garden
from side_by_side import Goal, finish, in_turn, small

MASTERS = 10
SIZE, SECONDS = ("640x360", 4) if small() else ("1920x1080", 5)


@dataclass(frozen=True)
class Scene:
    """Where everything is."""

    folder: Path

    @property
    def masters(self) -> Path:
        return self.folder / "masters"

    @property
    def half(self) -> Path:
        return self.folder / "half"

    @property
    def profile(self) -> Path:
        return self.folder / "garden.yaml"

    def ours(self, source: Path, out: Path, *options: str) -> list[str]:
        """Our command."""
        words = [sys.executable, "-m", "mediacheck", "fix", source, "--profile", self.profile, "--out", out]
        return [*map(str, words), *options]


def main() -> None:
    """All in turn."""
    rounds = int(option("rounds") or (1 if small() else 3))
    with tempfile.TemporaryDirectory() as name:
        scene = Scene(Path(name))
        os.environ["MEDIACHECK_CACHE"] = str(scene.folder / "cache")
        write_masters(scene)
        lines = plain_lines(scene)
        figures = in_turn(
            {
                "plain_s": lambda: timed(lines),
                "proved_s": lambda: cold(scene, scene.masters),
                "unproved_s": lambda: cold(scene, scene.masters, "--no-proof"),
                "half_s": lambda: cold(scene, scene.half, "--no-proof"),
                "proved_after_plan_s": lambda: ours(scene, scene.masters),
                "unproved_after_plan_s": lambda: ours(scene, scene.masters, "--no-proof"),
                "again_s": lambda: again(scene),
            },
            rounds,
        )
    goals = [
        Goal("proved_s", "plain_s", 1.35),
        Goal("unproved_s", "plain_s", 1.05),
        Goal("half_s", "unproved_s", 0.6),
        Goal("proved_after_plan_s", "plain_s", 1.35),
        Goal("unproved_after_plan_s", "plain_s", 1.05),
    ]
    finish("fix", figures, goals, {"again_s": 2.0})


def write_masters(scene: Scene) -> None:
    """Moving pictures with fine detail, in a codec that the player does not take; of half of them another
    kind, which only needs its index first."""
    scene.profile.write_text(garden(SIZE), "utf-8")
    scene.masters.mkdir()
    scene.half.mkdir()
    for number in range(MASTERS):
        picture = f"testsrc2=s={SIZE}:r=25:d={SECONDS},hue=h={36 * number},noise=alls=4:allf=t"
        sound = f"sine=frequency={300 + 40 * number}:duration={SECONDS}:sample_rate=48000"
        master = scene.masters / f"{number:02}.mp4"
        source = ["-f", "lavfi", "-i", picture, "-f", "lavfi", "-i", sound, "-c:a", "aac"]
        run([*ffmpeg(), *source, "-c:v", "mpeg4", "-q:v", "3", "-g", "25", str(master)])
        if number % 2:
            conforming = ["-c:v", "libx264", "-preset", "veryfast", "-profile:v", "high", "-level", "4"]
            conforming += ["-g", "50", "-maxrate", "15M", "-bufsize", "15M", "-pix_fmt", "yuv420p"]
            run([*ffmpeg(), *source, *conforming, str(scene.half / master.name)])
        else:
            shutil.copyfile(master, scene.half / master.name)


def plain_lines(scene: Scene) -> list[list[str]]:
    """The lines of our record, with files in place of the words that stand for them; and the masters' checks
    are known from here on."""
    out = scene.folder / "first"
    run(scene.ours(scene.masters, out))
    run(scene.ours(scene.half, scene.folder / "first-half", "--no-proof"))
    record = json.loads((scene.folder / "first.fix-report.json").read_text("utf-8"))
    lines = []
    for item in record["items"]:
        (command,) = item["made"]["commands"]
        places = {"MASTER": str(scene.masters / item["source"]), "NEW": str(scene.folder / "plain.mp4")}
        lines.append([*ffmpeg(), *(places.get(word, word) for word in command[1:])])
    for folder in ("first", "first-half"):
        shutil.rmtree(scene.folder / folder)
    return lines


def ours(scene: Scene, source: Path, *options: str) -> float:
    """A repair of which nothing was made before; what the masters are is known."""
    with place(scene) as out:
        return timed([scene.ours(source, out, *options)])


def cold(scene: Scene, source: Path, *options: str) -> float:
    """The same with an empty cache of checks."""
    known, empty = os.environ["MEDIACHECK_CACHE"], scene.folder / "empty"
    os.environ["MEDIACHECK_CACHE"] = str(empty)
    try:
        return ours(scene, source, *options)
    finally:
        os.environ["MEDIACHECK_CACHE"] = known
        shutil.rmtree(empty)


def again(scene: Scene) -> float:
    """A repair that is done already."""
    with place(scene) as out:
        run(scene.ours(scene.masters, out, "--no-proof"))
        return timed([scene.ours(scene.masters, out, "--no-proof")])


@contextmanager
def place(scene: Scene) -> Iterator[Path]:
    """A new folder for a copy; what was converted in it is forgotten afterwards."""
    out = scene.folder / "ready"
    try:
        yield out
    finally:
        shutil.rmtree(out)
        for beside in scene.folder.glob("ready.fix-report.*"):
            beside.unlink()


def timed(commands: Sequence[Sequence[str]]) -> float:
    """Seconds of all commands, one after the other."""
    start_s = time.perf_counter()
    for command in commands:
        run(command)
    return time.perf_counter() - start_s


def ffmpeg() -> list[str]:
    """The one that our program uses."""
    from mediacheck.which_ffmpeg import find_ffmpeg

    return [str(find_ffmpeg().path), "-v", "error", "-y"]


def run(command: Sequence[str]) -> None:
    """Quietly; a command that fails ends the benchmark."""
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, stdin=subprocess.DEVNULL)


def option(name: str) -> str | None:
    """What stands behind `--NAME=` on the command line."""
    return next((word.partition("=")[2] for word in sys.argv[1:] if word.startswith(f"--{name}=")), None)


if __name__ == "__main__":
    main()
