"""What file systems can hold: the greatest file, and the names that they refuse.

It must not look at a card: these are the limits of the standards, in one place.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from mediacheck.names import FileSystem


@dataclass(frozen=True, slots=True)
class Limits:
    """What one file system can hold."""

    file_bytes: int
    """The greatest file."""
    name_units: int = 255
    """The longest name, in units of UTF-16."""
    folder_entries: int | None = None
    """Entries of one folder other than the root; see `directory_entries`. None: not known here."""
    root_entries: int | None = None
    """Entries of the root folder where they are fixed when the card is formatted: what is usual."""
    label_units: int | None = None
    """The longest label. None: not known here."""


_FAT_FILE_BYTES = 2**32 - 1
"""Microsoft FAT32 File System Specification 1.03 (2000): DIR_FileSize is 32 bits, so FFFFFFFFh. A FAT12 or
FAT16 volume ends before that; its size is then the limit, and not that of one file."""
_FAT_FOLDER_ENTRIES = 65_536
"""Same, "FAT Directory Structure": at most 2,097,152 bytes, 32 for each entry."""
_FAT_ROOT_ENTRIES = 512
"""Same, BPB_RootEntCnt: what FAT16 "should use" (and mkfs.fat gives FAT12 on anything but floppy disks)."""
_FAT_LABEL = 11
"""Same, BS_VolLab: 11 bytes."""
_EXFAT_FOLDER_ENTRIES = 256 * 2**20 // 32
"""exFAT specification 1.00, 9.5: 256 MB, 32 bytes for each entry."""

LIMITS: Mapping[FileSystem, Limits] = MappingProxyType(
    {
        # Names: same specification, "Long Directory Entries": 255 characters.
        "FAT12": Limits(_FAT_FILE_BYTES, 255, _FAT_FOLDER_ENTRIES, _FAT_ROOT_ENTRIES, _FAT_LABEL),
        "FAT16": Limits(_FAT_FILE_BYTES, 255, _FAT_FOLDER_ENTRIES, _FAT_ROOT_ENTRIES, _FAT_LABEL),
        "FAT32": Limits(_FAT_FILE_BYTES, 255, _FAT_FOLDER_ENTRIES, None, _FAT_LABEL),
        # Microsoft, "File System Functionality Comparison", table "Limits": 2^64 - 1 bytes. (The same table
        # rounds FAT32 to 4 GiB; the specification above is exact.) exFAT: DataLength is 64 bits; 7.6.3: names
        # of 255; 7.3.2: labels of 11.
        "exFAT": Limits(2**64 - 1, 255, _EXFAT_FOLDER_ENTRIES, None, 11),
        # Labels of NTFS: 32 (Microsoft, SetVolumeLabel; from memory).
        "NTFS": Limits(2**64 - 1, 255, None, None, 32),
    }
)

GREATEST_FILE_BYTES: Mapping[FileSystem, int] = MappingProxyType(
    {kind: limits.file_bytes for kind, limits in LIMITS.items()}
)

WINDOWS_NAMES: frozenset[FileSystem] = frozenset(LIMITS)
"""File systems on which the rules of `refusal` and `same_name` hold."""
_NAME_UNITS = min(limits.name_units for limits in LIMITS.values())

FORBIDDEN_CHARACTERS = frozenset('<>:"/\\|?*') | frozenset(map(chr, range(32)))
"""Microsoft, "Naming Files, Paths, and Namespaces"; exFAT specification, Table 35 (same set)."""

_DEVICES = re.compile(r"(CON|PRN|AUX|NUL|(COM|LPT)[1-9¹²³]) *(\..*)?", re.IGNORECASE | re.DOTALL)
"""Same page: device names, also with an extension ("NUL.txt"); the superscripts count as digits."""


_SHORT_NAME = re.compile(r"([^. ]{1,8})(?:\.([^. ]{1,3}))?")
_SHORT_CHARACTERS = frozenset("ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789$%'-_@~`!(){}^#&")
"""FAT specification, DIR_Name: what a name of eight and three characters may have. (It allows the letters of
the code page above 7Fh too, which differ from country to country: such a name is given a long one.)"""

FORBIDDEN_IN_FAT_LABELS = frozenset('*?.,;:/\\|+=<>[]"') | frozenset(map(chr, (*range(32), 127)))
"""dosfstools, common.c."""


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
    return f"it is longer than {_NAME_UNITS} characters" if utf16_units(part) > _NAME_UNITS else None


def same_name(path: str) -> str:
    """A key that is equal for paths which FAT, exFAT and Windows cannot hold side by side.

    They compare after turning to capitals one character at a time (exFAT specification, 7.2), so that "ß"
    stays itself and is not "SS", and "ᾀ" becomes the one letter "ᾈ" and not two.
    """
    return "".join(map(_capital, path))


def _capital(letter: str) -> str:
    return next((one for one in (letter.upper(), letter.title()) if len(one) == 1), letter)


def directory_entries(name: str, file_system: FileSystem = "FAT32") -> int:
    """How many entries of its folder a file or folder of this name takes, on FAT or exFAT.

    FAT specification, "Long Directory Entries": one, and one more for each 13 units of a name that is not of
    eight and three capitals. (Some systems leave the long name away for "promo.mp4": this is the most that it
    can take.) exFAT specification, 6.3 and 7.7: two, and one for each 15 units.
    """
    units = utf16_units(name)
    if file_system == "exFAT":
        return 2 + -(-units // 15)
    return 1 if is_short_name(name) else 1 + -(-units // 13)


def folder_room(file_system: FileSystem, root: bool) -> int | None:
    """How many entries the files and folders in one folder may take; None where that is not known here.

    On FAT, two of a folder's entries are its own `.` and `..` (specification, "FAT Directory Structure"), and
    one of the root is for the label; on exFAT three of the root are for bitmap, up-case table and label (7).
    """
    limits = LIMITS.get(file_system)
    if limits is None or limits.folder_entries is None:
        return None
    if file_system == "exFAT":
        return limits.folder_entries - 3 * root
    return (limits.root_entries or limits.folder_entries) - 1 if root else limits.folder_entries - 2


def is_short_name(name: str) -> bool:
    """Whether FAT can hold the name without a long one: eight and three characters, capitals only."""
    found = _SHORT_NAME.fullmatch(name)
    return found is not None and set(name) - {"."} <= _SHORT_CHARACTERS


def utf16_units(text: str) -> int:
    """Length as file systems count it: characters beyond FFFFh are two."""
    return len(text.encode("utf-16-le", "surrogatepass")) // 2


def label_refusal(label: str, file_system: FileSystem) -> str | None:
    """Why the file system refuses this label, as "it ..."; None where it takes it, or is not known here.

    FAT: dosfstools, common.c (and Microsoft's specification for the 11 bytes). exFAT specification, 7.3: 11
    units, and the set of names (Table 35).
    """
    limits = LIMITS.get(file_system)
    if limits is None or limits.label_units is None:
        return None
    if utf16_units(label) > limits.label_units:
        return f"it is longer than {limits.label_units} characters"
    forbidden = FORBIDDEN_IN_FAT_LABELS if file_system.startswith("FAT") else FORBIDDEN_CHARACTERS
    bad = sorted(forbidden & set(label))
    if bad:
        return f"it contains {' '.join(map(_shown, bad))}"
    return _fat_label_refusal(label) if file_system.startswith("FAT") else None


def _fat_label_refusal(label: str) -> str | None:
    """dosfstools: no space at the start. Letters outside of ASCII are a matter of the code page."""
    if label.startswith(" "):
        return "it begins with a space"
    if not label.isascii():
        return "it has letters that not every system reads alike (use A to Z, 0 to 9)"
    return None


@dataclass(frozen=True, slots=True)
class SdClass:
    """A class of SD cards, by capacity, and the file systems that the SD Association gives to it."""

    name: str
    capacity_bytes_max: int
    file_systems: tuple[FileSystem, ...]


SD_CLASSES = (
    SdClass("SDSC", 2 * 2**30, ("FAT12", "FAT16")),
    SdClass("SDHC", 32 * 2**30, ("FAT32",)),
    SdClass("SDXC", 2 * 2**40, ("exFAT",)),
    SdClass("SDUC", 128 * 2**40, ("exFAT",)),
)
"""SD Association: up to 2 GB, 32 GB, 2 TB and 128 TB (second-hand: pages of vendors; exFAT for SDUC from
memory). Counted in powers of two, since cards of "32 GB" hold up to a little more than 32 x 10^9 bytes and
none holds more than 32 GiB (from memory: C_SIZE of the SD Physical Layer Specification)."""


def sd_class(capacity_bytes: int) -> SdClass | None:
    """The class of cards of this capacity; None above the largest, and for a size of 0 or less."""
    if capacity_bytes <= 0:
        return None
    return next((kind for kind in SD_CLASSES if capacity_bytes <= kind.capacity_bytes_max), None)


def _shown(character: str) -> str:
    return character if character.isprintable() else f"the control character {ord(character)}"
