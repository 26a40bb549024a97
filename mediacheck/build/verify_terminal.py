"""A card held against its manifest, for a terminal of any width, with or without colour.

It must not say anything by colour alone, and it must not let a file name steer the terminal.
"""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console
from rich.text import Text

from mediacheck.build.verify_model import Changed, Verified
from mediacheck.names import Severity
from mediacheck.report.terminal import SEVERITY_STYLES, TONES, heading, say, say_about
from mediacheck.report.words import counted, safe, size_words
from mediacheck.rules.manifest import LOOK_FOR

PATHS_MAX = 50
"""Of each kind; the record has all."""
ANOTHER_CARD = (
    "It is the card of another face or of another version, or the manifest is that of another card."
)
HEADLINES = {"pass": "RIGHT", "warn": "RIGHT", "fail": "NOT RIGHT", "incomplete": "NOT SURE"}
CACHE = (
    "The computer may have told some of it from its memory and not from the card. To be sure, take the card "
    "out, put it in again, and run this again."
)


def print_verified(verified: Verified, console: Console) -> None:
    """Print it: the verdict, what is missing, changed or extra, what was not compared."""
    headline = HEADLINES[verified.verdict]
    rest = (answer(verified), "bold")
    say(console, Text.assemble((f"{headline}:", TONES[verified.verdict]), " ", rest))
    about = [("Card", verified.source), ("Manifest", verified.manifest), ("Read", _read(verified))]
    say_about(console, [(name, safe(words)) for name, words in about])
    _wrong(verified, console)
    _to_know(verified, console)
    _not_compared(verified, console)


def answer(verified: Verified) -> str:
    """What was found, in one line."""
    right = len(verified.right)
    wrong = [
        counted(len(paths), *words)
        for paths, words in (
            (verified.missing, ("thing is missing", "things are missing")),
            (verified.changed, ("file is changed", "files are changed")),
            (verified.extra, ("thing is extra", "things are extra")),
            (verified.not_read, ("file cannot be read", "files cannot be read")),
        )
        if paths
    ]
    if verified.is_another_card:
        return f"this is another card, with nothing that is to play by the manifest; {', '.join(wrong)}."
    if wrong:
        return f"{', '.join(wrong)}; {counted(right, 'file is', 'files are')} right."
    if verified.image_right is False and not verified.by_files:
        return "the bytes of this card are not those of the image."
    if not right and verified.image_right is None:
        return "nothing could be compared."
    whole = "every byte of the card" if verified.image_right else ""
    files = {0: "", 1: "the only file", 2: "both files"}.get(right, f"all {right:,} files")
    subjects = [subject for subject in (files, whole) if subject]
    is_right = "is right" if len(subjects) == 1 and right < 2 else "are right"
    return f"{' and '.join(subjects)} {is_right}{_remarks(verified)}."


def _remarks(verified: Verified) -> str:
    gaps = sum(not gap.expected for gap in verified.not_verified)
    parts = (
        f"{counted(len(verified.warnings), 'warning')}" if verified.warnings else "",
        f"{counted(len(verified.left_behind), 'thing')} left by a computer" if verified.left_behind else "",
        f"{counted(gaps, 'thing')} could not be compared" if gaps else "",
    )
    said = ", ".join(filter(None, parts))
    return f"; {said}" if said else ""


def _read(verified: Verified) -> str:
    speed = verified.bytes_read / verified.seconds if verified.seconds else 0
    pace = f", {size_words(round(speed))} a second" if speed else ""
    files, size = counted(verified.files_read, "file"), size_words(verified.bytes_read)
    return f"{files}, {size} in {verified.seconds:.1f} s{pace}"


def _wrong(verified: Verified, console: Console) -> None:
    """Groups of what is wrong, each with what to do."""
    changed = [f"{safe(each.path)} ({_change(each)})" for each in verified.changed]
    unread = [f"{safe(each.path)} ({each.reason})" for each in verified.not_read]
    missing, extra = list(map(safe, verified.missing)), list(map(safe, verified.extra))
    groups = (
        ("MISSING", missing, "Copy it to the card again."),
        ("CHANGED", changed, "Delete it from the card and copy it again from where the card was built."),
        ("EXTRA", extra, "Delete it from the card: the player may show it or stop."),
        ("NOT READ", unread, "Use another card: this one, or its reader, is worn or loose."),
    )
    if any(lines for _, lines, _ in groups):
        heading(console, "What is wrong")
    if verified.is_another_card:
        say(console, Text(ANOTHER_CARD), "  ")
        _say_what_to_do(console, LOOK_FOR)
    for words, lines, action in groups:
        if lines:
            _lines(console, words, lines, "fail")
            if not verified.is_another_card:
                _say_what_to_do(console, action)
    if verified.image_right is False and not verified.by_files:
        heading(console, "What is wrong")
        say(console, Text("The bytes of the whole card differ from those of the image."), "  ")
        _say_what_to_do(console, "Write the image to the card again.")


def _say_what_to_do(console: Console, action: str) -> None:
    say(console, Text.assemble(("What to do: ", "bold"), action), "  ")


def _change(changed: Changed) -> str:
    if changed.what == "size":
        return f"it has {changed.found}, and {changed.wanted} belong there"
    return "it has the right size and other contents"


def _lines(console: Console, words: str, lines: Sequence[str], severity: Severity) -> None:
    for line in lines[:PATHS_MAX]:
        say(console, Text.assemble((f"{words}  ", SEVERITY_STYLES[severity]), line), "", "  ")
    if len(lines) > PATHS_MAX:
        say(console, Text(f"and {len(lines) - PATHS_MAX:,} more"), "  ")


def _to_know(verified: Verified, console: Console) -> None:
    left = [f"{safe(each.path)} ({each.who})" for each in verified.left_behind]
    if verified.warnings or left:
        heading(console, "What to know")
    for warning in verified.warnings:
        say(console, Text(safe(warning)), "- ")
    if left:
        _lines(console, "LEFT BY A COMPUTER", left, "warn")
        say(console, Text("Most players pass over these; some show or stop at them."), "  ")


def _not_compared(verified: Verified, console: Console) -> None:
    if verified.not_verified or verified.past_cache is False:
        heading(console, "What was not checked")
    for gap in verified.not_verified:
        label = Text("") if gap.expected else Text.assemble(("NOT SURE  ", "bold magenta"))
        words = f"{gap.what}: {safe(gap.reason)}"
        say(console, label + Text(words, "dim" if gap.expected else ""), "- ", "  ")
    if verified.past_cache is False:
        say(console, Text(CACHE), "- ", "  ")
