"""What is answered: one lack for each limit that what fits the one profile may break on the other.

It must not compare: how sets of things are held against each other is for `containment`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Share = Literal["some", "every"]
"""How many of the things that fit the first profile the second does not take."""


@dataclass(frozen=True, slots=True)
class Lack:
    """One key of profile B that what fits profile A does not keep to."""

    key: str
    """Dotted, as in B: `video.codecs.H.264.level_max`, or `video.width` where B sets it for every codec."""
    in_a: str
    """A's value with its unit."""
    in_b: str
    """B's value with its unit."""
    message: str
    """One sentence for a person: what may be so, what this player takes, and what then shows."""
    always: bool
    """Whether every thing of the kind that the key is about fails on B (every video, every H.264 video, every
    card, every sound track in AAC); else some do and some do not."""
