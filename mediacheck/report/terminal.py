"""The report for a terminal of any width, with or without colour.

It must not say anything by colour alone, and it must not let a file name steer the terminal.
"""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console
from rich.text import Text

from mediacheck.names import Severity, VerdictWord
from mediacheck.programs import shown
from mediacheck.report.model import Report
from mediacheck.report.outline import Gap, Group, Limits, Outline, Row, outline_of
from mediacheck.report.verdict import BAD
from mediacheck.report.words import safe

LIMITS = Limits(rows=50, groups=50, paths=8)
NARROW = 60
"""Below this many columns an item takes two lines, so that its path keeps room."""
TONES: dict[VerdictWord, str] = {
    "pass": "bold green",
    "warn": "bold yellow",
    "fail": "bold red",
    "incomplete": "bold magenta",
}
SEVERITY_STYLES: dict[Severity, str] = {"fail": "bold red", "warn": "bold yellow", "note": "bold cyan"}


def print_report(report: Report, console: Console) -> None:
    """Print the report: verdict, what plays, findings, what was not checked."""
    outline = outline_of(report, LIMITS)
    _verdict(outline, console)
    _loop(outline, console)
    _findings(outline, console)
    _unchecked(outline, console)
    say(console, Text(""))
    say(console, Text(outline.checks))
    say(console, Text(outline.profile_note, "dim"))


def say_next(console: Console, command: Sequence[str]) -> None:
    """What a person may run now, as it is typed here."""
    heading(console, "What to do next")
    say(console, Text(safe(shown(command))))


def say(console: Console, text: Text, first: str | Text = "", rest: str | None = None) -> None:
    """Print a text wrapped at words, with `first` before its first line and `rest` before the others."""
    text = _encodable(text, console.encoding)
    rest = " " * len(first) if rest is None else rest
    width = max(8, console.width - max(len(first), len(rest)))
    for place, line in enumerate(text.wrap(console, width)):
        line.rstrip()
        lead = Text(rest) if place else first.copy() if isinstance(first, Text) else Text(first)
        if not line.plain:
            lead.rstrip()
        console.print(lead + line, overflow="ignore", crop=False)


def _encodable(text: Text, encoding: str) -> Text:
    """Escapes, without colours, in place of what this terminal's encoding cannot hold (older Windows)."""
    try:
        text.plain.encode(encoding)
    except UnicodeEncodeError:
        return Text(text.plain.encode(encoding, "backslashreplace").decode(encoding), text.style)
    return text


def heading(console: Console, words: str) -> None:
    """A line in bold after an empty one."""
    say(console, Text(""))
    say(console, Text(words, "bold"))


def say_about(console: Console, about: Sequence[tuple[str, str]]) -> None:
    """What the answer is about, after an empty line: names in one column, words in the next."""
    say(console, Text(""))
    width = max(len(name) for name, _ in about)
    for name, words in about:
        say(console, Text(words), f"{name:<{width}}  ")


def say_places(console: Console, label: tuple[str, str], places: Sequence[str], more: int) -> None:
    """The head of a group after an empty line: its label (words, style), and where it was found."""
    words, style = label
    say(console, Text(""))
    for number, place in enumerate(places):
        lead = Text(" " * (len(words) + 2)) if number else Text.assemble((f"{words}  ", style))
        say(console, lead + Text(place, "bold"), "", "  ")
    if more:
        say(console, Text(f"and {more:,} more like it"), "  ")


def _verdict(outline: Outline, console: Console) -> None:
    verdict = outline.verdict
    say(console, Text.assemble((f"{verdict.headline}:", TONES[verdict.tone]), " ", (verdict.rest, "bold")))
    say_about(console, outline.about)


def _loop(outline: Outline, console: Console) -> None:
    heading(console, "What will play")
    say(console, Text(outline.play_summary))
    narrow = console.width < NARROW
    if outline.rows and not narrow:
        _wide_rows(outline.rows, console)
    elif outline.rows:
        _narrow_rows(outline.rows, console)
    if outline.more_rows:
        say(console, Text(outline.more_rows), "  ")
    if outline.order_note:
        say(console, Text(outline.order_note))


def _item(row: Row) -> Text:
    return Text.assemble((f"{BAD}: ", "bold red"), row.path) if row.fails else Text(row.path)


def _wide_rows(rows: tuple[Row, ...], console: Console) -> None:
    cells = [("no.", "starts", "lasts"), *((str(row.number), row.starts, row.lasts) for row in rows)]
    widths = [max(map(len, column)) for column in zip(*cells, strict=True)]
    items = [Text("item", "dim"), *map(_item, rows)]
    for cell, item in zip(cells, items, strict=True):
        lead = "  ".join(f"{words:>{width}}" for words, width in zip(cell, widths, strict=True))
        say(console, item, f"  {lead}  ")


def _narrow_rows(rows: tuple[Row, ...], console: Console) -> None:
    width = len(str(rows[-1].number))
    for row in rows:
        say(console, _item(row), f"{row.number:>{width}}. ")
        starts = "" if row.fails else f"starts: {row.starts}, "
        say(console, Text(f"{starts}lasts: {row.lasts}", "dim"), " " * (width + 2))


def _findings(outline: Outline, console: Console) -> None:
    heading(console, "What is wrong")
    say(console, Text(outline.findings_summary))
    for group in outline.groups:
        _group(group, console)


def _group(group: Group, console: Console) -> None:
    say_places(
        console, (group.severity_words, SEVERITY_STYLES[group.severity]), group.paths, group.more_paths
    )
    say(console, Text(group.message), "  ")
    say(console, Text.assemble(("What to do: ", "bold"), group.action), "  ")
    say(console, Text(f"{group.rule} (found: {group.found}; wanted: {group.wanted})", "dim"), "  ")
    if group.more:
        say(console, Text(group.more), "  ")


def _unchecked(outline: Outline, console: Console) -> None:
    heading(console, "What was not checked")
    for gap in outline.gaps:
        _gap(gap, console)
    if outline.more_gaps:
        say(console, Text(outline.more_gaps), "  ")
    if outline.no_gaps:
        say(console, Text(outline.no_gaps))


def _gap(gap: Gap, console: Console) -> None:
    if gap.expected:
        say(console, Text(f"{gap.reason} ({gap.checks})", "dim"), "- ")
        return
    say(console, Text.assemble(("NOT SURE  ", "bold magenta"), gap.where), "- ")
    say(console, Text(gap.reason), "  ")
    say(console, Text(f"{gap.checks}: {gap.rules}", "dim"), "  ")
