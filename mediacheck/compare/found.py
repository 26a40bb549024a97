"""What one look at two cards brings back: differences, what is alike, and what could not be compared.

It must not look: it only gathers.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from mediacheck.compare.model import Difference, NotCompared


@dataclass(frozen=True, slots=True)
class Found:
    """Gathered from any number of looks; `same` are short sentences."""

    differences: tuple[Difference, ...] = ()
    same: tuple[str, ...] = ()
    gaps: tuple[NotCompared, ...] = ()


def gathered(parts: Iterable[Found]) -> Found:
    """All of them as one, in their order."""
    looked = tuple(parts)
    return Found(
        tuple(each for part in looked for each in part.differences),
        tuple(each for part in looked for each in part.same),
        tuple(each for part in looked for each in part.gaps),
    )


def sorted_out(parts: Iterable[Difference | NotCompared]) -> Found:
    """Differences and gaps that came mixed."""
    mixed = tuple(parts)
    return Found(
        tuple(each for each in mixed if isinstance(each, Difference)),
        gaps=tuple(each for each in mixed if isinstance(each, NotCompared)),
    )
