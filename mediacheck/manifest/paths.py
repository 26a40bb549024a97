"""Which paths a manifest may name: those of files below the card's root, and nothing else.

It must not look at a disk. A manifest may come from anybody, and what it lists may be removed to make room.
"""

from __future__ import annotations

from pathlib import PureWindowsPath

LENGTH_MAX = 4095
"""Characters: PATH_MAX of Linux, as for the cards that are read."""
SHOWN_CHARACTERS = 60


def refusal(path: str) -> str | None:
    """Why this is no path of a file below the card's root, as "it ..."; None where it is one."""
    parts = path.split("/")
    if path.startswith("/"):
        return "it is not relative to the card's root"
    if ".." in parts:
        return "it leads out of the card"
    if len(path) > LENGTH_MAX:
        return f"it is longer than {LENGTH_MAX:,} characters"
    if "" in parts or "." in parts or "\0" in path:
        return "it has an empty part"
    if not path.isprintable() and any("\ud800" <= letter <= "\udfff" for letter in path):
        return "it is not valid Unicode"
    there = PureWindowsPath(path)  # what Windows would make of it: "C:a.mp4", "\\a.mp4", "a\\..\\..\\b.mp4"
    if there.drive or there.root or ".." in there.parts:
        return "on Windows, it leads out of the card"
    return None


def shown(value: object) -> str:
    """What stands in a manifest, for a message: nothing in it can steer a terminal, and it is not long."""
    text = repr(value)
    return text if len(text) <= SHOWN_CHARACTERS else f"{text[:SHOWN_CHARACTERS]}..."
