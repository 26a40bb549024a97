"""Which loop is on a card, in a clip or in photos, among those of a library, or of one display.

It must not print, and not decide about exit codes.
"""

from __future__ import annotations

import hashlib
import warnings
from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import ImageOps

from mediacheck import photos as phone
from mediacheck.display import folded
from mediacheck.display_files import DisplayFace, LoadedDisplay, LoadedFace
from mediacheck.errors import LibraryError, WorkerError, WrongUse
from mediacheck.identify.answers import PhotoAnswer, answer_photos
from mediacheck.identify.clips import Cuts, Found
from mediacheck.identify.footage import footage
from mediacheck.identify.gallery import Gallery
from mediacheck.identify.indexing import SHOWN, card_of
from mediacheck.identify.library import Library, LoopNamed
from mediacheck.identify.model import Identified, LoopFound
from mediacheck.identify.traces import Trace, Tracer
from mediacheck.loop_content import content_key
from mediacheck.manifest.model import Manifest
from mediacheck.media.extensions import kind_by_name
from mediacheck.media.facts import MediaFacts
from mediacheck.media.opening import Location
from mediacheck.media.read import read_facts
from mediacheck.photos import BROKEN, FORMATS, PIXELS_MAX

PHOTO_MAX_BYTES = 200_000_000
PHOTO_PX = 1600
"""A photo is made this small before it is searched."""
BLOCK_BYTES = 1 << 20
PHOTOS_MAX = 12


@dataclass(frozen=True, slots=True)
class Known:
    """A loop that may be shown, with the face that it belongs on where a display says so."""

    loop: LoopNamed
    display: str | None = None
    face: str | None = None
    version: str | None = None
    belongs: bool = True
    """Whether it is the version that belongs on the face now."""


def candidates(library: Library, display: LoadedDisplay | None) -> tuple[Known, ...]:
    """All loops of the library; of a display, those that its faces name. LibraryError: none."""
    if display is None:
        found = tuple(Known(loop, version=loop.version or None) for loop in library.loops)
    else:
        found = tuple(known for face in display.faces for known in _of_face(library, display, face))
    if not found:
        where = f"the loops of {display.source}" if display else "any loop"
        raise LibraryError(f"The library {library.folder} does not hold {where}.")
    return found


def _of_face(library: Library, display: LoadedDisplay, face: LoadedFace) -> list[Known]:
    """By the name of the loop in the library, else by the files of its manifests or items."""
    loop, id_ = face.face.loop, display.display.id
    wanted: dict[str, tuple[str | None, bool]] = {}
    digests = [item.sha256 for item in loop.items]
    if face.manifest is not None:
        _add(
            wanted, content_key(f.sha256 for f in face.manifest.files if f.kind in SHOWN), loop.version, True
        )
    elif digests and all(digests):
        _add(wanted, content_key(filter(None, digests)), loop.version, True)
    for version, manifest in zip(loop.earlier, face.earlier, strict=True):
        _add(wanted, _content_of(manifest), version.name, False)
    found = []
    for one in library.loops:
        if loop.library and folded(one.name) == folded(loop.library):
            found.append(Known(one, id_, face.name, loop.version or None))
        elif one.content in wanted:
            version_name, belongs = wanted[one.content or ""]
            found.append(Known(one, id_, face.name, version_name or None, belongs))
    return found


def _content_of(manifest: Manifest) -> str | None:
    return content_key(file.sha256 for file in manifest.files if file.kind in SHOWN)


def _add(wanted: dict[str, tuple[str | None, bool]], key: str | None, version: str, belongs: bool) -> None:
    if key is not None:
        wanted.setdefault(key, (version, belongs))


def identify(
    files: Sequence[Path],
    library: Library,
    display: LoadedDisplay | None = None,
    face: DisplayFace | None = None,
    pool: Executor | None = None,
) -> tuple[Identified, PhotoAnswer | None]:
    """Look at one card, one clip, or photos of one screen. WrongUse, LibraryError, CardError."""
    known = candidates(library, display)
    kinds = {_kind(file) for file in files}
    if len(kinds) > 1 or (len(files) > 1 and kinds != {"photo"}):
        raise WrongUse("Several files are looked at together only if all are photos of one screen.")
    seen = None
    if kinds == {"photo"}:
        found, seen = _photos(files, library, known)
    elif kinds == {"clip"}:
        found = _clip(files[0], library, known, pool)
    else:
        found = _card(files[0], library, known, pool)
    return _held(found, display, face, known), seen


def _kind(file: Path) -> str:
    if file.is_dir():
        return "card"
    if not file.exists():
        raise WrongUse(f"There is no file {file}.")
    kind = kind_by_name(file.name)
    if kind == "video":
        return "clip"
    if kind == "still" or file.suffix.casefold() in (".heic", ".heif"):
        return "photo"
    return "card"


