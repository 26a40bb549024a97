"""Pairs of cards made by hand, and what their comparison says in short.

It must not read files: what a comparison sees is written down here.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from typing import Any

from mediacheck.card.model import Card
from mediacheck.compare.model import Comparison, Difference
from mediacheck.compare.run import compare_surveyed
from mediacheck.loop import File
from mediacheck.measure.model import Measurements
from mediacheck.names import Depth, RuleName, Severity
from mediacheck.profile import Profile
from mediacheck.profile_files import LoadedProfile
from mediacheck.survey import Surveyed
from tests.rules import make

Brief = tuple[Severity, RuleName | None, str | None, str | None]
"""Severity, rule, and the paths on the good and on the bad card."""


def sha(of: object) -> str:
    """A hash that stands for these contents."""
    return hashlib.sha256(repr(of).encode()).hexdigest()


def surveyed(files: Sequence[File], card: Card | None = None) -> Surveyed:
    """A card whose medium was looked at, with these files in this order on it."""
    return Surveyed(card if card is not None else make.card(*files), make.placed(files), {})


def compared(
    good: Sequence[File] | Surveyed,
    bad: Sequence[File] | Surveyed,
    profile: Profile | None = None,
    depth: Depth = "quick",
) -> Comparison:
    """The comparison of two cards made by hand."""
    loaded = LoadedProfile(profile, "by hand", "0" * 64) if profile else None
    sides = [each if isinstance(each, Surveyed) else surveyed(each) for each in (good, bad)]
    return compare_surveyed(sides[0], sides[1], loaded, depth)


def brief(differences: Sequence[Difference]) -> list[Brief]:
    """Each difference without its words."""
    return [(each.severity, each.rule, each.good_path, each.bad_path) for each in differences]


def clip(path: str = "a.mp4", contents: object = None, **changes: Any) -> File:
    """A conforming clip; files of equal `contents` (default: of equal path) have equal bytes."""
    return make.video_file(path, sha256=sha(contents or path), **changes)


def still(path: str = "a.jpg", contents: object = None, **changes: Any) -> File:
    """A conforming still."""
    return make.still_file(path, sha256=sha(contents or path), **changes)


def encoded_again(path: str = "a.mp4", **changes: Any) -> File:
    """The file of that name with other bytes, a little larger."""
    return clip(path, f"{path} again", **{"size_bytes": 10_500_000, **changes})


def measured(levels: Sequence[int], **changes: Any) -> Measurements:
    """A decode whose half seconds each show one striped picture, told by a number."""
    records = b"".join(bytes((level * 37 + n * level) % 256 for n in range(19)) + b"\x40" for level in levels)
    return Measurements(**{"frames": 10, "seconds": 1.0, "fingerprint": "01" + records.hex(), **changes})
