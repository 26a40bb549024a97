"""Tells in a few lines what was built: what names the card, what plays, and what to do next.

It must not decide anything.
"""

from __future__ import annotations

from collections.abc import Iterator

from rich.console import Console
from rich.text import Text

from mediacheck.build.build import Built, Order
from mediacheck.build.fill import Filled
from mediacheck.manifest.model import Manifest
from mediacheck.report.model import Report
from mediacheck.report.terminal import heading, say, say_about
from mediacheck.rules.wording import listed, size

ITEMS_SHOWN = 50


def print_built(built: Built, order: Order, console: Console) -> None:
    """Print what was built. `built` has a manifest."""
    manifest = built.manifest
    assert manifest is not None
    done = "Built" if built.filled is None else "Filled and read back"
    say(console, Text.assemble((f"{done}:", "bold green"), " ", (str(order.out), "bold")))
    say_about(console, [*_about(manifest, built), *_files(built)])
    heading(console, "What will play")
    for number, path in enumerate(manifest.play_order[:ITEMS_SHOWN], 1):
        say(console, Text(path), f"  {number:>{len(str(len(manifest.play_order)))}}. ")
    if len(manifest.play_order) > ITEMS_SHOWN:
        say(console, Text(f"and {len(manifest.play_order) - ITEMS_SHOWN:,} more"), "  ")
    notes = [*_notes(manifest, built.report), *(_filled_notes(built.filled) if built.filled else ())]
    if notes:
        heading(console, "What to know")
        for note in notes:
            say(console, Text(note), "- ")
    heading(console, "What to do next")
    say(console, Text(_next(built, order)))


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
    yield "loop", f"{len(manifest.play_order):,} items{seconds}"
    yield "check", _check(built.report, manifest)


def _check(report: Report, manifest: Manifest) -> str:
    warnings = sum(found.severity == "warn" for found in report.findings)
    depth = f"{manifest.depth} depth"
    if manifest.even_so:
        fails = sum(found.severity == "fail" for found in report.findings)
        return f"FAILED ({fails} faults, {depth}), and built even so, as was asked: the manifest says so"
    return f"passed with {warnings} warnings ({depth})" if warnings else f"passed ({depth})"


def _files(built: Built) -> Iterator[tuple[str, str]]:
    assert built.beside is not None
    yield "manifest", str(built.beside.manifest)
    yield "sums", str(built.beside.sums)


def _notes(manifest: Manifest, report: Report) -> Iterator[str]:
    if manifest.left_out:
        yield f"Left out, since a player has no use for it: {listed(manifest.left_out)}."
    for found in report.findings:
        if found.severity == "warn":
            yield found.message if found.path is None else f"{found.path}: {found.message}"


def _filled_notes(filled: Filled) -> Iterator[str]:
    if not filled.past_cache:
        yield (
            "What was read back may have come from the computer's memory: take the card out, put it in "
            "again, and run `mediacheck verify` on it."
        )
    if filled.order is None:
        yield "The order on the card could not be read back here: the files were put there in order."
    elif not filled.order:
        yield (
            "The order on the card is NOT the order that was wanted, since the card was not freshly "
            "formatted: format it and run the same command again."
        )
    if filled.left_by_computers:
        yield f"A computer left this on the card, and it stays: {listed(filled.left_by_computers)}."


def _next(built: Built, order: Order) -> str:
    assert built.beside is not None
    if built.filled:
        return f"mediacheck verify {order.out} --manifest {built.beside.manifest}"
    return f"mediacheck write {order.out} DEVICE"
