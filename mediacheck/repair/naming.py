"""Names and places in the copy: as they were, as far as the card and the player take them.

It must not look at what is inside a file.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from mediacheck.card.limits import refusal, same_name
from mediacheck.loop import path_order, player_looks_in
from mediacheck.profile import Layout, Profile
from mediacheck.repair.spelling import NUMBERED_FORMS, bare, joined, parted, plain, spellings
from mediacheck.rules.naming import as_windows

Key = tuple[tuple[int, str], ...]
"""Of `path_order`."""


@dataclass(frozen=True, slots=True)
class Named:
    """What is to be named. `suffix` is the ending that its content asks for; "" leaves the one it has."""

    path: str
    suffix: str
    readable: bool = True
    """As `Entry.valid_name`: what is no text must not stay, though it looks like a name here."""


@dataclass(slots=True)
class _Used:
    """The paths that are taken, as the card tells them apart."""

    profile: Profile
    files: set[str] = field(default_factory=set)
    folders: set[str] = field(default_factory=set)

    def add(self, path: str) -> None:
        key = self._key(path)
        self.files.add(key)
        self.folders.update(key[:at] for at, letter in enumerate(key) if letter == "/")

    def has(self, path: str) -> bool:
        key = self._key(path)
        above = (key[:at] for at, letter in enumerate(key) if letter == "/")
        return key in self.files or key in self.folders or any(folder in self.files for folder in above)

    def _key(self, path: str) -> str:
        return same_name(path) if as_windows(self.profile) else path


def folder_for(folder: str, profile: Profile) -> str:
    """Where in the copy the files of this folder go: where they were, if the player looks there."""
    if not player_looks_in(folder, profile):
        return profile.layout.media_root or ""
    return "/".join(_fitting_folder(part, profile) for part in folder.split("/")) if folder else ""


def names_for(items: Sequence[Named], profile: Profile, taken: Sequence[str] = ()) -> tuple[str, ...]:
    """A path for each item, in play order, so that the order of the names is that of playing.

    As few names as can be are changed; where that does not give the order, all items get a number, and where
    folders come between, all go into one. `taken` are paths of files that are no items. Where no name has the
    form that the player asks for, one has it not (`has_form`); nor is the order kept then (`in_order`).
    """
    kept = _kept(items, profile, taken)
    if in_order(kept):
        return kept
    for flat in (False, True):
        for form in NUMBERED_FORMS:
            numbered = _numbered(items, profile, taken, form, flat)
            if numbered is not None and in_order(numbered):
                return numbered
    return kept


def in_order(paths: Sequence[str]) -> bool:
    """Whether the order of the names is the order in which they stand here."""
    keys = [path_order(path) for path in paths]
    return keys == sorted(keys)


def has_form(path: str, profile: Profile) -> bool:
    """Whether card and player take the name of this path."""
    return _fits(path.rpartition("/")[2], profile)


def ordered_by_name(path: str, profile: Profile) -> Key:
    """Sort key of an item by its name in the place that it will have."""
    return path_order(joined(folder_for(path.rpartition("/")[0], profile), path.rpartition("/")[2]))


def _kept(items: Sequence[Named], profile: Profile, taken: Sequence[str]) -> tuple[str, ...]:
    """Names that can stay do; each other one is the nearest that is free and lies between its neighbours."""
    used = _Used(profile)
    for path in taken:
        used.add(path)
    anchors: list[str | None] = []
    for item in items:
        stays = _stays(item, profile) and not used.has(item.path)
        anchors.append(item.path if stays else None)
        if stays:
            used.add(item.path)
    found: list[str] = []
    for number, (item, anchor) in enumerate(zip(items, anchors, strict=True), 1):
        before = path_order(found[-1]) if found else ()
        following = next((path for path in anchors[number:] if path is not None), None)
        after = path_order(following) if following is not None else None
        path = anchor or _nearest(item, number, profile, used, (before, after))
        used.add(path)
        found.append(path)
    return tuple(found)


def _stays(item: Named, profile: Profile) -> bool:
    """Whether nothing asks for another name."""
    folder, _, name = item.path.rpartition("/")
    stem, endings = parted(name, item.suffix)
    right = folder == folder_for(folder, profile) and name == f"{stem}{endings[0]}"
    return right and item.readable and _fits(name, profile)


def _nearest(item: Named, number: int, profile: Profile, used: _Used, between: tuple[Key, Key | None]) -> str:
    folder, name = folder_for(item.path.rpartition("/")[0], profile), item.path.rpartition("/")[2]
    stem, endings = parted(name, item.suffix)
    free = [
        path
        for place in (folder, profile.layout.media_root or "")  # a file may have the name of the folder
        for one in _candidates(stem if item.readable else plain(stem), endings, number, profile.layout)
        if not used.has(path := joined(place, one))
    ]
    fitting = [path for path in free if has_form(path, profile)]
    before, after = between
    keeping = (p for p in fitting if before < path_order(p) and (after is None or path_order(p) < after))
    first = next(keeping, None) or next(iter(fitting), None)
    return first or next(path for path in free if not refusal(path.rpartition("/")[2]))


def _candidates(stem: str, endings: Sequence[str], number: int, layout: Layout) -> Iterator[str]:
    """Names to try, the nearest to the old one first."""
    for ending in endings:
        yield from spellings(stem, ending, layout)
    for again in range(2, 100):
        for mark in (f"_{again}", f"-{again}"):  # sort behind the name without it, and before it
            yield _short(plain(stem), mark + endings[0], layout) + mark + endings[0]
    for form in NUMBERED_FORMS:
        yield from _in_form(form.replace("NN", f"{number:02}"), stem, endings, layout)
    yield from (f"{number}{ending}" for ending in endings)


def _numbered(
    items: Sequence[Named], profile: Profile, taken: Sequence[str], form: str, flat: bool
) -> tuple[str, ...] | None:
    """All names in one form, with a number in front; None where an item has none."""
    used = _Used(profile)
    for path in taken:
        used.add(path)
    found: list[str] = []
    digits = max(2, len(str(len(items))))
    for number, item in enumerate(items, 1):
        folder = folder_for(
            profile.layout.media_root or "" if flat else item.path.rpartition("/")[0], profile
        )
        stem, endings = parted(item.path.rpartition("/")[2], item.suffix)
        names = _in_form(form.replace("NN", f"{number:0{digits}}"), stem, endings, profile.layout)
        free = (p for one in names if _fits(one, profile) and not used.has(p := joined(folder, one)))
        fitting = next(free, None)
        if fitting is None:
            return None
        used.add(fitting)
        found.append(fitting)
    return tuple(found)


def _in_form(form: str, stem: str, endings: Sequence[str], layout: Layout) -> Iterator[str]:
    """The form with as much of the old name as there is room for."""
    old = bare(plain(stem))
    for ending in (*endings, *(ending.upper() for ending in endings)):
        if "OLD" not in form:
            yield form + ending
            continue
        mark = form.replace("OLD", "")
        for one in spellings(_short(old, mark + ending, layout), "", layout):
            yield mark + one + ending


def _short(stem: str, rest: str, layout: Layout) -> str:
    most = layout.name_length_max
    return stem if most is None else stem[: max(1, most - len(rest))].rstrip("-_ .") or stem[:1]


def _fits(name: str, profile: Profile) -> bool:
    layout = profile.layout
    if (as_windows(profile) and refusal(name)) or (layout.ascii_only and not name.isascii()):
        return False
    if layout.name_length_max is not None and len(name) > layout.name_length_max:
        return False
    return layout.name_pattern is None or re.fullmatch(layout.name_pattern, name) is not None


def _fitting_folder(part: str, profile: Profile) -> str:
    if not (as_windows(profile) and refusal(part)) and (part.isascii() or not profile.layout.ascii_only):
        return part
    spelled = plain(part)[:100]  # far below what file systems take
    return f"{spelled}_2" if refusal(spelled) else spelled
