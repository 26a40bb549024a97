"""Clips of loops after each change, found again in a library: ours, perceptual hashes, MPEG-7 signatures.

`right`: the loop itself is named, and no other one; `false`: another one is named. The loops are those of the
test side (`identify_loops`). The perceptual hash is `imagehash.phash` of a picture of each half second, laid
over each loop at every offset; a mean distance of up to 10 of 64 bits counts (common practice, no source).
MPEG-7 signatures (ISO/IEC 15938-3) are ffmpeg's filter; it compares two files at a time, so that each clip is
held against its own loop and three others.

`pip install imagehash`, then `python benchmarks/identify_clips.py [--small] [--folder=F]`
"""

from __future__ import annotations

import json
import subprocess
import tempfile
from collections import Counter
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path

import numpy as np
from fingerprint import signature_matches
from identify_loops import Made, make_loops
from identify_train import indexed, option
from numpy.typing import NDArray
from PIL import Image
from side_by_side import small

from mediacheck.identify.clips import Cuts, Found
from mediacheck.identify.footage import footage
from mediacheck.identify.index import ItemIndex, index_of
from mediacheck.media.facts import MediaFacts
from mediacheck.media.read import read_facts

LOOPS, CLIPS = (16, 3) if small() else (60, 12)
CHANGES: dict[str, tuple[str, ...]] = {
    "300 kbit/s": ("-b:v", "300k", "-maxrate", "300k", "-bufsize", "300k"),
    "a quarter": ("-vf", "scale=iw/4:-2"),
    "letterbox": ("-vf", "pad=iw:iw*3/4:0:(oh-ih)/2"),
    "crop 10 %": ("-vf", "crop=iw*.9:ih*.9"),
    "brighter": ("-vf", "eq=brightness=0.12:contrast=1.25"),
    "colours": ("-vf", "hue=h=30:s=0.6"),
    "15 frames/s": ("-r", "15"),
    "5 seconds": ("-ss", "4", "-t", "5"),
}
CUT = (4.0, 9.0)
LOOK_S, UNSEEN = 0.1, 5
SECONDS_DIFFER = "3 s differ"
BOX = "drawbox=x=iw*0.3:y=ih*0.3:w=iw*0.4:h=ih*0.4:c=teal:t=fill:enable='between(t,6,9)'"
HASH_BITS = 10


@dataclass(frozen=True)
class Copy:
    """One clip of one loop."""

    loop: int
    change: str
    path: Path


