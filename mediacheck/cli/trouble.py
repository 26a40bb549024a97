"""`mediacheck trouble`: from what a person sees to the likely causes.

It must not hold logic: it reads arguments and prints.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from mediacheck.profile import Profile
    from mediacheck.report.model import Report

EXAMPLE = "Example: mediacheck trouble no-signal --profile basic-1080p --report report.json"


def trouble_command(
    symptom: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[SYMPTOM]",
            help="What is seen: its number, its short name, or words of it. Left out: all are listed.",
            show_default=False,
        ),
    ] = None,
    profile: Annotated[
        str | None,
        typer.Option(
            "--profile",
            "-p",
            help="What the player and its screen take: a bundled profile's name, or a YAML file. It puts "
            "likelier causes first and names the settings.",
            show_default=False,
        ),
    ] = None,
    report: Annotated[
        Path | None,
        typer.Option(
            "--report",
            help="The report of the card (`mediacheck check CARD --json FILE`): what it found comes first, "
            "and what it ruled out is struck.",
            show_default=False,
        ),
    ] = None,
    json: Annotated[
        bool, typer.Option("--json", help="Print JSON instead, as in docs/trouble.schema.json.")
    ] = False,
) -> None:
    """Tell the likely causes of what is seen on a screen.

    For each: how to tell it apart with what is in hand, and what to do. The card is not looked at.
    """
    from rich.console import Console

    from mediacheck.cli.pipe import readers_may_leave
    from mediacheck.trouble.book import symptom_named, symptoms
    from mediacheck.trouble.ranking import found_in, ranked
    from mediacheck.trouble.record import json_text
    from mediacheck.trouble.terminal import about_lines, print_ranking, print_symptoms

    chosen = symptom_named(" ".join(symptom)) if symptom else None
    player, checked = _read(profile, report)
    console = Console(highlight=False)
    with readers_may_leave():
        if json:
            asked = (chosen,) if chosen else symptoms()
            rankings = tuple(ranked(one, player, checked) for one in asked)
            typer.echo(json_text(rankings, player, checked), nl=False)
        elif chosen:
            print_ranking(ranked(chosen, player, checked), about_lines(player, checked), console)
        else:
            print_symptoms(symptoms(), found_in(checked), console)


def _read(profile: str | None, report: Path | None) -> tuple[Profile | None, Report | None]:
    """The profile and the report that were given; a bundled profile is known by its report."""
    from mediacheck.profile_files import load_profile
    from mediacheck.trouble.report_file import profile_of, read_report, require_profile_of

    loaded = load_profile(profile) if profile else None
    checked = read_report(report) if report else None
    if loaded and checked:
        require_profile_of(checked, loaded)
    if checked and not loaded:
        loaded = profile_of(checked)
    return loaded.profile if loaded else None, checked
