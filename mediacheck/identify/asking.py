"""Which loop is on a card, in a clip or in photos, among those of a library, or of one display.

It must not print, and not decide about exit codes.
"""

from __future__ import annotations

import stat
from collections.abc import Sequence
from concurrent.futures import Executor, Future
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from mediacheck.display_files import DisplayFace, LoadedDisplay, LoadedFace
from mediacheck.errors import CardError, LibraryError, WorkerError, WrongUse
from mediacheck.face_names import folded, the_face
from mediacheck.identify.answers import Answer
from mediacheck.identify.cards import CardFile, held_by, seconds_words
from mediacheck.identify.clips import Cuts, Found, tells
from mediacheck.identify.indexing import SHOWN, card_of
from mediacheck.identify.library import Library, LoopNamed
from mediacheck.identify.looking import look_at_photos, trace_of
from mediacheck.identify.model import Identified, Looked, LoopFound
from mediacheck.identify.traces import Trace
from mediacheck.loop_content import content_key
from mediacheck.manifest.model import Manifest
from mediacheck.media.extensions import kind_by_name
from mediacheck.report.words import counted

Traced = tuple[str, Trace | None]
"""A file's SHA-256, and what it shows along time; None: nothing of it can be decoded."""
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
    """All loops of the library; of a display, those that its faces name, each once for each face that has it.

    LibraryError: none.
    """
    if display is None:
        found = tuple(Known(loop, version=loop.version or None) for loop in library.loops)
    else:
        found = tuple(known for face in display.faces for known in _of_face(library, display, face))
    if not found:
        where = f"the loops of {display.source}" if display else "any loop"
        raise LibraryError(f"The library {library.folder} does not hold {where}.")
    return found


def _of_face(library: Library, display: LoadedDisplay, face: LoadedFace) -> list[Known]:
    """By the files of its manifests or items, else by the name of the loop in the library: a library that was
    not brought up to date holds an earlier version under that name."""
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
        if one.content in wanted:
            version_name, belongs = wanted[one.content or ""]
            found.append(Known(one, id_, face.name, version_name or None, belongs))
        elif loop.library and folded(one.name) == folded(loop.library):
            found.append(Known(one, id_, face.name, loop.version or None))
    return found


def _content_of(manifest: Manifest) -> str | None:
    return content_key(file.sha256 for file in manifest.files if file.kind in SHOWN)


def _add(wanted: dict[str, tuple[str | None, bool]], key: str | None, version: str, belongs: bool) -> None:
    if key is not None:
        wanted.setdefault(key, (version, belongs))


def identify(
    files: Sequence[Path],
    library: Library,
    pool: Executor,
    display: LoadedDisplay | None = None,
    face: DisplayFace | None = None,
    evidence: bool = False,
) -> tuple[Identified, bytes | None]:
    """What is on one card, in one clip, or in photos of one screen; with `evidence`, a PNG of why, of photos.

    WrongUse, LibraryError, CardError.
    """
    known = candidates(library, display)
    if face is not None:
        known = _asked_first(library, known, face)
    kinds = {_kind(file) for file in files}
    if len(kinds) > 1 or (len(files) > 1 and kinds != {"photo"}):
        raise WrongUse("Several files are looked at together only if all are photos of one screen.")
    if evidence and kinds != {"photo"}:
        raise WrongUse("Only of photos there is a picture that shows why: leave --evidence out.")
    picture = None
    if kinds == {"photo"}:
        found, picture = _photos(files, library, known, pool, evidence)
    elif kinds == {"clip"}:
        found = _clip(files[0], library, known, pool)
    else:
        found = _card(files[0], library, known, pool)
    return _held(found, display, face, known), picture


def _asked_first(library: Library, known: Sequence[Known], face: DisplayFace) -> tuple[Known, ...]:
    """With those of the face that was asked for in front. LibraryError: its loop is not among them, and so
    whatever is shown could only be called wrong."""
    if not any(one.face == face.face.name and one.belongs for one in known):
        raise LibraryError(
            f"The library {library.folder} does not hold the loop of {the_face(face.face.name)}."
        )
    return tuple(sorted(known, key=lambda one: one.face != face.face.name))


def _kind(file: Path) -> str:
    try:
        mode = file.stat().st_mode
    except FileNotFoundError:
        raise WrongUse(f"There is no file {file}.") from None
    except OSError as error:
        raise WrongUse(f"{file} cannot be read: {error.strerror or error}.") from error
    if stat.S_ISDIR(mode):
        return "card"
    kind = kind_by_name(file.name)
    if kind not in ("video", "still"):
        return "card"
    if not stat.S_ISREG(mode):
        raise WrongUse(f"{file} is a device or pipe, not a file.")
    return "clip" if kind == "video" else "photo"


