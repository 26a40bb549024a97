"""Listing and checking a card of 20,000 files in 200 folders, beside general tools over the same image.

Ours lists every file with its place, names, times and attributes, and checks the whole volume (`open_raw`, as
`mediacheck check` does). `fsck.fat -n` and `fsck.exfat -n` check and list nothing; `mdir -/` and the walk of
The Sleuth Kit (pytsk3) list and check nothing. All figures are seconds of processor time, in turn, with the
image in memory. Those of the others are whole programs; ours and pytsk3's, which are Python both, are given
without the start of Python and the import of libraries, and as whole programs (`..._whole_s`).

Memory is the most that our process held, Python and numpy included; with a card of 64 GiB instead of 1 GiB
(the same few files) it may grow as the FAT does, and no more.

`python benchmarks/card_listing.py [--small] [--rounds=N] [--images=FOLDER]`: a folder keeps the images.
"""

from __future__ import annotations

import random
import resource
import subprocess
import sys
import tempfile
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path

from side_by_side import Goal, finish, in_turn, small

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT))

from tests.card import exfat_images, fat_images  # noqa: E402  # needs the path
from tests.card.card_programs import found  # noqa: E402  # needs the path
from tests.card.exfat_images import Filled, New  # noqa: E402  # needs the path

FOLDERS, FILES = (20, 50) if small() else (200, 100)
GIB = 1 << 30
FAT_ENTRY_BYTES = 4
GROWTH_MAX = 1.5
"""Bytes of memory for each byte that the FAT grows."""

OURS = """
import sys, time
from mediacheck.card.raw import open_raw
start = time.process_time()
card = open_raw(sys.argv[1], sys.argv[1], "image")
seconds = time.process_time() - start
assert (len(card.entries), card.damage) == (int(sys.argv[2]), ()), card.damage
print(seconds)
"""
TSK = """
import sys, time
import pytsk3
FOLDER = pytsk3.TSK_FS_META_TYPE_DIR
def walk(directory):
    count = 0
    for found in directory:
        name, meta = found.info.name.name, found.info.meta
        if meta is None or name in (b".", b"..") or name.startswith(b"$") or b" (Volume Label" in name:
            continue
        count += walk(found.as_directory()) if meta.type == FOLDER else meta.size >= 0
    return count
start = time.process_time()
count = walk(pytsk3.FS_Info(pytsk3.Img_Info(sys.argv[1])).open_dir("/"))
seconds = time.process_time() - start
assert count == int(sys.argv[2]), count
print(seconds)
"""
MEMORY = "print(next(line for line in open('/proc/self/status') if line.startswith('VmHWM')).split()[1])"


def contents() -> dict[str, bytes]:
    """Files with long names, each of a few kilobytes."""
    chance = random.Random(8)
    return {
        f"Garden centre {folder:03}/Watering can number {number:03}.mp4": chance.randbytes(
            chance.randrange(200, 9_000)
        )
        for folder in range(FOLDERS)
        for number in range(FILES)
    }


