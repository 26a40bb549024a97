"""`mediacheck write`: reads the options, shows what would be lost, asks, has it written, tells how it went.

It must not decide what may be written over.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from mediacheck.cli.consent import consent, require_consent

if TYPE_CHECKING:
    from mediacheck.build.proven_image import ProvenImage
    from mediacheck.build.written import Outcome
    from mediacheck.device.chosen import Machine

EXAMPLE = (
    "Examples: mediacheck write face-a.img /dev/sdb\n\n"
    "mediacheck write face-a.img /dev/sdb /dev/sdc /dev/sdd --yes --expect-size 31.9GB"
)


def write_command(
    image: Annotated[
        Path,
        typer.Argument(metavar="IMAGE", help="The image of a card, as `build` makes it.", show_default=False),
    ],
    devices: Annotated[
        list[str],
        typer.Argument(
            metavar="DEVICE",
            help="Raw devices of whole cards, such as /dev/sdb, written at once.",
            show_default=False,
        ),
    ],
    max_size: Annotated[str, typer.Option("--max-size", help="No larger device is written over.")] = "512GB",
    yes: Annotated[bool, typer.Option("--yes", help="Do not ask. Only together with --expect-size.")] = False,
    expect_size: Annotated[
        str | None,
        typer.Option("--expect-size", help='Size that every device must have, as shown, such as "31.9GB".'),
    ] = None,
    even_so: Annotated[
        bool, typer.Option("--even-so", help="Write the image although something is wrong with it.")
    ] = False,
) -> int:
    """Write an image to raw cards, several at once, and read each back. All that was on them is lost.

    Only cards and sticks that can be taken out and are not in use are written over, after their size was
    typed. What is right already is not written again. Works on Linux and macOS.

    Exit codes: 0 all are written and proven; 1 one reads back otherwise than it was written; 2 wrong use, or
    one could not be written; 3 all read back right, but whether from the card itself could not be told; 130
    stopped with Ctrl-C.
    """
    from mediacheck.build.write_run import Order, image_contents, looked_at, proven_image, written
    from mediacheck.build.written import Stopped, exit_code
    from mediacheck.cli.byte_progress import byte_watching
    from mediacheck.sizes import parse_size

    require_consent(yes, expect_size)
    job, computer = Order(image, tuple(devices), parse_size(max_size), even_so), machine()
    contents = image_contents(job, computer)
    looked_at(job, computer)  # before the image is read, which takes a while
    with byte_watching() as watcher:
        proven = proven_image(job, watcher)
    looked = looked_at(job, computer)
    _show(proven, contents)
    consent(looked, yes, expect_size)
    try:
        with byte_watching() as watcher:
            outcomes = written(proven, looked, job, computer, watcher)
    except Stopped as stopped:
        _tell(stopped.outcomes)
        raise
    _tell(outcomes)
    return exit_code(outcomes)


def machine() -> Machine:
    """This computer."""
    from mediacheck.device.chosen import Machine

    return Machine()


def _show(image: ProvenImage, contents: str) -> None:
    from mediacheck.card.folder import printable
    from mediacheck.sizes import shown_size

    listed = (
        "as the list of checksums beside it says"
        if image.is_listed
        else "which was compared with nothing: no list of checksums stands beside it"
    )
    lines = (
        f"{printable(str(image.path))}, {shown_size(image.size_bytes)}",
        f"  holds {contents}",
        f"  SHA-256 {image.sha256}, {listed}",
    )
    typer.echo("\n".join(lines), err=True)


def _tell(outcomes: Sequence[Outcome]) -> None:
    for outcome in outcomes:
        typer.echo(outcome.line)
