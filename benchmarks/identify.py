"""Which loop is in a photo: simulated photos of loops that the models never saw, and photos of none of them.

Loops and photos are those of the test side (`identify_loops`, `identify_photos`); `identify_train` saw the
train side alone. `right_*`: share of photos whose loop is named as the only match. `wrong_match`: share of
photos of a listed loop that are named as another one; `match_on_*`: share of photos of no listed loop that
are named.

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
from identify_photos import How, nothing, photo
from identify_train import index_one, indexed, option
from side_by_side import small

from mediacheck.identify.answers import PhotoAnswer, answer_photos
from mediacheck.identify.gallery import Entry, Gallery

FEW = 8
GOALS = {
    "right_8_careful": 0.99,
    "right_8_full": 0.95,
    "right_all_careful": 0.97,
    "right_all_full": 0.90,
    "right_all_full_3_photos": 0.97,
    "second_within_1": 0.95,
    "wrong_match": 0.01,
    "match_on_nothing": 0.01,
    "match_on_unlisted": 0.01,
    "match_on_sibling": 0.10,
    "cpu_8_s": 0.3,
    "cpu_all_s": 0.6,
    "index_mb_minute": 1.0,
    "index_cpu_s_minute": 3.0,
}
"""Of the figures that begin with right or second at least, of all others at most."""


@dataclass(frozen=True)
class Task:
    """What to photograph, and what to compare with: `few` of the loops, or all; with or without it."""

    kind: str
    seed: int
    how: How = "full"
    few: bool = False
    listed: bool = True
    siblings: bool = True
    photos: int = 1


@dataclass(frozen=True)
class Outcome:
    """Of one task. `answer` of the first photo on; `loop`: the first one named."""

    kind: str
    answer: str
    right: bool
    named_other: bool
    off_s: float | None
    cpu_s: float


_state: dict[str, Any] = {}


def main() -> None:
    """All photos, by two processes."""
    photos, loops = (
        int(option("photos") or (40 if small() else 320)),
        int(option("loops") or (24 if small() else 200)),
    )
    with tempfile.TemporaryDirectory() as name:
        folder = Path(option("folder") or name)
        made = make_loops(folder / "test", loops, 1, "test")
        begun = time.process_time()
        items = indexed(folder, made)
        del begun
        with ProcessPoolExecutor(2, initializer=_begin, initargs=(tuple(made), tuple(items))) as pool:
            outcomes = list(pool.map(_outcome, _tasks(photos), chunksize=4))
        figures = _figures(outcomes)
        figures["index_mb_minute"] = _size_mb(made, [item.seconds for item in items])
        figures["index_cpu_s_minute"] = _index_cpu_s(made[: min(20, len(made))], folder)
    _tell(figures)


def _begin(made: tuple[Made, ...], items: tuple[Any, ...]) -> None:
    cv2.setNumThreads(1)
    whole = Gallery([Entry(one.name, (item,)) for one, item in zip(made, items, strict=True)])
    assert len(whole.words.votes(whole.keyframes[0].points))
    assert len(whole.rows)
    _state.update(made=made, items=items, whole=whole)


def _tasks(photos: int) -> list[Task]:
    tasks = []
    for number in range(photos):
        seed = 1000 * number
        tasks += [
            Task("8_careful", seed + 1, "careful", few=True),
            Task("8_full", seed + 2, few=True),
            Task("all_careful", seed + 3, "careful"),
            Task("all_full", seed + 4),
            Task("sibling", seed + 7, "careful" if number % 2 else "full", listed=False),
            Task("unlisted", seed + 6, "careful" if number % 2 else "full", listed=False, siblings=False),
        ]
        tasks += (
            [Task("nothing", seed + 5)] if number % 2 else [Task("all_full_3_photos", seed + 8, photos=3)]
        )
    return tasks


def _outcome(task: Task) -> Outcome:
    rng = np.random.default_rng(task.seed)
    made: tuple[Made, ...] = _state["made"]
    if task.kind == "nothing":
        kinds = ("black", "menu", "surroundings")
        shots = [nothing(rng, kinds[task.seed // 1000 % 3], "test")]  # type: ignore[arg-type]
        return _judged(task, -1, [], shots, _state["whole"])
    right = _chosen(task, rng, made)
    seconds = _seconds(made[right], rng, task.photos)
    other = made[int(rng.integers(len(made)))]
    neighbour = (
        frame_at(other.path, 3.0) if rng.random() < 0.3 and other.family != made[right].family else None
    )
    shots = [
        photo(frame_at(made[right].path, second), rng, task.how, neighbour, "test")[0] for second in seconds
    ]
    return _judged(task, right, seconds, shots, _gallery(task, right, rng, made))


def _chosen(task: Task, rng: np.random.Generator, made: Sequence[Made]) -> int:
    """For siblings, a loop that has one."""
    families = [one.family for one in made]
    able = [n for n in range(len(made)) if task.kind != "sibling" or families.count(families[n]) > 1]
    return int(able[int(rng.integers(len(able)))])


def _seconds(made: Made, rng: np.random.Generator, count: int) -> list[float]:
    """Moments of scenes with content; several lie a few seconds apart."""
    scenes = [one for one in made.scenes if one.kind == "content" and one.end_s - one.start_s > 0.6]
    found = []
    first = int(rng.integers(len(scenes)))
    for number in range(count):
        scene = scenes[(first + number) % len(scenes)]
        found.append(float(rng.uniform(scene.start_s + 0.2, scene.end_s - 0.2)))
    return found


def _gallery(task: Task, right: int, rng: np.random.Generator, made: Sequence[Made]) -> Gallery:
    whole: Gallery = _state["whole"]
    if not task.few and task.listed:
        return whole
    family = [n for n, one in enumerate(made) if one.family == made[right].family and n != right]
    others = [int(n) for n in rng.permutation(len(made)) if int(n) != right and int(n) not in family]
    numbers = [*([right] if task.listed else []), *(family if task.siblings else []), *others]
    numbers = numbers[:FEW] if task.few else numbers
    return Gallery([Entry(made[n].name, (_state["items"][n],)) for n in sorted(numbers)])


def _judged(
    task: Task, right: int, seconds: Sequence[float], shots: Sequence[Any], gallery: Gallery
) -> Outcome:
    if task.few:
        gallery.words.votes(gallery.keyframes[0].points)
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

    listed = ("8_careful", "8_full", "all_careful", "all_full")
    figures = {f"right_{kind}": share([kind], "right") for kind in (*listed, "all_full_3_photos")}
    offs = [one.off_s for one in outcomes if one.off_s is not None and one.kind in listed]
    figures["second_within_1"] = sum(off <= 1 for off in offs) / max(1, len(offs))
    figures["wrong_match"] = share(listed, "named_other")
    for kind in ("nothing", "unlisted", "sibling"):
        figures[f"match_on_{kind}"] = share([kind], "named_other")
    for name, kinds in (("cpu_8_s", listed[:2]), ("cpu_all_s", listed[2:])):
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
