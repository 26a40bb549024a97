"""What both the FAT and the exFAT reader need: the damage of one volume, bounded, and names made printable.

It must not know any file system, and must not judge.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import TypeVar

from mediacheck.card.model import Damage

T = TypeVar("T")

LISTED_MAX = 200
"""A card full of noise has thousands of faults; nobody reads more than these."""

_HIDDEN = re.compile(
    r"[\x00-\x1f\x7f-\x9f/\\\ud800-\udfff\u200e\u200f\u2028-\u202e\u2066-\u2069\ufeff\ufffe\uffff]"
)
"""What cannot stand in a path: control characters, both slashes, halves of UTF-16 pairs, and what turns the
direction or breaks the line of the text around it (Unicode Bidi_Control and line separators; from memory)."""
_DOTS = frozenset((".", ".."))
"""Names that would lead out of their folder."""


@dataclass(slots=True)
class Damages:
    """Takes down damage in the order in which it is told, and only counts what comes after the first 200."""

    _told: list[Damage] = field(default_factory=list)
    _more: int = 0

    def tell(self, what: str, path: str | None = None, *, only_writing: bool = False) -> None:
        """One more fault, as `Damage` wants it."""
        if len(self._told) < LISTED_MAX:
            self._told.append(Damage(what, path, only_writing))
        else:
            self._more += 1

    def tell_each(self, things: Sequence[T], fault: Callable[[T], tuple[str, str | None]]) -> None:
        """One fault for each of many things. Words are made only for those that are listed."""
        room = max(0, LISTED_MAX - len(self._told))
        for thing in things[:room]:
            self.tell(*fault(thing))
        self._more += max(0, len(things) - room)

    @property
    def listed(self) -> tuple[Damage, ...]:
        """What was told: at most 200, and one line for the number of the others."""
        more = (Damage(f"and {self._more:,} more faults like these"),) if self._more else ()
        return (*self._told, *more)


def printable(name: str) -> str:
    r"""A name with each character that cannot stand in a path written as \x or \u and its number.

    No name of a sound card is changed by it, and no two names become the same: FAT and exFAT forbid `\`.
    """
    if name in _DOTS:
        return _escaped(ord(".")) + name[1:]
    return _HIDDEN.sub(lambda found: _escaped(ord(found[0])), name)


def is_unicode(name: str) -> bool:
    """Whether the name has no half of a UTF-16 pair (`Entry.valid_name`)."""
    return not any("\ud800" <= letter <= "\udfff" for letter in name)


def _escaped(number: int) -> str:
    return f"\\x{number:02x}" if number < 0x100 else f"\\u{number:04x}"
