"""Cards of the garden-centre display, by hand, and a run over them within the test's own process.

It must not judge what comes of it.
"""

from __future__ import annotations

import hashlib
import json
import threading
from concurrent.futures import Executor, ThreadPoolExecutor
from pathlib import Path
from typing import Any

from mediacheck.card.within import Within
from mediacheck.inspection import Inspection, Wanted
from mediacheck.many.model import Summary
from mediacheck.many.run import Order, check_all
from mediacheck.measure.model import Measurements
from mediacheck.profile_files import LoadedProfile
from mediacheck.survey import Options
from tests.rules import make

LOADED = LoadedProfile(make.profile(), "by hand", "0" * 64)
FULL = Options("full", 2)
QUICK = Options("quick", 2)
FAIL = b"broken"
"""A file that begins with it does not play."""


class Silent:
    """Hears how far it is, and keeps the numbers."""

    def __init__(self) -> None:
        self.cards = self.files = self.through = 0

    def begin(self, cards: int) -> None:
        self.cards = cards

    def listed(self, place: int, size_bytes: int) -> None:
        """Not counted."""

    def looked_at(self, place: int, size_bytes: int) -> None:
        self.files += 1

    def checked(self, place: int) -> None:
        self.through += 1

    def waiting(self) -> None:
        """Nothing new."""


class Seen:
    """An inspector that takes each file for a conforming clip, and notes what it was given."""

    def __init__(self) -> None:
        self._guard = threading.Lock()
        self.files: list[str] = []

    def __call__(self, location: Path | Within, path: str, size_bytes: int, wanted: Wanted) -> Inspection:
        assert isinstance(location, Path)
        content = location.read_bytes()
        with self._guard:
            self.files.append(str(location))
        codec = "VP9" if content.startswith(FAIL) else "H.264"
        file = make.video_file(path, video=make.video_facts(codec=codec))
        measured = Measurements(300, 10.0) if wanted.depth == "full" else None
        return Inspection("video", file.facts, measured, hashlib.sha256(content).hexdigest())


def card(folder: Path, *contents: bytes) -> Path:
    """A card with one clip for each content."""
    folder.mkdir(parents=True)
    for number, content in enumerate(contents, 1):
        (folder / f"{number}.mp4").write_bytes(content)
    return folder


def checked(
    cards: list[Path],
    out: Path,
    inspector: Seen | None = None,
    options: Options = QUICK,
    loaded: LoadedProfile = LOADED,
    pool: Executor | None = None,
) -> Summary:
    """All of them, two at once."""
    order = Order(tuple(cards), loaded, None, options, out)
    with pool or ThreadPoolExecutor(2) as workers:
        return check_all(order, workers, Silent(), 2, inspector or Seen())


def record(path: Path) -> dict[str, Any]:
    """A JSON file without the moment at which it was made."""
    found: dict[str, Any] = json.loads(path.read_text("utf-8"))
    found.pop("checked_at")
    return found


def names(folder: Path) -> list[str]:
    """What stands in the folder."""
    return sorted(path.name for path in folder.iterdir())
