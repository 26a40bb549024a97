"""`mediacheck build`: reads the options, has the card built, and tells what it is.

It must not check or write anything itself.
"""

from __future__ import annotations

import sys
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from mediacheck.cli.options import Depth, DepthOption, Jobs, NoCache, jobs_or_cores

if TYPE_CHECKING:
    from mediacheck.build.build import Built, Order
    from mediacheck.build.plan import Wishes
    from mediacheck.build.record import Beside
    from mediacheck.build.tree import Times

EXAMPLE = (
    "Examples: mediacheck build face-a --profile basic-1080p --out face-a.img --label FACE-A\n\n"
    "mediacheck build face-a --profile basic-1080p --out E:\\"
)


def build_command(
    source: Annotated[
        Path,
        typer.Argument(metavar="FOLDER", help="The folder with what goes on the card.", show_default=False),
    ],
    profile: Annotated[
        str,
        typer.Option("--profile", "-p", help="A bundled profile's name, or a YAML file.", show_default=False),
    ],
    out: Annotated[
        Path,
        typer.Option(
            help="A new image (CARD.img), or the folder of a mounted, freshly formatted card.",
            show_default=False,
        ),
    ],
    label: Annotated[str | None, typer.Option(help="The label of the card. [default: none]")] = None,
    size: Annotated[
        str | None,
        typer.Option(help='Capacity of the image, such as "8GB". [default: the least that fits]'),
    ] = None,
    times: Annotated[
        str,
        typer.Option(
            help='What files say of their time: "fixed" (the same on any day, so that the same content gives '
            'the same image), "files" (their own), or one such as 2026-03-01T09:30.'
        ),
    ] = "fixed",
    order: Annotated[
        Path | None,
        typer.Option(
            help="A text file with one path a line, in the order in which a player that goes by the disk is "
            "to play them. [default: by name]"
        ),
    ] = None,
    manifest: Annotated[
        Path | None, typer.Option(help="Where the manifest goes. [default: beside the output]")
    ] = None,
    replace: Annotated[
        bool,
        typer.Option(
            "--replace",
            help="Write over an earlier image; of a card, remove the files that its manifest lists.",
        ),
    ] = False,
    even_so: Annotated[
        bool, typer.Option("--even-so", help="Build although the check fails; the manifest says so.")
    ] = False,
    depth: Depth = DepthOption.full,
    jobs: Jobs = None,
    no_cache: NoCache = False,
) -> int:
    """Build a card: checked first, in play order, proved, with a manifest beside it."""
    from mediacheck.inspection import early_workers

    with early_workers(jobs_or_cores(jobs), depth.value) as workers:
        from mediacheck.build.build import Order, Watchers, build_folder, build_image
        from mediacheck.cli.byte_progress import byte_watching
        from mediacheck.cli.progress import watching
        from mediacheck.profile_files import load_profile
        from mediacheck.survey import Options

        job = Order(
            source=source,
            out=out,
            loaded=load_profile(profile),
            options=Options(depth.value, jobs_or_cores(jobs), use_cache=not no_cache),
            wishes=_wishes(label, size, times, order),
            even_so=even_so,
            replace=replace,
            beside=_beside(manifest, out),
        )
        work = build_folder if _is_folder(out, size, label) else build_image
        with watching() as files, byte_watching() as written:
            built = work(job, Watchers(files, written, lambda _: workers))
    return _told(built, job)


def _is_folder(out: Path, size: str | None, label: str | None) -> bool:
    """Whether a card is to be filled. WrongUse: the options do not go together, or it cannot be told."""
    from mediacheck.card.folder import whole_drive
    from mediacheck.errors import WrongUse

    if whole_drive(out).is_dir():
        if size or label:
            raise WrongUse(
                f"{out} is a card that is formatted already: --size and --label are for images (CARD.img)."
            )
        return True
    if not out.suffix:
        raise WrongUse(f"There is no folder {out}: name a mounted card, or an image such as {out}.img.")
    return False


def _wishes(label: str | None, size: str | None, times: str, order: Path | None) -> Wishes:
    from mediacheck.build.plan import Wishes
    from mediacheck.build.sizes import parse_size

    return Wishes(label or None, parse_size(size) if size else None, _times(times), _order(order))


def _times(text: str) -> Times:
    from mediacheck.build.tree import FIRST_YEAR, LAST_YEAR
    from mediacheck.errors import WrongUse

    if text == "fixed":
        return "fixed"
    if text == "files":
        return "files"
    try:
        found = datetime.fromisoformat(text)
    except ValueError as error:
        raise WrongUse(
            f'--times {text}: give "fixed", "files" or a time such as 2026-03-01T09:30.'
        ) from error
    if not FIRST_YEAR < found.year < LAST_YEAR:
        raise WrongUse(f"--times {text}: a card knows only the years {FIRST_YEAR} to {LAST_YEAR}.")
    return found


def _order(path: Path | None) -> tuple[str, ...] | None:
    from mediacheck.errors import WrongUse

    if path is None:
        return None
    try:
        lines = path.read_text("utf-8-sig").splitlines()
    except (OSError, UnicodeDecodeError) as error:
        raise WrongUse(f"{path} cannot be read as a list of paths: {error}") from error
    return tuple(line.strip().replace("\\", "/").removeprefix("./") for line in lines if line.strip())


def _beside(manifest: Path | None, out: Path) -> Beside | None:
    """Where manifest and sums go; None: beside the output, which of a whole drive is the current folder."""
    from mediacheck.build.record import Beside, beside

    if manifest is not None:
        return Beside(manifest, manifest.with_name(f"{manifest.name.removesuffix('.manifest.json')}.sha256"))
    return None if out.name else beside(Path(f"card-{out.drive.rstrip(':') or 'root'}"))


def _told(built: Built, order: Order) -> int:
    from rich.console import Console

    from mediacheck.build.told import print_built
    from mediacheck.cli.check import exit_code
    from mediacheck.report.terminal import print_report

    if built.manifest is None:
        print_report(built.report, Console())
        print(
            "mediacheck: nothing was built, since this card would not pass its check. Repair the files, or "
            "build it as it is with --even-so.",
            file=sys.stderr,
        )
        return exit_code(built.report, strict=False)
    print_built(built, order, Console())
    return 0
