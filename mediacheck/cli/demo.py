"""`mediacheck demo`: makes the invented display, has it checked, and says what to look at."""

from __future__ import annotations

import os
import shutil
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import typer

EXAMPLE = "Example: mediacheck demo --out garden"
FOLDER = Path("mediacheck-demo")


def demo_command(
    out: Annotated[Path, typer.Option("--out", help="An empty folder, or a new one.")] = FOLDER,
) -> None:
    """Do the whole job on an invented display: make its two cards, check them, write all reports."""
    from mediacheck.cli.progress import watching
    from mediacheck.demo.cards import FACES
    from mediacheck.demo.run import check_face, make_display
    from mediacheck.demo.story import story

    jobs = os.cpu_count() or 2
    with _counting("Making clips") as on_clip:
        cards = make_display(out, jobs, on_clip, FACES)
    checked = []
    for face in FACES:
        with watching() as watcher:
            checked.append(check_face(face, cards[face.name], jobs, watcher))
    typer.echo("\n".join(story(out, checked, program_words())))


def program_words() -> tuple[str, ...]:
    """How this program was started, as the words of a command that works again from the same folder."""
    started = Path(sys.argv[0])
    if started.stem != "mediacheck":
        return (sys.executable, "-m", "mediacheck")
    on_path = shutil.which("mediacheck")
    if on_path and Path(on_path).with_suffix("").absolute() == started.with_suffix("").absolute():
        return ("mediacheck",)
    return (str(started),)


@contextmanager
def _counting(what: str) -> Iterator[Callable[[int, int], None]]:
    """A bar on standard error, told how many are done of how many; silent where that is no terminal."""
    if not sys.stderr.isatty():
        yield lambda done, of: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (TextColumn(what), MofNCompleteColumn(), BarColumn(), TimeElapsedColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("", total=None)
        yield lambda done, of: bar.update(task, completed=done, total=of)
