"""A comparison for a terminal of any width, with or without colour.

It must not say anything by colour alone, and it must not let a file name steer the terminal.
"""

from __future__ import annotations

from rich.console import Console
from rich.text import Text

from mediacheck.compare.model import Comparison
from mediacheck.compare.outline import Gap, Group, Limits, Outline, outline_of
from mediacheck.report.terminal import SEVERITY_STYLES, TONES, heading, say, say_about, say_places

LIMITS = Limits(groups=40, paths=8)


def print_comparison(comparison: Comparison, console: Console) -> None:
    """Print it: the answer, the differences, what is the same, what was not compared."""
    outline = outline_of(comparison, LIMITS)
    _answer(outline, console)
    _differences(outline, console)
    _same(outline, console)
    _gaps(outline, console)
    say(console, Text(""))
    say(console, Text(outline.profile_note, "dim"))


def _answer(outline: Outline, console: Console) -> None:
    answer = outline.answer
    say(console, Text.assemble((f"{answer.headline};", TONES[answer.tone]), " ", (answer.rest, "bold")))
    say_about(console, outline.about)


def _differences(outline: Outline, console: Console) -> None:
    heading(console, "What differs, the likeliest to stop it first")
    if outline.no_differences:
        say(console, Text(outline.no_differences))
    for group in outline.groups:
        _group(group, console)
    if outline.more_groups:
        say(console, Text(outline.more_groups))


def _group(group: Group, console: Console) -> None:
    say_places(console, (group.weight, SEVERITY_STYLES[group.severity]), group.places, group.more_places)
    say(console, Text(group.message), "  ")
    say(console, Text.assemble(("What to do: ", "bold"), group.action), "  ")
    say(console, Text(_detail(group), "dim"), "  ")


def _detail(group: Group) -> str:
    rule = f"{group.rule}; " if group.rule else ""
    matters = f"; {group.matters}" if group.matters else ""
    return f"({rule}good card: {group.good}; bad card: {group.bad}{matters})"


def _same(outline: Outline, console: Console) -> None:
    heading(console, "What is the same")
    for words in outline.same:
        say(console, Text(words), "- ")
    if outline.no_same:
        say(console, Text(outline.no_same))


def _gaps(outline: Outline, console: Console) -> None:
    heading(console, "What was not compared")
    for gap in outline.gaps:
        _gap(gap, console)
    if outline.no_gaps:
        say(console, Text(outline.no_gaps))


def _gap(gap: Gap, console: Console) -> None:
    label = Text("") if gap.expected else Text.assemble(("NOT SURE  ", "bold magenta"))
    say(console, label + Text(gap.text, "dim" if gap.expected else ""), "- ", "  ")
    if gap.places:
        more = f" and {gap.more_places:,} more" if gap.more_places else ""
        say(console, Text(f"{', '.join(gap.places)}{more}", "dim"), "  ")
