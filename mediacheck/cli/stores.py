"""`mediacheck stores`: the ledger of many stores: plan, add, status, history, export.

It must not hold logic: it reads arguments and prints.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from mediacheck.cli.options import PRINTED

if TYPE_CHECKING:
    from datetime import date

    from mediacheck.stores.ledger import Ledger

USUAL = "stores.ledger"
SHOWN_REFUSED = 20

app = typer.Typer(
    name="stores",
    help="Keep the ledger of many stores: what belongs on each face, and what was heard of it.",
    epilog="Example: mediacheck stores status --state wrong --html stores.html",
    no_args_is_help=True,
    rich_markup_mode=None,
)

LedgerPlace = Annotated[
    str,
    typer.Option(
        "--ledger",
        envvar="MEDIACHECK_LEDGER",
        help="The ledger: a file, or the address of a PostgreSQL database.",
    ),
]
Number = Annotated[str | None, typer.Option("--store", help="The number of a store.", show_default=False)]


@app.command(epilog="Example: mediacheck stores plan rollout.yaml stores.csv")
def plan(
    files: Annotated[
        list[Path], typer.Argument(metavar="FILE...", help="Rollouts (YAML) and tables of stores (CSV).")
    ],
    ledger: LedgerPlace = USUAL,
) -> None:
    """Take over what is planned: stores, displays, faces, and which loop belongs there from which day.

    Stores and displays of the same name are replaced, others stay. The ledger is made where there is none.
    """
    from mediacheck.report.words import counted, listed
    from mediacheck.stores.opening import open_ledger
    from mediacheck.stores.rollout_files import read_plan

    planned = read_plan(files)
    kept = open_ledger(ledger, create=True)
    try:
        kept.put_plan(planned)
        whole = kept.plan()
    finally:
        kept.close()
    known = {display.id for display in whole.displays}
    typer.echo(
        f"Planned {counted(len(planned.stores), 'store')} and {counted(len(planned.displays), 'display')}; "
        f"the ledger {kept.called} holds {counted(len(whole.stores), 'store')} now."
    )
    missing = sorted({name for store in whole.stores for name in store.displays} - known)
    for name in missing[:SHOWN_REFUSED]:
        typer.echo(f'No rollout says which faces the display "{name}" has: its stores have no faces yet.')
    bare = [store.number for store in whole.stores if not store.displays]
    if bare:
        some = listed(tuple(bare), 5)
        typer.echo(f"No display is planned for {counted(len(bare), 'store')}, so nothing is told of: {some}.")


@app.command(epilog="Example: mediacheck stores add mailed.zip reports/ --store 0117")
def add(
    files: Annotated[
        list[Path],
        typer.Argument(
            metavar="FILE...",
            help="Reports of check and fix, manifests, identifications, photos and sheets: files, folders or "
            "ZIP archives.",
        ),
    ],
    store: Number = None,
    display: Annotated[
        str | None, typer.Option("--display", help="The display that all files are for.", show_default=False)
    ] = None,
    face: Annotated[
        str | None, typer.Option("--face", help="The face that all files are for.", show_default=False)
    ] = None,
    pattern: Annotated[
        str | None,
        typer.Option(
            "--pattern",
            help="How the files are named, such as {store}_{face}_*; left out: the store's number comes "
            "first, in the file's name or its folder's.",
            show_default=False,
        ),
    ] = None,
    keep_photo_data: Annotated[
        bool,
        typer.Option(
            "--keep-photo-data", help="Keep what photos say of the place and the person; else it is dropped."
        ),
    ] = False,
    listed: Annotated[
        bool, typer.Option("--list", help="Print each file as soon as it is in the ledger for good.")
    ] = False,
    ledger: LedgerPlace = USUAL,
) -> int:
    """Add what came from the stores. Each file is taken once; broken ones are listed, the rest goes in."""
    from mediacheck.cli.counting_progress import counting
    from mediacheck.report.words import counted, safe
    from mediacheck.stores import adding
    from mediacheck.stores.opening import open_ledger
    from mediacheck.stores.placing import Given

    def confirmed(shown: Any) -> None:
        if listed:
            for one in shown:
                typer.echo(safe(one))

    kept = open_ledger(ledger)
    try:
        with counting() as seen:
            listeners = adding.Listeners(seen, confirmed)
            given = Given(store, display, face, pattern)
            found = adding.add(kept, files, given, keep_photo_data, listeners)
    finally:
        kept.close()
    refused = f"{len(found.refused):,} not taken"
    typer.echo(f"{counted(found.new, 'file')} added, {found.known:,} known already, {refused}.")
    for one in found.refused[:SHOWN_REFUSED]:
        typer.echo(f"  {safe(one.shown)}: {safe(one.why)}.", err=True)
    if len(found.refused) > SHOWN_REFUSED:
        typer.echo(f"  and {len(found.refused) - SHOWN_REFUSED:,} more.", err=True)
    return 2 if not found.files or len(found.refused) == found.files else 3 if found.refused else 0


@app.command(epilog="Example: mediacheck stores status --region North --html stores.html --csv stores.csv")
def status(
    state: Annotated[
        list[str] | None,
        typer.Option(
            "--state",
            help="Only faces that are right, wrong, outdated, will-not-play, not-sure or not-heard-of.",
            show_default=False,
        ),
    ] = None,
    region: Annotated[
        list[str] | None, typer.Option("--region", help="Only stores of this region.", show_default=False)
    ] = None,
    display: Annotated[
        list[str] | None, typer.Option("--display", help="Only this display.", show_default=False)
    ] = None,
    profile: Annotated[
        list[str] | None,
        typer.Option("--profile", "-p", help="Only faces with this profile.", show_default=False),
    ] = None,
    store: Annotated[
        list[str] | None, typer.Option("--store", help="Only the store of this number.", show_default=False)
    ] = None,
    older: Annotated[
        int | None,
        typer.Option(
            "--older-than", min=0, help="Only faces not heard of for more days than this.", show_default=False
        ),
    ] = None,
    since: Annotated[
        str | None,
        typer.Option(
            "--since", help="Tell what changed from this day on, such as 2026-03-01.", show_default=False
        ),
    ] = None,
    json: Annotated[
        str | None, typer.Option("--json", help="Write JSON; - prints it.", show_default=False)
    ] = None,
    csv: Annotated[
        str | None, typer.Option("--csv", help="Write a table (CSV); - prints it.", show_default=False)
    ] = None,
    html: Annotated[
        Path | None, typer.Option("--html", help="Write one HTML page for all.", show_default=False)
    ] = None,
    everything: Annotated[bool, typer.Option("--all", help="List the faces that are right, too.")] = False,
    ledger: LedgerPlace = USUAL,
) -> int:
    """Tell the state of every face: right, wrong, outdated, will not play, or not heard of, and why.

    Exit codes: 0 all are right; 1 at least one is wrong, outdated or will not play; 3 some are not known.
    """
    from mediacheck.output import write_atomically
    from mediacheck.stores import record
    from mediacheck.stores.opening import open_ledger
    from mediacheck.stores.page import as_html
    from mediacheck.stores.status import Wanted, status_of

    _demand_one_printed(json, csv)
    _demand_not_the_ledger(ledger, *(Path(place) for place in (json, csv, html) if place is not None))
    wanted = Wanted(
        _states(state or []),
        tuple(region or ()),
        tuple(display or ()),
        tuple(profile or ()),
        tuple(store or ()),
        older,
    )
    day = _day(since)
    kept = open_ledger(ledger)
    try:
        found = status_of(kept, wanted, since=day)
        page = as_html(found, kept.picture) if html else None
    finally:
        kept.close()
    if html is not None and page is not None:
        write_atomically(html, page)
    for place, text in ((json, record.json_text), (csv, record.csv_text)):
        if place is not None and place != PRINTED:
            write_atomically(Path(place), text(found))
    _print(found, json, csv, everything)
    return exit_code(found)


@app.command(epilog='Example: mediacheck stores history 0117 --face "aisle side"')
def history(
    store: Annotated[str, typer.Argument(metavar="STORE", help="The number of the store.")],
    face: Annotated[
        str | None, typer.Option("--face", help="Only this face of its displays.", show_default=False)
    ] = None,
    ledger: LedgerPlace = USUAL,
) -> None:
    """Tell all that was ever heard of a store, the oldest first."""
    from rich.console import Console

    from mediacheck.cli.pipe import readers_may_leave
    from mediacheck.face_names import folded
    from mediacheck.stores.opening import open_ledger
    from mediacheck.stores.terminal import print_history

    kept = open_ledger(ledger)
    try:
        found = _store(kept, store)
        entries = kept.history(store)
        if face is not None:
            entries = tuple(entry for entry in entries if entry[0].place.face == folded(face))
            if not entries:
                _demand_face(kept, store, face)
    finally:
        kept.close()
    with readers_may_leave():
        if not entries:
            of = f'the face "{face}" of store {found}' if face is not None else f"store {found}"
            typer.echo(f"Nothing was heard of {of} yet.")
            return
        print_history(f"Store {found}", entries, Console(highlight=False))


@app.command(epilog="Example: mediacheck stores export 0117 --out 0117.zip")
def export(
    store: Annotated[str, typer.Argument(metavar="STORE", help="The number of the store.")],
    out: Annotated[Path, typer.Option("--out", help="The ZIP archive to write.")],
    ledger: LedgerPlace = USUAL,
) -> None:
    """Write a store's file as evidence: its reports, photos and sheets in one ZIP, with a list of them."""
    from mediacheck.report.words import counted
    from mediacheck.stores.export import export_store
    from mediacheck.stores.opening import open_ledger

    _demand_not_the_ledger(ledger, out)
    kept = open_ledger(ledger)
    try:
        count = export_store(kept, store, out)
    finally:
        kept.close()
    typer.echo(f"{counted(count, 'document')} of store {store} written to {out}.")


