"""`mediacheck fix`: reads the options, has the copy made, and tells what was done.

It must not decide or make anything itself.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from mediacheck.cli.options import Jobs, NoCache, jobs_or_cores
from mediacheck.cli.workers import Cluster, crew_for, require_no_jobs

if TYPE_CHECKING:
    from mediacheck.profile_files import LoadedProfile
    from mediacheck.repair.model import Wishes
    from mediacheck.repair.outcome import Fixed, Planned
    from mediacheck.repair.run import Order

EXAMPLE = (
    "Examples: mediacheck fix masters --profile basic-1080p --plan\n\n"
    "mediacheck fix masters --profile basic-1080p --profile portrait-1080p --out ready\n\n"
    "mediacheck fix masters --profile basic-1080p --out ready --cluster tcp://10.0.0.5:8786"
)


def fix_command(
    source: Annotated[
        str,
        typer.Argument(
            help="A folder of masters, one master, or a card: a drive, device or image. It is only read.",
            show_default=False,
        ),
    ],
    profile: Annotated[
        list[str],
        typer.Option(
            "--profile",
            "-p",
            help="A bundled profile's name, or a YAML file. Several: each gets a folder in --out.",
            show_default=False,
        ),
    ],
    out: Annotated[
        Path | None,
        typer.Option(
            metavar="FOLDER",
            help="The folder of the copy, new or of an earlier run. Record and page stand beside it.",
            show_default=False,
        ),
    ] = None,
    plan: Annotated[
        bool, typer.Option("--plan", help="Only say what would be done and why, with size and time.")
    ] = False,
    fit: Annotated[
        Literal["contain", "cover", "stretch"],
        typer.Option(help="How a picture gets the screen's shape: with bars, cut to fill, or stretched."),
    ] = "contain",
    trim_bars: Annotated[
        bool, typer.Option("--trim-bars", help="Cut off black bars that are part of the picture.")
    ] = False,
    trim_ends: Annotated[
        bool, typer.Option("--trim-ends", help="Cut off test material and black at head and tail.")
    ] = False,
    quality_floor: Annotated[
        float,
        typer.Option(
            min=0, max=100, help="VMAF points below which a new picture fails, or their like in SSIM."
        ),
    ] = 90.0,
    no_proof: Annotated[
        bool,
        typer.Option(
            "--no-proof",
            help="Do not decode what was encoded: it is neither checked at full depth nor compared with its "
            "master, and the record says so.",
        ),
    ] = False,
    size: Annotated[
        str | None,
        typer.Option(help='Capacity of the card that all must fit on, such as "8GB". [default: the profile]'),
    ] = None,
    jobs: Jobs = None,
    no_cache: NoCache = False,
    cluster: Cluster = None,
) -> int:
    """Make a conforming copy of masters or of a card, with the least change, and prove it.

    Exit codes: 0 all of the copy passes its check; 1 something must be asked for; 2 wrong use; 3 something
    could not be checked.
    """
    from mediacheck.cli.pipe import readers_may_leave
    from mediacheck.repair.run import Order
    from mediacheck.survey import Options

    if cluster is not None:
        require_no_jobs(jobs)
    order = Order(
        source=_given(source),
        profiles=_profiles(profile),
        wishes=_wishes(fit, trim_bars, trim_ends, quality_floor, not no_proof, size),
        options=Options("full", jobs_or_cores(jobs), use_cache=not no_cache),
        out=out,
    )
    if plan:
        planned = _plan(order, cluster)
        with readers_may_leave():
            _print_plans(planned)
        return 1 if any(one.plan.asks for one in planned) else 0
    fixed = _fix(order, cluster)
    with readers_may_leave():
        _print_fixed(fixed)
    return _exit_code(fixed)


def _given(source: str) -> Path:
    from mediacheck.card.folder import whole_drive
    from mediacheck.errors import WrongUse

    if not source.strip():
        raise WrongUse("No source was given: name a folder, a video or a still, or a card.")
    return whole_drive(Path(source))


def _profiles(names: list[str]) -> tuple[LoadedProfile, ...]:
    from mediacheck.errors import WrongUse
    from mediacheck.profile_files import load_profile

    loaded = tuple(map(load_profile, names))
    ids = [one.profile.id for one in loaded]
    if len(set(ids)) < len(ids):
        raise WrongUse("The same profile was given twice: each one needs a name of its own.")
    return loaded


def _wishes(
    fit: Literal["contain", "cover", "stretch"],
    trim_bars: bool,
    trim_ends: bool,
    quality_floor: float,
    prove: bool,
    size: str | None,
) -> Wishes:
    from mediacheck.repair.model import Wishes
    from mediacheck.sizes import parse_size

    return Wishes(fit, trim_bars, trim_ends, quality_floor, prove, parse_size(size) if size else None)


def _plan(order: Order, cluster: str | None) -> tuple[Planned, ...]:
    from mediacheck.cli.progress import watching
    from mediacheck.repair.run import Helpers, plan

    with crew_for(cluster, order.source, None) as crew, watching() as looking:
        return plan(order, Helpers(looking=looking, crew=crew))


def _fix(order: Order, cluster: str | None) -> tuple[Fixed, ...]:
    from mediacheck.cli.making_progress import making_watching
    from mediacheck.cli.progress import watching
    from mediacheck.errors import WrongUse
    from mediacheck.repair.page import as_html
    from mediacheck.repair.run import Helpers, fix

    if order.out is None:
        raise WrongUse("Where the copy goes was not said: give --out FOLDER, or --plan for a plan alone.")
    with (
        crew_for(cluster, order.source, order.out) as crew,
        watching() as looking,
        making_watching() as making,
        watching() as proving,
    ):
        return fix(order, Helpers(looking, making, proving, crew=crew, page=as_html))


def _print_plans(planned: tuple[Planned, ...]) -> None:
    from rich.console import Console

    from mediacheck.repair.told import print_plan

    for place, one in enumerate(planned):
        if place:
            typer.echo()
        print_plan(one, Console())


def _print_fixed(fixed: tuple[Fixed, ...]) -> None:
    from rich.console import Console

    from mediacheck.repair.places import places_for
    from mediacheck.repair.told import print_fixed

    for place, one in enumerate(fixed):
        if place:
            typer.echo()
        places = places_for(one.out)
        print_fixed(one, Console(), str(places.record), str(places.page))


def _exit_code(fixed: tuple[Fixed, ...]) -> int:
    verdicts = {one.verdict for one in fixed}
    return 1 if "fail" in verdicts else 3 if "incomplete" in verdicts else 0
