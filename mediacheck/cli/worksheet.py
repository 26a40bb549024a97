"""`mediacheck worksheet`: reads the options, and has the installer's page or the labels of a display drawn.

It must not draw.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from mediacheck.cli.options import Jobs, PaperOption, jobs_or_cores

if TYPE_CHECKING:
    from mediacheck.display_files import LoadedDisplay
    from mediacheck.worksheet.visit import Cards

EXAMPLE = (
    "Examples: mediacheck worksheet --display stand.yaml --out visit.pdf\n\n"
    "mediacheck worksheet --display stand.yaml --labels --label-size 70x37 --out labels.pdf"
)


def worksheet_command(
    display: Annotated[Path, typer.Option(help="The display file (YAML).", show_default=False)],
    out: Annotated[Path, typer.Option(help="A .pdf, or a .png for each page.", show_default=False)],
    cards: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="FACE=CARD",
            help='Cards whose pictures are shown, such as "aisle side=aisle.img". [default: words alone]',
            show_default=False,
        ),
    ] = None,
    paper: Annotated[PaperOption, typer.Option(help="The paper of the page.")] = PaperOption.a4,
    labels: Annotated[
        bool, typer.Option("--labels", help="Labels for cards and sleeves, in place of the page.")
    ] = False,
    label_size: Annotated[
        str, typer.Option(metavar="WxH", help="Size of a label on its sheet, in millimetres.")
    ] = "63.5x38.1",
    copies: Annotated[int, typer.Option(min=1, max=100, help="Labels for each face.")] = 2,
    jobs: Jobs = None,
    first: Annotated[int, typer.Option(min=1, help="The first label of the sheet that is free.")] = 1,
) -> int:
    """Make the installer's page for one display, or labels for its cards."""
    from mediacheck.deliver import require_apart
    from mediacheck.display_files import load_display
    from mediacheck.errors import WrongUse
    from mediacheck.paper.files import require_place, write_document
    from mediacheck.sheets import cards_of
    from mediacheck.worksheet.label_sheets import label_sheet
    from mediacheck.worksheet.labels import label_pages, labels_of
    from mediacheck.worksheet.visit import worksheet

    if labels and cards:
        raise WrongUse("Labels show no pictures: leave the cards out.")
    require_place(out, "page of labels" if labels else "worksheet")
    loaded = load_display(display)
    chosen = cards_of(loaded, cards or [])
    require_apart(out, (*loaded.files, *(card for card in chosen if card)))
    if labels:
        title = f"Labels: {loaded.display.title or loaded.display.id}"
        document = label_pages(labels_of(loaded, copies), label_sheet(label_size), title, first)
    else:
        document = worksheet(loaded, _on_cards(loaded, chosen, jobs), paper.paper)
    for path in write_document(document, out):
        typer.echo(path)
    return 0


def _on_cards(loaded: LoadedDisplay, chosen: tuple[Path | None, ...], jobs: int | None) -> Cards:
    """What was seen on the cards that were given; what is wrong with one is told at once too."""
    from mediacheck.cli.progress import watching
    from mediacheck.sheets import Looking, of_display
    from mediacheck.worksheet.on_card import on_cards

    if not any(chosen):
        return {}
    with watching() as watcher:
        seen = of_display(loaded, chosen, Looking(jobs_or_cores(jobs), watcher))
    cards = on_cards(loaded, seen)
    for face, card in cards.items():
        for warning in card.warnings:
            typer.echo(f"mediacheck: {face}: {warning}", err=True)
    return cards
