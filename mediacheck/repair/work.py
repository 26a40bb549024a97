"""Carries out recipes: one master, one or several new files, each complete and proved or not there at all.

It must not decide what to make. Runs in a worker process and tells how far it has come.
"""

from __future__ import annotations

import errno
import tempfile
from collections.abc import Sequence
from contextlib import ExitStack
from pathlib import Path

from mediacheck.errors import OutputError
from mediacheck.measure.address import address_of
from mediacheck.output import place_beside, refusal
from mediacheck.repair import commands
from mediacheck.repair.encode import CannotMake, make, plainly_named
from mediacheck.repair.making import ENCODING, Making
from mediacheck.repair.model import Made, NotMade
from mediacheck.repair.one_graph import for_version
from mediacheck.repair.pace import Pace
from mediacheck.repair.task import Task, encode_limit_s

FULL = (errno.ENOSPC, errno.EDQUOT)
ASK_SOURCE = "See that the card or drive with the master is still connected, and run it again."


def convert(task: Task) -> Made | NotMade:
    """Make one file, unless it was made before. OutputError: its place takes nothing; ProgramError: no
    ffmpeg."""
    return already_made(task) or _guarded(task)


def convert_together(tasks: Sequence[Task]) -> tuple[Made | NotMade, ...]:
    """Make several files of one master, which is decoded once where that is possible. Answers in their order;
    one that cannot be made does not cost the others."""
    found: list[Made | NotMade | None] = [already_made(task) for task in tasks]
    left = [number for number, made in enumerate(found) if made is None]
    groups: dict[object, list[int]] = {}
    for number in left:
        groups.setdefault(_group(tasks[number], number), []).append(number)
    for numbers in groups.values():
        answers = _in_one_run([tasks[number] for number in numbers])
        for number, made in zip(numbers, answers, strict=True):
            found[number] = made
    return tuple(made or _guarded(task) for task, made in zip(tasks, found, strict=True))


def already_made(task: Task) -> Made | None:
    """The same file, if it was made before and is still there."""
    key = task.key
    return task.kept.bring(key, task.out) if task.kept and key else None


def _group(task: Task, number: int) -> object:
    """Equal for tasks that one run can do; passes are counted by run, and stills are decoded in no time."""
    picture = task.recipe.picture
    if task.recipe.still is not None or picture is None or picture.two_passes:
        return number
    return task.location, task.recipe.before, task.ffmpeg


def _in_one_run(tasks: Sequence[Task]) -> tuple[Made | NotMade | None, ...]:
    """None: to be tried alone."""
    if len(tasks) == 1:
        return (None,)
    with ExitStack() as stack:
        try:
            makings = _entered(stack, tasks)
            for making in makings:
                making.prepare()
            files = commands.making(*(making.job for making in makings))
            line = (*files, *(part for making in makings for part in making.reference()))
            line = for_version(line, tasks[0].ffmpeg_version)
            first = makings[0]
            on_second = first.on_second(first.pace.stage(ENCODING * len(tasks)))
            limit_s = sum(map(encode_limit_s, tasks))
            known = tasks[0].accepted
            make(tasks[0].ffmpeg, line, tasks[0].out, limit_s, on_second, accepted=known)
        except (CannotMake, OutputError, OSError):
            return (None,) * len(tasks)
        return tuple(map(_finished, makings))


def _entered(stack: ExitStack, tasks: Sequence[Task]) -> tuple[Making, ...]:
    """Everything that the tasks need is there until the stack is left."""
    address = stack.enter_context(address_of(tasks[0].location))
    folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="mediacheck-")))
    pace = Pace(tasks[0].seconds, sum(map(Making.weight, tasks)))
    if tasks[0].recipe.still is not None:
        address = plainly_named(address, folder)
    return tuple(
        Making(
            task,
            address,
            folder / str(number),
            stack.enter_context(place_beside(task.out, task.recipe.suffix)),
            pace,
        )
        for number, task in enumerate(tasks)
    )


def _finished(making: Making) -> Made | NotMade:
    try:
        making.fit()
        return making.finish()
    except CannotMake as failure:
        return NotMade(failure.problem, failure.ask)


def _guarded(task: Task) -> Made | NotMade:
    try:
        with ExitStack() as stack:
            (making,) = _entered(stack, (task,))
            making.prepare()
            making.run()
            making.fit()
            return making.finish()
    except CannotMake as failure:
        return NotMade(failure.problem, failure.ask)
    except OSError as error:
        if error.errno in FULL:
            raise refusal(Path(tempfile.gettempdir()), error) from error
        return NotMade(f"It cannot be read: {error.strerror or error}.", ASK_SOURCE)
