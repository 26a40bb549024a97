"""Options that several commands have, so that they mean and say the same in each.

It must not hold logic beyond turning them into the survey's own.
"""

from __future__ import annotations

import os
from enum import StrEnum
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from mediacheck.paper.look import PaperName
    from mediacheck.survey import Options


PRINTED = "-"
"""In place of a file's name: standard output."""


class DepthOption(StrEnum):
    """How deep to look."""

    quick = "quick"
    full = "full"


class PaperOption(StrEnum):
    """Sheets of paper."""

    a4 = "a4"
    letter = "letter"

    @property
    def paper(self) -> PaperName:
        """As `paper.look` names it."""
        return "Letter" if self is PaperOption.letter else "A4"


Depth = Annotated[
    DepthOption, typer.Option(help="quick: headers and packets; full: every picture decoded as well.")
]
Jobs = Annotated[
    int | None, typer.Option("--jobs", min=1, max=64, help="Files looked at at once. [default: cores]")
]
NoCache = Annotated[
    bool,
    typer.Option(
        "--no-cache",
        help="Decode every file again. Otherwise what was decoded before is taken from the user's cache "
        "folder (another place: environment variable MEDIACHECK_CACHE).",
    ),
]


def jobs_or_cores(jobs: int | None) -> int:
    """How many files to look at at once."""
    return jobs or os.cpu_count() or 2


def survey_options(depth: DepthOption, jobs: int | None, no_cache: bool) -> Options:
    """What these options ask of a survey that brings back no pictures."""
    from mediacheck.survey import Options

    return Options(depth.value, jobs_or_cores(jobs), use_cache=not no_cache)
