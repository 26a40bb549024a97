"""Names for the reports of many cards: told from the card's path, fit for any system, each its own.

It must not look at what is on a card.
"""

from __future__ import annotations

import os
import re
from collections.abc import Mapping, Sequence
from pathlib import Path, PurePath

from mediacheck.card.folder import printable, whole_drive

IMAGE_ENDINGS = (".img", ".bin", ".dd", ".raw", ".iso", ".image")
NAME_MAX = 60
"""Characters, of up to four bytes each: with the endings of a report under what any file system takes."""
RESERVED = re.compile(r"(con|prn|aux|nul|(com|lpt)[0-9])(\.|$)", re.IGNORECASE)
"""Windows gives no file these names (Microsoft, Naming Files, Paths, and Namespaces)."""


def names_for(cards: Sequence[Path], taken: Mapping[str, str]) -> tuple[str, ...]:
    """A name for each card, in their order; no two are alike, whatever the capitals.

    `taken` are the names of an earlier run by `identity`: a card keeps its name, and no other card gets it.
    """
    used = {name.casefold() for name in taken.values()}
    found = {card: taken[identity(card)] for card in cards if identity(card) in taken}
    left = [card for card in cards if card not in found]
    crowded = _crowded(left)
    for card in left:
        found[card] = _free(_names_of(card), used, crowded)
        used.add(found[card].casefold())
    return tuple(found[card] for card in cards)


def identity(card: Path) -> str:
    """Which card is meant, however its path is written."""
    return printable(os.path.realpath(whole_drive(card)))


def _crowded(cards: Sequence[Path]) -> set[str]:
    """Names that more than one card could have: then none of them gets it."""
    seen: set[str] = set()
    twice: set[str] = set()
    for card in cards:
        for name in {one.casefold() for one in _names_of(card)}:
            (twice if name in seen else seen).add(name)
    return twice


def _free(names: Sequence[str], used: set[str], crowded: set[str]) -> str:
    for name in names:
        if name.casefold() not in used and name.casefold() not in crowded:
            return name
    tries = (names[-1], *(plain(f"{names[-1]}-{number}") for number in range(2, len(used) + 3)))
    return next(name for name in tries if name.casefold() not in used)


def _names_of(card: Path) -> list[str]:
    """From the short name to the one with all folders above: "aisle", "store-0117-aisle", and so on."""
    whole = PurePath(os.path.abspath(card))  # noqa: PTH100  # a link's own name is the one that people know
    parts = [printable(part) for part in whole.parts if part != whole.anchor]
    parts = [whole.drive, *parts] if whole.drive else parts
    if parts and whole.suffix.casefold() in IMAGE_ENDINGS:
        parts[-1] = parts[-1][: -len(whole.suffix)] or parts[-1]
    found = [plain("-".join(parts[start:])) for start in range(len(parts) - 1, -1, -1)]
    return found or ["card"]


def plain(words: str) -> str:
    """The words as a file name that any system takes."""
    name = re.sub(r"[^\w.-]+", "-", words).strip("-.")[-NAME_MAX:].strip("-.") or "card"
    return f"card-{name}" if RESERVED.match(name) else name
