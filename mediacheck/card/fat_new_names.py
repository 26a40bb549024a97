"""The short names of eight and three characters that the files and folders of a new FAT folder get.

It must not write them anywhere.

Sources: "the specification" is Microsoft's FAT32 File System Specification, version 1.03 (6 December 2000).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from mediacheck.card.limits import is_short_name, same_name

BASE_MAX, EXTENSION_MAX = 8, 3
TAIL_DIGITS_MAX = 6
"""Specification, "The Numeric-Tail Generation Algorithm": from ~1 to ~999999."""


def short_names(names: Sequence[str]) -> list[bytes]:
    """The 11 bytes for each name of one folder, no two alike, and none that is the long name of another.

    Specification, "Effect of Long Directory Entries on Down Level Versions of FAT": a name that has eight and
    three characters but for its small letters becomes that in capitals. So those are given first, and all
    others get a number behind what is left of them.
    """
    taken = {same_name(name) for name in names}
    numbers: dict[tuple[str, str, int], Iterator[int]] = {}
    return [_own(name) or _numbered(*basis(name), taken, numbers) for name in names]


def basis(name: str) -> tuple[str, str]:
    """The base and extension that a short name is made of (specification, "The Basis-Name Generation
    Algorithm").

    Dots within the base are left out, as Windows and mtools do; the specification ends the base there.
    """
    base, dot, extension = name.replace(" ", "").lstrip(".").rpartition(".")
    if not dot:
        base, extension = extension, ""
    return _allowed(base.replace(".", "")[:BASE_MAX]), _allowed(extension[:EXTENSION_MAX])


def _own(name: str) -> bytes | None:
    """The name itself in capitals, where that is a short name."""
    capitals = name.upper()
    return _bytes(*capitals.split(".")) if name.isascii() and is_short_name(capitals) else None


def _numbered(
    base: str, extension: str, taken: set[str], numbers: dict[tuple[str, str, int], Iterator[int]]
) -> bytes:
    """The first that is free. `numbers` has those that were not tried yet for a start of this length: nothing
    is tried twice, however many names begin alike.

    A folder has no room for so many names that none would be free.
    """
    for digits in range(1, TAIL_DIGITS_MAX + 1):
        start = base[: BASE_MAX - 1 - digits]
        untried = iter(range(10 ** (digits - 1), 10**digits))
        for number in numbers.setdefault((start, extension, digits), untried):
            found = f"{start}~{number}"
            whole = f"{found}.{extension}" if extension else found
            if whole not in taken:
                taken.add(whole)
                return _bytes(found, extension)
    raise ValueError("there are too many names for one folder")


def _allowed(text: str) -> str:
    """In capitals, with `_` for each character that no short name has, or not in every country."""
    return "".join(
        letter.upper() if letter.isascii() and is_short_name(letter.upper()) else "_" for letter in text
    )


def _bytes(base: str, extension: str = "") -> bytes:
    return (base.ljust(BASE_MAX) + extension.ljust(EXTENSION_MAX)).encode("ascii")
