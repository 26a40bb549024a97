"""Remembers what decoding a file showed, so that the same file on the next card costs only the read.

It must not stand in a check's way: whatever is wrong with the cache, the answer is "not known" and nothing is
raised. Entries are JSON and never pickles, since another program could write into the folder.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import asdict, dataclass
from functools import cache as once
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from mediacheck.errors import OutputError
from mediacheck.measure.model import MEASUREMENTS_VERSION, Measurements
from mediacheck.names import Depth
from mediacheck.output import write_atomically

if TYPE_CHECKING:
    from pydantic import TypeAdapter

FOLDER_VARIABLE = "MEDIACHECK_CACHE"
"""Environment variable with the folder to use in place of the platform's."""
ENTRIES_MAX = 5_000
TOTAL_MAX_BYTES = 64 * 1024 * 1024
ENTRY_MAX_BYTES = 1024 * 1024
"""No clip's numbers come near it; what is larger is not ours."""
OWN_NAME = re.compile(r"[0-9a-f]{64}\.json|\.[0-9a-f]{40}\.[0-9a-f]{12}\.partial")
"""Entries, and what a killed process left of writing one. Nothing else in the folder is ever removed."""


@dataclass(frozen=True, slots=True)
class Key:
    """Everything that the measurements follow from. Another value of any field is another entry."""

    sha256: str
    """Of the file's bytes."""
    depth: Depth
    facts: str
    """What the decode was told of the file; see `digest_of`."""
    ffmpeg: str
    """Version of the decoder, as it says itself."""
    version: int = MEASUREMENTS_VERSION


class _Kept(NamedTuple):
    used_ns: int
    size_bytes: int
    path: Path


@dataclass(frozen=True, slots=True)
class Cache:
    """One folder of entries, each a file of its own, for any number of processes at once."""

    folder: Path
    ffmpeg: str
    """Version of the decoder in use."""
    entries_max: int = ENTRIES_MAX
    total_max_bytes: int = TOTAL_MAX_BYTES

    def here(self) -> Cache:
        """The same where it can be written to, else this person's own: for work that another machine sent."""
        with suppress(OSError):
            self.folder.mkdir(parents=True, exist_ok=True)
        return self if os.access(self.folder, os.W_OK) else usual_cache(self.ffmpeg)

    def find(self, key: Key) -> Measurements | None:
        """What was kept under this key; None where nothing was, or what is there cannot be trusted."""
        place = self.folder / _name(key)
        with suppress(OSError, ValueError, RecursionError):
            measurements = _decoded(key, content_of(place))
            with suppress(OSError):
                os.utime(place)  # the one used longest ago goes first
            return measurements
        return None

    def keep(self, key: Key, measurements: Measurements) -> None:
        """Write the entry, if it is worth keeping and comes back the same; then hold the bounds."""
        if not worth_keeping(measurements):
            return
        with suppress(OSError, ValueError, OutputError):
            content = _encoded(key, measurements)
            if len(content) <= ENTRY_MAX_BYTES and _decoded(key, content) == measurements:
                self.folder.mkdir(parents=True, exist_ok=True)
                write_atomically(self.folder / _name(key), content)
                hold_bounds(self.folder, self.entries_max, self.total_max_bytes)


def hold_bounds(folder: Path, entries_max: int, total_max_bytes: int) -> None:
    """Remove the entries that were used longest ago, until both bounds hold. Raises OSError."""
    total_bytes = 0
    for place, entry in enumerate(sorted(_kept(folder), reverse=True)):
        total_bytes += entry.size_bytes
        if place >= entries_max or total_bytes > total_max_bytes:
            with suppress(OSError):
                entry.path.unlink()


def usual_folder() -> Path:
    """Where this person's caches are: the platform's place, or the one that MEDIACHECK_CACHE names."""
    import platformdirs

    named = os.environ.get(FOLDER_VARIABLE)
    folder = Path(named) if named else Path(platformdirs.user_cache_dir("mediacheck", appauthor=False))
    return folder.absolute()


def usual_cache(ffmpeg_version: str) -> Cache:
    """The cache of measurements in the usual place."""
    return Cache(usual_folder() / "measurements", ffmpeg_version)


def worth_keeping(measurements: Measurements) -> bool:
    """Only a decode that saw pictures and had no complaint: a complaint may be the card reader's, once."""
    picture = measurements.decode_error_count or measurements.decode_errors
    sound = measurements.sound_error_count or measurements.sound_errors
    return measurements.frames > 0 and not picture and not sound


def digest_of(facts: object) -> str:
    """SHA-256 of a frozen value, as 64 hexadecimal digits: equal values of these libraries have one digest.

    The decode is planned by the facts, and these follow from the file's name and the libraries as well.
    """
    return hashlib.sha256(repr(facts).encode("utf-8", "backslashreplace")).hexdigest()


def _name(key: Key) -> str:
    return hashlib.sha256(canonical(asdict(key))).hexdigest() + ".json"


def content_of(place: Path) -> bytes:
    """The bytes of one entry. Raises OSError; ValueError for what cannot be an entry."""
    if not place.is_file():  # a pipe of that name would be waited for
        raise ValueError("not a file")
    with place.open("rb") as file:
        content = file.read(ENTRY_MAX_BYTES + 1)
    if len(content) > ENTRY_MAX_BYTES:
        raise ValueError("too large for an entry")
    return content


def _encoded(key: Key, measurements: Measurements) -> bytes:
    """The one way to write an entry. The check digits tell a damaged number from a true one."""
    values = _adapter().dump_python(measurements, mode="json", warnings="error")
    record = {"key": asdict(key), "measurements": values}
    return canonical(record | {"check": hashlib.sha256(canonical(record)).hexdigest()})


def _decoded(key: Key, content: bytes) -> Measurements:
    """Raises ValueError unless these are, byte for byte, what `_encoded` writes for this key."""
    record = json.loads(content)
    if not isinstance(record, dict):
        raise ValueError("not an entry")
    measurements = _adapter().validate_json(canonical(record.get("measurements")), strict=True)
    if _encoded(key, measurements) != content:
        raise ValueError("not an entry of this key")
    return measurements


def canonical(value: object) -> bytes:
    """JSON in the one way in which entries are written. ValueError for numbers that JSON does not have."""
    return json.dumps(value, sort_keys=True, allow_nan=False, separators=(",", ":")).encode()


@once
def _adapter() -> TypeAdapter[Measurements]:
    from pydantic import TypeAdapter

    return TypeAdapter(Measurements)


def _kept(folder: Path) -> Iterator[_Kept]:
    with os.scandir(folder) as listing:
        for found in listing:
            if OWN_NAME.fullmatch(found.name):
                with suppress(OSError):
                    state = found.stat(follow_symlinks=False)
                    yield _Kept(state.st_mtime_ns, state.st_size, Path(found.path))
