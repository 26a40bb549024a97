"""Names in a FAT folder: short ones of eight and three characters, and long ones in pieces before them.

It must not read the medium, and must not judge what a player makes of a name.

Sources: "the specification" is Microsoft's FAT32 File System Specification, version 1.03 (6 December 2000).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final, Literal

import numpy as np
import numpy.typing as npt

from mediacheck.card.damages import is_unicode, printable
from mediacheck.card.fat_slots import (
    DELETED,
    LAST_LONG,
    LONG_NAME,
    LONG_NAME_MASK,
    LONG_NAME_MAX,
    LONG_SLOTS,
    LONG_SLOTS_MAX,
    LONG_UNITS,
    LOWER_BASE,
    LOWER_EXTENSION,
    STANDS_FOR_E5,
    LongEntry,
    long_name_checksum,
)
from mediacheck.card.fat_table import Places

Slots = npt.NDArray[np.void]
"""Many slots of `fat_slots.SHORT_SLOTS`."""
Marks = npt.NDArray[np.bool_]
Fault = Literal["checksum", "sequence", "orphan"]

CODE_PAGE = "cp437"
"""Of the short names, which do not tell it: the one of DOS in the United States (common practice)."""
NOT_LONG_NAMES = frozenset(("", ".", ".."))

_ILLEGAL: Final = np.zeros(256, np.bool_)
"""Specification, DIR_Name. 7Fh: dosfstools, check.c. Lower case is illegal too, but simple devices write
it, and all systems read it (common practice, no source)."""
_ILLEGAL[[*range(0x20), 0x7F, *b'"*+,./:;<=>?[\\]|']] = True


@dataclass(frozen=True, slots=True)
class LongNames:
    """The pieces of long names among many slots, put together as far as they belong together."""

    texts: dict[int, str]
    """By the number of the slot with the short name."""
    faults: list[tuple[int, int, Fault]]
    """Pieces that make no name: the number of the first and of the slot behind the last, and why."""


def short_names(names: npt.NDArray[np.uint8]) -> list[str]:
    """The text of short names, given as rows of 11 bytes; always printable and never empty."""
    raw = names.copy()
    raw[raw[:, 0] == STANDS_FOR_E5, 0] = DELETED
    space = raw == ord(" ")
    gap = space[:, :-1] & ~space[:, 1:]
    gap[:, 7] = False  # between name and extension
    lines = np.full((len(raw), 13), ord("\n"), np.uint8)
    lines[:, :8], lines[:, 9:12] = raw[:, :8], raw[:, 8:]
    lines[:, 8] = np.where(space[:, 8:].all(axis=1), ord(" "), ord("."))
    odd = gap.any(axis=1) | _ILLEGAL[raw].any(axis=1) | space[:, 0]
    lines[odd, :12] = ord(" ")
    found = lines.tobytes().decode(CODE_PAGE).replace(" ", "").split("\n")[:-1]
    for row in np.flatnonzero(odd).tolist():
        found[row] = _short_name(raw[row].tobytes().decode(CODE_PAGE))
    return found


def _short_name(text: str) -> str:
    """One name of 11 letters, whatever they are."""
    base, extension = text[:8].rstrip(" "), text[8:].rstrip(" ")
    return printable(f"{base}.{extension}" if extension else base) or r"\x20"


def lowered(name: str, nt_case: int) -> str:
    """A short name as Windows NT shows it by DIR_NTRes: its parts in lower case where that says so."""
    base, dot, extension = name.partition(".")
    base = base.lower() if nt_case & LOWER_BASE else base
    return base + dot + (extension.lower() if nt_case & LOWER_EXTENSION else extension)


def illegal(names: npt.NDArray[np.uint8]) -> Marks:
    """Which short names, given as rows of 11 bytes, hold what no short name may hold."""
    bad = _ILLEGAL[names]
    bad[:, 0] &= names[:, 0] != STANDS_FOR_E5
    bad[:, 0] |= names[:, 0] == ord(" ")
    return np.asarray(bad.any(axis=1))


def checksums(names: npt.NDArray[np.uint8]) -> npt.NDArray[np.uint8]:
    """`fat_slots.long_name_checksum` of many names, given as rows of 11 bytes."""
    total = np.zeros(len(names), np.uint8)
    for column in np.ascontiguousarray(names.T):
        total = (total << 7 | total >> 1) + column
    return total


def long_names(slots: Slots, folder: Places) -> LongNames:
    """Put the long names together. `folder` tells which slots lie in the same one."""
    pieces = slots.view(LONG_SLOTS)
    first = pieces["order"]
    is_long = is_piece(slots) & (first != DELETED)
    order = (first & ~np.uint8(LAST_LONG)).astype(np.int64)
    leads_on = _leads_on(slots, is_long, order, folder)
    begins = np.flatnonzero(is_long & (first & LAST_LONG > 0) & (order >= 1) & (order <= LONG_SLOTS_MAX))
    begins = begins[begins + order[begins] < len(slots)]
    ends = begins + order[begins]
    good = np.concatenate((np.zeros(1, np.int64), np.cumsum(leads_on)))
    whole = good[ends] - good[begins] == order[begins]
    texts = dict(zip(ends[whole].tolist(), _texts(pieces, begins[whole], ends[whole]), strict=True))
    nameless = [(slot - 1, slot) for slot, text in texts.items() if text in NOT_LONG_NAMES]
    edge = np.zeros(len(slots) + 1, np.int64)
    edge[begins[whole]] += 1
    edge[ends[whole]] -= 1
    broken = is_long & (np.cumsum(edge[:-1]) == 0)
    faults = _faults(pieces, broken, is_long, folder)
    return LongNames(texts, [*faults, *((start, stop, "sequence") for start, stop in nameless)])


def is_piece(slots: Slots) -> Marks:
    """Which slots hold a piece of a long name, or held one."""
    found: Marks = slots["attributes"] & LONG_NAME_MASK == LONG_NAME
    return found


def shown(name: str) -> tuple[str, bool]:
    """A long name as it can stand in a path, and whether it was valid Unicode."""
    return printable(name), is_unicode(name)


def long_name_slots(name: str, short: bytes) -> bytes:
    """The slots that keep a long name, in the order of the disk, before the entry with these 11 bytes.

    ValueError: the name is empty, or longer than 255 units of UTF-16.
    """
    units = name.encode("utf-16-le", "surrogatepass")
    if not 0 < len(units) <= 2 * LONG_NAME_MAX:
        raise ValueError("a long name has 1 to 255 units of UTF-16")
    size, checksum = 2 * LONG_UNITS, long_name_checksum(short)
    if len(units) % size:
        units = (units + b"\0\0").ljust(-(-len(units) // size) * size, b"\xff")
    pieces = [units[place : place + size] for place in range(0, len(units), size)]
    orders = [*range(1, len(pieces)), len(pieces) | LAST_LONG]
    slots = [LongEntry.holding(order, checksum, piece) for order, piece in zip(orders, pieces, strict=True)]
    return b"".join(slot.compose() for slot in reversed(slots))


def _leads_on(slots: Slots, is_long: Marks, order: Places, folder: Places) -> Marks:
    """Which pieces are followed by what must follow: a piece, or the short name they belong to."""
    checksum = slots.view(LONG_SLOTS)["checksum"]
    is_short = ~is_long & (slots["name"][:, 0] != DELETED)
    found = np.zeros(len(slots), np.bool_)
    to_piece = is_long[1:] & (order[1:] == order[:-1] - 1) & (checksum[1:] == checksum[:-1])
    to_piece &= slots["name"][1:, 0] & LAST_LONG == 0
    to_short = is_short[1:] & (checksums(slots["name"])[1:] == checksum[:-1])
    found[:-1] = is_long[:-1] & (folder[1:] == folder[:-1]) & np.where(order[:-1] == 1, to_short, to_piece)
    return found


def _texts(pieces: npt.NDArray[Any], begins: Places, ends: Places) -> list[str]:
    """Pieces are stored last one first: turned round, each name lies in one stretch, up to a NUL."""
    columns = [pieces[name] for name in ("units_1", "units_2", "units_3")]
    units = np.concatenate(columns, axis=1)[::-1].ravel()
    starts, stops = ((len(pieces) - place) * LONG_UNITS for place in (ends, begins))
    nul = np.append(np.flatnonzero(units == 0), len(units))
    stops = np.minimum(stops, nul[np.searchsorted(nul, starts)])
    stretches = [slice(*pair) for pair in zip(starts.tolist(), stops.tolist(), strict=True)]
    text = units.tobytes().decode("utf-16-le", "surrogatepass")
    if len(text) == len(units):
        return [text[stretch] for stretch in stretches]
    return [units[stretch].tobytes().decode("utf-16-le", "surrogatepass") for stretch in stretches]


def _faults(
    pieces: npt.NDArray[Any], broken: Marks, is_long: Marks, folder: Places
) -> Iterable[tuple[int, int, Fault]]:
    """Neighbouring pieces that make no name, as one fault."""
    numbers = np.flatnonzero(broken)
    order, checksum = pieces["order"][numbers], pieces["checksum"][numbers]
    apart = np.ones(len(numbers) + 1, np.bool_)
    apart[1:-1] = np.diff(numbers) > 1
    apart[1:-1] |= (np.diff(folder[numbers]) != 0) | (order[1:] & LAST_LONG > 0)
    joined = (
        ~apart[1:-1]
        & (checksum[1:] == checksum[:-1])
        & ((order[:-1] & ~np.uint8(LAST_LONG)) == order[1:] + 1)
    )
    sound = np.concatenate((np.zeros(1, np.int64), np.cumsum(joined)))
    first, last = np.flatnonzero(apart[:-1]), np.flatnonzero(apart[1:])
    whole = (sound[last] - sound[first] == last - first) & (order[first] == (last - first + 1 | LAST_LONG))
    stops = numbers[last] + 1
    behind = np.minimum(stops, len(pieces) - 1)
    named = (
        (folder[behind] == folder[numbers[first]]) & ~is_long[behind] & (pieces["order"][behind] != DELETED)
    )
    kinds: list[Fault] = np.select([~named, whole], ["orphan", "checksum"], "sequence").tolist()
    return zip(numbers[first].tolist(), stops.tolist(), kinds, strict=True)
