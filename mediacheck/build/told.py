"""Tells in a few lines what was built: what names the card, what plays, and what to do next.

It must not decide anything.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.console import Console
from rich.text import Text

from mediacheck.build.build import Built, Order
from mediacheck.card.junk import is_junk
from mediacheck.manifest.model import Manifest
from mediacheck.programs import shown
from mediacheck.report.model import Report
from mediacheck.report.terminal import heading, say, say_about
from mediacheck.report.words import counted, safe
from mediacheck.rules.wording import listed, size

ITEMS_SHOWN = 50
NOTES_SHOWN = 20


def print_built(built: Built, order: Order, console: Console) -> None:
    """Print what was built. `built` has a manifest."""
    manifest = built.manifest
    assert manifest is not None
    say(console, Text.assemble(_headline(built, order), " ", (safe(str(order.out)), "bold")))
    say_about(console, [*_about(manifest, built), *_files(built)])
    heading(console, "What will play")
    for number, path in enumerate(manifest.play_order[:ITEMS_SHOWN], 1):
        say(console, Text(safe(path)), f"  {number:>{len(str(len(manifest.play_order)))}}. ")
    if len(manifest.play_order) > ITEMS_SHOWN:
        say(console, Text(f"and {len(manifest.play_order) - ITEMS_SHOWN:,} more"), "  ")
    _say_notes([*_filled_notes(built, order), *_left_out(manifest), *_warnings(built.report)], console)
    heading(console, "What to do next")
    _say_whole(_next(built, order), console)


def _say_whole(command: str, console: Console) -> None:
    """On one line, however long: it is copied from here into a terminal."""
    say(Console(file=console.file, width=2 * len(command) + 1), Text(command))


def why_not_built(report: Report) -> str:
    """In one sentence or two."""
    if report.verdict == "fail":
        return (
            "nothing was built, since this card would not pass its check. See to what is named above, or "
            "build it as it is with --even-so."
        )
    return (
        "nothing was built, since not everything could be checked. See to what is named above and run the "
        "same command again, or build it as it is with --even-so."
    )


def out_of_order(built: Built, order: Order) -> bool:
    """Whether a card was filled in another order, and the player goes by that on the disk."""
    by_disk = order.loaded.profile.player.order == "disk"
    return by_disk and built.filled is not None and built.filled.order is False


def _headline(built: Built, order: Order) -> tuple[str, str]:
    if out_of_order(built, order):
        return "Filled, but NOT in the order that was wanted:", "bold red"
    return ("Built:" if built.filled is None else "Filled and read back:"), "bold green"


def _say_notes(notes: Sequence[str], console: Console) -> None:
    if notes:
        heading(console, "What to know")
    for note in notes[:NOTES_SHOWN]:
        say(console, Text(safe(note)), "- ", "  ")
    if len(notes) > NOTES_SHOWN:
        say(console, Text(f"and {len(notes) - NOTES_SHOWN:,} more: `mediacheck check` tells all"), "  ")


def _about(manifest: Manifest, built: Built) -> Iterator[tuple[str, str]]:
    if manifest.image:
        yield "SHA-256", manifest.image.sha256
    if manifest.file_system:
        table = f", {manifest.partition_table}" if manifest.partition_table not in (None, "none") else ""
        label = f', label "{manifest.label}"' if manifest.label else ", no label"
        yield "card", f"{manifest.file_system}{table}{label}"
    if manifest.image:
        free = built.report.volume.free_bytes if built.report.volume else None
        left = f", {size(free)} free" if free is not None else ""
        yield "size", f"{size(manifest.image.size_bytes)}{left}"
    seconds = "" if manifest.loop_seconds is None else f", {manifest.loop_seconds:.1f} s a round"
    yield "loop", f"{counted(len(manifest.play_order), 'item')}{seconds}"
    yield "check", _check(built.report, manifest)


def _check(report: Report, manifest: Manifest) -> str:
    warnings = sum(found.severity == "warn" for found in report.findings)
    depth = f"{manifest.depth} depth"
    if manifest.even_so:
        fails = sum(found.severity == "fail" for found in report.findings)
        what = f"FAILED ({counted(fails, 'fault')}" if fails else "NOT SURE (not everything could be checked"
        return f"{what}, {depth}), and built even so, as was asked: the manifest says so"
    return f"passed with {counted(warnings, 'warning')} ({depth})" if warnings else f"passed ({depth})"


def _files(built: Built) -> Iterator[tuple[str, str]]:
    assert built.beside is not None
    yield "manifest", str(built.beside.manifest)
    yield "sums", str(built.beside.sums)


def _filled_notes(built: Built, order: Order) -> Iterator[str]:
    filled = built.filled
    if filled is None:
        return
    if out_of_order(built, order):
        yield "This player goes by the order on the disk, and the card was not freshly formatted."
    elif filled.order is None and order.loaded.profile.player.order == "disk":
        yield (
            "The order on the card could not be read back here: the files were put there in order"
            + (", but the card was not freshly formatted, which may mix them up." if filled.removed else ".")
        )
    if not filled.past_cache:
        yield (
            "What was read back may have come from the computer's memory: take the card out, put it in "
            "again, and run `mediacheck verify` on it."
        )
    if filled.left_by_computers:
        yield f"A computer left this on the card, and it stays: {listed(filled.left_by_computers)}."


def _left_out(manifest: Manifest) -> Iterator[str]:
    junk = [path for path in manifest.left_out if is_junk(path)]
    unreadable = [path for path in manifest.left_out if not is_junk(path)]
    if unreadable:
        yield f"NOT on the card, since it cannot be read: {listed(unreadable)}."
    if junk:
        yield f"Left out, since a player has no use for it: {listed(junk)}."


def _warnings(report: Report) -> Iterator[str]:
    for found in report.findings:
        if found.severity == "warn":
            yield found.message if found.path is None else f"{found.path}: {found.message}"


def _next(built: Built, order: Order) -> str:
    assert built.beside is not None
    if out_of_order(built, order):
        return "Format the card and run the same command again."
    if built.filled:
        return shown(["mediacheck", "verify", str(order.out), "--manifest", str(built.beside.manifest)])
    return f"{shown(['mediacheck', 'write', str(order.out)])} DEVICE"
