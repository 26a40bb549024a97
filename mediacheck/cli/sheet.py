"""`mediacheck sheet`: reads the options, and has cards, or a whole display, drawn on a sheet.

It must not draw.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from mediacheck.cli.options import Jobs, PaperOption, jobs_or_cores

if TYPE_CHECKING:
    from mediacheck.sheet.faces import ShownDisplay

EXAMPLE = (
    "Examples: mediacheck sheet E:\\ --profile basic-1080p --out card.pdf\n\n"
    'mediacheck sheet aisle.img "window side=F:\\" --display stand.yaml --out stand.pdf'
)


def sheet_command(
    out: Annotated[
        Path,
        typer.Option(help="A .pdf, a .html, or a .png for each page.", show_default=False),
    ],
    cards: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="CARD...",
            help="The cards: folders, drives, raw devices or images. With --display they go to the faces in "
            'their order; FACE=CARD names the face, such as "aisle side=E:\\".',
            show_default=False,
        ),
    ] = None,
    display: Annotated[
        Path | None,
        typer.Option(
            "--display",
            help="A display file (YAML): a page with all faces side by side, then each card. Faces without a "
            "card are drawn with their words and an empty screen.",
            show_default=False,
        ),
    ] = None,
    profile: Annotated[
        str | None,
        typer.Option(
            "--profile",
            "-p",
            help="Without --display: a bundled profile's name, or a YAML file.",
            show_default=False,
        ),
    ] = None,
    paper: Annotated[PaperOption, typer.Option(help="The paper of the pages.")] = PaperOption.a4,
    jobs: Jobs = None,
) -> int:
    """Draw which loop is on which face: pictures of every item, as the screen will show them."""
    from mediacheck.sheet.files import require_sheet_place, write_sheet

    given = cards or []
    require_sheet_place(out)
    for path in write_sheet(_shown(given, display, profile, out, jobs), out, paper.paper):
        typer.echo(path)
    return 0


def _shown(
    cards: list[str], display: Path | None, profile: str | None, out: Path, jobs: int | None
) -> ShownDisplay:
    """Look at the cards. WrongUse: the options do not go together."""
    from mediacheck.cli.progress import watching
    from mediacheck.deliver import require_apart
    from mediacheck.display_files import load_display
    from mediacheck.errors import WrongUse
    from mediacheck.profile_files import load_profile
    from mediacheck.sheets import Looking, cards_of, of_cards, of_display

    if display is not None and profile is not None:
        raise WrongUse("With --display, each face says which profile it has: leave --profile out.")
    if display is None and profile is None:
        raise WrongUse("What the player takes was not said: give --profile, or --display.")
    with watching() as watcher:
        looking = Looking(jobs_or_cores(jobs), watcher)
        if display is not None:
            loaded = load_display(display)
            chosen = cards_of(loaded, cards)
            require_apart(out, (*loaded.files, *(card for card in chosen if card)))
            return of_display(loaded, chosen, looking)
        if not cards or not all(card.strip() for card in cards):
            raise WrongUse("No card was given: name folders, drives, raw devices or images of cards.")
        player = load_profile(profile or "")
        require_apart(out, (Path(player.source), *map(Path, cards)))
        return of_cards([Path(card) for card in cards], player, looking)