def exit_code(found: Any) -> int:
    """0 all right, 1 something is wrong, 3 something is not known, 2 nothing was there to tell of."""
    if not found.rows:
        return 2
    if any(found.totals.get(state) for state in ("wrong", "outdated", "will-not-play")):
        return 1
    return 3 if any(found.totals.get(state) for state in ("not-sure", "not-heard-of")) else 0


def _print(found: Any, json: str | None, csv: str | None, everything: bool) -> None:
    from rich.console import Console

    from mediacheck.cli.pipe import readers_may_leave
    from mediacheck.stores import record
    from mediacheck.stores.terminal import print_status

    with readers_may_leave():
        if json == PRINTED:
            typer.echo(record.json_text(found), nl=False)
        elif csv == PRINTED:
            typer.echo(record.csv_text(found), nl=False)
        else:
            print_status(found, Console(highlight=False), everything)


def _demand_one_printed(json: str | None, csv: str | None) -> None:
    from mediacheck.errors import WrongUse

    if json == csv == PRINTED:
        raise WrongUse("Only one of --json and --csv can be printed: give the other a file.")


def _demand_not_the_ledger(ledger: str, *outs: Path) -> None:
    """What is written takes the place of what is there."""
    import os

    from mediacheck.errors import WrongUse

    for out in outs:
        if os.path.realpath(out) == os.path.realpath(ledger):
            raise WrongUse(f"{out} is the ledger: give another name to what is to be written.")


