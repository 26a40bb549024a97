"""Building and verifying a card of 4 GiB with 20 files, beside general tools that move the same bytes.

Building: ours plans an image of files whose hashes are known, writes it, reads its structures back and writes
the manifest (`build.build.write_out` and what comes before it, in a process of its own with its start). The
check before it is not part of it: it decodes films, which `measure.py` times. The others are `mkfs.fat` with
`mcopy`, and `cp` of the files into a folder. Neither hashes. Each ends with its bytes on the disk: ours by
itself, the others by `sync FILE...`.

Verifying: `mediacheck verify` of the image by its manifest hashes every byte of the image and, on the same
way, every file on it; `sha256sum -c` and `openssl dgst` hash the image alone. Debian's `sha256sum` (coreutils
9.1) is built without OpenSSL (`ldd` shows no libcrypto) and is several times slower: the goal is held against
it, and `verify_s/openssl_s` tells how we stand beside a fast one.

Before each, all that the system keeps of the files in memory is dropped. Seconds are those of the wall;
memory is the most that our process held, Python and numpy included.

`python benchmarks/build.py [--small] [--rounds=N] [--folder=PLACE]`: makes its input in that place (usual:
where temporary files go), which needs room for three such cards. The files of each contender are removed
after it.
"""

from __future__ import annotations

import hashlib
import json
import os
import random
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

from side_by_side import Goal, Timed, finish, in_turn, small

ROOT = Path(__file__).parents[1]
MIB = 1 << 20
FILES = 20
CARD_BYTES, FILE_BYTES = (256 * MIB, 12 * MIB) if small() else (4096 * MIB, 203 * MIB)
MEMORY_MB = 150.0
CARDS_AT_ONCE = 3
"""The files, and what one contender writes, and some room to spare."""
PLACES = ("/usr/sbin", "/sbin")
"""Debian keeps `mkfs.fat` here, which is not on everybody's PATH."""

OURS = """
import json, sys
from pathlib import Path
from mediacheck.build.build import write_out
from mediacheck.build.plan import Wishes, content_of, plan_image
from mediacheck.build.record import beside
from mediacheck.card.folder import open_folder
from mediacheck.loop import File
from mediacheck.profile import Profile
from mediacheck.profile_files import LoadedProfile
from mediacheck.survey import Surveyed
from mediacheck.watching import NoByteWatcher

folder, out, size_bytes = Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3])
hashes = json.loads(Path(sys.argv[4]).read_text())
card = open_folder(folder)
files = tuple(File(entry, "other", sha256=hashes[entry.path]) for entry in card.entries)
surveyed = Surveyed(card, files, {})
model = Profile.model_validate({"id": "garden", "title": "Garden", "card": {"file_systems": ["FAT32"]}})
profile, wishes = LoadedProfile(model, "garden.yaml", "0" * 64), Wishes(size_bytes=size_bytes)
plan = plan_image(surveyed, content_of(surveyed, profile, wishes), profile, wishes, "quick")
write_out(plan, out, beside(out), False, NoByteWatcher())
"""


@dataclass(slots=True)
class Scene:
    """The files, and where the contenders put what they make of them."""

    folder: Path
    peak_mb: dict[str, float] = field(default_factory=dict)

    @property
    def source(self) -> Path:
        return self.folder / "face"

    @property
    def files(self) -> list[Path]:
        return sorted(self.source.iterdir())

    @property
    def hashes(self) -> Path:
        return self.folder / "hashes.json"

    @property
    def made(self) -> Path:
        """What is removed after each contender."""
        return self.folder / "made"

    @property
    def image(self) -> Path:
        return self.made / "card.img"

    @property
    def build(self) -> list[str]:
        where = (self.source, self.image, CARD_BYTES, self.hashes)
        return [sys.executable, "-c", OURS, *map(str, where)]


def main() -> None:
    """All contenders in turn, those that build first."""
    place = Path(option("folder") or tempfile.gettempdir())
    need, free = CARDS_AT_ONCE * CARD_BYTES, shutil.disk_usage(place).free
    if free < need:
        sys.exit(
            f"{place} has {free:,} bytes left, and this takes {need:,}: name another with --folder=PLACE"
        )
    rounds = int(option("rounds") or (1 if small() else 3))
    with tempfile.TemporaryDirectory(dir=place) as name:
        scene = Scene(Path(name))
        write_files(scene)
        figures = in_turn(
            {name: partial(built, scene, work) for name, work in builders(scene).items()}, rounds
        )
        figures |= verified(scene, rounds)
    figures |= {"build_mb": scene.peak_mb.get("build"), "verify_mb": scene.peak_mb.get("verify")}
    goals = [
        Goal("build_s", "cp_s", 1.1),
        Goal("build_s", "mkfs_mcopy_s", 1.0),
        Goal("verify_s", "sha256sum_s", 1.05),
    ]
    finish("build", figures, goals, {"build_mb": MEMORY_MB, "verify_mb": MEMORY_MB})