def main() -> None:
    """All copies, all three ways."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(option("folder") or name)
        made = make_loops(folder / "test", LOOPS, 1, "test")
        items = indexed(folder, made)
        copies = [
            _copy(made, loop, change, Path(name))
            for loop in range(CLIPS)
            for change in (*CHANGES, SECONDS_DIFFER)
        ]
        with ProcessPoolExecutor(2) as pool:
            traces = list(pool.map(_item_of, [one.path for one in copies]))
            table = {"ours": _ours(copies, traces, made, items)}
            if find_spec("imagehash"):
                hashes = list(pool.map(_hashes, [*(one.path for one in made), *(one.path for one in copies)]))
                table["phash"] = _by_hash(copies, hashes[len(made) :], hashes[: len(made)])
            wanted = [one for one in copies if one.change != SECONDS_DIFFER]
            answers = pool.map(partial(_by_signature, made), wanted)
            table["signature"] = _counted(wanted, list(answers))
    _tell(table)


def _copy(made: Sequence[Made], loop: int, change: str, folder: Path) -> Copy:
    path = folder / f"{loop}-{change.replace(' ', '_').replace('/', '')}.mp4"
    how = CHANGES.get(change, ("-vf", BOX))
    line = [
        "ffmpeg",
        "-v",
        "error",
        "-y",
        "-i",
        str(made[loop].path),
        "-an",
        "-preset",
        "veryfast",
        *how,
        str(path),
    ]
    subprocess.run(line, check=True)
    return Copy(loop, change, path)


def _item_of(path: Path) -> ItemIndex:
    facts = read_facts(path, path.name)
    assert isinstance(facts, MediaFacts)
    return index_of(footage(path, facts))


def _ours(
    copies: Sequence[Copy], traces: Sequence[ItemIndex], made: Sequence[Made], items: Sequence[ItemIndex]
) -> dict[str, str]:
    cuts = Cuts({one.name: item.trace for one, item in zip(made, items, strict=True)})
    answers = []
    for copy, item in zip(copies, traces, strict=True):
        found = cuts.find(item.trace)
        same = _same_there(made, copy)
        some = [one for one in found if one.item not in same]
        answers.append(_judged(some, made[copy.loop].name, copy.change == SECONDS_DIFFER))
    return _counted(copies, answers)


def _same_there(made: Sequence[Made], copy: Copy) -> set[str]:
    """Other loops that show the very same as what was cut out, at whatever second: to name them too is
    right."""
    if copy.change != "5 seconds":
        return set()
    start, end = CUT
    cut = _looks(made[copy.loop])[round(start / LOOK_S) : round(end / LOOK_S)]
    others = (one for number, one in enumerate(made) if number != copy.loop)
    return {one.name for one in others if _holds(_looks(one), cut)}


def _looks(made: Made) -> list[str]:
    """What is shown in each tenth of a second; a fade says nothing."""
    end_s = made.scenes[-1].end_s
    return [
        next((s.look for s in made.scenes if s.start_s <= at * LOOK_S + 1e-6 < s.end_s), "fade")
        for at in range(round(end_s / LOOK_S))
    ]


def _holds(looks: Sequence[str], cut: Sequence[str]) -> bool:
    """Whether the cut stands in it somewhere, but for less than half a second."""
    return any(
        sum(a != b and "fade" not in (a, b) for a, b in zip(looks[at:], cut, strict=False)) < UNSEEN
        for at in range(len(looks) - len(cut) + 1)
    )


def _judged(found: Sequence[Found], name: str, differs: bool) -> tuple[bool, bool]:
    """Right and false. Where seconds differ, these have to be named, and no other."""
    whole = [one for one in found if not one.differing]
    if not differs:
        return [one.item for one in whole] == [name], any(one.item != name for one in whole)
    best = min(found, key=lambda one: sum(end - start for start, end in one.differing), default=None)
    if best is None or best.item != name or len(best.differing) != 1:
        return False, bool(whole)
    start, end = best.differing[0]
    return abs(start - 6) <= 0.5 and abs(end - 9) <= 0.5, bool(whole)


def _hashes(path: Path) -> NDArray[np.bool_]:
    """Of a picture of each half second, (n, 64)."""
    phash = import_module("imagehash").phash
    facts = read_facts(path, path.name)
    assert isinstance(facts, MediaFacts)
    pictures = [picture for number, (_, picture) in enumerate(footage(path, facts)) if number % 2 == 0]
    return np.stack([phash(Image.fromarray(picture)).hash.reshape(-1) for picture in pictures])


def _by_hash(
    copies: Sequence[Copy],
    clips: Sequence[NDArray[np.bool_]],
    loops: Sequence[NDArray[np.bool_]],
) -> dict[str, str]:
    answers = []
    for copy, clip in zip(copies, clips, strict=True):
        near = [number for number, loop in enumerate(loops) if _nearest(clip, loop) <= HASH_BITS]
        same = copy.loop in near
        answers.append(
            (same and len(near) == 1 and copy.change != SECONDS_DIFFER, any(n != copy.loop for n in near))
        )
    return _counted(copies, answers)


def _nearest(clip: NDArray[np.bool_], loop: NDArray[np.bool_]) -> float:
    """Mean distance in bits at the best offset."""
    length = min(len(clip), len(loop))
    offsets = range(max(1, len(loop) - length + 1))
    return min(float((clip[:length] ^ loop[at : at + length]).sum(axis=1).mean()) for at in offsets)


def _by_signature(made: Sequence[Made], copy: Copy) -> tuple[bool, bool]:
    others = [made[(copy.loop + step) % len(made)].path for step in (1, 7, 13)]
    false = any(signature_matches(other, copy.path) for other in others)
    return signature_matches(made[copy.loop].path, copy.path), false


def _counted(copies: Sequence[Copy], answers: Sequence[tuple[bool, bool]]) -> dict[str, str]:
    """By change: right and false of all."""
    of, right, false = Counter[str](), Counter[str](), Counter[str]()
    for copy, (is_right, is_false) in zip(copies, answers, strict=True):
        of[copy.change] += 1
        right[copy.change] += is_right
        false[copy.change] += is_false
    return {change: f"{right[change]}/{false[change]} of {of[change]}" for change in of}


def _tell(table: dict[str, dict[str, str]]) -> None:
    print(f"{'right/false of clips':<22}" + "".join(f"{name:>16}" for name in table))
    for change in (*CHANGES, SECONDS_DIFFER):
        print(f"{change:<22}" + "".join(f"{found.get(change, '-'):>16}" for found in table.values()))
    ours = table["ours"].values()
    right = sum(int(one.split("/")[0]) for one in ours)
    false = sum(int(one.split("/")[1].split()[0]) for one in ours)
    total = sum(int(one.split()[-1]) for one in ours)
    figures = {"right": right / total, "false": false / total}
    holds = right == total and not false
    goals = {"right": 1.0, "false": 0.0}
    print(
        json.dumps(
            {"benchmark": "identify_clips", "figures": figures, "ratios": {}, "goals": goals, "holds": holds}
        )
    )


if __name__ == "__main__":
    main()
