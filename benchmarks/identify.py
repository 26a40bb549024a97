"""Which loop is in a photo: simulated photos of loops that the models never saw, and photos of none of them.

Loops and photos are those of the test side (`identify_loops`, `identify_photos`); `identify_train` saw the
train side alone. `right_N_*`: share of photos whose loop is named as the only match, among N loops.
`wrong_match`: share of photos of a listed loop that are named as another one. `match_on_none`: share of
photos of black, of menus, of no screen and of loops that are not listed which are named; `match_on_sibling`:
the same where a loop from the same template is listed. `fewer_right_at_1000`: what 1,000 loops cost against
200, in the same photos.

`python benchmarks/identify.py [--small] [--photos=N] [--loops=N] [--folder=F]`
"""

from __future__ import annotations

import json
import tempfile
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from identify_loops import Made, frame_at, make_loops
from identify_photos import How, Nothing, nothing, photo
from identify_train import index_one, indexed, option
from side_by_side import small

from mediacheck.identify.answers import PhotoAnswer, answer_photos
from mediacheck.identify.gallery import Entry, Gallery

FEW = 8
GOALS = {
    "right_8_careful": 0.99,
    "right_8_full": 0.95,
    "right_200_careful": 0.97,
    "right_200_full": 0.90,
    "right_200_full_3_photos": 0.97,
    "second_within_1": 0.95,
    "wrong_match": 0.01,
    "match_on_none": 0.01,
    "match_on_sibling": 0.10,
    "fewer_right_at_1000": 0.04,
    "cpu_8_s": 0.3,
    "cpu_200_s": 0.6,
    "cpu_1000_s": 0.9,
    "index_mb_minute": 1.0,
    "index_cpu_s_minute": 3.0,
}
"""Of the figures that begin with right or second at least, of all others at most."""


@dataclass(frozen=True)
class Task:
    """What to photograph, and with which loops to compare it: 8 of them, the listed ones, or all."""

    kind: str
    seed: int
    how: How = "full"
    among: str = "listed"
    photos: int = 1


@dataclass(frozen=True)
class Loops:
    """Numbers of loops. `listed`: those of the library of 200; `siblings`: not listed, but one from the same
    template is; `strangers`: neither."""

    listed: tuple[int, ...]
    siblings: tuple[int, ...]
    strangers: tuple[int, ...]


def shared_out(made: Sequence[Made], count: int) -> Loops:
    """The last one of each family stays out of the library."""
    last = {one.family: number for number, one in enumerate(made)}
    alone = {one.family for one in made} - {
        one.family for number, one in enumerate(made) if last[one.family] != number
    }
    able = [n for n, one in enumerate(made) if one.family in alone or last[one.family] != n]
    listed = tuple(able[:count])
    families = {made[n].family for n in listed}
    others = [n for n in range(len(made)) if n not in listed]
    siblings = tuple(n for n in others if made[n].family in families)
    return Loops(listed, siblings, tuple(n for n in others if made[n].family not in families))


@dataclass(frozen=True)
class Outcome:
    """Of one task. `answer` of the first photo on; `loop`: the first one named."""

    kind: str
    answer: str
    right: bool
    named_other: bool
    off_s: float | None
    cpu_s: float


HOWS: tuple[How, How] = ("full", "careful")
NOTHING: tuple[Nothing, ...] = ("black", "menu", "surroundings")
_state: dict[str, Any] = {}


def main() -> None:
    """All photos, by two processes."""
    photos = int(option("photos") or (10 if small() else 80))
    listed, loops = (24, 40) if small() else (200, int(option("loops") or 1000))
    with tempfile.TemporaryDirectory() as name:
        folder = Path(option("folder") or name)
        made = make_loops(folder / "test", loops, 1, "test")
        items = indexed(folder, made)
        begin = tuple(made), tuple(items), shared_out(made, listed)
        with ProcessPoolExecutor(2, initializer=_begin, initargs=begin) as pool:
            outcomes = list(pool.map(_outcome, _tasks(photos), chunksize=4))
        figures = _figures(outcomes)
        figures["index_mb_minute"] = _size_mb(made, [item.seconds for item in items])
        figures["index_cpu_s_minute"] = _index_cpu_s(made[: min(20, len(made))], folder)
    _tell(figures)


def _begin(made: tuple[Made, ...], items: tuple[Any, ...], loops: Loops) -> None:
    cv2.setNumThreads(1)
    _state.update(made=made, items=items, loops=loops)
    for name, numbers in (("listed", loops.listed), ("all", tuple(range(len(made))))):
        _state[name] = _ready(numbers)


def _ready(numbers: Sequence[int]) -> Gallery:
    """With what is reckoned once for all photos."""
    made, items = _state["made"], _state["items"]
    gallery = Gallery([Entry(made[n].name, (items[n],)) for n in sorted(numbers)])
    assert len(gallery.words.votes(gallery.keyframes[0].points))
    assert len(gallery.rows)
    return gallery


def _tasks(photos: int) -> list[Task]:
    """For each number: four photos of listed loops (two of them looked for among all as well), three of
    another one, and seven of none."""
    tasks = []
    for number in range(photos):
        seed, how = 1000 * number, HOWS[number % 2]
        tasks += [
            Task("8_careful", seed + 1, "careful", "few"),
            Task("8_full", seed + 2, "full", "few"),
            Task("200_careful", seed + 3, "careful"),
            Task("200_full", seed + 4),
            Task("1000_careful", seed + 3, "careful", "all"),
            Task("1000_full", seed + 4, "full", "all"),
            Task("200_full_3_photos", seed + 5, photos=3),
            *(Task("sibling", seed + 10 + more, how) for more in range(2)),
            *(Task("unlisted", seed + 20 + more, how) for more in range(2)),
            *(Task("nothing", seed + 30 + more) for more in range(3)),
        ]
    return tasks


