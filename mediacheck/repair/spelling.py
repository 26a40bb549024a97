"""How else a name can be spelled: in plain letters, shorter, in the form that a player asks for.

It must not know which names are taken, or what a player takes.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator

from mediacheck.media.extensions import promised_format
from mediacheck.profile import Layout

LETTERS = str.maketrans(
    {"ß": "ss", "æ": "ae", "Æ": "AE", "œ": "oe", "Œ": "OE", "ø": "o", "Ø": "O", "ł": "l", "Ł": "L", "đ": "d"}
)
"""Letters that Unicode does not take apart into a plain one and its accent."""
UMLAUTS = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "Ä": "Ae", "Ö": "Oe", "Ü": "Ue"})
LEADING_NUMBER = re.compile(r"^(?:0\d*|\d{1,3})[-_. ]+(?=.)")
"""A number that stands for a place; four digits without a leading zero are a year, as a rule."""
NUMBERED_FORMS = ("NN-OLD", "NN_OLD", "NNOLD", "item-NN", "itemNN", "ITEMNN", "ITEM-NN", "NN", "0NN", "00NN")
"""NN: the number; OLD: what the file is called. Some players ask for names of a form of their own; the
first that fits is taken."""
JOINTS = ("-", "_", "")
PATTERN_LENGTH = 64
"""Names of a form of their own are shorter than this (common practice, no source)."""


def joined(folder: str, name: str) -> str:
    """The path of a file in a folder, "" being the root."""
    return f"{folder}/{name}" if folder else name


def parted(name: str, suffix: str) -> tuple[str, tuple[str, ...]]:
    """Stem, and the endings that it may have, the one that it has first if that means the same."""
    stem, dot, ending = name.rpartition(".")
    end = f".{ending}"
    if not dot:
        return name, (suffix,)
    if not suffix:
        usual = "." + plain(ending)
        return stem, (end,) if usual == end else (end, usual)
    if end.casefold() == suffix.casefold():
        return stem, (end,)
    if promised_format(name) is not None and promised_format(name) == promised_format(f"x{suffix}"):
        return stem, (end, suffix)
    is_ending = promised_format(name) is not None or re.fullmatch(r"(?!\d+$)[A-Za-z0-9]{1,5}", ending)
    return (stem if is_ending else name), (suffix,)


def plain(stem: str) -> str:
    """Letters, digits, - and _ only."""
    spelled = unicodedata.normalize("NFC", stem).translate(UMLAUTS).translate(LETTERS)
    letters = "".join(c for c in unicodedata.normalize("NFKD", spelled) if c.isascii())
    return re.sub(r"[^A-Za-z0-9_]+", "-", letters).strip("-") or "item"


def bare(stem: str) -> str:
    """Without the number that gave it its place before."""
    return LEADING_NUMBER.sub("", stem) or "item"


def spellings(stem: str, ending: str, layout: Layout) -> Iterator[str]:
    """As it is, in plain letters, with capitals or without, and ever shorter."""
    most = 255 if layout.name_length_max is None else layout.name_length_max
    room = max(1, most - len(ending))
    for one in (stem, unicodedata.normalize("NFC", stem), plain(stem)):
        yield one + ending
        yield (one[:room].rstrip("-_ .") or one[:1]) + ending
    if layout.name_pattern is None:
        return
    for length in range(min(room, PATTERN_LENGTH), 0, -1):
        for one in dict.fromkeys(plain(stem).replace("-", joint)[:length] for joint in JOINTS):
            for spelled in (one, one.lower(), one.upper()):
                yield from dict.fromkeys(spelled + end for end in (ending, ending.lower(), ending.upper()))
