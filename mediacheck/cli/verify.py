"""`mediacheck verify`: reads the options, has a card held against its manifest, and prints what was found."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from mediacheck.cli.options import PRINTED

if TYPE_CHECKING:
    from mediacheck.build.verify_model import Verified

EXAMPLE = "Example: mediacheck verify E:\\ --manifest card.manifest.json"


def verify_command(
    card: Annotated[
        str,
        typer.Argument(
            help="The card: a folder, a mounted drive, a raw device, or an image of a card.",
            show_default=False,
        ),
    ],
    manifest: Annotated[
        Path,
        typer.Option(
            "--manifest",
            "-m",
            help="The manifest that was written beside the card, or a list made by sha256sum.",
            show_default=False,
        ),
    ],
    json: Annotated[str | None, typer.Option("--json", help="Write the result as JSON; - prints it.")] = None,
) -> int:
    """Read every byte of a card back and say what is missing, changed or extra by its manifest.

    Exit codes: 0 all is right, or warnings only; 1 something is missing, changed, extra or cannot be read;
    2 wrong use; 3 nothing wrong, but something could not be compared.
    """
    from mediacheck.build.verify import verify
    from mediacheck.build.verify_record import json_text
    from mediacheck.cli.byte_progress import byte_watching
    from mediacheck.cli.pipe import readers_may_leave
    from mediacheck.deliver import Places
    from mediacheck.errors import WrongUse
    from mediacheck.manifest.expected import read_expected
    from mediacheck.output import write_atomically

    if not card.strip():
        raise WrongUse(
            "No card was given: name a folder, a mounted drive, a raw device or the image of a card."
        )
    printed = json == PRINTED
    places = Places(Path(json) if json and not printed else None)
    places.require(Path(card), manifest)
    expected = read_expected(manifest)
    with byte_watching() as watcher:
        verified = verify(Path(card), expected, watcher)
    if places.json is not None:
        write_atomically(places.json, json_text(verified))
    with readers_may_leave():
        if printed:
            typer.echo(json_text(verified), nl=False)
        else:
            _print(verified)
    return exit_code(verified)


def exit_code(verified: Verified) -> int:
    """0 right, or warnings; 1 not right; 3 nothing wrong, but not all could be compared."""
    return {"pass": 0, "warn": 0, "fail": 1, "incomplete": 3}[verified.verdict]


def _print(verified: Verified) -> None:
    from rich.console import Console

    from mediacheck.build.verify_terminal import print_verified

    print_verified(verified, Console())
