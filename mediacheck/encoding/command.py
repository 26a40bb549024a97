"""A line as a person copies it into a window: the same text for POSIX shells, PowerShell and Windows' cmd.

It must not run anything.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

PLAIN = re.compile(r"[A-Za-z0-9_./:=+-]+")
TREACHEROUS = frozenset("\"'`$!%^\r\n")
"""What one of those shells changes even between double quotes; two backslashes become one in POSIX shells."""


def typed(arguments: Sequence[str], program: str = "ffmpeg") -> str:
    """The command with double quotes where they are needed. ValueError for what no quoting makes safe."""
    return " ".join((program, *map(_quoted, arguments)))


def _quoted(argument: str) -> str:
    if PLAIN.fullmatch(argument):
        return argument
    if TREACHEROUS & set(argument) or "\\\\" in argument or argument.endswith("\\"):
        raise ValueError(f"no quoting is safe in all shells for {argument!r}")
    return f'"{argument}"'
