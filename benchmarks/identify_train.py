"""Fits what `mediacheck identify` knows beforehand: visual words, and two small models.

Everything is made here and from the train side of the material alone; the same command gives the same files:
mediacheck/identify/words.npy and mediacheck/identify/model.json.

`python benchmarks/identify_train.py [--loops=N] [--photos=N] [--folder=F]`
"""

from __future__ import annotations

import json
import pickle
import sys
import tempfile
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from identify_loops import Made, frame_at, make_loops
from identify_photos import How, photo
from numpy.typing import NDArray

from mediacheck.identify.contest import contest
from mediacheck.identify.decide import CERTAINTY, Model, certainty_row, rank, second_order
from mediacheck.identify.footage import footage
from mediacheck.identify.gallery import Entry, Gallery
from mediacheck.identify.index import ItemIndex, index_of
from mediacheck.identify.packing import packed, unpacked
from mediacheck.identify.photos import FEATURES, Look, look
from mediacheck.media.facts import MediaFacts
from mediacheck.media.read import read_facts

ROOM = Path(__file__).parent.parent / "mediacheck" / "identify"
WORDS = 4096
ROUNDS = 12
SEED = 9
RIDGE = 2e-2
STEPS = 60
Floats = NDArray[np.float32]


def main() -> None:
    """Words first, since the models are fitted to what is found by them."""
    loops, photos = int(option("loops") or 200), int(option("photos") or 1200)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(option("folder") or name)
        made = make_loops(folder / "train", loops, 1, "train")
        learn_words(indexed(folder, made))
        fit_models(made, indexed(folder, made), photos, folder)


def option(name: str) -> str | None:
    """The value of --name=value."""
    found = [word.partition("=")[2] for word in sys.argv[1:] if word.startswith(f"--{name}=")]
    return found[0] if found else None


def indexed(folder: Path, made: Sequence[Made]) -> list[ItemIndex]:
    """What is kept of each loop, by two processes; kept beside the loops."""
    with ProcessPoolExecutor(2) as pool:
        return list(pool.map(index_one, [one.path for one in made], chunksize=4))


def index_one(path: Path) -> ItemIndex:
    """What is kept of one loop."""
    kept = path.with_suffix(".npz")
    if kept.exists():
        item = unpacked(kept.read_bytes(), kept.name)
        if all(frame.points.words is not None for frame in item.keyframes):
            return item
        kept.write_bytes(packed(item))  # it gets the words of today
        return unpacked(kept.read_bytes(), kept.name)
    facts = read_facts(path, path.name)
    assert isinstance(facts, MediaFacts)
    content = packed(index_of(footage(path, facts)))
    kept.write_bytes(content)
    return unpacked(content, kept.name)


def learn_words(items: Sequence[ItemIndex]) -> None:
    """Lloyd's algorithm over the descriptors of all pictures, from a seeded start."""
    rng = np.random.default_rng(SEED)
    rows = np.concatenate([f.points.descriptors for item in items for f in item.keyframes])
    rows = rows[rng.permutation(len(rows))[:80_000]].astype(np.float32)
    words = rows[rng.permutation(len(rows))[:WORDS]].copy()
    for _ in range(ROUNDS):
        nearest = np.concatenate([_nearest(rows[at : at + 5000], words) for at in range(0, len(rows), 5000)])
        sums = np.zeros_like(words)
        np.add.at(sums, nearest, rows)
        counts = np.bincount(nearest, minlength=WORDS)
        words = np.where(counts[:, None] > 0, sums / np.maximum(1, counts)[:, None], words)
    np.save(ROOM / "words.npy", np.rint(words).astype(np.uint8))


def _nearest(rows: Floats, words: Floats) -> NDArray[np.int64]:
    return np.asarray(((words * words).sum(axis=1)[None, :] - 2 * rows @ words.T).argmin(axis=1))


