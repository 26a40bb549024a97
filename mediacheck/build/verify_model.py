"""What holding a card against its manifest found out.

It must not word more than clauses: faces make sentences of them.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from mediacheck.names import CardKind, VerdictWord

What = Literal["size", "contents"]


@dataclass(frozen=True, slots=True)
class Changed:
    """A file that is there and is not the one that belongs there."""

    path: str
    """As it stands on the card."""
    what: What
    found: str
    """Size in bytes, or SHA-256."""
    wanted: str


@dataclass(frozen=True, slots=True)
class NotRead:
    """A file that is there and cannot be read to its end; the reason is a clause."""

    path: str
    reason: str


@dataclass(frozen=True, slots=True)
class LeftBehind:
    """What a computer left on the card: nobody put it there, and the player has no use for it."""

    path: str
    who: str


@dataclass(frozen=True, slots=True)
class NotVerified:
    """Something that was not looked at, and why: clauses. `expected` as in the report's `not_checked`."""

    what: str
    reason: str
    expected: bool


@dataclass(frozen=True, slots=True)
class Verified:
    """A card and its manifest, held against each other. Paths of folders end in `/`."""

    version: str
    verified_at: datetime
    source: str
    kind: CardKind
    manifest: str
    """The manifest or list."""
    manifest_sha256: str
    is_another_card: bool
    """Whether the card has none of what is to play by the manifest, and has other files instead."""
    right: tuple[str, ...]
    """Files every byte of which was read and is right, by their names on the card, in its order."""
    missing: tuple[str, ...]
    changed: tuple[Changed, ...]
    extra: tuple[str, ...]
    not_read: tuple[NotRead, ...]
    left_behind: tuple[LeftBehind, ...]
    warnings: tuple[str, ...]
    """Sentences: what should be known and does not change the files."""
    not_verified: tuple[NotVerified, ...]
    by_files: bool
    """Whether the files were compared one by one; if not, only the bytes of the whole card decide."""
    image_right: bool | None
    """Whether the bytes of the whole card are those of the image; None: not compared."""
    past_cache: bool | None
    """Whether all that was read is proven to have come from the medium and not from the computer's memory;
    None: nothing was read."""
    files_read: int
    bytes_read: int
    seconds: float

    @property
    def verdict(self) -> VerdictWord:
        """The word for it, as for a report."""
        if self.missing or self.changed or self.extra or self.not_read:
            return "fail"
        if self.image_right is False and not self.by_files:
            return "fail"
        if any(not gap.expected for gap in self.not_verified):
            return "incomplete"
        return "warn" if self.warnings or self.left_behind else "pass"
