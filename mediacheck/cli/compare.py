"""`mediacheck compare`: reads the options, has two cards compared, and writes the answer where wanted."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from mediacheck.cli.options import PRINTED, Depth, DepthOption, Jobs, NoCache, survey_options

if TYPE_CHECKING:
    from mediacheck.compare.model import Comparison

EXAMPLE = "Example: mediacheck compare E:\\ F:\\ --profile basic-1080p --html differences.html"
CARD = "a folder, a mounted drive, a raw device, or an image of a card."


def compare_command(
    good: Annotated[str, typer.Argument(help=f"The card that is known to play: {CARD}", show_default=False)],
    bad: Annotated[str, typer.Argument(help=f"The card that does not: {CARD}", show_default=False)],
    profile: Annotated[
        str | None,
        typer.Option(
            "--profile",
            "-p",
            help="A bundled profile's name, or a YAML file: what matters to it comes first.",
            show_default=False,
        ),
    ] = None,
    depth: Depth = DepthOption.full,
    json: Annotated[str | None, typer.Option("--json", help="Write the answer as JSON; - prints it.")] = None,
    html: Annotated[Path | None, typer.Option("--html", help="Write the answer as one HTML page.")] = None,
    jobs: Jobs = None,
    no_cache: NoCache = False,
) -> int:
    """Compare a card that plays with one that does not: what differs, the likeliest cause first.

    Exit codes: 0 nothing that could stop playback; 1 at least one such difference; 2 wrong use; 3 no such
    difference, but something that should have been compared could not be.
    """
    from mediacheck.cli.pipe import readers_may_leave
    from mediacheck.cli.progress import watching
    from mediacheck.compare.record import json_text
    from mediacheck.compare.run import compare
    from mediacheck.deliver import Places
    from mediacheck.errors import WrongUse
    from mediacheck.profile_files import load_profile

    if not good.strip() or not bad.strip():
        raise WrongUse("Two cards are needed: first the one that plays, then the one that does not.")
    printed = json == PRINTED
    places = Places(Path(json) if json and not printed else None, html)
    places.require(Path(good), Path(bad), *([Path(profile)] if profile else []))
    loaded = load_profile(profile) if profile else None
    options = survey_options(depth, jobs, no_cache)
    comparison = compare(Path(good), Path(bad), loaded, options, watching)
    _write(comparison, places.json, places.html)
    with readers_may_leave():
        if printed:
            typer.echo(json_text(comparison), nl=False)
        else:
            _print(comparison)
    return exit_code(comparison)


def exit_code(comparison: Comparison) -> int:
    """1 for a difference that could stop playback, else 3 where not all could be compared, else 0."""
    if any(each.severity == "fail" for each in comparison.differences):
        return 1
    return 3 if any(not gap.expected for gap in comparison.not_compared) else 0


def _write(comparison: Comparison, json: Path | None, html: Path | None) -> None:
    from mediacheck.output import write_atomically

    if json is not None:
        from mediacheck.compare.record import json_text

        write_atomically(json, json_text(comparison))
    if html is not None:
        from mediacheck.compare.html import as_html

        write_atomically(html, as_html(comparison))


def _print(comparison: Comparison) -> None:
    from rich.console import Console

    from mediacheck.compare.terminal import print_comparison

    print_comparison(comparison, Console())
