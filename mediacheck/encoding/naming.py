"""A file name that the player takes, for the line and as an example.

It must not look at any card.
"""

from __future__ import annotations

import re

from mediacheck.profile import Layout

CANDIDATES = ("01-item", "item-01", "item01", "01", "ITEM01", "ITEM-01", "001", "0001", "1", "a", "A")


def example_name(layout: Layout, suffix: str) -> str | None:
    """The first candidate that fits length and pattern; None where the pattern asks for something else."""
    for stem in CANDIDATES:
        for ending in (suffix, suffix.upper()):
            name = stem + ending
            if layout.name_length_max is not None and len(name) > layout.name_length_max:
                continue
            if layout.name_pattern is None or re.fullmatch(layout.name_pattern, name):
                return name
    return None
