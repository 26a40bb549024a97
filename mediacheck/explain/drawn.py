"""Text from a file that people wrote, made safe to print.

It must not change what can be seen.
"""

from __future__ import annotations


def drawn(text: str) -> str:
    """With every character that is not drawn written as an escape: it might steer a terminal."""
    return "".join(one if one.isprintable() else one.encode("unicode_escape").decode("ascii") for one in text)
