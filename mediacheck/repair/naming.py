"""Names and places in the copy: as they were, as far as the card and the player take them.

It must not look at what is inside a file.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from mediacheck.card.limits import refusal, same_name
from mediacheck.loop import path_order, player_looks_in
from mediacheck.profile import Layout, Profile

LETTERS = str.maketrans(
    {"ß": "ss", "æ": "ae", "Æ": "AE", "œ": "oe", "Œ": "OE", "ø": "o", "Ø": "O", "ł": "l", "Ł": "L", "đ": "d"}
)
"""Letters that Unicode does not take apart into a plain one and its accent."""
UMLAUTS = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "Ä": "Ae", "Ö": "Oe", "Ü": "Ue"})
LEADING_NUMBER = re.compile(r"^\d+[-_. ]+(?=.)")
PLAIN_STEMS = ("item-{:02}", "item{:02}", "{:02}", "{:03}", "{:04}", "{}", "ITEM{:02}", "ITEM-{:02}")
"""For players that ask for names of a form of their own: the first that fits is taken."""


@dataclass(frozen=True, slots=True)
class Named:
    """What is to be named. `suffix` is the ending that its content asks for."""

    path: str
    suffix: str


def folder_for(folder: str, profile: Profile) -> str:
    """Where in the copy the files of this folder go: where they were, if the player looks there."""
    if not player_looks_in(folder, profile):
        folder = profile.layout.media_root or ""
    return "/".join(_fitting_folder(part, profile.layout) for part in folder.split("/")) if folder else ""


def names_for(items: Sequence[Named], profile: Profile, taken: Sequence[str] = ()) -> tuple[str | None, ...]:
    """A path for each item, in play order, so that the order of the names is that of playing.

    As few names as can be are changed; where that does not give the order, all items get a number. None: no
    name of the form that the player asks for was found. `taken` are paths of files that are no items.
    """
    kept = _all(items, profile, taken, numbered=False)
    return kept if _in_order(kept) else _all(items, profile, taken, numbered=True)


def ordered_by_name(path: str, profile: Profile) -> tuple[tuple[int, str], ...]:
    """Sort key of an item by its name in the place that it will have."""
    folder = folder_for(path.rpartition("/")[0], profile)
    name = path.rpartition("/")[2]
    return path_order(f"{folder}/{name}" if folder else name)


def _all(
    items: Sequence[Named], profile: Profile, taken: Sequence[str], numbered: bool
) -> tuple[str | None, ...]:
    used = {same_name(path) for path in taken}
    digits = max(2, len(str(len(items))))
    found: list[str | None] = []
    for number, item in enumerate(items, 1):
        folder = folder_for(item.path.rpartition("/")[0], profile)
        names = _candidates(item, number, digits, profile.layout, numbered)
        paths = (f"{folder}/{name}" if folder else name for name in names if _fits(name, profile.layout))
        path = next((path for path in paths if same_name(path) not in used), None)
        used |= {same_name(path)} if path else set()
        found.append(path)
    return tuple(found)


def _in_order(paths: Sequence[str | None]) -> bool:
    keys = [path_order(path) for path in paths if path is not None]
    return keys == sorted(keys)


def _candidates(item: Named, number: int, digits: int, layout: Layout, numbered: bool) -> Iterator[str]:
    """Names to try, the nearest to the old one first."""
    name = unicodedata.normalize("NFC", item.path.rpartition("/")[2])
    stem, ending = _parted(name, item.suffix)
    plain = _plain(stem)
    if not numbered:
        for one in (stem, plain):
            yield one + ending
            yield _short(one, ending, layout) + ending
        for again in range(2, 100):
            mark = f"_{again}{ending}"  # sorts behind the name without it
            yield _short(plain, mark, layout) + mark
    else:
        bare = LEADING_NUMBER.sub("", plain) or "item"
        mark = f"{number:0{digits}}-"
        yield mark + _short(bare, mark + ending, layout) + ending
        yield mark[:-1] + _short(bare, mark[:-1] + ending, layout) + ending
    for form in PLAIN_STEMS:
        for end in (ending, ending.upper()):
            yield form.format(number) + end


def _parted(name: str, suffix: str) -> tuple[str, str]:
    """Stem and ending; an ending that means the same as the one wanted stays as it is spelled."""
    stem, dot, ending = name.rpartition(".")
    if not dot:
        return name, suffix
    if f".{ending}".casefold() == suffix.casefold() or not suffix:
        return stem, f".{ending}"
    return (stem, suffix) if re.fullmatch(r"[A-Za-z0-9]{1,5}", ending) else (name, suffix)


def _plain(stem: str) -> str:
    """Letters, digits, - and _ only."""
    spelled = stem.translate(UMLAUTS).translate(LETTERS)
    letters = "".join(c for c in unicodedata.normalize("NFKD", spelled) if c.isascii())
    joined = re.sub(r"[^A-Za-z0-9_]+", "-", letters).strip("-")
    return joined or "item"


def _short(stem: str, rest: str, layout: Layout) -> str:
    most = layout.name_length_max
    return stem if most is None else stem[: max(1, most - len(rest))].rstrip("-_ .") or stem[:1]


def _fits(name: str, layout: Layout) -> bool:
    if refusal(name) or (layout.ascii_only and not name.isascii()):
        return False
    if layout.name_length_max is not None and len(name) > layout.name_length_max:
        return False
    return layout.name_pattern is None or re.fullmatch(layout.name_pattern, name) is not None


def _fitting_folder(part: str, layout: Layout) -> str:
    part = unicodedata.normalize("NFC", part)
    wrong = refusal(part) or (layout.ascii_only and not part.isascii())
    return _plain(part) if wrong else part