def _held(
    found: Identified, display: LoadedDisplay | None, face: DisplayFace | None, known: Sequence[Known]
) -> Identified:
    """Against the face that was asked for."""
    found = replace(found, display=display.display.id if display else None)
    if face is None:
        return found
    belonging = {one.loop.name for one in known if one.face == face.face.name and one.belongs}
    right: bool | None = None
    if found.answer == "match":
        right = found.loops[0].name in belonging
    elif (
        found.answer == "one of" and not belonging & {loop.name for loop in found.loops}
    ) or found.answer in ("other version", "none"):
        right = False
    return replace(found, face=face.face.name, right_face=right)


def _named(known: Known, from_s: float | None, until_s: float | None, sure: float) -> LoopFound:
    return LoopFound(known.loop.name, known.display, known.face, known.version, from_s, until_s, sure)


# --- photos


def _photos(
    files: Sequence[Path], library: Library, known: Sequence[Known]
) -> tuple[Identified, PhotoAnswer]:
    if len(files) > PHOTOS_MAX:
        raise WrongUse(f"More than {PHOTOS_MAX} photos of one screen tell no more.")
    opened = [open_photo(file) for file in files]
    gallery = Gallery(library.entries([one.loop for one in known]))
    threads = cv2.getNumThreads()
    cv2.setNumThreads(1)
    try:
        answer = answer_photos([photo for photo, _ in opened], gallery)
    finally:
        cv2.setNumThreads(threads)
    loops = tuple(_named(known[one.loop], *one.seconds, one.probability) for one in answer.loops)
    taken = next((moment for _, moment in opened if moment is not None), None)
    found = Identified(
        "photo", tuple(map(str, files)), answer.answer, answer.reason, loops, _now(), _in_utc(taken)
    )
    return found, answer


def _in_utc(moment: datetime | None) -> datetime | None:
    return moment.astimezone(UTC).replace(microsecond=0) if moment and moment.tzinfo else None


def open_photo(file: Path) -> tuple[NDArray[np.uint8], datetime | None]:
    """A photo the right way up, RGB, and when it was taken. WrongUse, in one sentence."""
    from PIL import Image

    try:
        if file.stat().st_size > PHOTO_MAX_BYTES:
            raise WrongUse(f"{file} is larger than any photo.")
        with file.open("rb") as content:
            if phone.is_heic(content.read(32)):
                raise WrongUse(
                    f"{file} is a HEIC photo: set the phone to save JPEG, or send the photo as JPEG."
                )
            content.seek(0)
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                image = Image.open(content, formats=FORMATS)
                if image.width * image.height > PIXELS_MAX:
                    raise WrongUse(f"{file} has more pixels than any photo.")
                taken = phone.taken_at(image)
                image.draft("RGB", (PHOTO_PX, PHOTO_PX))
                seen = ImageOps.exif_transpose(image).convert("RGB")
    except WrongUse:
        raise
    except (*BROKEN, Image.DecompressionBombError) as error:
        raise WrongUse(f"{file} is no photo that can be read: {_short(error)}.") from error
    seen.thumbnail((PHOTO_PX, PHOTO_PX), Image.Resampling.BOX)
    return np.asarray(seen, np.uint8), taken


def _short(error: Exception) -> str:
    text = " ".join(str(error).split())
    return "it breaks off or is something else" if not text or "identify" in text else text[:120].rstrip(".")


# --- clips


def trace_of(location: Location, name: str) -> tuple[str, Trace | None]:
    """In a worker process: a file's SHA-256, and what it shows along time; None: nothing can be decoded."""
    digest = hashlib.sha256()
    try:
        with location.open("rb") as content:
            while block := content.read(BLOCK_BYTES):
                digest.update(block)
    except OSError:
        return "", None
    facts = read_facts(location, name)
    if not isinstance(facts, MediaFacts) or facts.kind == "audio":
        return digest.hexdigest(), None
    tracer = Tracer()
    for second, picture in footage(location, facts):
        tracer.see(second, picture)
    trace = tracer.result()
    return digest.hexdigest(), trace if len(trace) else None


def _traced(location: Location, name: str, pool: Executor | None) -> tuple[str, Trace | None]:
    """As `trace_of`; a file that crashes its decoder shows nothing."""
    if pool is None:
        return trace_of(location, name)
    try:
        return pool.submit(trace_of, location, name).result()
    except WorkerError:
        return "", None