def _outcome(task: Task) -> Outcome:
    rng = np.random.default_rng(task.seed)
    made: tuple[Made, ...] = _state["made"]
    loops: Loops = _state["loops"]
    if task.kind == "nothing":
        return _judged(task, -1, [], [nothing(rng, NOTHING[task.seed % 3], "test")], _state["listed"])
    able = {"sibling": loops.siblings, "unlisted": loops.strangers}.get(task.kind, loops.listed)
    right = int(able[int(rng.integers(len(able)))])
    seconds = _seconds(made[right], rng, task.photos)
    other = made[int(rng.integers(len(made)))]
    neighbour = (
        frame_at(other.path, 3.0) if rng.random() < 0.3 and other.family != made[right].family else None
    )
    shots = [
        photo(frame_at(made[right].path, second), rng, task.how, neighbour, "test")[0] for second in seconds
    ]
    gallery = _few(right, rng, made) if task.among == "few" else _state[task.among]
    return _judged(task, right, seconds, shots, gallery)


def _few(right: int, rng: np.random.Generator, made: Sequence[Made]) -> Gallery:
    """A display's loops: this one, all from its template, and others."""
    family = [n for n, one in enumerate(made) if one.family == made[right].family and n != right]
    others = [int(n) for n in rng.permutation(len(made)) if int(n) != right and int(n) not in family]
    return _ready([right, *family, *others][:FEW])


def _seconds(made: Made, rng: np.random.Generator, count: int) -> list[float]:
    """Moments of scenes with content; several lie a few seconds apart."""
    scenes = [one for one in made.scenes if one.kind == "content" and one.end_s - one.start_s > 0.6]
    found = []
    first = int(rng.integers(len(scenes)))
    for number in range(count):
        scene = scenes[(first + number) % len(scenes)]
        found.append(float(rng.uniform(scene.start_s + 0.2, scene.end_s - 0.2)))
    return found


def _judged(
    task: Task, right: int, seconds: Sequence[float], shots: Sequence[Any], gallery: Gallery
) -> Outcome:
    begun = time.process_time()
    found = answer_photos(shots, gallery)
    cpu_s = (time.process_time() - begun) / len(shots)
    name = _state["made"][right].name if right >= 0 else ""
    named = gallery.loops[found.loops[0].loop].name if found.loops else ""
    match = found.answer == "match"
    return Outcome(
        task.kind,
        found.answer,
        match and named == name,
        match and named != name,
        _off_s(found, seconds) if match and named == name else None,
        cpu_s,
    )


def _off_s(found: PhotoAnswer, seconds: Sequence[float]) -> float:
    """How far the moment is from the stretch that was named."""
    start, end = found.loops[0].seconds
    second = seconds[found.shown_in]
    return max(0.0, start - second, second - end)


def _figures(outcomes: Sequence[Outcome]) -> dict[str, float]:
    def share(kinds: Sequence[str], of: str) -> float:
        some = [one for one in outcomes if one.kind in kinds]
        return sum(bool(getattr(one, of)) for one in some) / max(1, len(some))

    listed = ("8_careful", "8_full", "200_careful", "200_full")
    many = ("1000_careful", "1000_full")
    figures = {f"right_{kind}": share([kind], "right") for kind in (*listed, "200_full_3_photos")}
    offs = [one.off_s for one in outcomes if one.off_s is not None and one.kind in listed]
    figures["second_within_1"] = sum(off <= 1 for off in offs) / max(1, len(offs))
    figures["wrong_match"] = share(listed, "named_other")
    figures["match_on_none"] = share(("nothing", "unlisted"), "named_other")
    figures["match_on_sibling"] = share(["sibling"], "named_other")
    figures["fewer_right_at_1000"] = share(listed[2:], "right") - share(many, "right")
    for name, kinds in (("cpu_8_s", listed[:2]), ("cpu_200_s", listed[2:]), ("cpu_1000_s", many)):
        figures[name] = float(np.mean([one.cpu_s for one in outcomes if one.kind in kinds]))
    return figures


def _size_mb(made: Sequence[Made], seconds: Sequence[float]) -> float:
    return sum(one.path.with_suffix(".npz").stat().st_size for one in made) / 1e6 / (sum(seconds) / 60)


def _index_cpu_s(made: Sequence[Made], folder: Path) -> float:
    """CPU of this process for a minute of loops, decoding included."""
    cpu_s = length_s = 0.0
    for one in made:
        again = folder / "again.mp4"
        again.write_bytes(one.path.read_bytes())
        again.with_suffix(".npz").unlink(missing_ok=True)
        begun = time.process_time()
        length_s += index_one(again).seconds
        cpu_s += time.process_time() - begun
    return cpu_s / (length_s / 60)


def _tell(figures: dict[str, float]) -> None:
    holds = True
    for name, value in figures.items():
        goal, least = GOALS[name], name.startswith(("right", "second"))
        good = value >= goal if least else value <= goal
        holds = holds and good
        bound = f"at {'least' if least else 'most'} {goal:g}"
        print(f"{name:<28} {value:>8.4f}   goal: {bound}{'' if good else '  MISSED'}")
    print(
        json.dumps(
            {"benchmark": "identify", "figures": figures, "ratios": {}, "goals": GOALS, "holds": holds}
        )
    )


if __name__ == "__main__":
    main()
