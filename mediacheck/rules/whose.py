"""Whose items a card carries: those of this face, of another, or of none that the display file tells of.

It must not word anything for people. By the SHA-256 of the file first, by the fingerprint of its pictures
second; by its name only where the display file tells nothing else of an item.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from mediacheck.face_names import folded
from mediacheck.loop import File
from mediacheck.rules.known_loops import KnownItem, KnownLoop, KnownLoops
from mediacheck.rules.measured import telling_print

Side = Literal["ours", "theirs", "either", "open", "strange"]
"""Of this face; of another; nearly alike on both; not known; of no loop that the display file tells of."""
How = Literal["bytes", "picture", "name"]


@dataclass(frozen=True, slots=True)
class Whose:
    """One item of the card, and where it belongs."""

    file: File
    side: Side
    how: How | None = None
    loops: tuple[KnownLoop, ...] = ()
    """The loops of that side that have it."""
    is_shared: bool = False
    """Ours, and another face has it too: it does not tell the faces apart."""
    shows: frozenset[bytes] = frozenset()
    """Known by its pictures: the fingerprints of the known items that it may be."""

    @property
    def path(self) -> str:
        """On the card."""
        return self.file.entry.path


def whose(items: Sequence[File], known: KnownLoops) -> tuple[Whose, ...]:
    """Where each item of a card belongs.

    A card that has the files of one loop and no other carries that loop, whatever other loops share of it; a
    current loop goes before an earlier one, since films move from face to face.
    """
    loops = sorted((*known.own, *known.others), key=lambda loop: not loop.is_current)
    exact = next((loop for loop in loops if carries(items, loop)), None)
    if exact:
        side: Side = "ours" if exact in known.own else "theirs"
        return tuple(Whose(file, side, "bytes", (exact,)) for file in items)
    pictures = _Pictures.of(items, known)
    return tuple(_by_bytes(file, known) or pictures.whose(file) or _by_name(file, known) for file in items)


def carries(items: Sequence[File], loop: KnownLoop) -> bool:
    """Whether these are, byte by byte, the files of the loop, in whatever order."""
    return None not in loop.hashes and Counter(file.sha256 for file in items) == Counter(loop.hashes)


def _by_bytes(file: File, known: KnownLoops) -> Whose | None:
    own, others = (
        tuple(loop for loop in loops if file.sha256 is not None and file.sha256 in loop.hashes)
        for loops in (known.own, known.others)
    )
    if own:
        return Whose(file, "ours", "bytes", own, is_shared=bool(others))
    return Whose(file, "theirs", "bytes", others) if others else None


@dataclass(frozen=True, slots=True)
class _Pictures:
    """The fingerprints of known items that are near to those of the card, and which loops have them."""

    near: Mapping[str, tuple[tuple[float, bytes], ...]]
    """By path on the card: how far each is apart, and the known fingerprint."""
    own: Mapping[bytes, tuple[KnownLoop, ...]]
    others: Mapping[bytes, tuple[KnownLoop, ...]]

    @classmethod
    def of(cls, items: Sequence[File], known: KnownLoops) -> _Pictures:
        """Those of this card. Only a card that is held against a display needs what compares pictures."""
        from mediacheck.measure.same_picture import SAME_PICTURE, apart, perhaps_near

        own, others = _by_fingerprint(known.own), _by_fingerprint(known.others)
        there = [(file.entry.path, found) for file in items if (found := telling_print(file))]
        prints = list({**own, **others})
        near: defaultdict[str, tuple[tuple[float, bytes], ...]] = defaultdict(tuple)
        for at, other in perhaps_near([found for _, found in there], prints, SAME_PICTURE):
            path, found = there[at]
            if (far := apart(found, prints[other])) <= SAME_PICTURE:
                near[path] = (*near[path], (far, prints[other]))
        return cls(near, own, others)

    def whose(self, file: File) -> Whose | None:
        """Where the item belongs by what it shows; None where that tells nothing."""
        near = self.near.get(file.entry.path, ())
        best = min(near, default=None)
        if best is None:
            return None
        shows = [one[1] for one in sorted(near) if one == best or _are_alike(one, best)]
        own, others = (
            {loop: None for each in shows for loop in side.get(each, ())} for side in (self.own, self.others)
        )
        if all(each in self.own for each in shows):
            return Whose(file, "ours", "picture", tuple(own), bool(others), frozenset(shows))
        side: Side = "either" if own else "theirs"
        return Whose(file, side, "picture", tuple(own or others), shows=frozenset(shows))


def _by_fingerprint(loops: Sequence[KnownLoop]) -> Mapping[bytes, tuple[KnownLoop, ...]]:
    found: defaultdict[bytes, tuple[KnownLoop, ...]] = defaultdict(tuple)
    for loop in loops:
        for fingerprint in dict.fromkeys(item.fingerprint for item in loop.items if item.fingerprint):
            found[fingerprint] += (loop,)
    return dict(found)


def _are_alike(one: tuple[float, bytes], other: tuple[float, bytes]) -> bool:
    """Whether two known pictures are so alike that neither is clearly nearer.

    What was encoded again from one of them is nearer to it by about as much as the two are apart.
    """
    from mediacheck.measure.same_picture import apart

    return abs(one[0] - other[0]) <= apart(one[1], other[1]) / 2


def _by_name(file: File, known: KnownLoops) -> Whose:
    own, others = (
        tuple(loop for loop in loops if folded(file.entry.path) in names_alone(loop))
        for loops in (known.own, known.others)
    )
    if own:
        return Whose(file, "open", "name", own)
    if others:
        return Whose(file, "theirs", "name", others)
    items = (item for loop in (*known.own, *known.others) for item in loop.items)
    is_open = any(_may_show(file, item) for item in items)
    return Whose(file, "open" if is_open else "strange")


def names_alone(loop: KnownLoop) -> frozenset[str]:
    """Items of which nothing is known but the name, folded."""
    return frozenset(folded(item.path) for item in loop.items if item.sha256 is None)


def _may_show(file: File, item: KnownItem) -> bool:
    """Whether it cannot be told that a file, which has not the item's bytes, shows something else."""
    return file.kind == item.kind and not (item.fingerprint and telling_print(file))
