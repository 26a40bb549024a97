"""Folders with more files than a card can list in one.

It must not look at a single name: it counts what they all take.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from mediacheck.card.limits import directory_entries, folder_room
from mediacheck.names import FileSystem
from mediacheck.rules.model import Seen, Whole
from mediacheck.rules.wording import capital, place


def crowded_folders(whole: Whole) -> Iterator[Seen]:
    """Each folder whose files and folders take more entries than the profile's file systems have for one.

    What lies on such a file system already has found its room there.
    """
    kinds = whole.profile.card.file_systems or ()
    here = whole.card.volume.file_system if whole.card.volume else None
    if kinds and here not in kinds:
        for folder, names in _names(whole).items():
            yield from _crowded(folder, names, kinds)


def _names(whole: Whole) -> dict[str, list[str]]:
    """The names in each folder, by its path."""
    found: dict[str, list[str]] = {}
    paths = [file.entry.path for file in whole.loop.files if file.kind != "junk"]
    for path in (*paths, *whole.card.folders):
        folder, _, name = path.rpartition("/")
        found.setdefault(folder, []).append(name)
    return found


def _crowded(folder: str, names: Sequence[str], kinds: Sequence[FileSystem]) -> Iterator[Seen]:
    """The one finding where none of these file systems has room, told of the one that has most."""
    rooms = {kind: folder_room(kind, root=not folder) for kind in kinds}
    known = {kind: room for kind, room in rooms.items() if room is not None}
    takes = {kind: sum(directory_entries(name, kind) for name in names) for kind in known}
    if len(known) < len(kinds) or any(takes[kind] <= room for kind, room in known.items()):
        return
    kind = max(known, key=lambda each: known[each])
    yield Seen(
        found=f"{takes[kind]:,} directory entries",
        wanted=f"at most {known[kind]:,} directory entries",
        message=f"{capital(place(folder))} holds {len(names):,} files and folders, and a card formatted as "
        f"{kind} cannot list so many in one place (their names take {takes[kind]:,} entries, and there is "
        f"room for {known[kind]:,}): the last ones are lost in copying.",
        action="Take files away or give them shorter names, or put them into several folders if the player "
        "looks into folders.",
        path=folder or None,
    )
