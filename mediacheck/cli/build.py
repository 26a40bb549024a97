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
    from mediacheck.build.tree import Times

EXAMPLE = (
    "Examples: mediacheck build face-a --profile basic-1080p --out face-a.img --label FACE-A\n\n"
    "mediacheck build face-a --profile basic-1080p --out E:\\"
)


def build_command(
    source: Annotated[
        str,
        typer.Argument(metavar="FOLDER", help="The folder with what goes on the card.", show_default=False),
    ],
    profile: Annotated[
        str,
        typer.Option("--profile", "-p", help="A bundled profile's name, or a YAML file.", show_default=False),
    ],
    out: Annotated[
        str,
        typer.Option(
            metavar="CARD.img|FOLDER",
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
        Path | None,
        typer.Option(
            help="Where the manifest goes. [default: beside the output; of a whole drive, "
            "card-FOLDER.manifest.json in the current folder]"
        ),
    ] = None,
    replace: Annotated[
        bool,
        typer.Option(
            "--replace",
            help="Write over an earlier image and its manifest; of a card, remove first the files that the "
            "manifest lists, if it holds nothing else.",
        ),
    ] = False,
    even_so: Annotated[
        bool, typer.Option("--even-so", help="Build although the check fails; the manifest says so.")
    ] = False,
    depth: Depth = DepthOption.full,
    jobs: Jobs = None,
    no_cache: NoCache = False,
) -> int:
    """Build a card: checked first, in play order, proved, with a manifest beside it.

    Exit codes: 0 built; 1 nothing was built, since it would not play, or the order on a card that was filled
    is another; 2 wrong use; 3 nothing was built, since something could not be checked.
    """
    from mediacheck import early
    from mediacheck.inspection import time_limit_s

    with early.workers(jobs_or_cores(jobs), time_limit_s, depth.value) as workers:
        from mediacheck.build.build import Order, Watchers, build_folder, build_image
        from mediacheck.build.places import with_manifest
        from mediacheck.cli.byte_progress import byte_watching
        from mediacheck.cli.pipe import readers_may_leave
        from mediacheck.cli.progress import watching
        from mediacheck.profile_files import load_profile
        from mediacheck.survey import Options

        folder, place = _given(source, "folder with what goes on the card"), _given(out, "place for the card")
        fills = _is_folder(place, size, label)
        job = Order(
            source=folder,
            out=place,
            loaded=load_profile(profile),
            options=Options(depth.value, jobs_or_cores(jobs), use_cache=not no_cache),
            wishes=_wishes(label, size, times, order),
            even_so=even_so,
            replace=replace,
            beside=with_manifest(manifest, place, fills) if manifest is not None else None,
        )
        work = build_folder if fills else build_image
        with watching() as files, byte_watching() as written:
            built = work(job, Watchers(files, written, lambda _: workers))
    with readers_may_leave():
        _print(built, job)
    return _exit_code(built, job)


def _given(path: str, what: str) -> Path:
    """An empty word, as of a variable in a script that is not set, would be the current folder."""
    from mediacheck.card.folder import whole_drive
    from mediacheck.errors import WrongUse

    if not path.strip():
        raise WrongUse(f"No {what} was given.")
    return whole_drive(Path(path))


def _is_folder(out: Path, size: str | None, label: str | None) -> bool:
    """Whether a card is to be filled. WrongUse: the options do not go together, or it cannot be told."""
    from mediacheck.card.device import windows_device
    from mediacheck.errors import WrongUse

    if windows_device(str(out)) or out.is_block_device() or out.is_char_device():
        raise WrongUse(
            f"{out} is a raw device: build an image (CARD.img), and put it there with `mediacheck write`."
        )
    if out.is_dir():
        if size or label:
            raise WrongUse(
                f"{out} is a card that is formatted already: --size and --label are for images (CARD.img)."
            )
        return True
    if not out.name:
        raise WrongUse(f"There is no drive {out}: put the card in, or name an image such as card.img.")
    if not out.suffix:
        raise WrongUse(f"There is no folder {out}: name a mounted card, or an image such as {out}.img.")
    return False


def _wishes(label: str | None, size: str | None, times: str, order: Path | None) -> Wishes:
    from mediacheck.build.plan import Wishes
    from mediacheck.sizes import parse_size

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


def _print(built: Built, order: Order) -> None:
    from rich.console import Console

    from mediacheck.build.told import print_built, why_not_built
    from mediacheck.report.terminal import print_report

    if built.manifest is None:
        print_report(built.report, Console())
        print(f"mediacheck: {why_not_built(built.report)}", file=sys.stderr)
    else:
        print_built(built, order, Console())


def _exit_code(built: Built, order: Order) -> int:
    from mediacheck.build.told import out_of_order
    from mediacheck.cli.check import exit_code

    if built.manifest is None:
        return exit_code(built.report, strict=False)
    return 1 if out_of_order(built, order) else 0
