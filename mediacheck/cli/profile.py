"""`mediacheck profile`: list, show and validate profiles, and print their schema.

It must not hold logic: it reads arguments and prints.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated

import typer

from mediacheck.cli import profile_diff, profile_explain, profile_learn

KEY_WIDTH = 23
"""The longest key, `  loudness_tolerance_lu`, so that all sections of one profile line up."""
VALUE_WIDTH_MAX = 70

app = typer.Typer(
    name="profile",
    help="List, show and check profiles: what players and screens can take.",
    epilog="Example: mediacheck profile show basic-1080p",
    no_args_is_help=True,
    rich_markup_mode=None,
)


@app.command("list", epilog="Example: mediacheck profile list")
def list_profiles() -> None:
    """List the bundled profiles: name, title, screen."""
    from mediacheck.profile_files import bundled_names, load_profile
    from mediacheck.profile_text import screen_text

    loaded = [(name, load_profile(name).profile) for name in bundled_names()]
    rows = [(name, profile.title, screen_text(profile.screen)) for name, profile in loaded]
    _print_rows([("name", "title", "screen"), *rows])


@app.command(epilog="Example: mediacheck profile show basic-1080p")
def show(
    profile: Annotated[
        str, typer.Argument(metavar="NAME_OR_PATH", help="A bundled profile's name, or a file.")
    ],
) -> None:
    """Show a profile in full.

    Every value is printed, also those that its file leaves out, and what is not restricted.
    """
    from mediacheck.profile_files import load_profile
    from mediacheck.profile_text import profile_sections

    loaded = load_profile(profile)
    title = f": {loaded.profile.title}" if loaded.profile.title else ""
    typer.secho(f"{loaded.profile.id}{title}", bold=True)
    typer.echo(f"File: {loaded.source}\nSHA-256: {loaded.sha256}")
    _print_paragraphs(loaded.profile.notes)
    for section in profile_sections(loaded.profile):
        typer.secho(f"\n{section.name}", bold=True, nl=False)
        typer.echo(f": {section.meaning}" if section.meaning else "")
        _print_rows([(f"  {line.key}", line.value, line.meaning) for line in section.lines])


@app.command(epilog="Example: mediacheck profile validate my-player.yaml")
def validate(
    files: Annotated[list[str], typer.Argument(metavar="FILE", help="Profiles to check.")],
) -> None:
    """Check files that hold profiles.

    Each file is ok, or every problem in it is named with its line and key; the exit code is then 2.
    """
    from mediacheck.profile_files import read_profile
    from mediacheck.strict_yaml import InvalidFile, Problem

    problems: list[Problem] = []
    for file in files:
        try:
            read_profile(file)
        except InvalidFile as error:
            problems += error.problems
        else:
            typer.echo(f"{file}: ok")
    if problems:
        raise InvalidFile(tuple(problems))


@app.command(epilog="Example: mediacheck profile schema > profile.schema.json")
def schema() -> None:
    """Print the JSON Schema of a profile.

    Editors use it to complete and check a profile while one types.
    """
    from mediacheck.profile_files import profile_schema_text

    typer.echo(profile_schema_text(), nl=False)


app.command("diff", epilog=profile_diff.EXAMPLE)(profile_diff.diff_command)
app.command("learn", epilog=profile_learn.EXAMPLE)(profile_learn.learn_command)
app.command("explain", epilog=profile_explain.EXAMPLE)(profile_explain.explain_command)


def _print_rows(rows: Sequence[tuple[str, str, str]]) -> None:
    """Three columns: wrapped to the window on a terminal, one row to a line where output is piped."""
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    console = Console(highlight=False)
    if not console.is_terminal:
        for line in _aligned(rows):
            typer.echo(line)
        return
    table = Table(box=None, show_header=False, padding=(0, 2, 0, 0))
    table.add_column(no_wrap=True, min_width=KEY_WIDTH)
    table.add_column(ratio=2)
    table.add_column(ratio=3, style="dim")
    for row in rows:
        table.add_row(*map(Text, row))
    console.print(table)


def _aligned(rows: Sequence[tuple[str, str, str]]) -> list[str]:
    first = max([KEY_WIDTH, *(len(row[0]) for row in rows)])
    second = min(VALUE_WIDTH_MAX, max((len(row[1]) for row in rows), default=0))
    return [f"{a:<{first}}  {b:<{second}}  {c}".rstrip() for a, b, c in rows]


def _print_paragraphs(text: str) -> None:
    """Running text, one line for each paragraph, so that the terminal wraps it."""
    for paragraph in filter(None, text.splitlines()):
        typer.echo(f"\n{paragraph}")
