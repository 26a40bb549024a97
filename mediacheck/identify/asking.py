"""Which loop is on a card, in a clip or in photos, among those of a library, or of one display.

It must not print, and not decide about exit codes.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor, Future
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from mediacheck.display import folded
from mediacheck.display_files import DisplayFace, LoadedDisplay, LoadedFace
from mediacheck.errors import LibraryError, WorkerError, WrongUse
from mediacheck.identify.answers import Answer
from mediacheck.identify.clips import Cuts, Found
from mediacheck.identify.indexing import SHOWN, card_of
from mediacheck.identify.library import Library, LoopNamed
from mediacheck.identify.looking import look_at_photos, trace_of
from mediacheck.identify.model import Identified, Looked, LoopFound
from mediacheck.identify.traces import Trace
from mediacheck.loop_content import content_key
from mediacheck.manifest.model import Manifest
from mediacheck.media.extensions import kind_by_name

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
    pool: Executor,
    display: LoadedDisplay | None = None,
    face: DisplayFace | None = None,
    evidence: bool = False,
) -> tuple[Identified, bytes | None]:
    """What is on one card, in one clip, or in photos of one screen; with `evidence`, a PNG of why, of photos.

    WrongUse, LibraryError, CardError.
    """
    known = candidates(library, display)
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
    return replace(found, face=face.face.name, right_face=_right(found, belonging))


def _right(found: Identified, belonging: set[str]) -> bool | None:
    """Whether these loops are what it shows; a photo in which no loop was recognised says neither."""
    shown = {loop.name for loop in found.loops}
    if found.answer == "match":
        return shown <= belonging
    if found.answer == "one of":
        return None if shown & belonging else False
    return False if found.answer != "retake" and found.looked_at != "photo" else None


def _named(known: Known, from_s: float | None, until_s: float | None, sure: float) -> LoopFound:
    return LoopFound(known.loop.name, known.display, known.face, known.version, from_s, until_s, sure)


# --- photos


def _photos(
    files: Sequence[Path], library: Library, known: Sequence[Known], pool: Executor, evidence: bool
) -> tuple[Identified, bytes | None]:
    if len(files) > PHOTOS_MAX:
        raise WrongUse(f"More than {PHOTOS_MAX} photos of one screen tell no more.")
    places = tuple(file.absolute() for file in files)
    loops = tuple(one.loop for one in known)
    try:
        seen = pool.submit(look_at_photos, places, library.folder.absolute(), loops, evidence).result()
    except WorkerError as error:
        reason = f"Looking at the photo did not end well ({error}): take it again."
        return _identified("photo", files, "retake", reason), None
    named = tuple(_named(known[one.loop], *one.seconds, one.probability) for one in seen.loops)
    found = _identified("photo", files, seen.answer, seen.reason, named)
    return replace(found, taken_at=_in_utc(seen.taken_at)), seen.evidence


def _in_utc(moment: datetime | None) -> datetime | None:
    return moment.astimezone(UTC).replace(microsecond=0) if moment and moment.tzinfo else None


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
    same = [one for one in known if sha256 in {item.sha256 for item in one.loop.items}]
    if same:
        loops = tuple(_named(one, 0.0, _length(one), 1.0) for one in same)
        answer: Answer = "match" if len(loops) == 1 else "one of"
        return _identified("clip", [file], answer, "It is one of its files, byte for byte.", loops)
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
        return _identified("clip", [file], "none", reason)
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
        return _identified("clip", [file], "other version", reason, loops[:1])
    if len(loops) > 1:
        return _identified("clip", [file], "one of", f"{len(loops)} loops show the same there.", loops)
    return _identified("clip", [file], "match", "It shows the same, all along.", loops)


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


def _card(file: Path, library: Library, known: Sequence[Known], pool: Executor) -> Identified:
    """By its files' bytes; where they are no known loop's, by what each of them shows."""
    source = [(one.path, one.location) for one in card_of(file).files]
    if not source:
        return _identified("card", [file], "none", "There is no video and no still on it.")
    traced = [_result(one) for one in [pool.submit(trace_of, place, name) for name, place in source]]
    content = content_key(sha256 for sha256, _ in traced)
    same = [one for one in known if one.loop.content == content]
    if same:
        loops = tuple(_named(one, None, None, 1.0) for one in same)
        answer: Answer = "match" if len(loops) == 1 else "one of"
        return _identified("card", [file], answer, "Its files are those of the loop, byte for byte.", loops)
    traces = [trace for _, trace in traced]
    if not any(traces):
        reason = "Nothing on it can be decoded: run mediacheck check on it, which says why."
        return _identified("card", [file], "retake", reason)
    return _by_items(file, traces, library, known)


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
        return _identified("card", [file], "none", "None of its files shows a loop that is known here.")
    most = max(votes.values())
    loops = tuple(
        _named(known[n], None, None, count / len(traces)) for n, count in votes.items() if count == most
    )
    whole = most == len(traces) and all(
        len(known[n].loop.items) == most for n, count in votes.items() if count == most
    )
    if not whole:
        reason = f"{most} of its {len(traces)} files show items of this loop."
        return _identified("card", [file], "other version", reason, loops[:1])
    if len(loops) > 1:
        return _identified("card", [file], "one of", f"{len(loops)} loops show the same.", loops)
    return _identified("card", [file], "match", "Its files show this loop, encoded anew.", loops)


def _identified(
    looked_at: Looked, files: Sequence[Path], answer: Answer, reason: str, loops: tuple[LoopFound, ...] = ()
) -> Identified:
    return Identified(looked_at, tuple(map(str, files)), answer, reason, loops, _now())


def _now() -> datetime:
    return datetime.now(UTC).replace(microsecond=0)