def write_files(scene: Scene) -> None:
    """Files of random bytes, no two of one length, and their hashes."""
    scene.source.mkdir()
    hashes = {}
    for number in range(FILES):
        file, digest = scene.source / f"Watering {number:02}.mp4", hashlib.sha256()
        chance, left = random.Random(number), FILE_BYTES - 977 * number
        with file.open("wb") as target:
            while left:
                block = chance.randbytes(min(left, MIB))
                digest.update(block)
                left -= target.write(block)
            os.fsync(target.fileno())
        hashes[file.name] = digest.hexdigest()
    scene.hashes.write_text(json.dumps(hashes))


def builders(scene: Scene) -> Mapping[str, Timed]:
    """What is timed of each that builds."""
    files, image, copies = scene.files, scene.image, scene.made / "files"
    copied = [copies / file.name for file in files]
    blank = ["truncate", "-s", CARD_BYTES, image], ["mkfs.fat", "-F", 32, image]
    return {
        "build_s": partial(measured, scene, "build", [scene.build]),
        "mkfs_mcopy_s": partial(
            measured, scene, "mcopy", [*blank, ["mcopy", "-i", image, *files, "::/"], ["sync", image]]
        ),
        "cp_s": partial(
            measured, scene, "cp", [["mkdir", copies], ["cp", *files, copies], ["sync", *copied, copies]]
        ),
    }


def built(scene: Scene, work: Timed) -> float | None:
    """Time one that builds, with nothing in memory, and remove what it made."""
    with emptied(scene.made):
        forget(scene.files)
        return work()


def verified(scene: Scene, rounds: int) -> dict[str, float | None]:
    """All that verify, on one image of ours."""
    with emptied(scene.made):
        subprocess.run(scene.build, cwd=ROOT, check=True)
        image, manifest = scene.image, scene.made / "card.manifest.json"
        ours = [sys.executable, "-m", "mediacheck", "verify", image, "--manifest", manifest]
        commands: dict[str, tuple[str, Sequence[object]]] = {
            "verify_s": ("verify", ours),
            "sha256sum_s": ("sha256sum", ["sha256sum", "-c", f"{image.name}.sha256"]),
        }
        if shutil.which("openssl"):
            commands["openssl_s"] = ("openssl", ["openssl", "dgst", "-sha256", image])
        found = in_turn(
            {name: partial(cold, scene, who, command) for name, (who, command) in commands.items()}, rounds
        )
    if (ours_s := found["verify_s"]) and (other_s := found.get("openssl_s")):
        found["verify_s/openssl_s"] = ours_s / other_s
    return found


def cold(scene: Scene, who: str, command: Sequence[object]) -> float | None:
    """Time one that verifies, with nothing in memory."""
    forget([scene.image])
    return measured(scene, who, [command])


def measured(scene: Scene, who: str, commands: Sequence[Sequence[object]]) -> float | None:
    """Seconds of all commands, one after the other; None if one failed. Notes the most memory of one."""
    start = time.perf_counter()
    for command in commands:
        code, peak_mb = run(command, scene.made if who == "sha256sum" else ROOT)
        scene.peak_mb[who] = max(scene.peak_mb.get(who, 0.0), peak_mb)
        if code:
            print(f"{command[0]} ended with {code}", file=sys.stderr)
            return None
    return time.perf_counter() - start


def run(command: Sequence[object], folder: Path) -> tuple[int, float]:
    """How one command ended, and the megabytes that it held at its peak."""
    setting = {**os.environ, "PATH": os.pathsep.join((os.environ.get("PATH", ""), *PLACES))}
    words = [shutil.which(str(command[0]), path=setting["PATH"]) or str(command[0]), *map(str, command[1:])]
    running = subprocess.Popen(words, cwd=folder, env=setting, stdout=subprocess.DEVNULL)
    _, status, used = os.wait4(running.pid, 0)
    running.returncode = os.waitstatus_to_exitcode(status)
    return running.returncode, used.ru_maxrss * 1024 / 1e6


def forget(files: Sequence[Path]) -> None:
    """Have the system drop what it keeps of these files, which are on the disk."""
    for file in files:
        with file.open("rb") as opened:
            os.fsync(opened.fileno())
            os.posix_fadvise(opened.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)


@contextmanager
def emptied(folder: Path) -> Iterator[None]:
    """A new folder, which is gone afterwards, also from the disk: no other contender pays for that."""
    folder.mkdir()
    try:
        yield
    finally:
        shutil.rmtree(folder)
        os.sync()


def option(name: str) -> str | None:
    """What stands behind `--NAME=` on the command line."""
    return next((word.partition("=")[2] for word in sys.argv[1:] if word.startswith(f"--{name}=")), None)


if __name__ == "__main__":
    main()
