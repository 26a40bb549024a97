"""Plain values as YAML on one line, and as people read them.

It must not know what any key means beyond the unit that its name carries.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from mediacheck.learn.model import Key, Plain
from mediacheck.profile_text import value_text
from mediacheck.profile_values import parse_rate

_NEEDS_NO_QUOTES = re.compile(r"[A-Za-z/](?:[A-Za-z0-9 ._/+-]*[A-Za-z0-9._/+-])?")
_MEANS_SOMETHING_ELSE = frozenset(("true", "false", "null", "yes", "no", "on", "off", "y", "n"))
"""Words that some reader of YAML takes for yes, no or nothing (YAML 1.1, type bool, and 1.2, core schema)."""


def flow(value: Plain) -> str:
    """The value as YAML on one line: `[24, 29.97]`, `"4.1"`, `true`, `4:2:0` in quotes.

    The same value gives the same text, so that two texts can be compared instead of two values.
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, tuple):
        return f"[{', '.join(map(flow, value))}]"
    return _text(value) if isinstance(value, str) else repr(value)


def _text(value: str) -> str:
    if _NEEDS_NO_QUOTES.fullmatch(value) and value.lower() not in _MEANS_SOMETHING_ELSE:
        return value
    return f'"{"".join(map(_escaped, value))}"'


def _escaped(character: str) -> str:
    if character in '"\\':
        return f"\\{character}"
    if character.isprintable():
        return character
    number = ord(character)
    if number > 0xFFFF:
        return f"\\U{number:08X}"
    return f"\\u{number:04X}" if number > 0xFF else f"\\x{number:02X}"


def one_line(text: str) -> str:
    """Text that may stand in a comment: one line, single spaces, and nothing that does not show."""
    return "".join(c if c.isprintable() else "?" for c in " ".join(text.split()))


def dotted(key: Key) -> str:
    """A key as people write it: `video.codecs.H.264.level_max`."""
    return ".".join(key)


def shown(key: Key, value: Plain) -> str:
    """A value with the unit that its key implies: `20 Mbit/s`, `24, 29.97 frames per second`."""
    if key[-1] == "frame_rates" and isinstance(value, tuple):
        return value_text(key[-1], tuple(map(parse_rate, value)))
    return value_text(key[-1], value)


def listed(words: Iterable[str]) -> str:
    """Words as a sentence lists them: "a", "a and b", "a, b and c"."""
    *first, last = words
    return f"{', '.join(first)} and {last}" if first else last
