"""`mediacheck profile explain`: a profile as a page for those who make the content.

It must not hold logic: it reads arguments, prints and writes.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

EXAMPLE = "Example: mediacheck profile explain basic-1080p --html what-to-deliver.html"


def explain_command(
    profile: Annotated[
        str,
        typer.Argument(metavar="P", help="A bundled profile's name, or a YAML file.", show_default=False),
    ],
    html: Annotated[
        Path | None, typer.Option("--html", help="Write one HTML page to send or print, and print nothing.")
    ] = None,
) -> None:
    """Say what to deliver, for an agency.

    What the player and its screen take, in plain words, and a ready ffmpeg line for each kind of item
    that makes a file which passes.
    """
    from mediacheck.cli.pipe import readers_may_leave
    from mediacheck.errors import WrongUse
    from mediacheck.explain.page import page_of
    from mediacheck.profile_files import load_profile

    loaded = load_profile(profile)
    page = page_of(loaded)
    if html is None:
        from mediacheck.explain.text import as_text

        with readers_may_leave():
            typer.echo(as_text(page), nl=False)
        return
    from mediacheck.explain.html import as_html
    from mediacheck.output import write_atomically

    if html.resolve() == Path(loaded.source).resolve():
        raise WrongUse(f"{html} cannot be written: it is the profile itself. Choose another place.")
    write_atomically(html, as_html(page))
