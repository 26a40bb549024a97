"""Reads a new image back with the reader that checks use, and compares it with its plan.

It must not read the files' contents: their bytes were hashed when they were written, and `verify` reads them.
"""

from __future__ import annotations

from pathlib import Path

from mediacheck.build.plan import ImagePlan
from mediacheck.card.model import Card
from mediacheck.card.opening import open_card
from mediacheck.card.within import Within
from mediacheck.errors import MediacheckError


def prove(image: Path, plan: ImagePlan) -> None:
    """MediacheckError: the image is not as planned, a mistake of ours: it must not be handed out."""
    card = open_card(image)
    wrong = next(
        (f"{what} is {found}, not {meant}" for what, found, meant in _facts(card, plan) if found != meant),
        None,
    )
    if wrong:
        raise MediacheckError(f"The new image does not read back as it was planned: {wrong}")


def _facts(card: Card, plan: ImagePlan) -> list[tuple[str, object, object]]:
    """What is compared: a name, what was read, what was planned."""
    volume = card.volume
    entries = [file.entry for file in plan.content.files]
    return [
        ("the damage on it", [damage.what for damage in card.damage or ()], []),
        ("what stands in its way", card.unlisted or card.raw_reason, None),
        ("the file system", volume and volume.file_system, plan.shape.file_system),
        ("the partition table", volume and volume.partition_table, plan.shape.table),
        ("the label", volume and volume.label, plan.volume.label),
        ("the free space", volume and volume.free_bytes, plan.laid_out.free_bytes),
        (
            "the list of files",
            [(e.path, e.size_bytes) for e in card.entries],
            [(e.path, e.size_bytes) for e in entries],
        ),
        ("the list of folders", sorted(card.folders), sorted(plan.content.folders)),
        (
            "the place of a file",
            [_place(entry.location) for entry in card.entries],
            [placed.start_byte if placed.size_bytes else None for placed in plan.laid_out.files],
        ),
    ]


def _place(location: Path | Within) -> int | None:
    """Where a file begins, if it lies in one piece."""
    whole = location.whole if isinstance(location, Within) else None
    return whole.start_byte if whole and whole.length_bytes else None
