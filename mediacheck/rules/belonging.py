"""What the profile says about a file's right to be on the card.

It must not judge: these are the questions that several rules ask of a profile.
"""

from __future__ import annotations

from fnmatch import fnmatchcase

from mediacheck.card.model import Entry
from mediacheck.names import FileKind
from mediacheck.profile import Layout, Profile

MEDIA: frozenset[FileKind] = frozenset({"video", "still", "audio"})


def is_required(path: str, layout: Layout) -> bool:
    """Whether the profile names this file as one that must be there. Case is ignored, as FAT does."""
    return path.casefold() in {wanted.strip("/").casefold() for wanted in layout.required_files}


def is_welcome(entry: Entry, layout: Layout) -> bool:
    """Whether the profile allows or requires this file besides the media."""
    path = entry.path.casefold()
    return is_required(path, layout) or any(
        fnmatchcase(path if "/" in pattern else entry.name.casefold(), pattern.strip("/").casefold())
        for pattern in layout.other_files or ()
    )


def shows(kind: FileKind, profile: Profile) -> bool:
    """Whether the player shows media of this kind at all, wherever it lies."""
    if kind == "video":
        return profile.video.containers != () and profile.video.codecs != {}
    return kind == "still" and profile.stills.formats != ()