@dataclass(frozen=True)
class Example:
    """What one photo gave: features of all sights and the numbers of their loops, and which loop is right
    (negative: none of these)."""

    rows: Floats
    loops: tuple[int, ...]
    right: int


@dataclass(frozen=True)
class Won:
    """Who won in one photo (negative: nobody), and what its certainty is reckoned from."""

    loop: int
    certainty: Floats


@dataclass(frozen=True)
class Task:
    """One photo to be made and looked at."""

    number: int
    seed: int
    gallery: tuple[int, ...]
    right: int
    how: How


def fit_models(made: Sequence[Made], items: Sequence[ItemIndex], photos: int, folder: Path) -> None:
    """Sights first; who wins and how clearly depends on them."""
    tasks = _tasks(made, photos)
    (folder / "looks").mkdir(exist_ok=True)
    begin = tuple(made), tuple(items), folder / "looks"
    with ProcessPoolExecutor(2, initializer=_begin, initargs=begin) as pool:
        examples = list(pool.map(_example, tasks, chunksize=8))
    sights = fit_sights(examples)
    _write({"sight": _record(sights), "certainty": _record(_blank())})
    with ProcessPoolExecutor(2, initializer=_begin, initargs=begin) as pool:
        won = list(pool.map(_won, tasks, chunksize=8))
    (folder / "examples.pkl").write_bytes(pickle.dumps((examples, won)))
    _write({"sight": _record(sights), "certainty": _record(fit_certainty(examples, won))})


def _blank() -> Model:
    count = len(CERTAINTY)
    zeros, ones = np.zeros(count, np.float32), np.ones(count, np.float32)
    return Model(CERTAINTY, zeros, ones, np.zeros(second_order(zeros[None, :]).shape[1], np.float32), 0.0)


def _write(record: dict[str, Any]) -> None:
    (ROOM / "model.json").write_text(json.dumps(record, indent=1) + "\n", "utf-8")


_state: dict[str, Any] = {}


def _begin(made: tuple[Made, ...], items: tuple[ItemIndex, ...], looks: Path) -> None:
    cv2.setNumThreads(1)
    _state.update(made=made, items=items, looks=looks)


def _tasks(made: Sequence[Made], photos: int) -> Sequence[Task]:
    """Photos in small and in large galleries; of a quarter the right loop is not in the gallery."""
    rng = np.random.default_rng(SEED)
    sizes = (8, 60, len(made))
    tasks = []
    for number in range(photos):
        size = sizes[number % 3]
        right = int(rng.integers(len(made)))
        siblings = [n for n, one in enumerate(made) if one.family == made[right].family and n != right]
        others = [int(n) for n in rng.permutation(len(made)) if int(n) != right and int(n) not in siblings]
        listed = number % 4 != 3
        chosen = [*([right] if listed else []), *siblings, *others][:size]
        how: How = "careful" if number % 2 else "full"
        tasks.append(
            Task(
                number, int(rng.integers(2**31)), tuple(sorted(chosen)), right if listed else -1 - right, how
            )
        )
    return tasks


def _gallery(loops: tuple[int, ...]) -> Gallery:
    return _large(loops) if len(loops) > 8 else _made_of(loops)


@lru_cache(24)
def _large(loops: tuple[int, ...]) -> Gallery:
    return _made_of(loops)


def _made_of(loops: tuple[int, ...]) -> Gallery:
    return Gallery([Entry(_state["made"][n].name, (_state["items"][n],)) for n in loops])


