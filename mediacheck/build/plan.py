"""What a card will be, before anything is written: files in order, shape, and what a check says of it.

It must not write.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial

from mediacheck.build.shape import Shape, shape_for
from mediacheck.build.tree import Times, as_written, in_disk_order, taken_along, time_of, tree_of
from mediacheck.card.damages import printable
from mediacheck.card.fat_folder import PATH_LENGTH_MAX
from mediacheck.card.junk import is_junk
from mediacheck.card.limits import label_refusal, refusal, same_name
from mediacheck.card.model import Card, Damage, Entry, Volume
from mediacheck.card.new_volume import LaidOut, NewFolder, NewVolume
from mediacheck.card.new_volumes import lay_out
from mediacheck.check import judged
from mediacheck.errors import WrongUse
from mediacheck.loop import File
from mediacheck.names import Depth, FileSystem
from mediacheck.profile_files import LoadedProfile
from mediacheck.report.model import Report
from mediacheck.survey import Surveyed

SHOWN_LENGTH_MAX = 100
"""Characters of a long path that a sentence still holds."""
UNSEEN = "it contains characters that cannot be seen, and that players and computers stumble over"
NOT_YET = "it is not written yet; what is written is read back afterwards"


@dataclass(frozen=True, slots=True)
class Wishes:
    """What whoever builds the card asks for beside its content."""

    label: str | None = None
    size_bytes: int | None = None
    """Capacity of the image; None: the least that fits."""
    times: Times = "fixed"
    order: tuple[str, ...] | None = None
    """Paths in the order in which a player that goes by the disk is to play them; None: by name."""


@dataclass(frozen=True, slots=True)
class Content:
    """What goes on the card, in the order of the disk."""

    files: tuple[File, ...]
    folders: tuple[str, ...]
    left_out: tuple[str, ...]
    """Paths of the source that stay behind."""

    @property
    def size_bytes(self) -> int:
        """All files together."""
        return sum(file.entry.size_bytes for file in self.files)


@dataclass(frozen=True, slots=True)
class ImagePlan:
    """An image, with a place for everything."""

    content: Content
    shape: Shape
    volume: NewVolume
    laid_out: LaidOut
    report: Report
    """Of the card as it will be."""


def content_of(surveyed: Surveyed, loaded: LoadedProfile, wishes: Wishes) -> Content:
    """What of a source goes on the card, and in which order. WrongUse: there is nothing, or no such order."""
    by_path = {file.entry.path: file for file in surveyed.files}
    if wishes.order is not None and loaded.profile.player.order == "name":
        raise WrongUse(
            "This player goes by the names of the files, so that an order given apart changes nothing: "
            "rename the files."
        )
    taken = taken_along(surveyed.card.entries)
    if not taken:
        why = f": {surveyed.card.unlisted}" if surveyed.card.unlisted else ""
        raise WrongUse(f"There is nothing in {surveyed.card.source} that could go on a card{why}.")
    written = {replace(entry, path=as_written(entry.path)): by_path[entry.path] for entry in taken}
    keep = loaded.profile.player.order == "disk" and surveyed.card.order_known
    ordered = in_disk_order(tuple(written), keep, wishes.order or ())
    along = {entry.path for entry in taken}
    return Content(
        tuple(replace(written[entry], entry=entry) for entry in ordered),
        tuple(as_written(folder) for folder in surveyed.card.folders if not is_junk(folder)),
        tuple(path for path in by_path if path not in along),
    )


def check_content(surveyed: Surveyed, content: Content, loaded: LoadedProfile, depth: Depth) -> Report:
    """What a check says of the files, in the order that they will have, before anything else is known."""
    card = replace(surveyed.card, folders=content.folders, order_known=True, volume=None, damage=None)
    return report_on(replace(card, kind="folder", notes=()), content, surveyed, loaded, depth)


def plan_image(
    surveyed: Surveyed, content: Content, loaded: LoadedProfile, wishes: Wishes, depth: Depth
) -> ImagePlan:
    """Give everything its place on a new image. WrongUse, DoesNotFit."""
    require_names(content)
    root = _tree(content, wishes)
    shape = shape_for(root, loaded.profile.card, wishes.size_bytes)
    _require_label(wishes.label, shape)
    volume = NewVolume(
        file_system=shape.file_system,
        start_byte=shape.start_byte,
        size_bytes=shape.volume_bytes,
        cluster_bytes=shape.cluster_bytes,
        serial=serial_of(content, shape, wishes),
        root=root,
        label=wishes.label,
    )
    laid_out = lay_out(volume)
    card = Card(
        source=surveyed.card.source,
        kind="image",
        entries=(),
        folders=content.folders,
        volume=_told(volume, shape, laid_out),
        order_known=True,
        damage=None,
        raw_reason=NOT_YET,
    )
    return ImagePlan(content, shape, volume, laid_out, report_on(card, content, surveyed, loaded, depth))


def report_on(
    card: Card, content: Content, surveyed: Surveyed, loaded: LoadedProfile, depth: Depth
) -> Report:
    """What a check says of these files on this card, in the order of the disk.

    What is broken on a source that is itself a card has reached the files: it is said of the new one, too.
    """
    unreadable = tuple(file for file in surveyed.files if file.entry.unusable)
    files = tuple(
        replace(file, entry=replace(file.entry, position=place))
        for place, file in enumerate((*content.files, *unreadable))
    )
    entries = tuple(file.entry for file in files)
    damage = _inherited(surveyed.card)
    card = replace(card, entries=entries, damage=(*(card.damage or ()), *damage) if damage else card.damage)
    return judged(Surveyed(card, files, surveyed.pictures), loaded, depth)


def _inherited(source: Card) -> tuple[Damage, ...]:
    return tuple(
        replace(damage, path=as_written(damage.path) if damage.path else None)
        for damage in source.damage or ()
        if not damage.only_writing
    )


def serial_of(content: Content, shape: Shape, wishes: Wishes) -> int:
    """32 bits of a hash over all that makes up the image, never 0: the same card has the same number.

    Raises ValueError for a file whose hash is not known.
    """
    files = [
        (file.entry.path, file.entry.size_bytes, _hash(file), time_of(file.entry, wishes.times).isoformat())
        for file in content.files
    ]
    shaped = (shape.file_system, shape.table, shape.image_bytes, shape.cluster_bytes, wishes.label)
    text = json.dumps([files, content.folders, shaped])
    return int.from_bytes(hashlib.sha256(text.encode()).digest()[:4], "big") or 1


def _hash(file: File) -> str:
    if file.sha256 is None:
        raise ValueError(f"{file.entry.path} was not hashed")
    return file.sha256


def _tree(content: Content, wishes: Wishes) -> NewFolder:
    entries: Sequence[Entry] = [file.entry for file in content.files]
    return tree_of(entries, content.folders, partial(time_of, times=wishes.times))


def require_names(content: Content) -> None:
    """WrongUse where FAT and exFAT could not hold a name, or not two of them side by side."""
    _require_depth(content.folders)
    seen: dict[str, str] = {}
    for path in (*content.folders, *(file.entry.path for file in content.files)):
        refused = _refusal(path)
        if refused:
            raise WrongUse(f'"{_shown(path)}" cannot be written on a card: {refused}.')
        other = seen.get(same_name(path))
        if other is not None:
            both = f'"{path}" and "{other}"' if other != path else f'Two files or folders called "{path}"'
            raise WrongUse(f"{both} cannot lie side by side on a card: rename one of them.")
        seen[same_name(path)] = path


def _refusal(path: str) -> str | None:
    for part in path.split("/"):
        refused = refusal(part) or (UNSEEN if printable(part) != part else None)
        if refused:
            return refused
    return None


def _shown(path: str) -> str:
    return path if path.isprintable() else "/".join(map(printable, path.split("/")))


def _require_depth(folders: Sequence[str]) -> None:
    deep = next((path for path in folders if len(path) > PATH_LENGTH_MAX), None)
    if deep:
        raise WrongUse(
            f'"{deep[:SHOWN_LENGTH_MAX]}..." cannot be written on a card: it lies so deep in folders that '
            "hardly any program would find it."
        )


def _require_label(label: str | None, shape: Shape) -> None:
    refused = _label_refusal(label, shape.file_system) if label else None
    if refused:
        raise WrongUse(f'The label "{label}" cannot be written on {shape.file_system}: {refused}.')


def _label_refusal(label: str, file_system: FileSystem) -> str | None:
    """Also what a reader could not tell again: FAT fills labels up with spaces."""
    refused = label_refusal(label, file_system)
    if refused is None and label != label.strip():
        return "it begins or ends with a space"
    if refused is None and printable(label) != label:
        return UNSEEN
    return refused


def _told(volume: NewVolume, shape: Shape, laid_out: LaidOut) -> Volume:
    return Volume(
        file_system=volume.file_system,
        partition_table=shape.table,
        label=volume.label,
        serial=f"{volume.serial >> 16:04X}-{volume.serial & 0xFFFF:04X}",
        capacity_bytes=laid_out.capacity_bytes,
        cluster_bytes=volume.cluster_bytes,
        used_bytes=laid_out.used_bytes,
        free_bytes=laid_out.free_bytes,
        medium_bytes=shape.image_bytes,
        claimed_bytes=shape.image_bytes,
        part_end_bytes=None if shape.table == "none" else shape.image_bytes,
        dirty=False,
    )
