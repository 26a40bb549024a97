"""The summary of many cards for a terminal of any width: one line a card, totals, what they have in common.

It must not say anything by colour alone, and it must not let a file name steer the terminal.
"""

from __future__ import annotations

from rich.console import Console
from rich.text import Text

from mediacheck.many.model import OUTCOMES, Line, Outcome, Summary
from mediacheck.report.terminal import NARROW, SEVERITY_STYLES, TONES, heading, say, say_about
from mediacheck.report.words import DEPTH_WORDS, SEVERITY_WORDS, counted, length_words, safe

WORDS: dict[Outcome, str] = {
    "pass": "PASS",
    "warn": "WARNING",
    "fail": "FAIL",
    "incomplete": "NOT SURE",
    "unreadable": "UNREADABLE",
}
TOTAL_WORDS: dict[Outcome, str] = {
    "pass": "pass",
    "warn": "with warnings",
    "fail": "fail",
    "incomplete": "not checked to the end",
    "unreadable": "unreadable",
}
COMMON_MAX = 8
"""Rules that are shown of those that were found on more than one card."""


def print_summary(summary: Summary, console: Console, folder: str) -> None:
    """Print one line a card, then totals, the most common findings, and where the reports are."""
    _lines(summary.lines, console)
    say(console, Text(""))
    say(console, _totals(summary))
    _common(summary, console)
    about = [
        ("profile", safe(summary.profile.title or summary.profile.id)),
        ("depth", DEPTH_WORDS[summary.depth]),
        ("reports", safe(folder)),
    ]
    if summary.display:
        about.insert(1, ("display", safe(f"{summary.display}, {summary.face}")))
    say_about(console, about)


def _lines(lines: tuple[Line, ...], console: Console) -> None:
    if console.width < NARROW:
        for line in lines:
            say(console, _outcome(line) + Text(": ") + _card(line), "", "  ")
        return
    cells = [("findings", "round"), *((_findings(line), _round(line)) for line in lines)]
    widths = [max(map(len, column)) for column in zip(*cells, strict=True)]
    numbers = [
        "  ".join(f"{words:>{width}}" for words, width in zip(row, widths, strict=True)) for row in cells
    ]
    first = max(len(WORDS[line.outcome]) for line in lines)
    say(console, Text(f"{'':<{first}}  {numbers[0]}  card", "dim"))
    for line, row in zip(lines, numbers[1:], strict=True):
        lead = _outcome(line)
        lead.pad_right(first - len(lead))
        say(console, _card(line), lead + Text(f"  {row}  "))


def _outcome(line: Line) -> Text:
    style = "bold red" if line.outcome == "unreadable" else TONES[line.outcome]
    return Text(WORDS[line.outcome], style)


def _findings(line: Line) -> str:
    return "-" if line.outcome == "unreadable" else f"{len(line.rules):,}"


def _round(line: Line) -> str:
    return "-" if line.outcome == "unreadable" or not line.items else length_words(line.loop_seconds)


def _card(line: Line) -> Text:
    """The card, and the worst that is to be said of it."""
    card = Text(safe(line.source), "bold")
    if line.problem is not None:
        return card + Text(f": {safe(line.problem)}", "")
    if line.worst is None:
        return card
    where = f" {safe(line.worst.path)}" if line.worst.path else ""
    return card + Text.assemble(": ", (line.worst.rule, SEVERITY_STYLES[line.worst.severity]), where)


def _totals(summary: Summary) -> Text:
    totals = summary.totals
    parts = [f"{totals[outcome]:,} {TOTAL_WORDS[outcome]}" for outcome in OUTCOMES if totals[outcome]]
    kept = sum(line.kept for line in summary.lines)
    again = f" {kept:,} had not changed since an earlier run." if kept else ""
    return Text(f"{counted(len(summary.lines), 'card')}: {', '.join(parts)}.", "bold") + Text(again, "")


def _common(summary: Summary, console: Console) -> None:
    several = [one for one in summary.common if one.cards > 1]
    if not several:
        return
    heading(console, "Found on most cards")
    for one in several[:COMMON_MAX]:
        label = Text(f"{SEVERITY_WORDS[one.severity]:<7}  ", SEVERITY_STYLES[one.severity])
        often = f": {counted(one.findings, 'finding')}, on {counted(one.cards, 'card')}"
        say(console, label + Text(one.rule, "bold") + Text(often, ""), "", " " * 9)
    if len(several) > COMMON_MAX:
        say(console, Text(f"and {counted(len(several) - COMMON_MAX, 'more rule')}", "dim"), " " * 9)
