"""Where a copy and what tells of it stand, and whether that place may be used: asked before long work.

It must not write.
"""

from __future__ import annotations

import json
import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from mediacheck.errors import OutputError, WrongUse
from mediacheck.inspection import sha256_of
from mediacheck.repair.record import SCHEMA_NAME


@dataclass(frozen=True, slots=True)
class Places:
    """All that one repair writes. Nothing but the files of the card lies in `out`."""

    out: Path
    work: Path
    """Work in progress; gone when all is done."""
    record: Path
    page: Path

    @property
    def content(self) -> Path:
        """The copy as it grows."""
        return self.work / "content"


def places_for(out: Path) -> Places:
    """ "fixed.fix-report.json" and ".html" beside the folder "fixed"."""
    out = out if out.name not in ("", "..") else Path(os.path.realpath(out))
    return Places(
        out,
        out.with_name(f"{out.name}.partial"),
        out.with_name(f"{out.name}.fix-report.json"),
        out.with_name(f"{out.name}.fix-report.html"),
    )


def require_place(places: Places, source: Path, read: Sequence[Path]) -> Mapping[str, str]:
    """The files of an earlier repair that stand there, with their SHA-256.

    WrongUse or OutputError: nothing may be written there, or what is there was put there by somebody else.
    """
    require_apart(places.out, source)
    if os.path.ismount(places.out):
        raise _refused(
            f"{places.out} is a whole drive: repair into a folder, and fill the card with `mediacheck build`"
        )
    for path in (places.record, places.page):
        if Path(os.path.realpath(path)) in [Path(os.path.realpath(one)) for one in (*read, source)]:
            raise _refused(f"{path} cannot be written: it is only read")
    if not places.out.exists():
        if not places.out.absolute().parent.is_dir():
            raise OutputError(f"{places.out} cannot be written: there is no folder {places.out.parent}")
        return {}
    if not places.out.is_dir():
        raise OutputError(f"{places.out} cannot be written: there is a file of that name")
    return _there(places)


def require_apart(out: Path, source: Path) -> None:
    """WrongUse where a copy, or what stands beside it, would lie in its source, or be written over it."""
    kept = Path(os.path.realpath(source))
    place, beside = Path(os.path.realpath(out)), Path(os.path.realpath(places_for(out).record))
    if place == kept or kept in place.parents or place in kept.parents or kept in beside.parents:
        raise _refused(f"{out} cannot be written: {source} is only read")


def _there(places: Places) -> Mapping[str, str]:
    found = {
        (Path(folder) / name).relative_to(places.out).as_posix(): Path(folder) / name
        for folder, _, names in os.walk(places.out)
        for name in names
    }
    if not found:
        return {}
    listed = _listed(places.record)
    foreign = sorted(set(found) - set(listed))
    if foreign:
        raise _refused(f"{places.out} holds files that no repair put there, such as {foreign[0]}")
    hashes = {path: _hash(place) for path, place in found.items()}
    changed = sorted(path for path, sha256 in hashes.items() if sha256 != listed[path])
    if changed:
        raise _refused(f"{places.out} was changed since it was made: {changed[0]} is another file now")
    return hashes


def _hash(path: Path) -> str:
    try:
        return sha256_of(path)
    except OSError as error:
        raise OutputError(f"{path} cannot be read: {error.strerror or error}") from error


def _listed(record: Path) -> Mapping[str, str]:
    """Paths and hashes of the copy that a record tells of; none where there is no such record."""
    try:
        found = json.loads(record.read_bytes())
        if found["schema"] != SCHEMA_NAME:
            return {}
        items = [item for item in found["items"] if item["sha256"] is not None]
        return {item["path"]: item["sha256"] for item in items}
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return {}


def _refused(sentence: str) -> WrongUse:
    error = WrongUse(sentence)
    error.advice = "Choose another folder."
    return error
