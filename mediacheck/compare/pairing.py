"""Which file of the bad card stands for which of the good one: one to one, and the same on every run.

It must not say what differs between the two.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterator, Sequence
from dataclasses import dataclass

from mediacheck.compare.model import How
from mediacheck.loop import File
from mediacheck.measure.fingerprint import distance
from mediacheck.measure.same_picture import SAME_PICTURE, apart, perhaps_near
from mediacheck.rules.measured import telling_print

MEDIA = ("video", "still", "audio")


@dataclass(frozen=True, slots=True)
class Pair:
    """Two files that stand for each other."""

    good: File
    bad: File
    how: How


@dataclass(frozen=True, slots=True)
class Pairing:
    """Every file of both cards, once each; what computers left behind is in none of them."""

    pairs: tuple[Pair, ...]
    missing: tuple[File, ...]
    """On the good card only."""
    extra: tuple[File, ...]
    """On the bad card only."""


Step = Callable[[Sequence[File], Sequence[File]], Iterator[tuple[File, File]]]
"""Which of these stand for each other, each file once at the most."""
Key = Callable[[File], Hashable | None]


def pairing(good: Sequence[File], bad: Sequence[File]) -> Pairing:
    """Pair the files: by their bytes, then by their pictures, then by path, then by the stem of the name."""
    goods = {file.entry.path: file for file in good if file.kind != "junk"}
    bads = {file.entry.path: file for file in bad if file.kind != "junk"}
    places = {path: place for place, path in enumerate(goods)}
    pairs: list[Pair] = []
    for how, step in STEPS:
        for one, other in step(tuple(goods.values()), tuple(bads.values())):
            pairs.append(Pair(goods.pop(one.entry.path), bads.pop(other.entry.path), how))
    pairs.sort(key=lambda pair: places[pair.good.entry.path])
    return Pairing(tuple(pairs), tuple(goods.values()), tuple(bads.values()))


def _by(key: Key) -> Step:
    """Files with equal keys stand for each other; None has no equal.

    Of more than two such, first those with equal paths, then with equal paths or names but for capitals, then
    the others in the order of their paths: alike both ways round, so that swapping the cards mirrors the
    pairs, and without looking at each with each.
    """
    closer: tuple[Key, ...] = (
        lambda file: file.entry.path,
        lambda file: file.entry.path.casefold(),
        lambda file: file.entry.name.casefold(),
        lambda file: None,
    )

    def step(goods: Sequence[File], bads: Sequence[File]) -> Iterator[tuple[File, File]]:
        left, others = list(goods), list(bads)
        for further in closer:
            found = list(_zipped(left, others, key, further))
            yield from found
            left = _left(left, [one for one, _ in found])
            others = _left(others, [other for _, other in found])

    return step


def _left(files: Sequence[File], used: Sequence[File]) -> list[File]:
    paths = set(map(_path, used))
    return [file for file in files if file.entry.path not in paths]


def _zipped(
    goods: Sequence[File], bads: Sequence[File], key: Key, further: Key
) -> Iterator[tuple[File, File]]:
    groups: defaultdict[Hashable, tuple[list[File], list[File]]] = defaultdict(lambda: ([], []))
    for side, files in enumerate((goods, bads)):
        for file in files:
            if (found := key(file)) is not None:
                groups[found, further(file)][side].append(file)
    for ours, theirs in groups.values():
        yield from zip(sorted(ours, key=_path), sorted(theirs, key=_path), strict=False)


def _path(file: File) -> str:
    return file.entry.path


def _bytes_key(file: File) -> Hashable | None:
    """Empty files are alike only under the same path: they hold nothing to be known by."""
    if file.entry.size_bytes == 0:
        return ("empty", file.entry.path.casefold())
    return file.sha256


def _path_key(file: File) -> Hashable | None:
    return file.entry.path.casefold()


def _stem_key(file: File) -> Hashable | None:
    stem = file.entry.name.rpartition(".")[0]
    return (file.kind, stem.casefold()) if file.kind in MEDIA and stem else None


def _by_picture(goods: Sequence[File], bads: Sequence[File]) -> Iterator[tuple[File, File]]:
    """The nearest first, each file once."""
    ours, theirs = (
        [(file, found) for file in files if (found := telling_print(file))] for files in (goods, bads)
    )
    near: list[tuple[tuple[object, ...], File, File]] = []
    for at, other_at in perhaps_near(
        [found for _, found in ours], [found for _, found in theirs], SAME_PICTURE
    ):
        (one, one_print), (other, other_print) = ours[at], theirs[other_at]
        if (far := apart(one_print, other_print)) <= SAME_PICTURE:
            near.append((_rank(one, other, far), one, other))
    used: set[str] = set()
    used_others: set[str] = set()
    for _, one, other in sorted(near, key=lambda each: each[0]):
        if one.entry.path not in used and other.entry.path not in used_others:
            used.add(one.entry.path)
            used_others.add(other.entry.path)
            yield one, other


def _rank(one: File, other: File, far: float) -> tuple[object, ...]:
    """Alike both ways round."""
    ours, theirs = one.entry, other.entry
    return (
        far,
        ours.path != theirs.path,
        ours.path.casefold() != theirs.path.casefold(),
        ours.name.casefold() != theirs.name.casefold(),
        *sorted((ours.path, theirs.path)),
    )


def same_picture(one: File, other: File) -> bool | None:
    """Whether two clips show the same; None where that is not known."""
    ours, theirs = telling_print(one), telling_print(other)
    return None if ours is None or theirs is None else apart(ours, theirs) <= SAME_PICTURE


def same_start(one: File, other: File) -> bool | None:
    """Whether two clips show the same for as long as both last; None where that is not known."""
    ours, theirs = telling_print(one), telling_print(other)
    if ours is None or theirs is None:
        return None
    shared = min(len(ours), len(theirs))
    return distance(ours[:shared], theirs[:shared]) <= SAME_PICTURE


STEPS: tuple[tuple[How, Step], ...] = (
    ("same bytes", _by(_bytes_key)),
    ("same picture, encoded again", _by_picture),
    ("same name", _by(_path_key)),
    ("same name", _by(_stem_key)),
)
