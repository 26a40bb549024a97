"""What the slots of FAT folders say: which are files and folders, what they are called, and what is wrong.

It must not read the medium, and must not follow a chain.

Sources: "the specification" is Microsoft's FAT32 File System Specification, version 1.03 (6 December 2000).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from mediacheck.card.damages import Damages, printable
from mediacheck.card.fat_layout import FAT32, FatType
from mediacheck.card.fat_names import (
    NOT_LONG_NAMES,
    Fault,
    LongNames,
    Marks,
    Slots,
    illegal,
    is_piece,
    long_names,
    lowered,
    short_names,
    shown,
)
from mediacheck.card.fat_slots import DELETED, DIRECTORY, LOWER_BASE, LOWER_EXTENSION, VOLUME_LABEL
from mediacheck.card.fat_table import Places
from mediacheck.card.limits import same_name

DOT, DOT_DOT = b".          ", b"..         "
BAD_NAMES_NAMED_MAX = 3
"""A folder with more of them has been overwritten: then they are told as one."""

FAULTS: dict[Fault, str] = {
    "checksum": "the long name before {0} is not its own (its checksum is wrong): players show {1}",
    "sequence": "the long name of {0} is broken (its pieces are not in sequence): players show {1}",
    "orphan": "{0} holds a piece of a long name that belongs to no file",
}


@dataclass(frozen=True, slots=True)
class Rows:
    """Files and folders among the slots of some folders, in the order of the slots."""

    slots: Slots
    """Only those that are listed."""
    folder: Places
    """The number of the folder that each lies in."""
    paths: list[str]
    short: list[str]
    valid: Marks
    """Which of them have names that are valid Unicode."""

    @property
    def is_folder(self) -> Marks:
        """Which of them are folders."""
        found: Marks = self.slots["attributes"] & DIRECTORY > 0
        return found


def heads_of(slots: Slots, kind: FatType) -> Places:
    """The first cluster that each slot names; only FAT32 uses its high word."""
    low: Places = slots["cluster_low"].astype(np.int64)
    return low | slots["cluster_high"].astype(np.int64) << 16 if kind is FAT32 else low


def is_label(slots: Slots) -> Marks:
    """Which slots hold the label of the volume (specification, ATTR_VOLUME_ID)."""
    live = slots["name"][:, 0] != DELETED
    found: Marks = live & (slots["attributes"] & VOLUME_LABEL > 0) & ~is_piece(slots)
    return found


def is_dots(slots: Slots) -> Marks:
    """Which slots stand for a folder itself and for the one above it."""
    names = np.ascontiguousarray(slots["name"]).view("S11").ravel()
    return np.asarray((names == DOT) | (names == DOT_DOT))


def is_row(slots: Slots) -> Marks:
    """Which slots stand for a file or folder that is listed."""
    live = slots["name"][:, 0] != DELETED
    return np.asarray(live & ~is_piece(slots) & ~is_label(slots) & ~is_dots(slots))


def rows_of(slots: Slots, folder: Places, prefixes: Mapping[int, str], damages: Damages) -> Rows:
    """The files and folders among many slots.

    `folder` has a number for each slot, ascending; `prefixes` has the path of the folder with that number
    and a `/` behind it, or nothing for the root.
    """
    chosen = np.flatnonzero(is_row(slots))
    long = long_names(slots, folder)
    own, owner = slots[chosen], folder[chosen]
    short = short_names(own["name"])
    names, valid = _names(own, short, [long.texts.get(slot) for slot in chosen.tolist()])
    paths = [prefixes[number] + name for number, name in zip(owner.tolist(), names, strict=True)]
    rows = Rows(own, owner, paths, short, valid)
    _tell_long(
        long, chosen, rows, [prefixes[number] for number in folder.tolist()] if long.faults else [], damages
    )
    _tell_bad(rows, prefixes, damages)
    _tell_twins(rows, damages)
    return rows


def place(prefix: str) -> str:
    """A folder in words, by its path with a `/` behind it."""
    return f"the folder {prefix[:-1]}" if prefix else "the root folder"


def _names(slots: Slots, short: list[str], long: list[str | None]) -> tuple[list[str], Marks]:
    names, valid = short.copy(), np.ones(len(short), np.bool_)
    for row in np.flatnonzero(slots["nt_case"] & (LOWER_BASE | LOWER_EXTENSION)).tolist():
        names[row] = lowered(short[row], int(slots["nt_case"][row]))
    plain = _all_plain(long)
    for row, text in enumerate(long):
        if text is None or text in NOT_LONG_NAMES:
            continue
        if plain:
            names[row] = text
        else:
            names[row], valid[row] = shown(text)
    return names, valid


def _all_plain(names: list[str | None]) -> bool:
    whole = "".join(name for name in names if name)
    return printable(whole) == whole


def _tell_long(long: LongNames, chosen: Places, rows: Rows, prefixes: list[str], damages: Damages) -> None:
    """Tell which long names are broken; `prefixes` for each slot, where there are any faults."""

    def fault(found: tuple[int, int, Fault]) -> tuple[str, str | None]:
        start, slot, kind = found
        row = int(np.searchsorted(chosen, slot))
        if kind == "orphan" or row >= len(chosen) or chosen[row] != slot:
            return FAULTS["orphan"].format(place(prefixes[start])), prefixes[start][:-1] or None
        return FAULTS[kind].format(rows.paths[row], rows.short[row]), rows.paths[row]

    damages.tell_each(long.faults, fault)


def _tell_bad(rows: Rows, prefixes: Mapping[int, str], damages: Damages) -> None:
    """Tell which short names cannot be: one by one, or as one where a folder is full of them."""
    bad = np.flatnonzero(illegal(rows.slots["name"]))
    numbers, counts = np.unique(rows.folder[bad], return_counts=True)
    many = counts > BAD_NAMES_NAMED_MAX
    few = np.repeat(~many, counts)

    def overwritten(found: tuple[int, int]) -> tuple[str, str | None]:
        prefix, count = prefixes[found[0]], found[1]
        told = f"{place(prefix)} holds {count:,} names that cannot be: something was written over it"
        return told, prefix[:-1] or None

    def strange(row: int) -> tuple[str, str | None]:
        return f"{rows.paths[row]} has a short name with signs that no short name can have", rows.paths[row]

    damages.tell_each(list(zip(numbers[many].tolist(), counts[many].tolist(), strict=True)), overwritten)
    damages.tell_each(bad[few].tolist(), strange)


def _tell_twins(rows: Rows, damages: Damages) -> None:
    """Tell which names stand twice in a folder: only one of the two files can be found by it."""
    if len(set("\n".join(rows.paths).upper().split("\n"))) < len(rows.paths):
        _tell_same([same_name(path) for path in rows.paths], rows.paths, "name", damages)
    keys = np.zeros((len(rows.paths), 16), np.uint8)
    keys[:, :11], keys.view(np.uint32)[:, 3] = rows.slots["name"], rows.folder
    short = keys.view("V16").ravel().tolist()
    if len(set(short)) < len(short):
        _tell_same(short, rows.paths, "short name", damages)


def _tell_same(keys: Sequence[object], paths: list[str], what: str, damages: Damages) -> None:
    first: dict[object, str] = {}
    pairs = [(path, first.setdefault(key, path)) for key, path in zip(keys, paths, strict=True)]
    twins = [(path, other) for path, other in pairs if path is not other]
    if what != "name":
        twins = [(path, other) for path, other in twins if same_name(path) != same_name(other)]
    damages.tell_each(
        twins,
        lambda twin: (f"{twin[0]} has the same {what} as {twin[1]}: only one of them can be found", twin[0]),
    )
