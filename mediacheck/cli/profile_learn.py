"""`mediacheck profile learn`: reads the options, has the cards looked at, and says what was learned.

It must not hold logic: it reads arguments and prints.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from mediacheck.cli.options import Depth, DepthOption, Jobs, NoCache, survey_options

if TYPE_CHECKING:
    from mediacheck.learn.run import Outcome

EXAMPLE = "Example: mediacheck profile learn E:\\ card.img --out my-player.yaml"


def learn_command(
    cards: Annotated[
        list[str],
        typer.Argument(
            metavar="CARD",
            help="Cards that are known to play: folders, mounted drives, raw devices or images.",
            show_default=False,
        ),
    ],
    out: Annotated[
        Path, typer.Option("--out", "-o", help="Where to write the profile (.yaml).", show_default=False)
    ],
    merge: Annotated[
        Path | None,
        typer.Option(
            "--merge",
            help="A profile to widen by these cards; it may be the same file as --out. What a person changed "
            "in it stays as it is.",
        ),
    ] = None,
    even_so: Annotated[
        bool, typer.Option("--even-so", help="Learn from cards with damage or left-over files too.")
    ] = False,
    depth: Depth = DepthOption.full,
    jobs: Jobs = None,
    no_cache: NoCache = False,
) -> int:
    """Make a profile from cards that are known to play.

    It is as tight as what was seen on them, and no tighter; what was seen in one file only stays a comment.
    Each value says where it was seen. The exit code is 1 where one of the cards does not pass the profile
    all the same, and 2 where a card cannot teach.
    """
    from mediacheck.cli.pipe import readers_may_leave
    from mediacheck.cli.progress import watching
    from mediacheck.learn.run import Lesson, learn, refusal_lines
    from mediacheck.survey import Surveyed, survey

    options = survey_options(depth, jobs, no_cache)

    def look(card: Path) -> Surveyed:
        with watching() as watcher:
            return survey(card, options, watcher)

    outcome = learn(Lesson(tuple(cards), out, merge, even_so, depth.value), look)
    with readers_may_leave():
        for line in _summary(outcome, merge is not None):
            typer.echo(line)
    for line in (*refusal_lines(outcome.refused), *(unfit.sentence for unfit in outcome.unfit)):
        typer.echo(line, err=True)
    return exit_code(outcome)


def exit_code(outcome: Outcome) -> int:
    """0 where all cards pass or only warn, 1 where one fails, 3 where one could not be checked whole."""
    verdicts = {unfit.verdict for unfit in outcome.unfit}
    return 1 if "fail" in verdicts else 3 if "incomplete" in verdicts else 0


def _summary(outcome: Outcome, merging: bool) -> Iterator[str]:
    from mediacheck.report.words import counted

    yield f"Learned from {counted(len(outcome.cards), 'card')}:"
    yield from (f"  {name}: {counted(files, 'file')}" for name, files in outcome.cards)
    yield f"Written: {outcome.out}"
    for head, lines in (
        ("Rounded to the next usual step:", outcome.rounded),
        ("Widened:", outcome.widened),
        ("Kept as it was:", outcome.kept),
    ):
        if lines:
            yield head
            yield from (f"  {line}" for line in lines)
    if merging and not (outcome.widened or outcome.kept):
        yield "Nothing had to be widened."
    if outcome.open:
        yield f"No limits yet, and so only comments: {', '.join(outcome.open)}."
