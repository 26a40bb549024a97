"""`mediacheck profile diff`: what a file or card that fits one profile would lack on another player.

It must not compare profiles itself: it reads two of them, and prints what they lack.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from mediacheck.cli.options import PRINTED

if TYPE_CHECKING:
    from rich.console import Console

    from mediacheck.profile_difference import Lack
    from mediacheck.profile_files import LoadedProfile

EXAMPLE = "Example: mediacheck profile diff basic-1080p my-player.yaml"
VALUE_WIDTH_MAX = 60
"""Longer values push the rest of their own line to the right, and no other."""
GROUPS = (
    ("Always: every file or card of the kind that the line names", True),
    ("May: some files or cards, and some not", False),
)
Row = tuple[str, str, str, str]


def diff_command(
    first: Annotated[
        str,
        typer.Argument(metavar="A", help="The profile that files and cards fit: a name or a file."),
    ],
    second: Annotated[
        str, typer.Argument(metavar="B", help="The profile of the player that they go to: a name or a file.")
    ],
    json: Annotated[str | None, typer.Option("--json", help="Write the answer as JSON; - prints it.")] = None,
) -> int:
    """Say what a file and a card that fit profile A would lack on player B.

    The order matters: a limit that is tighter in B is a lack, a looser one is not. The exit code is 1 if
    anything may be lacking, and 0 if every file that fits A plays on B.
    """
    from mediacheck.cli.pipe import readers_may_leave
    from mediacheck.profile_difference import lacks
    from mediacheck.profile_files import load_profile

    a, b = load_profile(first), load_profile(second)
    found = lacks(a.profile, b.profile)
    if json is not None:
        from mediacheck.profile_difference.record import json_text

        _deliver(json_text(a, b, found), json, a, b)
    if json != PRINTED:
        with readers_may_leave():
            _print(a, b, found)
    return 1 if found else 0


def _deliver(text: str, json: str, *loaded: LoadedProfile) -> None:
    """Print it, or write it where it is wanted."""
    from mediacheck.cli.pipe import readers_may_leave
    from mediacheck.output import write_atomically

    if json == PRINTED:
        with readers_may_leave():
            typer.echo(text, nl=False)
        return
    _require_other_place(Path(json), *loaded)
    write_atomically(Path(json), text)


def _require_other_place(place: Path, *loaded: LoadedProfile) -> None:
    """Raises WrongUse where the answer would be written over a profile."""
    import os

    from mediacheck.errors import WrongUse

    if os.path.realpath(place) in [os.path.realpath(each.source) for each in loaded]:
        raise WrongUse(f"{place} cannot be written: it is a profile and only read. Choose another place.")


def first_line(a: str, b: str, count: int) -> str:
    """The answer in one sentence."""
    if not count:
        return f"Every file that fits {a} plays on {b}."
    return f"A file that fits {a} may lack {count} {'thing' if count == 1 else 'things'} on {b}:"


def _print(a: LoadedProfile, b: LoadedProfile, found: Sequence[Lack]) -> None:
    from rich.console import Console

    console = Console(highlight=False)
    names = _names(a, b)
    typer.secho(first_line(*names, len(found)), bold=True)
    heading, *lines = _aligned(names, found)
    for title, always in GROUPS:
        of_group = [(lack, line) for lack, line in zip(found, lines, strict=True) if lack.always == always]
        if of_group:
            typer.secho(f"\n{title}", bold=True)
            if console.is_terminal:
                _print_wrapped(console, names, [lack for lack, _ in of_group])
            else:
                typer.echo("\n".join((heading, *(line for _, line in of_group))))


def _names(a: LoadedProfile, b: LoadedProfile) -> tuple[str, str]:
    """What to call the two; where both have the same name, their files."""
    same = a.profile.id == b.profile.id and a.source != b.source
    return (a.source, b.source) if same else (a.profile.id, b.profile.id)


def _aligned(names: tuple[str, str], found: Sequence[Lack]) -> list[str]:
    """The heading and one line for each lack, in columns that all groups share."""
    rows: list[Row] = [("  key", *names, "what that means")]
    rows += [(f"  {lack.key}", lack.in_a, lack.in_b, lack.message) for lack in found]
    widths = [min(VALUE_WIDTH_MAX, max(len(row[column]) for row in rows)) for column in range(3)]
    return [
        "  ".join(f"{text:<{width}}" for text, width in zip(row, (*widths, 0), strict=True)) for row in rows
    ]


def _print_wrapped(console: Console, names: tuple[str, str], found: Sequence[Lack]) -> None:
    """On a terminal four columns are too narrow to read: key, values and sentence stand below each other."""
    from rich.padding import Padding
    from rich.text import Text

    for lack in found:
        console.print(Text(f"  {lack.key}", style="bold"))
        for line in (f"{names[0]}: {lack.in_a}", f"{names[1]}: {lack.in_b}", lack.message):
            console.print(Padding(Text(line), (0, 0, 0, 4)))