def _held(
    found: Identified, display: LoadedDisplay | None, face: DisplayFace | None, known: Sequence[Known]
) -> Identified:
    """Against the face that was asked for."""
    found = replace(found, display=display.display.id if display else None)
    if face is None:
        return found
    belonging = {one.loop.name for one in known if one.face == face.face.name and one.belongs}
    return replace(found, face=face.face.name, right_face=_right(found, belonging))


def _right(found: Identified, belonging: set[str]) -> bool | None:
    """Whether these loops are what it shows. A photo in which no loop was recognised says neither; nor does a
    clip, which may have been filmed from the screen."""
    shown = {loop.name for loop in found.loops}
    if found.answer == "match":
        return shown <= belonging
    if found.answer == "one of":
        return True if shown <= belonging else None if shown & belonging else False
    if found.answer == "other version":
        return None if found.looked_at == "photo" else False
    return False if found.answer == "none" and found.looked_at == "card" else None


def _loops_of(known: Sequence[Known]) -> tuple[LoopNamed, ...]:
    """Each loop once, however many faces have it."""
    return tuple({one.loop.name: one.loop for one in known}.values())


def _named(
    known: Sequence[Known], name: str, from_s: float | None, until_s: float | None, sure: float
) -> tuple[LoopFound, ...]:
    """The loop of this name, once for each face that has it."""
    return tuple(
        LoopFound(name, one.display, one.face, one.version, from_s, until_s, sure)
        for one in known
        if one.loop.name == name
    )


def _match_or(loops: Sequence[LoopFound]) -> Answer:
    """A loop that several faces have is one loop."""
    return "match" if len({loop.name for loop in loops}) == 1 else "one of"


# --- photos


def _photos(
    files: Sequence[Path], library: Library, known: Sequence[Known], pool: Executor, evidence: bool
) -> tuple[Identified, bytes | None]:
    if len(files) > PHOTOS_MAX:
        raise WrongUse(f"More than {PHOTOS_MAX} photos of one screen tell no more.")
    places = tuple(file.absolute() for file in files)
    loops = _loops_of(known)
    try:
        seen = pool.submit(look_at_photos, places, library.folder.absolute(), loops, evidence).result()
    except WorkerError as error:
        reason = f"Looking at the photo did not end well ({error}): take it again."
        return _identified("photo", files, "retake", reason), None
    named = tuple(
        one
        for found in seen.loops
        for one in _named(known, loops[found.loop].name, *found.seconds, found.probability)
    )
    found = _identified("photo", files, seen.answer, seen.reason, named)
    return replace(found, taken_at=_in_utc(seen.taken_at)), seen.evidence


def _in_utc(moment: datetime | None) -> datetime | None:
    """None for a moment that is in no calendar in UTC, as of a phone whose clock stands at the year 1."""
    try:
        return moment.astimezone(UTC).replace(microsecond=0) if moment and moment.tzinfo else None
    except OverflowError:
        return None


# --- clips


def _result(traced: Future[Traced]) -> Traced:
    """A file that crashes its decoder shows nothing."""
    try:
        return traced.result()
    except WorkerError:
        return "", None


def _clip(file: Path, library: Library, known: Sequence[Known], pool: Executor) -> Identified:
    sha256, trace = _result(pool.submit(trace_of, file.absolute(), file.name))
    if trace is None:
        return _identified("clip", [file], "retake", "Nothing of this file can be decoded: send it again.")
    begun = {loop.name: _begins(loop, sha256) for loop in _loops_of(known)}
    same = tuple(
        loop
        for name, seconds in begun.items()
        if seconds is not None
        for loop in _named(known, name, *seconds, 1.0)
    )
    if same:
        return _identified("clip", [file], _match_or(same), "It is one of its files, byte for byte.", same)
    if not tells(trace):
        reason = "It shows too little to be known by: send a longer part of it, with a picture in it."
        return _identified("clip", [file], "retake", reason)
    found = _cuts(library, known).find(trace)
    return _of_cuts(file, found, known)


def _begins(loop: LoopNamed, sha256: str) -> tuple[float, float] | None:
    """From and to where in its round this item is first shown; None: it is not among its items."""
    begin_s = 0.0
    for item in loop.items:
        if item.sha256 == sha256:
            return begin_s, begin_s + item.seconds
        begin_s += item.seconds
    return None


def _cuts(library: Library, known: Sequence[Known]) -> Cuts:
    digests = {item.sha256 for one in known for item in one.loop.items}
    return Cuts({sha256: library.item(sha256).trace for sha256 in sorted(digests)})


