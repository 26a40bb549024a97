"""The summary of many stores, and one store's history, for a terminal or a pipe.

It must not count: it draws what the status holds.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from rich.console import Console
from rich.markup import escape
from rich.table import Table
from rich.text import Text

from mediacheck.report.terminal import heading, say
from mediacheck.report.words import counted, safe
from mediacheck.stores.model import Evidence, State
from mediacheck.stores.status import Status
from mediacheck.stores.told import (
    KINDS,
    STATE_WORDS,
    change_words,
    common_words,
    face_words,
    has_many_displays,
    headline,
    heard,
    store_words,
    visit_words,
)

ROWS_MAX = 40
"""More lines than this nobody reads on a screen; --csv and --html have all."""
LISTED_MAX = 15
STYLES: dict[State, str] = {
    "right": "green",
    "wrong": "bold red",
    "outdated": "yellow",
    "will-not-play": "bold red",
    "not-sure": "magenta",
    "not-heard-of": "bold",
}


def print_status(status: Status, console: Console, all_rows: bool = False) -> None:
    """Print what needs somebody first, then what faces have in common, calls and changes."""
    say(console, Text(headline(status), style="bold"))
    rows = [row for row in status.rows if all_rows or row.state.state != "right"]
    many = has_many_displays(status.rows)
    if rows:
        table = Table(box=None, pad_edge=False, show_edge=False)
        for column in ("store", "face", "state", "why"):
            table.add_column(column, overflow="fold")
        for row in rows[:ROWS_MAX]:
            state = row.state.state
            told = f"{row.state.reason} ({heard(row)})" if row.evidence else row.state.reason
            table.add_row(
                escape(safe(store_words(row))),
                escape(safe(face_words(row, many))),
                Text(STATE_WORDS[state], style=STYLES[state]),
                escape(safe(told)),
            )
        console.print()
        console.print(table)
    if len(rows) > ROWS_MAX:
        say(console, Text(f"and {len(rows) - ROWS_MAX:,} more: --csv, --json and --html have them all."))
    _print_common(status, console)
    _print_list(console, "Stores to call today", [visit_words(visit) for visit in status.call_today])
    _print_list(console, "Visits that should have been", [visit_words(visit) for visit in status.overdue])
    _print_changes(status, console)


def _print_common(status: Status, console: Console) -> None:
    if not status.common:
        return
    heading(console, "Most common findings")
    for common in status.common:
        say(console, Text(f"{common.rule}: {counted(common.faces, 'face')}. {safe(common.message)}"), "  ")
        words = common_words(common)
        if words:
            say(console, Text(safe(words)), "      ")


def _print_list(console: Console, title: str, lines: Sequence[str]) -> None:
    if not lines:
        return
    heading(console, f"{title} ({len(lines):,})")
    for line in lines[:LISTED_MAX]:
        say(console, Text(safe(line)), "  ")
    if len(lines) > LISTED_MAX:
        say(console, Text(f"and {len(lines) - LISTED_MAX:,} more."), "  ")


def _print_changes(status: Status, console: Console) -> None:
    if status.since is None:
        return
    many = has_many_displays(status.rows)
    lines = [change_words(change, many) for change in status.changes]
    heading(console, f"Changed since {status.since} ({len(lines):,})")
    for line in lines[:LISTED_MAX] or ["nothing"]:
        say(console, Text(safe(line)), "  ")
    if len(lines) > LISTED_MAX:
        say(console, Text(f"and {len(lines) - LISTED_MAX:,} more."), "  ")


def print_history(title: str, entries: Sequence[tuple[Evidence, str, datetime]], console: Console) -> None:
    """All that is known of a store, the oldest first."""
    heading(console, title)
    many = len({evidence.place.display for evidence, _, _ in entries}) > 1
    for evidence, name, _ in entries:
        said = evidence.said
        parts = [KINDS[said.kind], said.verdict or said.answer or "", name]
        face = f"{evidence.place.face} ({evidence.place.display})" if many else evidence.place.face
        line = f"{said.seen_at:%Y-%m-%d %H:%M} UTC  {face}: {', '.join(filter(None, parts))}"
        say(console, Text(safe(line)), "  ")
        for finding in said.findings[:3]:
            say(console, Text(f"{finding.rule}: {finding.message}"), "      ")
