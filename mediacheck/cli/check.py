"""`mediacheck check`: reads the options, has the card checked, and writes the report where it is wanted.

Several cards, or reports in a folder: `check_many`.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from mediacheck.cli.check_many import (
    AskedOfMany,
    check_many,
    expanded,
    refuse_for_many,
    require_out,
)
from mediacheck.cli.options import PRINTED, Depth, DepthOption, Jobs, NoCache, jobs_or_cores
from mediacheck.cli.workers import Cluster, inspectors

if TYPE_CHECKING:
    from mediacheck.display_files import DisplayFace
    from mediacheck.profile_files import LoadedProfile
    from mediacheck.report.model import Report

EXAMPLE = (
    "Examples: mediacheck check E:\\ --profile basic-1080p --sheet sheet.png --html report.html\n\n"
    "mediacheck check cards/*.img --profile basic-1080p --out reports\n\n"
    "mediacheck check cards/*.img --profile basic-1080p --out reports --cluster tcp://10.0.0.5:8786"
)


def check_command(
    card: Annotated[
        list[str],
        typer.Argument(
            help="The card: a folder, a mounted drive, a raw device, or an image of a card. Several, with "
            "--out: one report each, and a summary.",
            show_default=False,
        ),
    ],
    profile: Annotated[
        str | None,
        typer.Option("--profile", "-p", help="A bundled profile's name, or a YAML file.", show_default=False),
    ] = None,
    display: Annotated[
        Path | None,
        typer.Option(
            "--display",
            help="A display file (YAML), with --face instead of --profile: is this the loop of that face, in "
            "the version that belongs there now?",
            show_default=False,
        ),
    ] = None,
    face: Annotated[
        str | None,
        typer.Option("--face", help="The face of the display that the card is for.", show_default=False),
    ] = None,
    depth: Depth = DepthOption.full,
    json: Annotated[str | None, typer.Option("--json", help="Write the report as JSON; - prints it.")] = None,
    html: Annotated[Path | None, typer.Option("--html", help="Write the report as one HTML page.")] = None,
    sheet: Annotated[
        Path | None, typer.Option("--sheet", help="Draw a contact sheet (.png or .pdf).")
    ] = None,
    manifest: Annotated[
        Path | None,
        typer.Option(
            "--manifest",
            help="The manifest that was written beside the card, or a list made by sha256sum: each file is "
            "compared with it.",
            show_default=False,
        ),
    ] = None,
    strict: Annotated[bool, typer.Option("--strict", help="Leave with code 1 for warnings too.")] = False,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out",
            metavar="FOLDER",
            help="For any number of cards: report and page of each, summary.json and summary.csv go here. "
            "What has not changed since an earlier run stays; a card in a reader is always read again.",
            show_default=False,
        ),
    ] = None,
    jobs: Jobs = None,
    no_cache: NoCache = False,
    cluster: Cluster = None,
) -> int:
    """Check a card: will it play on this player, in which order, and if not, why.

    Exit codes: 0 pass or warnings; 1 something will not play; 2 wrong use; 3 something could not be checked.
    Of several cards, one that fails makes it 1, one that cannot be read 3; none that can be read, 2.
    """
    _demand_sense(profile, display, face)
    cards = expanded(card)
    if out is not None or len(cards) > 1:
        refuse_for_many(html=html, sheet=sheet, manifest=manifest, json=None if json == PRINTED else json)
        many = AskedOfMany(cards, out, depth, json, strict, jobs, no_cache, cluster)
        require_out(many)
        return check_many(many, *_for_whom(profile, display, face))
    asked = _Asked(
        cards[0], profile, display, face, depth, json, html, sheet, manifest, jobs, no_cache, cluster
    )
    report = _checked(asked)
    _say(report, asked)
    return exit_code(report, strict)


@dataclass(frozen=True, slots=True)
class _Asked:
    """The options as they were given."""

    card: str
    profile: str | None
    display: Path | None
    face: str | None
    depth: DepthOption
    json: str | None
    html: Path | None
    sheet: Path | None
    manifest: Path | None
    jobs: int | None
    no_cache: bool
    cluster: str | None


def _checked(asked: _Asked) -> Report:
    """Check the card, and write what is wanted as files.

    The files are being looked at before all else is loaded, which takes a good part of a second; what is
    wrong with the other options is still told at once.
    """
    with inspectors(asked.jobs, asked.depth.value, asked.cluster, (Path(asked.card),)) as (workers, _):
        from mediacheck.card.opening import open_card
        from mediacheck.cli.progress import watching
        from mediacheck.deliver import Places, deliver
        from mediacheck.survey import Options, surveying

        written = Path(asked.json) if asked.json and asked.json != PRINTED else None
        places, card = Places(written, asked.html, asked.sheet), Path(asked.card)
        by_hash = asked.manifest is not None or asked.display is not None
        options = Options(
            asked.depth.value, jobs_or_cores(asked.jobs), places.pictures, not asked.no_cache, by_hash
        )
        with (
            watching() as watcher,
            surveying(open_card(card), options, watcher, executor=lambda _: workers) as seen,
        ):
            from mediacheck.check import Checked, judged
            from mediacheck.manifest.expected import read_expected_files

            loaded, chosen = _for_whom(asked.profile, asked.display, asked.face)
            read = chosen.display.files if chosen else (Path(loaded.source),)
            places.require(card, *read, *([asked.manifest] if asked.manifest else []))
            expected = read_expected_files(asked.manifest) if asked.manifest else None
            surveyed = seen()
            workers.shutdown(wait=False)  # they end meanwhile
            checked = Checked(judged(surveyed, loaded, options.depth, expected, chosen), surveyed.pictures)
    deliver(checked, places)
    return checked.report


def _say(report: Report, asked: _Asked) -> None:
    from mediacheck.cli.pipe import readers_may_leave
    from mediacheck.deliver import json_text

    with readers_may_leave():
        if asked.json == PRINTED:
            typer.echo(json_text(report), nl=False)
            return
        from rich.console import Console

        from mediacheck.report.terminal import print_report, say_next

        console = Console()
        print_report(report, console)
        if asked.profile is not None and any(finding.fixable for finding in report.findings):
            say_next(console, ("mediacheck", "fix", asked.card, "--profile", asked.profile, "--plan"))


def _for_whom(
    profile: str | None, display: Path | None, face: str | None
) -> tuple[LoadedProfile, DisplayFace | None]:
    """What the player takes, and which face it is in. Of options that `_demand_sense` let pass."""
    from mediacheck.profile_files import load_profile

    if display is not None:
        from mediacheck.display_files import load_display

        chosen = load_display(display).chosen(face)
        return chosen.face.profile, chosen
    return load_profile(profile or ""), None


def _demand_sense(profile: str | None, display: Path | None, face: str | None) -> None:
    """WrongUse: the options do not go together. Said before any work."""
    from mediacheck.errors import WrongUse

    if face is not None and display is None:
        raise WrongUse("--face needs the display file that it is a face of: --display FILE.")
    if display is not None and profile is not None:
        raise WrongUse("With --display, the face says which profile it has: leave --profile out.")
    if display is None and profile is None:
        raise WrongUse("What the player takes was not said: give --profile, or --display with --face.")


def exit_code(report: Report, strict: bool) -> int:
    """0 pass or warnings, 1 fail (or a warning with `strict`), 3 not fully checked."""
    if report.verdict == "fail" or (strict and any(f.severity == "warn" for f in report.findings)):
        return 1
    return 3 if report.verdict == "incomplete" else 0
