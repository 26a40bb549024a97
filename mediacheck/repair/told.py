"""A plan or an outcome for a terminal: what is done with each file, what to ask for, what was proved.

It must not decide anything.
"""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console
from rich.text import Text

from mediacheck.inspection import NOT_DECODED
from mediacheck.repair.model import Ask, Change, Item, LeftOut, Likeness, Made
from mediacheck.repair.outcome import Fixed, Planned, Result
from mediacheck.report.terminal import heading, say, say_about, say_next
from mediacheck.report.words import safe
from mediacheck.rules.wording import listed, size

CALLED: dict[Change, str] = {
    "copy": "as it is",
    "move": "new name or place",
    "container": "wrapped anew",
    "sound": "new sound",
    "picture": "encoded again",
    "still": "written again",
}
ASKED_MAX = 50
UNPROVED = (
    "What is new was not looked at again (--no-proof): whether it shows what its master shows is not known. "
    "The check before a card is built looks at it, but does not compare."
)


def print_plan(planned: Planned, console: Console) -> None:
    """What would be done, with size and time."""
    plan = planned.plan
    say(console, Text(f"Plan for {safe(planned.before.profile.title or planned.before.profile.id)}", "bold"))
    expected = sum(item.expected_bytes for item in plan.items)
    took_s = sum(item.expected_s for item in plan.items)
    about = [("Source", safe(planned.before.source)), ("Size", f"about {size(expected)}")]
    say_about(console, [*about, ("Time", f"about {duration(took_s)}")])
    heading(console, "What would be done")
    for item in plan.items:
        _item(item, console, f"about {size(item.expected_bytes)}, {duration(item.expected_s)}")
    _left_out(plan.left_out, console)
    _asks(plan.asks, console)
    _notes(plan.notes, console)


def print_fixed(fixed: Fixed, console: Console, record: str, page: str | None) -> None:
    """What was done, what was proved, and what comes next."""
    title, style = _headline(fixed)
    say(console, Text(title, style))
    about = [("Copy", safe(str(fixed.out))), ("Record", safe(record))]
    say_about(console, [*about, *([("Page", safe(page))] if page else [])])
    heading(console, "What was done")
    for result in fixed.results:
        _result(result, console)
    _left_out(fixed.planned.plan.left_out, console)
    _asks(fixed.asks, console)
    _notes((*notes_of(fixed), *_warnings(fixed)), console)
    if fixed.verdict in ("pass", "warn"):
        profile = fixed.planned.loaded.option
        say_next(console, ("mediacheck", "build", str(fixed.out), "--profile", profile, "--out", "card.img"))


def duration(seconds: float) -> str:
    """As people say it: "2 min", "40 s"."""
    if seconds < 90:
        return f"{max(1, round(seconds))} s"
    return f"{round(seconds / 60)} min" if seconds < 5400 else f"{seconds / 3600:.1f} h"


def proof_words(made: Made) -> str:
    """What was proved of a new file, in one line."""
    parts = [f"{same.stream} unchanged ({same.of})" for same in made.same]
    if made.likeness is not None:
        parts.append(_likeness(made.likeness))
    if made.loudness_lufs is not None:
        parts.append(f"{made.loudness_lufs:.1f} LUFS")
    return ", ".join(parts)


def by_path(asks: Sequence[Ask]) -> list[tuple[str, list[Ask]]]:
    """All that is asked of one file together, in the order in which files come up."""
    groups: dict[str, list[Ask]] = {}
    for ask in asks:
        groups.setdefault(safe(ask.path or "All together"), []).append(ask)
    return list(groups.items())


def why(item: Item) -> tuple[str, ...]:
    """Each step with its rules."""
    return tuple(f"{step.what} ({', '.join(step.rules)})" if step.rules else step.what for step in item.steps)


def notes_of(fixed: Fixed) -> tuple[str, ...]:
    """Those of the plan, and what was left unproved."""
    return (*fixed.planned.plan.notes, *((UNPROVED,) if is_unproved(fixed) else ()))


