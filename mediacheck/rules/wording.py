"""How sizes, times, places and lists are put into the sentences of findings.

It must not judge: it only spells what a rule has seen.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

MOST_NAMES = 5


def either(names: Sequence[str]) -> str:
    """A choice: "A", "A or B", "A, B or C"; "nothing" where there is none."""
    if len(names) < 2:
        return names[0] if names else "nothing"
    return f"{', '.join(names[:-1])} or {names[-1]}"


def listed(names: Sequence[str]) -> str:
    """The first few of a list, and how many more there are."""
    more = len(names) - MOST_NAMES
    return ", ".join(names) if more <= 0 else f"{', '.join(names[:MOST_NAMES])} and {more} more"


def number(value: Fraction | float) -> str:
    """A number with at most three decimals and no idle zeros."""
    return f"{float(value):,.3f}".rstrip("0").rstrip(".")


def size(size_bytes: int) -> str:
    """A size in the decimal units that are printed on cards: "64 GB", "5.37 GB", "512 bytes"."""
    for unit, name in ((10**12, "TB"), (10**9, "GB"), (10**6, "MB"), (10**3, "kB")):
        if size_bytes >= unit:
            return f"{number(round(size_bytes / unit, 2))} {name}"
    return f"{size_bytes} bytes"


def exact(size_bytes: int) -> str:
    """A size to the byte."""
    return f"{size_bytes:,} bytes"


def told_apart(first_bytes: int, second_bytes: int) -> tuple[str, str]:
    """Two sizes in words; to the byte where rounding would make them look the same."""
    rounded = size(first_bytes), size(second_bytes)
    return rounded if rounded[0] != rounded[1] else (exact(first_bytes), exact(second_bytes))


def place(folder: str) -> str:
    """A folder of the card as a person would say it; "" is the root."""
    return f'the folder "{folder}"' if folder else "the root of the card"


def clause(sentence: str) -> str:
    """A sentence without its full stop, to go on after it."""
    return sentence.strip().rstrip(".")


def capital(text: str) -> str:
    """The text with a capital at its beginning."""
    return text[:1].upper() + text[1:]
