"""What is on a card before it is filled: what stays, what may go, and what stops the run.

It must not write.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from mediacheck.build.matching import alone, left_by, with_all_folders
from mediacheck.card.junk import is_junk
from mediacheck.card.model import Card, Entry
from mediacheck.card.opening import open_card
from mediacheck.errors import CardError, ManifestError, OutputError
from mediacheck.manifest.expected import Expected, expected_of, matched, tells_case_apart
from mediacheck.manifest.record import read_manifest
from mediacheck.rules.wording import listed

STAGING = "mediacheck.partial"
"""The folder on the card that holds what is not complete."""
EMPTY_IT = "Format the card, or use --replace to remove what its manifest lists."
FORMAT_IT = "Format the card, or name its own manifest with --manifest."


@dataclass(frozen=True, slots=True)
class There:
    """A card before it is filled. What is not named here was left by computers, and stays."""

    card: Card
    old: tuple[str, ...] = ()
    """Files that the manifest lists, and that are to go."""
    old_folders: tuple[str, ...] = ()
    old_bytes: int = 0


def what_is_there(target: Path, earlier: Path | None) -> There:
    """Look at the card. `earlier` is the manifest of what may be removed; None: it must be empty.

    OutputError: there is something that neither a computer left nor the manifest lists.
    """
    card = opened_card(target)
    files = [entry for entry in card.entries if not _is_unfinished(entry.path) and not left_by(entry.path)]
    folders = [path for path in card.folders if not _is_unfinished(path) and not is_junk(path)]
    found = _with_folders([entry.path for entry in files], folders)
    if not found:
        return There(card)
    if earlier is None:
        raise refused(f"{target} is not empty ({listed(found)})", EMPTY_IT)
    try:
        expected = with_all_folders(expected_of(read_manifest(earlier)))
    except ManifestError as error:
        raise refused(f"{target} is not empty ({listed(found)}), and {error}", FORMAT_IT) from error
    old = _of_the_manifest(files, expected, card)
    known = matched(expected.folders or (), folders, tells_case_apart(card))
    foreign = _with_folders(
        [entry.path for entry in files if entry not in old], [folders[place] for place in known.extra]
    )
    if foreign:
        raise refused(
            f"{target} holds what {earlier} does not list, and nothing was removed: {listed(foreign)}",
            FORMAT_IT,
        )
    return There(card, tuple(e.path for e in old), tuple(folders), sum(e.size_bytes for e in old))


def _of_the_manifest(files: Sequence[Entry], expected: Expected, card: Card) -> list[Entry]:
    wanted, there = [file.path for file in expected.files], [entry.path for entry in files]
    return [
        files[place]
        for number, place in matched(wanted, there, tells_case_apart(card)).pairs
        if not files[place].unusable and files[place].size_bytes == expected.files[number].size_bytes
    ]


def _with_folders(files: Sequence[str], folders: Sequence[str]) -> list[str]:
    return [*files, *alone(folders, files)]


def _is_unfinished(path: str) -> bool:
    """Whether an earlier run left it, when it was killed."""
    return path.startswith(f"{STAGING}/") or path == STAGING


def opened_card(target: Path) -> Card:
    """The card that is filled. OutputError: there is none."""
    try:
        return open_card(target)
    except CardError as error:
        raise OutputError(str(error)) from error


def refused(text: str, advice: str) -> OutputError:
    """An error with what to do."""
    error = OutputError(text)
    error.advice = advice
    return error
