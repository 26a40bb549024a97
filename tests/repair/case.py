"""A defect that can be mended: how it is made, which rule finds it, and the least change.

It must not mend anything.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import Any

from mediacheck.names import RuleName
from mediacheck.profile import Profile
from mediacheck.repair.model import Change, Wishes
from tests.repair.films import Film, player

USUAL = Wishes()


@dataclass(frozen=True, slots=True)
class Case:
    """A defect. `remains` are warnings that are true of the mended file as well."""

    name: str
    rule: RuleName
    change: Change
    make: Callable[[Path], None]
    """Fills the folder of the source."""
    path: str | None = None
    """Of the file in the copy that was mended; None: it was left out."""
    player: Mapping[str, Mapping[str, Any]] = field(default_factory=lambda: MappingProxyType({}))
    """Keys of the player's sections that are otherwise."""
    wishes: Wishes = USUAL
    remains: tuple[RuleName, ...] = ()

    @property
    def profile(self) -> Profile:
        """The player of this case."""
        return player(**self.player)


def _film(name: str, film: Film) -> Callable[[Path], None]:
    return lambda folder: film.make(folder / name)


def of(
    name: str,
    rule: RuleName,
    change: Change,
    film: Film,
    file: str = "seeds.mp4",
    wishes: Wishes = USUAL,
    remains: tuple[RuleName, ...] = (),
    out: str = "seeds.mp4",
    **player: Mapping[str, Any],
) -> Case:
    """A defect of a film."""
    return Case(name, rule, change, _film(file, film), out, player, wishes, remains)
