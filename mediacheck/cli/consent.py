"""Asks a person before a whole device is written over.

It must not decide what may be written over (`device.guard` does).
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING

import typer

if TYPE_CHECKING:
    from mediacheck.device.chosen import Looked

ATTACHED = {"usb": "on USB", "sd": "in a slot for cards"}
"""No others are written over."""


def require_consent(yes: bool, expect_size: str | None) -> None:
    """WrongUse: the size is not known to be checked, or there is nobody to ask."""
    from mediacheck.errors import WrongUse
    from mediacheck.sizes import parse_size

    if yes and expect_size is None:
        raise WrongUse("--yes writes without asking, and so needs --expect-size with the size of the card.")
    if not yes and not sys.stdin.isatty():
        raise WrongUse("There is nobody to ask here: give --yes and --expect-size with the size of the card.")
    if expect_size is not None:
        parse_size(expect_size)


def consent(looked: Sequence[Looked], yes: bool, expect_size: str | None) -> None:
    """Show what would be lost, and go on only if it is meant. CardError: it is not."""
    from mediacheck.device.chosen import as_expected, question, refused
    from mediacheck.device.guard import confirmed, drive_words

    for one in looked:
        words = f"{drive_words(one.drive)}, {ATTACHED[one.drive.bus]}\n  now on it: {one.contents}"
        typer.echo(words, err=True)
    these = "this device" if len(looked) == 1 else "these devices"
    typer.echo(f"All that is on {these} will be lost.", err=True)
    if expect_size is not None:
        as_expected(looked, expect_size)
    if yes:
        return
    for one in looked:
        typer.echo(question(one.drive), nl=False, err=True)
        if not confirmed(one.drive, _answer()):
            refused([f"This is not the size of {drive_words(one.drive)}."])


def _answer() -> str:
    """What is typed; an empty text for what is no text."""
    try:
        return sys.stdin.readline()
    except UnicodeDecodeError:
        return ""