def _of_cuts(file: Path, found: Sequence[Found], known: Sequence[Known]) -> Identified:
    """The item that the clip differs from least; loops that share it are told together."""
    if not found:
        reason = "It shows none of the loops that are known here; of a screen, take photos and no film."
        return _identified("clip", [file], "none", reason)
    best = min(found, key=lambda one: (_differing_s(one), -one.score))
    equal = [
        one
        for one in found
        if _differing_s(one) <= _differing_s(best) + 0.25 and one.score >= best.score - 0.02
    ]
    loops = tuple(
        {(loop.name, loop.face): loop for one in equal for loop in _loops_with(one, known)}.values()
    )
    if best.differing:
        reason = f"It is this loop but for the seconds {seconds_words(loops[0].differing)}."
        return _identified("clip", [file], "other version", reason, loops[:1])
    answer = _match_or(loops)
    if answer == "one of":
        reason = f"{len({loop.name for loop in loops})} loops show the same there."
        return _identified("clip", [file], answer, reason, loops)
    return _identified("clip", [file], answer, "It shows the same, all along.", loops)


def _differing_s(found: Found) -> float:
    return sum(end - start for start, end in found.differing)


def _loops_with(found: Found, known: Sequence[Known]) -> list[LoopFound]:
    loops: list[LoopFound] = []
    for loop in _loops_of(known):
        item_s = _begins(loop, found.item)
        if item_s is None:
            continue
        begin_s, end_s = item_s
        start = begin_s + max(0.0, found.offset_s)
        end = min(end_s, begin_s + found.offset_s + found.compared_s)
        differing = tuple((begin_s + a, begin_s + b) for a, b in found.differing)
        named = _named(known, loop.name, start, end, min(1.0, found.score))
        loops += [replace(one, differing=differing) for one in named]
    return loops


# --- cards


def _card(file: Path, library: Library, known: Sequence[Known], pool: Executor) -> Identified:
    """By its files' bytes; where they are no known loop's, by what each of them shows."""
    card = card_of(file)
    if not card.files and not card.unusable:
        raise CardError(f"There is no video and no still on {file}")
    waiting = [pool.submit(trace_of, one.location, one.path) for one in card.files]
    traced = [*map(_result, waiting), *(("", None) for _ in card.unusable)]
    content = content_key(sha256 for sha256, _ in traced)
    same = tuple(
        loop
        for one in _loops_of(known)
        if one.content == content
        for loop in _named(known, one.name, None, None, 1.0)
    )
    if same:
        reason = "Its files are those of the loop, byte for byte."
        return _identified("card", [file], _match_or(same), reason, same)
    if not any(trace for _, trace in traced):
        reason = "Nothing on it can be decoded: run mediacheck check on it, which says why."
        return _identified("card", [file], "retake", reason)
    return _by_items(file, traced, library, known)


def _by_items(file: Path, traced: Sequence[Traced], library: Library, known: Sequence[Known]) -> Identified:
    cuts = _cuts(library, known)
    shown = [CardFile(sha256, trace, cuts.find(trace) if trace else ()) for sha256, trace in traced]
    items = {item.sha256 for one in known for item in one.loop.items}
    unknown = sum(not one.can_be_told and one.sha256 not in items for one in shown)
    held = held_by(_loops_of(known), shown)
    complete = [one for one in held if one.is_whole]
    if complete:
        loops = tuple(
            loop for one in complete for loop in _named(known, one.loop.name, None, None, one.score)
        )
        answer = _match_or(loops)
        reason = "Its files show this loop, encoded anew."
        if answer == "one of":
            reason = f"{len(complete)} loops show the same."
        return _identified("card", [file], answer, reason, loops)
    if unknown and (unknown == len(shown) or any(one.may_be_whole(unknown) for one in held)):
        reason = (
            f"{unknown} of its {counted(len(shown), 'file')} cannot be decoded, or shows too little: "
            "run mediacheck check on it, which says why."
        )
        return _identified("card", [file], "retake", reason)
    if not held:
        return _identified("card", [file], "none", "None of its files shows a loop that is known here.")
    best = held[0]
    named = _named(known, best.loop.name, None, None, best.score)[:1]
    loops = tuple(replace(one, differing=best.differing) for one in named)
    return _identified("card", [file], "other version", best.words, loops)


def _identified(
    looked_at: Looked, files: Sequence[Path], answer: Answer, reason: str, loops: tuple[LoopFound, ...] = ()
) -> Identified:
    return Identified(looked_at, tuple(map(str, files)), answer, reason, loops, _now())


def _now() -> datetime:
    return datetime.now(UTC).replace(microsecond=0)