def is_unproved(fixed: Fixed) -> bool:
    """Whether something of the copy was not decoded, as was asked for."""
    gaps = fixed.after.not_checked if fixed.after else ()
    return any(gap.reason == NOT_DECODED.reason for gap in gaps)


def _headline(fixed: Fixed) -> tuple[str, str]:
    made = sum(result.failed is None for result in fixed.results)
    files = f"{made} file" if made == 1 else f"{made} files"
    if not fixed.changed and fixed.verdict in ("pass", "warn"):
        right = "but not proved" if is_unproved(fixed) else "and right"
        return f"DONE ALREADY: all {files} are there {right}.", "bold green"
    if fixed.verdict == "pass" and is_unproved(fixed):
        return f"MADE, NOT PROVED: all {files} pass the check of what was looked at.", "bold green"
    return {
        "pass": (f"FIXED: all {files} pass their check.", "bold green"),
        "warn": (f"FIXED: {files}; some things should be looked at.", "bold yellow"),
        "fail": (f"NOT ALL FIXED: {files} are there, and something must be asked for.", "bold red"),
        "incomplete": (f"NOT SURE: {files} are there, and not all could be checked.", "bold magenta"),
    }[fixed.verdict]


def _likeness(found: Likeness) -> str:
    digits = 1 if found.measure == "VMAF" else 4
    step = "each frame" if found.every == 1 else f"1 frame in {found.every}"
    return (
        f"{found.measure} {found.value:.{digits}f} (floor {found.floor:.{digits}f}, worst "
        f"{found.worst:.{digits}f}, {step})"
    )


def _item(item: Item, console: Console, rest: str) -> None:
    old, new = safe(item.source.entry.path), safe(item.path)
    name = old if old == new else f"{old} -> {new}"
    say(console, Text(f"{CALLED[item.change]}: {name}", "bold" if item.steps else ""), "", "  ")
    for line in why(item):
        say(console, Text(line), "  ", "    ")
    if item.recipe is not None:
        say(console, Text(rest, "dim"), "  ", "    ")


def _result(result: Result, console: Console) -> None:
    if result.failed is not None:
        say(console, Text(f"NOT MADE: {safe(result.item.source.entry.path)}", "bold red"))
        say(console, Text(safe(result.failed.problem)), "  ")
        say(console, Text(f"What to do: {safe(result.failed.ask)}"), "  ")
        return
    proof = proof_words(result.made) if result.made else ""
    _item(result.item, console, f"{size(result.size_bytes)}{'; ' if proof else ''}{proof}")
    for note in result.made.notes if result.made else ():
        say(console, Text(safe(note)), "  ")


def _left_out(left_out: Sequence[LeftOut], console: Console) -> None:
    if left_out:
        heading(console, "What was left out")
    for left in left_out:
        say(console, Text(f"{safe(left.path)}: {left.why}"), "- ", "  ")


def _asks(asks: Sequence[Ask], console: Console) -> None:
    if asks:
        heading(console, "What to ask for")
    groups = by_path(asks)
    for path, some in groups[:ASKED_MAX]:
        say(console, Text(path, "bold"))
        for ask in some:
            say(console, Text(safe(ask.problem)), "  ")
        for words in dict.fromkeys(ask.ask for ask in some):
            say(console, Text(f"What to do: {safe(words)}"), "  ")
    if len(groups) > ASKED_MAX:
        say(console, Text(f"... and {len(groups) - ASKED_MAX} more, which the record lists."))


def _notes(notes: Sequence[str], console: Console) -> None:
    if notes:
        heading(console, "What to know")
    for note in notes:
        say(console, Text(safe(note)), "- ", "  ")


def _warnings(fixed: Fixed) -> tuple[str, ...]:
    """What the check of the copy still says, rule by rule."""
    found = [finding for finding in fixed.after.findings if finding.severity != "note"] if fixed.after else []
    rules = sorted({finding.rule for finding in found})
    return tuple(
        f"{rule} remains: {listed([f.path or 'the whole' for f in found if f.rule == rule])}."
        for rule in rules
    )
