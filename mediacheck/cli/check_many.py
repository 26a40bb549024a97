"""`mediacheck check` of many cards: has them checked in one run and tells how each came out.

It must not decide what a card is worth.
"""

from __future__ import annotations

import glob
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from mediacheck.cli.options import PRINTED, DepthOption, jobs_or_cores

if TYPE_CHECKING:
    from mediacheck.display_files import DisplayFace
    from mediacheck.many.model import Summary
    from mediacheck.many.run import Order
    from mediacheck.profile_files import LoadedProfile

OPEN_MAX = 64
"""Cards that are open at the same time: one more than are worked on, and no more than a system takes."""


@dataclass(frozen=True, slots=True)
class AskedOfMany:
    """The options that mean the same for every card."""

    cards: tuple[str, ...]
    out: Path | None
    depth: DepthOption
    json: str | None
    strict: bool
    jobs: int | None
    no_cache: bool
    cluster: str | None


def refuse_for_many(**given: object) -> None:
    """WrongUse for options that only make sense for one card; `given` are their values by name."""
    from mediacheck.errors import WrongUse

    for name, value in given.items():
        if value is not None:
            raise WrongUse(
                f"--{name} is for one card: with several cards, or with --out, a report and a page of each "
                "and a summary go to the folder of --out (--json - prints the summary)."
            )


def require_out(asked: AskedOfMany) -> Path:
    """The folder of the reports. WrongUse: none was named."""
    from mediacheck.errors import WrongUse

    if asked.out is None:
        raise WrongUse("Where the reports of these cards go was not said: give --out FOLDER.")
    return asked.out


def expanded(cards: Sequence[str], platform: str = sys.platform) -> tuple[str, ...]:
    """The cards that were named; on Windows, whose terminals leave that to programs, also what a pattern such
    as `cards/*.img` stands for. WrongUse: one is empty, as when a variable of a script is not set."""
    from mediacheck.errors import WrongUse

    if not all(card.strip() for card in cards):
        raise WrongUse(
            "No card was given: name a folder, a mounted drive, a raw device or the image of a card."
        )
    if platform != "win32":
        return tuple(cards)
    return tuple(one for card in cards for one in _found(card))


def _found(card: str) -> list[str]:
    """What a pattern stands for, or the name itself: that of a raw device may begin with a question mark."""
    if card.startswith("\\\\") or not glob.has_magic(card) or Path(card).exists():
        return [card]
    return sorted(glob.glob(card)) or [card]  # noqa: PTH207  # Path takes no pattern with a drive


def check_many(asked: AskedOfMany, loaded: LoadedProfile, display: DisplayFace | None) -> int:
    """Check them, print the summary, and give the exit code."""
    from mediacheck.errors import CardError
    from mediacheck.many.run import Order, exit_code
    from mediacheck.survey import Options

    order = Order(
        cards=tuple(map(Path, asked.cards)),
        loaded=loaded,
        display=display,
        options=Options(asked.depth.value, jobs_or_cores(asked.jobs), use_cache=not asked.no_cache),
        out=require_out(asked),
    )
    summary = _checked(order, asked)
    _say(summary, asked)
    code = exit_code(summary, asked.strict)
    if code == CardError.exit_code:
        raise CardError("None of these cards could be read, so nothing was checked")
    return code


def _checked(order: Order, asked: AskedOfMany) -> Summary:
    from mediacheck.cli.cards_progress import cards_watching
    from mediacheck.cli.workers import inspectors
    from mediacheck.many.run import check_all

    depth = order.options.depth
    with (
        inspectors(asked.jobs, depth, asked.cluster, order.distinct) as (pool, at_once),
        cards_watching() as watcher,
    ):
        return check_all(order, pool, watcher, min(at_once + 1, OPEN_MAX))


def _say(summary: Summary, asked: AskedOfMany) -> None:
    from rich.console import Console

    from mediacheck.cli.pipe import readers_may_leave
    from mediacheck.many.record import json_text
    from mediacheck.many.terminal import print_summary

    with readers_may_leave():
        if asked.json == PRINTED:
            typer.echo(json_text(summary), nl=False)
            return
        print_summary(summary, Console(), str(asked.out))
