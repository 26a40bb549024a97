"""Where the results of a run over many cards stand: one folder, which is on no card.

It must not write any of them.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from mediacheck.deliver import Places, require_apart
from mediacheck.errors import OutputError
from mediacheck.output import refusal


@dataclass(frozen=True, slots=True)
class Folder:
    """The folder of one run's results."""

    path: Path

    @property
    def summary(self) -> Path:
        """All cards as JSON."""
        return self.path / "summary.json"

    @property
    def table(self) -> Path:
        """All cards as CSV."""
        return self.path / "summary.csv"

    @property
    def notes(self) -> Path:
        """What a later run goes by."""
        return self.path / "cards.json"

    def of(self, name: str) -> Places:
        """The files of one card."""
        return Places(self.path / f"{name}.report.json", self.path / f"{name}.report.html")

    def require(self, untouched: Iterable[Path]) -> None:
        """Make it, unless it is there. OutputError; WrongUse where it is on something that is only read."""
        untouched = tuple(untouched)
        for place in (self.path, self.summary, self.table, self.notes):
            require_apart(place, untouched)
        try:
            self.path.mkdir(exist_ok=True)
        except FileExistsError as error:
            raise OutputError(f"{self.path} cannot be the folder of the reports: it is a file") from error
        except OSError as error:
            raise refusal(self.path, error) from error
        if not os.access(self.path, os.W_OK | os.X_OK):
            raise OutputError(f"{self.path} cannot be written: you may not write there")
        for place in (self.summary, self.table, self.notes):
            if place.is_dir():
                raise OutputError(f"{place} cannot be written: there is a folder of that name")
