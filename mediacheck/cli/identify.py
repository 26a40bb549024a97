"""`mediacheck identify`: which known loop a card, a clip or a photo shows.

It must not hold logic: it reads arguments and prints.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from mediacheck.cli.options import PRINTED, Jobs
from mediacheck.cli.workers import Cluster, pool_for

if TYPE_CHECKING:
    from mediacheck.display_files import DisplayFace, LoadedDisplay
    from mediacheck.identify.model import Identified

NAMES_SHOWN = 8
EXAMPLE = (
    "Examples: mediacheck identify --index loops --library known, then "
    'mediacheck identify photo.jpg --library known --display stand.yaml --face "aisle side"'
)


def identify_command(
    files: Annotated[
        list[Path] | None,
        typer.Argument(
            metavar="FILE",
            help="A card (folder, drive, device or image), a video, or photos of one screen.",
            show_default=False,
        ),
    ] = None,
    library: Annotated[
        Path | None,
        typer.Option("--library", help="The library of loops, a folder.", show_default=False),
    ] = None,
    index: Annotated[
        Path | None,
        typer.Option(
            "--index",
            help="Take every loop in this folder into the library first: folders, images of cards, and "
            "single files; or one card, file, or manifest with its card beside it. What has not changed is "
            "not read again.",
            show_default=False,
        ),
    ] = None,
    display: Annotated[
        Path | None,
        typer.Option(
            "--display", help="A display file: only its loops come into question.", show_default=False
        ),
    ] = None,
    face: Annotated[
        str | None,
        typer.Option("--face", help="A face of the display: does the loop belong there?", show_default=False),
    ] = None,
    json: Annotated[
        str | None,
        typer.Option("--json", help="Write JSON, as in docs/identification.schema.json; - prints it."),
    ] = None,
    evidence: Annotated[
        Path | None,
        typer.Option(
            "--evidence",
            help="Write a picture (.png): the photo with the screen outlined, what it was compared with, and "
            "where they agree.",
        ),
    ] = None,
    jobs: Jobs = None,
    cluster: Cluster = None,
) -> int:
    """Tell which known loop a card, a clip or a photo of a screen shows, and whether it belongs on a face.

    Exit codes: 0 a loop was recognised (and belongs on the face); 1 another loop than the face's; 3 it
    cannot be said; 2 wrong use.
    """
    from mediacheck.errors import WrongUse

    if library is None:
        raise WrongUse("Say where the library of loops is: --library FOLDER.")
    if not files and index is None:
        raise WrongUse("Give a card, a video or a photo, or a folder of loops with --index.")
    if face is not None and display is None:
        raise WrongUse("--face needs the display file that it is a face of: --display FILE.")
    if evidence is not None and evidence.suffix.casefold() != ".png":
        raise WrongUse("The evidence is a picture: give a name that ends in .png.")
    _require_apart(json, evidence, files or [], index, library, display)
    if index is not None:
        taken = _index(index, library, jobs, cluster, json == PRINTED)
        if not files:
            return 0 if taken else 3
    assert files
    found = _identified(files, library, display, face, json, evidence, jobs, cluster)
    return exit_code(found)


def _require_apart(
    json: str | None,
    evidence: Path | None,
    files: list[Path],
    index: Path | None,
    library: Path,
    display: Path | None,
) -> None:
    """WrongUse: a result would be written over what is looked at, or on the card."""
    from mediacheck.deliver import require_apart

    written = [Path(json)] if json is not None and json != PRINTED else []
    read = [*files, library, *(one for one in (index, display) if one is not None)]
    for place in (*written, *([evidence] if evidence is not None else [])):
        require_apart(place, read)


def _index(folder: Path, library: Path, jobs: int | None, cluster: str | None, quiet: bool) -> bool:
    """Whether all of it could be taken. `quiet`: standard output is for JSON."""
    from mediacheck.cli.counting_progress import counting
    from mediacheck.identify.indexing import index_folder
    from mediacheck.identify.library import open_library
    from mediacheck.report.words import counted, listed, safe

    with pool_for(jobs, cluster, folder) as pool, counting() as seen:
        found = index_folder(folder, open_library(library, create=True), pool, seen)
    typer.echo(
        f"{counted(found.read, 'file')} read, {found.unchanged:,} unchanged; "
        f"{counted(len(found.library.loops), 'loop')} in {safe(str(library))}.",
        err=quiet,
    )
    if found.elsewhere:
        names = safe(listed(found.elsewhere, NAMES_SHOWN))
        typer.echo(
            f"In the library from before, and not in {safe(str(folder))}: {names}. Loops that are shown no "
            "longer stay in it: to be rid of them, make the library anew in an empty folder.",
            err=quiet,
        )
    for name, why in found.refused:
        typer.echo(f"  {safe(name)}: {safe(why)}.", err=True)
    return not found.refused


def _identified(
    files: list[Path],
    library: Path,
    display: Path | None,
    face: str | None,
    json: str | None,
    evidence: Path | None,
    jobs: int | None,
    cluster: str | None,
) -> Identified:
    from mediacheck.identify.asking import identify
    from mediacheck.identify.library import open_library
    from mediacheck.identify.record import json_text
    from mediacheck.output import write_atomically

    kept = open_library(library)
    loaded, chosen = _display(display, face)
    with pool_for(jobs, cluster, *files, library) as pool:
        found, picture = identify(files, kept, pool, loaded, chosen, evidence is not None)
    if evidence is not None and picture is not None:
        write_atomically(evidence, picture)
    if json is not None and json != PRINTED:
        write_atomically(Path(json), json_text(found))
    _say(found, json)
    return found


def _display(display: Path | None, face: str | None) -> tuple[LoadedDisplay | None, DisplayFace | None]:
    from mediacheck.display_files import load_display

    if display is None:
        return None, None
    loaded = load_display(display)
    return loaded, loaded.chosen(face) if face is not None else None


def _say(found: Identified, json: str | None) -> None:
    from rich.console import Console

    from mediacheck.cli.pipe import readers_may_leave
    from mediacheck.identify.record import json_text
    from mediacheck.identify.terminal import print_identified

    with readers_may_leave():
        if json == PRINTED:
            typer.echo(json_text(found), nl=False)
        else:
            print_identified(found, Console(highlight=False))


def exit_code(found: Identified) -> int:
    """0 a match (that belongs), 1 another loop than the face's, 3 it cannot be said."""
    if found.right_face is not None:
        return 0 if found.right_face else 1
    return 0 if found.answer == "match" else 3
