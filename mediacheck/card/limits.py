"""What file systems can hold: the greatest file, and the names that they refuse.

It must not look at a card: these are the limits of the standards, in one place.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from types import MappingProxyType

from mediacheck.names import FileSystem

GREATEST_FILE_BYTES: Mapping[FileSystem, int] = MappingProxyType(
    {
        # Microsoft FAT32 File System Specification 1.03 (2000): DIR_FileSize is 32 bits, so FFFFFFFFh. A
        # FAT12 or FAT16 volume ends before that; its size is then the limit, and not that of one file.
        "FAT12": 2**32 - 1,
        "FAT16": 2**32 - 1,
        "FAT32": 2**32 - 1,
        # Microsoft, "File System Functionality Comparison", table "Limits": 2^64 - 1 bytes. (The same table
        # rounds FAT32 to 4 GiB; the specification above is exact.) exFAT: DataLength is 64 bits.
        "exFAT": 2**64 - 1,
        "NTFS": 2**64 - 1,
    }
)

WINDOWS_NAMES: frozenset[FileSystem] = frozenset({"FAT12", "FAT16", "FAT32", "exFAT", "NTFS"})
"""File systems on which the rules of `refusal` and `same_name` hold."""

FORBIDDEN_CHARACTERS = frozenset('<>:"/\\|?*') | frozenset(map(chr, range(32)))
"""Microsoft, "Naming Files, Paths, and Namespaces"; exFAT specification, Table 35 (same set)."""

_DEVICES = re.compile(r"(CON|PRN|AUX|NUL|(COM|LPT)[1-9¹²³]) *(\..*)?", re.IGNORECASE | re.DOTALL)
"""Same page: device names, also with an extension ("NUL.txt"); the superscripts count as digits."""


def refusal(part: str) -> str | None:
    """Why Windows, FAT or exFAT refuse this file or folder name, as "it ..."; None where they take it.

    `part` is one name, not a path.
    """
    bad = sorted(FORBIDDEN_CHARACTERS & set(part))
    if bad:
        return f"it contains {' '.join(_shown(character) for character in bad)}"
    if part.endswith((".", " ")):
        return "it ends in a full stop" if part.endswith(".") else "it ends in a space"
    if _DEVICES.fullmatch(part):
        return f"Windows keeps the name {part.partition('.')[0].strip()} for a device"
    return None


def same_name(path: str) -> str:
    """A key that is equal for paths which FAT, exFAT and Windows cannot hold side by side.

    They compare after turning to capitals one character at a time (exFAT specification, 7.2), so that "ß"
    stays itself and is not "SS".
    """
    return "".join(capital if len(capital := letter.upper()) == 1 else letter for letter in path)


def _shown(character: str) -> str:
    return character if character.isprintable() else f"the control character {ord(character)}"
