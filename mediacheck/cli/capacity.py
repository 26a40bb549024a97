"""`mediacheck capacity`: reads the options, has a card filled and read back, and tells what it is worth.

It must not write or judge anything itself.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from mediacheck.cli.consent import consent, require_consent

if TYPE_CHECKING:
    from mediacheck.capacity.speed_class import SpeedClass
    from mediacheck.capacity.verdict import Outcome

EXAMPLE = "Examples: mediacheck capacity E:\\ --class V30\n\nmediacheck capacity /dev/sdb --erase"


def capacity_command(
    card: Annotated[
        str,
        typer.Argument(
            metavar="DRIVE_OR_DEVICE",
            help="The root of a mounted card, or with --erase its raw device.",
            show_default=False,
        ),
    ],
    speed: Annotated[
        str | None,
        typer.Option(
            "--class",
            help="The speed class printed on the card: C2 to C10, U1, U3, V6 to V90, E150 to E600.",
            show_default=False,
        ),
    ] = None,
    erase: Annotated[
        bool, typer.Option("--erase", help="Write over a whole raw device: all that is on it is lost.")
    ] = False,
    yes: Annotated[
        bool, typer.Option("--yes", help="Do not ask before erasing; only together with --expect-size.")
    ] = False,
    expect_size: Annotated[
        str | None,
        typer.Option(help="How large the device says that it is, as a proof that it is the right one."),
    ] = None,
    max_size: Annotated[
        str, typer.Option(help="Erase nothing larger: it is more likely a hard disk than a card.")
    ] = "512GB",
    strict: Annotated[bool, typer.Option("--strict", help="Leave with code 1 for warnings too.")] = False,
) -> int:
    """Test whether a card is as large and as fast as it claims: fill it, and read all of it back.

    On a mounted card, the free space is filled with files that are removed at the end. On a card of false
    capacity this can destroy the files that are on it: copy them first. A full test takes as long as it takes
    to write the card and to read it: about an hour for 128 GB.

    Exit codes: 0 as it claims, or only slower; 1 false capacity or bad sectors; 2 wrong use, or the card went
    away; 3 no fault, but not all could be tested; 130 stopped with Ctrl-C.
    """
    from mediacheck.capacity.speed_class import speed_class
    from mediacheck.capacity.verdict import exit_code
    from mediacheck.errors import WrongUse
    from mediacheck.sizes import parse_size

    promised = speed_class(speed) if speed is not None else None
    max_bytes = parse_size(max_size)
    if not card.strip():
        raise WrongUse("No card was given: name the root of a mounted card, or with --erase its raw device.")
    if erase:
        require_consent(yes, expect_size)
        outcome = _erased(card, promised, max_bytes, yes, expect_size)
    elif yes or expect_size is not None:
        raise WrongUse("--yes and --expect-size are for raw devices, which are tested with --erase.")
    else:
        outcome = _filled(Path(card), promised)
    _print(outcome)
    return exit_code(outcome, strict)


def _filled(card: Path, promised: SpeedClass | None) -> Outcome:
    from mediacheck.capacity.files import Calls
    from mediacheck.capacity.mounted_drive import Computer
    from mediacheck.capacity.run import Order, examine_drive
    from mediacheck.cli.byte_progress import byte_watching

    with byte_watching() as watcher:
        return examine_drive(card, Order(promised, watcher), Computer(), Calls(), _tell)


def _erased(
    card: str, promised: SpeedClass | None, max_bytes: int, yes: bool, expect_size: str | None
) -> Outcome:
    from mediacheck.capacity.run import Order, examine_device, look_at_device
    from mediacheck.cli.byte_progress import byte_watching
    from mediacheck.device.chosen import Machine

    machine = Machine()
    looked = look_at_device(card, max_bytes, machine)
    consent([looked], yes, expect_size)
    with byte_watching() as watcher:
        return examine_device(looked, max_bytes, Order(promised, watcher), machine)


def _tell(sentence: str) -> None:
    print(f"mediacheck: {sentence}", file=sys.stderr)


def _print(outcome: Outcome) -> None:
    from rich.console import Console

    from mediacheck.capacity.told import print_outcome
    from mediacheck.cli.pipe import readers_may_leave

    with readers_may_leave():
        print_outcome(outcome, Console())
