"""What the cards have taught about where files lie and what they are called.

It must not look into files: it reads paths.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from glob import escape
from itertools import takewhile

from mediacheck.learn.evidence import Found, Sighting, shares
from mediacheck.learn.model import Value
from mediacheck.media.extensions import extension
from mediacheck.profile import Layout
from mediacheck.report.words import counted
from mediacheck.rules.belonging import MEDIA, is_welcome

PLACE = ("layout",)
NAME_LENGTH_MAX = 255


def layout_values(files: Sequence[Sighting], items: Sequence[Sighting], cards: int) -> Iterator[Value]:
    """Folders, what else lies there, and names. `items` are those of the files that are played."""
    media = [each for each in files if each.file.kind in MEDIA]
    founds = (*_folders(items), *_other_files(files, items), *_names(media))
    yield from (found.at(PLACE, cards) for found in founds)


def _folders(items: Sequence[Sighting]) -> Iterator[Found]:
    """The deepest folder that all items lie in or below, whatever its capitals."""
    folders = sorted({each.file.entry.folder for each in items})
    levels = zip(*(_parts(folder.casefold()) for folder in folders), strict=False)
    shared = takewhile(lambda names: len(set(names)) == 1, levels)
    spelt = _parts(folders[0])[: len(list(shared))]
    while spelt and not _can_be_named(spelt):
        spelt = spelt[:-1]
    below = [each for each in items if len(_parts(each.file.entry.folder)) > len(spelt)]
    where = f"{counted(len(below), 'file')} in folders below it" if below else "none in folders below it"
    yield Found("media_folder", "/" + "/".join(spelt), tuple(items), by_name=True)
    yield Found("subfolders", bool(below), tuple(items), where, by_name=True)


def _parts(folder: str) -> list[str]:
    return folder.split("/") if folder else []


def _can_be_named(parts: Sequence[str]) -> bool:
    """Whether a profile can write this folder (see `profile_values.CardPath`)."""
    return not any("\\" in part or part in (".", "..") for part in parts)


def _other_files(files: Sequence[Sighting], items: Sequence[Sighting]) -> Iterator[Found]:
    """Wildcards by extension of what is neither video nor still nor left over; none where there is none."""
    others = [each for each in files if each.file.kind in ("other", "audio")]
    if not others:
        yield Found("other_files", (), tuple(items), "no other files beside these", by_name=True)
        return
    wildcards = [_wildcard(each) for each in others]
    counts = [(one, wildcards.count(one)) for one in sorted(set(wildcards))]
    yield Found("other_files", tuple(one for one, _ in counts), tuple(others), shares(counts), by_name=True)


def _wildcard(other: Sighting) -> str:
    """All with the same extension, or where that is none this name alone."""
    entry = other.file.entry
    by_ending = f"*{escape(extension(entry.name))}"
    fits = by_ending != "*" and is_welcome(entry, Layout(other_files=(by_ending,)))
    return by_ending if fits else escape(entry.name.casefold())


def _names(media: Sequence[Sighting]) -> Iterator[Found]:
    longest = max(len(each.file.entry.name) for each in media)
    beyond = "it is longer than any card allows" if longest > NAME_LENGTH_MAX else ""
    yield Found("name_length_max", longest, tuple(media), "the longest name", beyond, by_name=True)
    strange = sum(not each.file.entry.path.isascii() for each in media)
    remark = f"{counted(strange, 'path')} with other letters" if strange else "all in plain letters and signs"
    yield Found("ascii_only", not strange, tuple(media), remark, by_name=True)