def _example(task: Task) -> Example:
    """What was seen is kept for the contest."""
    rng = np.random.default_rng(task.seed)
    right = task.right if task.right >= 0 else -1 - task.right
    made: Made = _state["made"][right]
    scenes = [scene for scene in made.scenes if scene.kind == "content" and scene.end_s - scene.start_s > 0.6]
    scene = scenes[int(rng.integers(len(scenes)))]
    second = float(rng.uniform(scene.start_s + 0.2, scene.end_s - 0.2))
    other: Made = _state["made"][int(rng.integers(len(_state["made"])))]
    neighbour = frame_at(other.path, 3.0) if rng.random() < 0.3 and other.family != made.family else None
    shot, _ = photo(frame_at(made.path, second), rng, task.how, neighbour, "train")
    gallery = _gallery(task.gallery)
    looked = look(shot, gallery)
    _kept(task).write_bytes(pickle.dumps(looked))
    rows = [sight.features() for sight in looked.sights]
    loops = tuple(int(task.gallery[gallery.loop_of[sight.keyframe]]) for sight in looked.sights)
    return Example(np.array(rows, np.float32).reshape(-1, len(FEATURES)), loops, task.right)


def _kept(task: Task) -> Path:
    looks: Path = _state["looks"]
    return looks / f"{task.number}.pkl"


def _won(task: Task) -> Won:
    """By the model of sights that was just fitted."""
    looked: Look = pickle.loads(_kept(task).read_bytes())
    gallery = _gallery(task.gallery)
    ranked = rank(looked, gallery)
    if not ranked:
        return Won(-1, np.zeros(len(CERTAINTY), np.float32))
    found = contest(looked, ranked, gallery)
    rivals = [one for one in ranked if one.loop != found.best.loop]
    row = certainty_row(found.best, rivals, found.lead, found.agreement.strange)
    return Won(int(task.gallery[found.best.loop]), row)


def fit_sights(examples: Sequence[Example]) -> Model:
    """Which sight is of the right loop: each photo's sights against each other count most."""
    rows, labels, weights = [], [], []
    for one in examples:
        if one.right < 0 or not len(one.rows):
            continue
        label = np.array([loop == one.right for loop in one.loops])
        if not label.any():
            continue
        best = int(np.flatnonzero(label)[0])
        kept = [best, *np.flatnonzero(~label)[:12].tolist()]
        rows.append(one.rows[kept])
        labels.append(label[kept])
        weights.append(np.full(len(kept), 1 / len(kept)))
    return logistic(FEATURES, np.concatenate(rows), np.concatenate(labels), np.concatenate(weights))


def fit_certainty(examples: Sequence[Example], won: Sequence[Won]) -> Model:
    """Whether the winner is the right loop, listed or not."""
    some = [(one, winner) for one, winner in zip(examples, won, strict=True) if winner.loop >= 0]
    rows = np.stack([winner.certainty for _, winner in some])
    labels = np.array([winner.loop == one.right for one, winner in some])
    return logistic(CERTAINTY, rows, labels, np.ones(len(rows)))


def logistic(names: Sequence[str], rows: Floats, labels: NDArray[np.bool_], weights: NDArray[Any]) -> Model:
    """Logistic regression of second order with a ridge, by Newton's method."""
    mean, scale = rows.mean(axis=0), rows.std(axis=0) + 1e-6
    inside = np.c_[second_order((rows - mean) / scale), np.ones(len(rows))].astype(float)
    found = np.zeros(inside.shape[1])
    ridge = RIDGE * weights.sum() * np.r_[np.ones(len(found) - 1), 0]
    for _ in range(STEPS):
        chance = 1 / (1 + np.exp(-np.clip(inside @ found, -30, 30)))
        slope = inside.T @ (weights * (chance - labels)) + ridge * found
        bend = (inside * (weights * chance * (1 - chance))[:, None]).T @ inside + np.diag(ridge + 1e-9)
        found -= np.linalg.solve(bend, slope)
    return Model(
        tuple(names),
        mean.astype(np.float32),
        scale.astype(np.float32),
        found[:-1].astype(np.float32),
        float(found[-1]),
    )


def _record(model: Model) -> dict[str, Any]:
    numbers = {key: [round(float(x), 6) for x in getattr(model, key)] for key in ("mean", "scale", "weights")}
    return {"names": list(model.names), **numbers, "bias": [round(model.bias, 6)]}


if __name__ == "__main__":
    main()
