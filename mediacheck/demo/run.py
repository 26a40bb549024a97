"""Makes the demo's display in an empty folder and has its cards checked.

It must not print: the command does that.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from concurrent.futures import as_completed
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory

from mediacheck.check import check
from mediacheck.deliver import Places, deliver
from mediacheck.demo.cards import DemoFace
from mediacheck.demo.clips import ENCODE_LIMIT_S, find_encoder, make_clip
from mediacheck.demo.scenes import CHAIN
from mediacheck.errors import OutputError, WrongUse
from mediacheck.profile_files import load_profile
from mediacheck.report.model import Report
from mediacheck.survey import Options, Watcher
from mediacheck.workers import FileWorkers

DISPLAY = f"{CHAIN}, entrance (invented)"
JOBS_MAX = 4
"""Clips made at once: each takes some 200 MB, and its encoder has threads of its own."""
OnClip = Callable[[int, int], None]
"""Told how many clips are made, of how many."""


@dataclass(frozen=True, slots=True)
class CheckedFace:
    """One face of the display after its check, and where the results are."""

    face: DemoFace
    report: Report
    card: Path
    json: Path
    html: Path
    sheet: Path
    """Its first page."""


def make_display(out: Path, jobs: int, on_clip: OnClip, faces: tuple[DemoFace, ...]) -> dict[str, Path]:
    """Make every face's card in the empty or new folder `out`; returns the card's folder by face.

    Cards are made in a workshop beside their places and moved when all are whole: whoever breaks this
    off finds `out` as it was. Raises WrongUse, untouched, where `out` holds anything.
    """
    refuse_unless_empty(out)
    encoder = find_encoder()
    with _workshop(out) as workshop:
        _make_cards(workshop, encoder, jobs, on_clip, faces)
        for face in faces:
            (workshop / face.folder).rename(out / face.folder)
    return {face.name: out / face.folder for face in faces}


def refuse_unless_empty(out: Path) -> None:
    """Raises WrongUse unless `out` is an empty folder or nothing yet."""
    try:
        is_file = out.exists() and not out.is_dir()
        held = next(out.iterdir(), None) if out.is_dir() else None
    except OSError as error:
        raise OutputError(f"{out} cannot be looked into ({error.strerror or error}).") from error
    if is_file:
        raise WrongUse(f"{out} is a file, and the demo needs an empty folder: name another place with --out.")
    if held is not None:
        raise WrongUse(
            f"{out} is not empty (it holds {held.name}), and the demo needs an empty folder: name another "
            "place with --out."
        )


@contextmanager
def _workshop(out: Path) -> Iterator[Path]:
    """A folder inside `out` that is gone afterwards, and `out` with it where nothing came of it."""
    is_new = not out.exists()
    try:
        out.mkdir(parents=True, exist_ok=True)
        with TemporaryDirectory(prefix=".making-", dir=out, ignore_cleanup_errors=True) as folder:
            yield Path(folder)
    except OSError as error:
        raise OutputError(f"The demo cannot be written to {out}: {error.strerror or error}.") from error
    finally:
        if is_new:
            with suppress(OSError):  # not empty: the demo is there
                out.rmdir()


def _make_cards(
    workshop: Path, encoder: Path, jobs: int, on_clip: OnClip, faces: tuple[DemoFace, ...]
) -> None:
    parts = workshop / "parts"
    parts.mkdir()
    planned = [(workshop / face.folder / item.path, item.clip) for face in faces for item in face.items]
    for target, _ in planned:
        target.parent.mkdir(parents=True, exist_ok=True)
    with FileWorkers(min(jobs, JOBS_MAX), 2 * ENCODE_LIMIT_S) as pool:
        tasks = [pool.submit(make_clip, clip, target, encoder, parts) for target, clip in planned]
        on_clip(0, len(tasks))
        for count, task in enumerate(as_completed(tasks), 1):
            task.result()
            on_clip(count, len(tasks))
    for face in faces:
        for leftover in face.leftovers:
            (workshop / face.folder / leftover.path).write_bytes(leftover.data)
    shutil.rmtree(parts)


def check_face(face: DemoFace, card: Path, jobs: int, watcher: Watcher) -> CheckedFace:
    """Check the card of a face at full depth and write the results beside it."""
    place = card.parent / face.name.replace(" ", "-")
    json, html, sheet = (place.with_suffix(ending) for ending in (".json", ".html", ".png"))
    places = Places(json, html, sheet)
    places.require()
    checked = check(card, load_profile(face.profile), Options("full", jobs, places.pictures), watcher)
    named = replace(checked, report=replace(checked.report, display=DISPLAY, face=face.name))
    deliver(named, places)
    return CheckedFace(face, named.report, card, json, html, sheet)