def _states(given: list[str]) -> tuple[Any, ...]:
    from mediacheck.errors import WrongUse
    from mediacheck.stores.model import STATES

    for word in given:
        if word not in STATES:
            raise WrongUse(f'There is no state "{word[:40]}": {", ".join(STATES)}.')
    return tuple(given)


def _day(text: str | None) -> date | None:
    from datetime import date, datetime, timedelta, timezone

    from mediacheck.errors import WrongUse

    if text is None:
        return None
    try:
        day = date.fromisoformat(text)
    except ValueError:
        raise WrongUse(f'"{text[:40]}" is no day: --since takes one such as 2026-03-01.') from None
    first_clock = timezone(timedelta(hours=14))  # where a day begins first
    if day > datetime.now(first_clock).date():
        raise WrongUse(f"{day} is still to come: --since tells what changed from a day on that has begun.")
    return day


def _demand_face(kept: Ledger, store: str, name: str) -> None:
    """LedgerError: no display in the store has it."""
    from mediacheck.errors import LedgerError
    from mediacheck.face_names import folded

    names = kept.plan().face_names(store)
    if folded(name) not in map(folded, names):
        its = ", ".join(names) or "none"
        raise LedgerError(f'Store {store} has no face "{name[:60]}"; its faces are: {its}.')


def _store(kept: Ledger, number: str) -> str:
    """Number and name. LedgerError: the plan does not have it."""
    from mediacheck.errors import LedgerError

    found = next((one for one in kept.plan().stores if one.number == number), None)
    if found is None:
        raise LedgerError(f'The plan has no store "{number[:60]}".')
    return f"{found.number} {found.name}".strip()
