"""Which files the player finds, in which order it plays them, and for how long.

It must not judge: an item that will be skipped still stands in its place here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from mediacheck.card.model import Entry
from mediacheck.measure.model import Measurements, NotMeasured
from mediacheck.media.facts import MediaFacts, Unreadable
from mediacheck.names import FileKind

if TYPE_CHECKING:
    from mediacheck.profile import Profile


@dataclass(frozen=True, slots=True)
class File:
    """One entry with all that was found out about it. `facts` is None for what is not media."""

    entry: Entry
    kind: FileKind
    facts: MediaFacts | Unreadable | None = None
    measurements: Measurements | NotMeasured | None = None
    sha256: str | None = None

    @property
    def media(self) -> MediaFacts | None:
        """The facts, if the file could be read."""
        return self.facts if isinstance(self.facts, MediaFacts) else None


@dataclass(frozen=True, slots=True)
class Loop:
    """All files of a card, and of these the items in the order in which the player plays them."""

    files: tuple[File, ...]
    items: tuple[File, ...]
    seconds: Fraction | None
    """Length of one round; None where the length of an item is not known."""


def player_looks_in(folder: str, profile: Profile) -> bool:
    """Whether the player looks for media in this folder ("" is the root).

    Case is ignored, as FAT and exFAT do (Microsoft FAT32 specification 1.03; exFAT 1.00, 7.2).
    """
    if profile.layout.media_root is None:
        return True
    root, here = profile.layout.media_root.casefold(), folder.casefold()
    inside = root == "" or here == root or here.startswith(f"{root}/")
    return inside and (profile.layout.subfolders or here == root)


def name_order(entry: Entry) -> tuple[tuple[int, str], ...]:
    """Sort key of a player that goes by name."""
    return path_order(entry.path)


def path_order(path: str) -> tuple[tuple[int, str], ...]:
    """The same for a path alone: folder by folder, files before folders, case ignored.

    Common practice, no source. Digits are compared as characters, so `10.mp4` comes before `2.mp4`.
    """
    *folders, name = path.split("/")
    return (*((1, folder.casefold()) for folder in folders), (0, name.casefold()))


def loop_of(files: Sequence[File], profile: Profile, order_known: bool) -> Loop:
    """Put the items in play order. Files come in on-disk order where `order_known`."""
    items = [f for f in files if f.kind in ("video", "still") and player_looks_in(f.entry.folder, profile)]
    if profile.player.order == "name" or not order_known:
        items.sort(key=lambda file: name_order(file.entry))
    return Loop(tuple(files), tuple(items), _round_seconds(items, profile))


def item_seconds(file: File, profile: Profile) -> Fraction | None:
    """How long one item stays on the screen, in seconds; None where that is not known."""
    if file.kind == "still":
        seconds = profile.stills.seconds
        return None if seconds is None else Fraction(str(seconds))
    return file.media.duration if file.media else None


def _round_seconds(items: Sequence[File], profile: Profile) -> Fraction | None:
    lengths = [item_seconds(file, profile) for file in items]
    known = [length for length in lengths if length is not None]
    return sum(known, Fraction(0)) if len(known) == len(lengths) else None
