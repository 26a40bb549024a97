"""Remembers what was converted before, so that the same master for the same target is not converted again.

It must not stand in a repair's way: whatever is wrong with it, the answer is "not known" and nothing is
raised. Entries are JSON and never pickles, and a file is believed only after its bytes hash to what the entry
says.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import stat
from contextlib import suppress
from dataclasses import asdict, dataclass
from functools import cache as once
from pathlib import Path
from typing import TYPE_CHECKING

from mediacheck.cache import ENTRIES_MAX, ENTRY_MAX_BYTES, TOTAL_MAX_BYTES, canonical, content_of, hold_bounds
from mediacheck.cache import usual_folder as folder_of_caches
from mediacheck.errors import OutputError
from mediacheck.inspection import sha256_of
from mediacheck.output import place_beside, write_atomically
from mediacheck.repair.model import Made

if TYPE_CHECKING:
    from pydantic import TypeAdapter

SETTINGS_VERSION = 1
"""Raise it when the same recipe makes another file, or `Made` says something else of it."""


@dataclass(frozen=True, slots=True)
class Key:
    """Everything that a new file and its proof follow from. Another value of any field is another entry."""

    master_sha256: str
    recipe: str
    """`cache.digest_of` the recipe."""
    ffmpeg: str
    """Its version, as it says itself."""
    quality_floor: float | None
    """None: made without proof."""
    version: int = SETTINGS_VERSION


@dataclass(frozen=True, slots=True)
class Kept:
    """One folder of entries, each a file of its own, for any number of processes at once."""

    folder: Path
    entries_max: int = ENTRIES_MAX
    total_max_bytes: int = TOTAL_MAX_BYTES

    def bring(self, key: Key, out: Path) -> Made | None:
        """Put the file that was made under this key at `out`; None where there is none to be trusted.

        It is the very same file where both are on one disk (another name of it), else a copy.
        """
        place = self.folder / _name(key)
        with suppress(OSError, ValueError, RecursionError, OutputError):
            file, made = _decoded(key, content_of(place))
            with place_beside(out, out.suffix) as beside:
                _take(file, beside.path)
                if not _is(beside.path, made):
                    raise ValueError("another file by now")
                beside.settle()
            with suppress(OSError):
                os.utime(place)  # the one used longest ago goes first
            return made
        return None

    def keep(self, key: Key, file: Path, made: Made) -> None:
        """Note where the file that was made under this key stands now; then hold the bounds."""
        with suppress(OSError, ValueError, OutputError):
            content = _encoded(key, file.absolute(), made)
            if len(content) <= ENTRY_MAX_BYTES and _decoded(key, content) == (file.absolute(), made):
                self.folder.mkdir(parents=True, exist_ok=True)
                write_atomically(self.folder / _name(key), content)
                hold_bounds(self.folder, self.entries_max, self.total_max_bytes)


def usual_kept() -> Kept:
    """In the usual place of this person's caches."""
    return Kept(folder_of_caches() / "converted")


def _take(file: Path, out: Path) -> None:
    """Raises OSError; ValueError for what is no plain file: a pipe would be waited for."""
    if not stat.S_ISREG(file.lstat().st_mode):
        raise ValueError("not a file")
    try:
        os.link(file, out, follow_symlinks=False)
    except (OSError, NotImplementedError):  # another disk, or a file system without second names
        shutil.copyfile(file, out, follow_symlinks=False)


def _is(file: Path, made: Made) -> bool:
    return file.stat().st_size == made.size_bytes and sha256_of(file) == made.sha256


def _name(key: Key) -> str:
    return hashlib.sha256(canonical(asdict(key))).hexdigest() + ".json"


def _encoded(key: Key, file: Path, made: Made) -> bytes:
    """The one way to write an entry. The check digits tell a damaged value from a true one."""
    values = _adapter().dump_python(made, mode="json", warnings="error")
    record = {"key": asdict(key), "file": str(file), "made": values}
    return canonical(record | {"check": hashlib.sha256(canonical(record)).hexdigest()})


def _decoded(key: Key, content: bytes) -> tuple[Path, Made]:
    """Raises ValueError unless these are, byte for byte, what `_encoded` writes for this key."""
    record = json.loads(content)
    if not isinstance(record, dict) or not isinstance(record.get("file"), str):
        raise ValueError("not an entry")
    file, made = Path(record["file"]), _adapter().validate_json(canonical(record.get("made")), strict=True)
    if _encoded(key, file, made) != content:
        raise ValueError("not an entry of this key")
    return file, made


@once
def _adapter() -> TypeAdapter[Made]:
    from pydantic import TypeAdapter

    return TypeAdapter(Made)