def fat_image(path: Path, size_bytes: int, cluster_bytes: int, tree: Path) -> Path:
    """FAT32, filled by mtools."""
    sectors = cluster_bytes // 512
    options = ("-n", "GARDEN", "-a")
    fat_images.make(path, 32, *options, sectors_per_cluster=sectors, clusters=size_bytes // cluster_bytes)
    fat_images.must("mcopy", "-s", "-Q", "-i", path, *sorted(tree.iterdir()), "::/")
    return path


def exfat_image(path: Path, size_bytes: int, cluster_bytes: int, tree: Path) -> Path:
    """Formatted by mkfs.exfat, filled by the tests' writer: a file in one piece after the other."""
    exfat_images.formatted(path, size_bytes, cluster_bytes, "GARDEN")
    paths = sorted(file for file in tree.rglob("*") if file.is_file())
    Filled(path).fill([New(file.relative_to(tree).as_posix(), file.read_bytes()) for file in paths])
    return path


Maker = Callable[[Path, int, int, Path], Path]


def made(path: Path, make: Maker, size_bytes: int, cluster_bytes: int, tree: Path) -> Path:
    """The image, unless it was kept."""
    return path if path.exists() else make(path, size_bytes, cluster_bytes, tree)


def cpu_s(*command: str | Path) -> float | None:
    """User and system seconds of one command; None if it failed, or is not installed."""
    program = found(str(command[0]))
    if program is None:
        return None
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    done = fat_images.run(program, *command[1:])
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    used = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return used if done.returncode == 0 else None


def told(code: str, image: Path, count: int) -> float:
    """What a piece of Python prints in a process of its own."""
    command = [sys.executable, "-c", code, str(image), str(count)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True)
    return float(done.stdout.split()[-1])


def compared(kind: str, image: Path, others: dict[str, Sequence[str | Path]]) -> dict[str, float | None]:
    """Seconds of all contenders over one image."""
    count = FOLDERS * FILES
    python = (sys.executable, "-c")
    contenders: dict[str, Callable[[], float | None]] = {
        f"{kind}_ours_s": partial(told, OURS, image, count),
        f"{kind}_pytsk3_s": partial(told, TSK, image, count),
        f"{kind}_ours_whole_s": partial(cpu_s, *python, OURS, image, str(count)),
        f"{kind}_pytsk3_whole_s": partial(cpu_s, *python, TSK, image, str(count)),
    }
    contenders |= {f"{kind}_{name}_s": partial(cpu_s, *command) for name, command in others.items()}
    return in_turn(contenders, rounds=int(option("rounds") or (1 if small() else 9)))


def memory_mb(image: Path, count: int) -> float:
    """The most memory that our process held."""
    return told(OURS + MEMORY, image, count) * 1024 / 1e6


def growth(kind: str, folder: Path, make: Maker) -> dict[str, float | None]:
    """Memory with a card of 1 GiB and one of 64 GiB with clusters of 8 and 32 KiB: the FAT grows 16-fold."""
    few = folder / "few"
    (few / "Seeds").mkdir(parents=True, exist_ok=True)
    (few / "Seeds" / "LOOP1.MP4").write_bytes(b"seeds")
    cards = {"1gib": (GIB, 8_192), "64gib": (64 * GIB, 32_768)}
    held = {
        name: memory_mb(made(folder / f"{kind}-{name}.img", make, size, cluster, few), 1)
        for name, (size, cluster) in cards.items()
    }
    fats_mb = [FAT_ENTRY_BYTES * size / cluster / 1e6 for size, cluster in cards.values()]
    more = (held["64gib"] - held["1gib"]) / (fats_mb[1] - fats_mb[0])
    figures: dict[str, float | None] = {f"{kind}_{name}_memory_mb": value for name, value in held.items()}
    return figures | {f"{kind}_memory_per_fat_byte": more}


def option(name: str) -> str | None:
    """What stands behind `--NAME=` on the command line."""
    return next((word.partition("=")[2] for word in sys.argv[1:] if word.startswith(f"--{name}=")), None)


def main() -> None:
    """Make the images, run everything in turn, print the table."""
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(option("images") or scratch)
        folder.mkdir(exist_ok=True)
        tree = folder / "tree"
        for name, content in contents().items():
            (tree / name).parent.mkdir(parents=True, exist_ok=True)
            (tree / name).write_bytes(content)
        fat = made(folder / f"fat-{FILES}.img", fat_image, GIB, 4096, tree)
        exfat = made(folder / f"exfat-{FILES}.img", exfat_image, GIB, 4096, tree)
        listing = ("mdir", "-/", "-i", fat, "::/")
        figures = compared("fat", fat, {"fsck": ("fsck.fat", "-n", fat), "mdir": listing})
        figures |= compared("exfat", exfat, {"fsck": ("fsck.exfat", "-n", exfat)})
        figures |= {"fat_memory_mb": memory_mb(fat, FOLDERS * FILES)}
        figures |= {"exfat_memory_mb": memory_mb(exfat, FOLDERS * FILES)}
        figures |= growth("fat", folder, fat_image) | growth("exfat", folder, exfat_image)
    goals = [Goal("fat_ours_s", other, 1.0) for other in ("fat_fsck_s", "fat_pytsk3_s")]
    goals.append(Goal("exfat_ours_s", "exfat_pytsk3_s", 1.0))
    limits = {f"{kind}_memory_per_fat_byte": GROWTH_MAX for kind in ("fat", "exfat")}
    finish("card_listing", figures, goals, limits)


if __name__ == "__main__":
    main()
