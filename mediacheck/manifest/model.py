"""What a manifest says: which files a card was built from, in which order, and the SHA-256 of each.

It must not hold anything that changes from one day to the next: the same content gives the same manifest.
"""

from __future__ import annotations

from dataclasses import dataclass

from mediacheck.names import Depth, FileKind, FileSystem, Order, PartitionTable, RuleName, VerdictWord


@dataclass(frozen=True, slots=True)
class ManifestFile:
    """One file that belongs on the card. `path` is relative to the card's root, with `/`."""

    path: str
    size_bytes: int
    sha256: str
    kind: FileKind
    fingerprint: str | None = None
    """By which its pictures are known again; None where they were not measured."""


@dataclass(frozen=True, slots=True)
class ImageName:
    """A card image, named by the SHA-256 of its bytes. `name` has no folder."""

    name: str
    size_bytes: int
    sha256: str


@dataclass(frozen=True, slots=True)
class Manifest:
    """A card as it was built."""

    version: str
    """Of mediacheck, which built it."""
    profile_id: str
    profile_title: str
    profile_sha256: str
    depth: Depth
    verdict: VerdictWord
    """Of the check before the build, at that depth."""
    even_so: bool
    """Whether it was built although that check failed."""
    findings: tuple[tuple[RuleName, str | None], ...]
    """Rule and path of each finding that was passed over; None for the card or the loop."""
    file_system: FileSystem | None
    """This and what follows, down to the cluster size, is None where only a folder was filled."""
    partition_table: PartitionTable | None
    label: str | None
    serial: str | None
    capacity_bytes: int | None
    cluster_bytes: int | None
    play_order: tuple[str, ...]
    loop_seconds: float | None
    """Length of one round; None where it is not known."""
    files: tuple[ManifestFile, ...]
    """In on-disk order."""
    folders: tuple[str, ...]
    left_out: tuple[str, ...]
    """Files of the source that were not copied: what computers leave behind."""
    image: ImageName | None
    """None where a folder was filled."""
    player_order: Order | None = None
    """Which order the player plays in; None where that is not told."""
