"""One file, looked at in a worker process: its facts, and at full depth what it really shows.

It must not know the profile: the same inspection serves every player.
"""

from __future__ import annotations

import hashlib
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path

from mediacheck.cache import Cache, Key, digest_of
from mediacheck.card.junk import is_junk
from mediacheck.card.within import Within
from mediacheck.errors import ProgramError
from mediacheck.measure.model import Measurements, NotMeasured, Picture
from mediacheck.media.extensions import kind_by_name
from mediacheck.media.facts import MediaFacts, Unreadable
from mediacheck.names import Depth, FileKind
from mediacheck.which_ffmpeg import Program
from mediacheck.worker_process import tell

PICTURE_SIDE_PX = 360
"""As large as a sheet of paper shows a frame at 150 dpi."""
LOOKED_AT = 6
"""Frames of a decode that are looked at for each that is brought back."""
HASH_BLOCK_BYTES = 1 << 20
QUICK_LIMIT_S = 60.0
DECODE_LIMIT_S = 300.0
QUICK_BYTES_S = 1_000_000
"""Slowest reading believed: a worn card in a slow reader (common practice, no source)."""
DECODE_BYTES_S = 100_000
"""Slowest decoding believed: half an hour of a small picture on a small laptop."""


NOT_DECODED = NotMeasured("what is new was not decoded, as was asked for; a check of it will", expected=True)
_State = tuple[int, int] | None
"""Size and time of a file; None where it is gone."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """What to find out about a file besides its facts."""

    depth: Depth
    sha256: bool
    pictures: int = 0
    """How many frames, those that tell most of the file, to bring back for a sheet."""
    ffmpeg: Path | None = None
    """The decoder for full depth."""
    cache: Cache | None = None
    """Where the numbers of an earlier decode may be, and new ones are kept; needs `sha256`."""
    decode: bool = True
    """Whether a video of which no numbers are kept is decoded."""

    def here(self, ffmpeg: Program) -> Wanted:
        """The same on the machine where it is now, whose decoder this is."""
        return replace(
            self, ffmpeg=self.ffmpeg and ffmpeg.path, cache=self.cache.here() if self.cache else None
        )


@dataclass(frozen=True, slots=True)
class Inspection:
    """What was found out about one file. `pictures` are for a sheet; empty unless wanted."""

    kind: FileKind
    facts: MediaFacts | Unreadable | None = None
    measurements: Measurements | NotMeasured | None = None
    sha256: str | None = None
    pictures: tuple[Picture, ...] = ()


@dataclass(frozen=True, slots=True)
class Decoded:
    """Told by a worker process while it decodes: how far it has come in its file.

    `of_seconds` is the length by the headers, None where they give none.
    """

    seconds: float
    of_seconds: float | None


def time_limit_s(location: Path | Within, path: str, size_bytes: int, wanted: Wanted) -> float:
    """How long one inspection may take: a fixed time and more for every byte.

    The decode has a limit of its own and is ended first, so that what the headers said of the file is not
    lost with it.
    """
    headers_s = QUICK_LIMIT_S + size_bytes / QUICK_BYTES_S
    return headers_s if wanted.depth == "quick" else headers_s + decode_limit_s(size_bytes)


def decode_limit_s(size_bytes: int) -> float:
    """How long one decode may take: a fixed time and more for every byte."""
    return DECODE_LIMIT_S + size_bytes / DECODE_BYTES_S


def inspect(location: Path | Within, path: str, size_bytes: int, wanted: Wanted) -> Inspection:
    """Look at the file at `location`, which is `path` on the card. Never raises for what is in the file."""
    if is_junk(path):
        return Inspection("junk")
    try:
        return _inspect(location, path, wanted)
    except OSError as error:
        kind = kind_by_name(path)
        reason = f"it cannot be read ({error.strerror or error})"
        return Inspection(kind, Unreadable(kind, reason))


def _inspect(location: Path | Within, path: str, wanted: Wanted) -> Inspection:
    from mediacheck.media.read import read_facts

    begun = _state(location)
    facts = read_facts(location, path.rpartition("/")[2])
    kind = facts.kind if facts else "other"
    if isinstance(facts, MediaFacts) and facts.video is not None and wanted.depth == "full":
        return _decoded(location, facts, wanted, begun)
    sha256 = sha256_of(location) if wanted.sha256 else None
    pictures = _pictures(location, facts, wanted) if isinstance(facts, MediaFacts) else ()
    return Inspection(kind, facts, sha256=sha256, pictures=pictures)


def _decoded(location: Path | Within, facts: MediaFacts, wanted: Wanted, begun: _State) -> Inspection:
    """The hash is taken beside the decode, unless that may not be needed for what is known under the hash."""
    with ThreadPoolExecutor(1) as beside:
        hashing = beside.submit(sha256_of, location) if wanted.sha256 else None
        key = _key(hashing.result(), facts, wanted) if hashing and wanted.cache else None
        found: Measurements | NotMeasured | None = _known(key, wanted)
        if found is not None or not wanted.decode:
            found = found or NOT_DECODED
            pictures = _pictures(location, facts, wanted)
        else:
            found, pictures = _measured(location, facts, wanted)
            if _state(location) == begun:
                _keep(key, found, wanted)
        return Inspection(facts.kind, facts, found, hashing.result() if hashing else None, pictures)


def _state(location: Path | Within) -> _State:
    """Size and time: another state says that hash and pictures may be of different contents."""
    try:
        found = (location if isinstance(location, Path) else Path(location.medium)).stat()
    except OSError:  # the card was pulled out; what was decoded of it is still told
        return None
    return found.st_size, found.st_mtime_ns


def _key(sha256: str | None, facts: MediaFacts, wanted: Wanted) -> Key | None:
    if sha256 is None or wanted.cache is None:
        return None
    return Key(sha256, wanted.depth, digest_of(facts), wanted.cache.ffmpeg)


def _known(key: Key | None, wanted: Wanted) -> Measurements | None:
    return wanted.cache.find(key) if key and wanted.cache else None


def _keep(key: Key | None, found: Measurements | NotMeasured, wanted: Wanted) -> None:
    if key and wanted.cache and isinstance(found, Measurements):
        wanted.cache.keep(key, found)


def _measured(
    location: Path | Within, facts: MediaFacts, wanted: Wanted
) -> tuple[Measurements | NotMeasured, tuple[Picture, ...]]:
    """One decode gives the measurements and the pictures."""
    if wanted.ffmpeg is None:
        return NotMeasured("no ffmpeg was found to decode it with", expected=False), ()
    from mediacheck.measure.decode import measure

    limit_s = decode_limit_s(_size_bytes(location))
    of_seconds = None if facts.duration is None else float(facts.duration)
    tell(Decoded(0.0, of_seconds))
    try:
        found = measure(
            wanted.ffmpeg,
            location,
            facts,
            LOOKED_AT * wanted.pictures,
            limit_s,
            on_seconds=lambda seconds: tell(Decoded(seconds, of_seconds)),
        )
    except ProgramError as error:
        return NotMeasured(f"the decoder gave no answer: {error}", expected=False), ()
    except OSError as error:
        reason = f"the copy that the decoder needs could not be made ({error.strerror or error})"
        return NotMeasured(reason, expected=False), ()
    from mediacheck.measure.choice import chosen  # its libraries are loaded by now

    return found.measurements, chosen(found.pictures, wanted.pictures)


def _size_bytes(location: Path | Within) -> int:
    return location.stat().st_size if isinstance(location, Path) else location.size_bytes


def _pictures(location: Path | Within, facts: MediaFacts, wanted: Wanted) -> tuple[Picture, ...]:
    if not wanted.pictures:
        return ()
    from mediacheck.measure.frames import telling_pictures

    return telling_pictures(location, facts, wanted.pictures, long_side_px=PICTURE_SIDE_PX)


def sha256_of(location: Path | Within) -> str:
    """SHA-256 of a file's bytes, as 64 hexadecimal digits. Raises OSError."""
    digest = hashlib.sha256()
    with location.open("rb") as file:
        while block := file.read(HASH_BLOCK_BYTES):
            digest.update(block)
    return digest.hexdigest()