def _clip(file: Path, library: Library, known: Sequence[Known], pool: Executor | None) -> Identified:
    sha256, trace = _traced(file, file.name, pool)
    if trace is None:
        return _identified("clip", file, "none", "Nothing of this file can be decoded.", ())
    same = [one for one in known if sha256 in {item.sha256 for item in one.loop.items}]
    if same:
        loops = tuple(_named(one, 0.0, _length(one), 1.0) for one in same)
        answer = "match" if len(loops) == 1 else "one of"
        return _identified("clip", file, answer, "It is one of its files, byte for byte.", loops)
    found = _cuts(library, known).find(trace)
    return _of_cuts(file, found, known)


def _length(known: Known) -> float:
    return sum(item.seconds for item in known.loop.items)


def _cuts(library: Library, known: Sequence[Known]) -> Cuts:
    digests = {item.sha256 for one in known for item in one.loop.items}
    return Cuts({sha256: library.item(sha256).trace for sha256 in sorted(digests)})


def _of_cuts(file: Path, found: Sequence[Found], known: Sequence[Known]) -> Identified:
    """The item that the clip differs from least; loops that share it are told together."""
    if not found:
        reason = "It shows none of the loops that are known here."
        return _identified("clip", file, "none", reason, ())
    best = min(found, key=lambda one: (_differing_s(one), -one.score))
    equal = [
        one
        for one in found
        if _differing_s(one) <= _differing_s(best) + 0.25 and one.score >= best.score - 0.02
    ]
    loops = tuple(loop for one in equal for loop in _loops_with(one, known))
    if best.differing:
        seconds = ", ".join(f"{start:.1f} to {end:.1f}" for start, end in best.differing)
        reason = f"It is this loop but for the seconds {seconds}."
        return _identified("clip", file, "other version", reason, loops[:1])
    if len(loops) > 1:
        return _identified("clip", file, "one of", f"{len(loops)} loops show the same there.", loops)
    return _identified("clip", file, "match", "It shows the same, all along.", loops)


def _differing_s(found: Found) -> float:
    return sum(end - start for start, end in found.differing)


def _loops_with(found: Found, known: Sequence[Known]) -> list[LoopFound]:
    loops = []
    for one in known:
        begin_s = 0.0
        for item in one.loop.items:
            if item.sha256 == found.item:
                start = begin_s + max(0.0, found.offset_s)
                end = begin_s + min(item.seconds, found.offset_s + found.compared_s)
                named = _named(one, start, end, min(1.0, found.score))
                differing = tuple((begin_s + a, begin_s + b) for a, b in found.differing)
                loops.append(replace(named, differing=differing))
                break
            begin_s += item.seconds
    return loops


# --- cards


def _card(file: Path, library: Library, known: Sequence[Known], pool: Executor | None) -> Identified:
    """By its files' bytes; where they are no known loop's, by what each of them shows."""
    source = [(one.path, one.location) for one in card_of(file).files]
    if not source:
        return _identified("card", file, "none", "There is no video and no still on it.", ())
    traced = [(_traced(place, name, pool), name) for name, place in source]
    content = content_key(sha256 for (sha256, _), _ in traced)
    same = [one for one in known if one.loop.content == content]
    if same:
        loops = tuple(_named(one, None, None, 1.0) for one in same)
        answer = "match" if len({one.loop.content for one in same}) == 1 and len(same) == 1 else "one of"
        return _identified("card", file, answer, "Its files are those of the loop, byte for byte.", loops)
    return _by_items(file, [trace for (_, trace), _ in traced], library, known)


def _by_items(
    file: Path, traces: Sequence[Trace | None], library: Library, known: Sequence[Known]
) -> Identified:
    cuts = _cuts(library, known)
    votes: dict[int, int] = {}
    for trace in traces:
        found = [one for one in (cuts.find(trace) if trace else ()) if not one.differing]
        items = {one.item for one in found}
        for number, one in enumerate(known):
            if items & {item.sha256 for item in one.loop.items}:
                votes[number] = votes.get(number, 0) + 1
    if not votes:
        return _identified("card", file, "none", "None of its files shows a loop that is known here.", ())
    most = max(votes.values())
    loops = tuple(
        _named(known[n], None, None, count / len(traces)) for n, count in votes.items() if count == most
    )
    whole = most == len(traces) and all(
        len(known[n].loop.items) == most for n, count in votes.items() if count == most
    )
    if not whole:
        reason = f"{most} of its {len(traces)} files show items of this loop."
        return _identified("card", file, "other version", reason, loops[:1])
    if len(loops) > 1:
        return _identified("card", file, "one of", f"{len(loops)} loops show the same.", loops)
    return _identified("card", file, "match", "Its files show this loop, encoded anew.", loops)


def _identified(kind: str, file: Path, answer: str, reason: str, loops: tuple[LoopFound, ...]) -> Identified:
    return Identified(kind, (str(file),), answer, reason, loops, _now())  # type: ignore[arg-type]


def _now() -> datetime:
    return datetime.now(UTC).replace(microsecond=0)
