"""The loops that a display file tells of: what is known of each item of each version, for each face.

It must not look at the card, and must not judge.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from mediacheck.manifest.model import Manifest, ManifestFile
from mediacheck.measure.fingerprint_format import telling
from mediacheck.media.extensions import kind_by_name
from mediacheck.names import FileKind

if TYPE_CHECKING:
    from mediacheck.display_files import DisplayFace, LoadedFace


@dataclass(frozen=True, slots=True)
class KnownItem:
    """One item of a known loop, and by what it can be known again."""

    path: str
    kind: FileKind
    sha256: str | None = None
    fingerprint: bytes | None = None


@dataclass(frozen=True, slots=True)
class KnownLoop:
    """One version of the loop of one face, its items in play order."""

    face: str
    version: str
    """In words, to go into a sentence: "version 3"."""
    is_current: bool
    items: tuple[KnownItem, ...]

    @property
    def hashes(self) -> tuple[str | None, ...]:
        """SHA-256 of each item, in play order."""
        return tuple(item.sha256 for item in self.items)


@dataclass(frozen=True, slots=True)
class KnownLoops:
    """All that a display file tells of, sorted by whether it belongs on the face in question."""

    own: tuple[KnownLoop, ...]
    """The current one first, then the earlier ones; empty where the file does not say what belongs there."""
    others: tuple[KnownLoop, ...]
    """Of the other faces, the current ones first."""


def known_loops(chosen: DisplayFace) -> KnownLoops:
    """What the display file and its manifests tell of this face and of the others."""
    own = tuple(_loops_of(chosen.face))
    others = [loop for face in chosen.others for loop in _loops_of(face)]
    return KnownLoops(
        own if own and own[0].is_current else (),
        tuple(sorted(others, key=lambda loop: not loop.is_current)),
    )


def _loops_of(face: LoadedFace) -> Iterator[KnownLoop]:
    """The loops of one face; one without items tells nothing."""
    said = face.face.loop
    version = f"version {said.version}" if said.version else "the current version"
    current = KnownLoop(face.name, version, True, _current_items(face))
    earlier = (
        KnownLoop(face.name, f"version {told.name}", False, _listed(manifest))
        for told, manifest in zip(said.earlier, face.earlier, strict=True)
    )
    yield from (loop for loop in (current, *earlier) if loop.items)


def _current_items(face: LoadedFace) -> tuple[KnownItem, ...]:
    if face.manifest:
        return _listed(face.manifest)
    return tuple(KnownItem(item.name, kind_by_name(item.name), item.sha256) for item in face.face.loop.items)


def _listed(manifest: Manifest) -> tuple[KnownItem, ...]:
    files = {file.path: file for file in manifest.files}
    return tuple(
        KnownItem(path, files[path].kind, files[path].sha256, _fingerprint(files[path]))
        for path in manifest.play_order
    )


def _fingerprint(file: ManifestFile) -> bytes | None:
    """What a manifest holds may be of another version of fingerprints, or nothing of the kind."""
    try:
        found = bytes.fromhex(file.fingerprint or "")
        return found if found and file.kind == "video" and telling(found) else None
    except ValueError:
        return None
