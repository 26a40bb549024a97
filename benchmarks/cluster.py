"""Forty masters on one worker of a cluster beside two, all on this machine.

`check_one_s` and `check_two_s`: `mediacheck check --cluster` at full depth, with nothing known of the
masters; `check_here_s`: the same without a cluster, two files at once. `fix_one_s` and `fix_two_s`:
`mediacheck fix --cluster --no-proof` of the same masters into a copy, likewise. Each worker does one file at
a time and has one core of its own, as if it were a small machine.

`python benchmarks/cluster.py [--small] [--rounds=N]`
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from garden import garden
from side_by_side import Goal, finish, in_turn, small

MASTERS = 8 if small() else 40
SIZE, SECONDS = ("320x180", 2) if small() else ("1280x720", 4)


@dataclass(frozen=True)
class Scene:
    """Where everything is."""

    folder: Path

    @property
    def masters(self) -> Path:
        return self.folder / "masters"

    @property
    def profile(self) -> Path:
        return self.folder / "garden.yaml"


def main() -> None:
    """All in turn."""
    rounds = next(
        (int(word[9:]) for word in sys.argv[1:] if word.startswith("--rounds=")), 1 if small() else 3
    )
    with tempfile.TemporaryDirectory() as name:
        scene = Scene(Path(name))
        write_masters(scene)
        with workers(1) as one, workers(2) as two:
            figures = in_turn(
                {
                    "check_here_s": lambda: timed(scene, check(scene, "--jobs", "2")),
                    "check_one_s": lambda: timed(scene, check(scene, "--cluster", one)),
                    "check_two_s": lambda: timed(scene, check(scene, "--cluster", two)),
                    "fix_one_s": lambda: timed(scene, fix(scene, "--cluster", one)),
                    "fix_two_s": lambda: timed(scene, fix(scene, "--cluster", two)),
                },
                rounds,
            )
    goals = [
        Goal("check_two_s", "check_one_s", 0.75),
        Goal("fix_two_s", "fix_one_s", 0.75),
        Goal("check_two_s", "check_here_s", 1.25),
    ]
    finish("cluster", figures, goals)


@contextmanager
def workers(count: int) -> Iterator[str]:
    """A cluster of so many workers on this machine, each on a core of its own; its address."""
    import distributed

    made: Any = distributed.LocalCluster(
        n_workers=0, host="127.0.0.1", scheduler_port=0, dashboard_address="127.0.0.1:0", silence_logs=60
    )
    with made as cluster:
        address = str(cluster.scheduler_address)
        started = [
            subprocess.Popen(worker(number, address), stderr=subprocess.DEVNULL) for number in range(count)
        ]
        try:
            with distributed.Client(address, set_as_default=False) as client:
                client.wait_for_workers(count, timeout=60)
            yield address
        finally:
            for process in started:
                process.terminate()
                process.wait()


def worker(number: int, address: str) -> list[str]:
    """The command of one worker, held to one core where the system can do that (Linux)."""
    words = [
        sys.executable,
        "-m",
        "dask",
        "worker",
        address,
        "--no-nanny",
        "--nthreads",
        "1",
        "--no-dashboard",
    ]
    core = number % (os.cpu_count() or 1)
    held = f"import os, sys; os.sched_setaffinity(0, {{{core}}}); os.execv(sys.argv[1], sys.argv[1:])"
    return [sys.executable, "-c", held, *words] if hasattr(os, "sched_setaffinity") else words


def write_masters(scene: Scene) -> None:
    """Moving pictures with fine detail, in a codec that the player does not take."""
    from mediacheck.which_ffmpeg import find_ffmpeg

    scene.profile.write_text(garden(SIZE), "utf-8")
    scene.masters.mkdir()
    for number in range(MASTERS):
        picture = f"testsrc2=s={SIZE}:r=25:d={SECONDS},hue=h={9 * number},noise=alls=4:allf=t"
        sound = f"sine=frequency={300 + 10 * number}:duration={SECONDS}:sample_rate=48000"
        line = [
            str(find_ffmpeg().path),
            "-v",
            "error",
            "-f",
            "lavfi",
            "-i",
            picture,
            "-f",
            "lavfi",
            "-i",
            sound,
        ]
        line += ["-c:a", "aac", "-c:v", "mpeg4", "-q:v", "3", "-g", "25"]
        subprocess.run([*line, str(scene.masters / f"{number:02}.mp4")], check=True)


def check(scene: Scene, *options: str) -> list[str]:
    """Our command, which finds that no master conforms."""
    return ours("check", scene, "--json", str(scene.folder / "report.json"), *options)


def fix(scene: Scene, *options: str) -> list[str]:
    """Our command, which makes a copy."""
    return ours("fix", scene, "--no-proof", "--out", str(scene.folder / "ready"), *options)


def ours(command: str, scene: Scene, *options: str) -> list[str]:
    """With what both have."""
    words = [sys.executable, "-m", "mediacheck", command, str(scene.masters), "--no-cache"]
    return [*words, "--profile", str(scene.profile), *options]


def timed(scene: Scene, command: list[str]) -> float | None:
    """Seconds of a command; what it made is removed. None: it did not end as it should."""
    start_s = time.perf_counter()
    done = subprocess.run(command, stdout=subprocess.DEVNULL, stdin=subprocess.DEVNULL, check=False)
    took_s = time.perf_counter() - start_s
    shutil.rmtree(scene.folder / "ready", ignore_errors=True)
    for beside in scene.folder.glob("ready.fix-report.*"):
        beside.unlink()
    return took_s if done.returncode in (0, 1) else None


if __name__ == "__main__":
    main()
