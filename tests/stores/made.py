"""An invented chain of garden centres, its plan, and what its stores send.

It must not touch a ledger.
"""

from __future__ import annotations

import hashlib
import io
import json
from collections.abc import Sequence
from datetime import UTC, date, datetime
from typing import Any

from PIL import Image

from mediacheck.loop_content import content_key
from mediacheck.stores.model import Plan, PlannedDisplay, PlannedFace, PlannedLoop, Store

NOW = datetime(2026, 3, 10, 12, 0, tzinfo=UTC)
WATER, SEEDS = "aisle side", "window side"


def digest(name: str) -> str:
    """SHA-256 of an invented file."""
    return hashlib.sha256(name.encode()).hexdigest()


def content(*names: str) -> str:
    """By what a loop of these files is known."""
    found = content_key(map(digest, names))
    assert found is not None
    return found


WATER_LOOPS = (
    PlannedLoop("1", date(2026, 1, 1), None, content("water-1")),
    PlannedLoop("2", date(2026, 3, 1), date(2026, 3, 8), content("water-2")),
    PlannedLoop("3", date(2026, 4, 1), None, content("water-3")),
)
SEED_LOOPS = (PlannedLoop("1", date(2026, 1, 1), None, content("seeds-1", "seeds-still")),)
PLANTER = PlannedDisplay(
    "planter",
    "Watering and seeds",
    (PlannedFace(WATER, "basic-1080p", WATER_LOOPS), PlannedFace(SEEDS, "portrait-1080p", SEED_LOOPS)),
)
SHELF = PlannedDisplay("shelf", "Bulbs", (PlannedFace("front", "shelf-strip-1920x540"),))
STORES = (
    Store("0117", "Mossford", "North", "by the tills", "Europe/London", date(2026, 3, 12), ("planter",)),
    Store("0118", "Fernhill", "South", "", "America/Los_Angeles", date(2026, 3, 2), ("planter", "shelf")),
    Store("N-0042", "Loamton", "North", "", "UTC", None, ("shelf",)),
)
PLAN = Plan((PLANTER, SHELF), STORES)


def report(
    *names: str,
    at: datetime = NOW,
    face: str | None = None,
    verdict: str = "pass",
    findings: Sequence[tuple[str, str, str]] = (),
    **changes: Any,
) -> dict[str, Any]:
    """What `mediacheck check --json` writes, as far as a ledger reads it. `findings`: rule, severity and
    message of each."""
    return {
        "schema": "mediacheck/report/1",
        "tool": {"name": "mediacheck", "version": "0.1.0"},
        "checked_at": at.strftime("%Y-%m-%dT%H:%M:%SZ"),
        "depth": "full",
        "profile": {"id": "basic-1080p", "title": "", "sha256": digest("profile")},
        "display": "planter" if face else None,
        "face": face,
        "verdict": verdict,
        "card": {"source": "E:\\", "kind": "volume", "file_system": "FAT32", "label": "AISLE"},
        "files": [{"path": f"{n}.mp4", "size_bytes": 1, "sha256": digest(n), "kind": "video"} for n in names],
        "findings": [
            {"rule": rule, "severity": severity, "path": None, "message": message}
            for rule, severity, message in findings
        ],
        "not_checked": [],
        **changes,
    }


def packed(record: dict[str, Any]) -> bytes:
    """A record as it is sent."""
    return json.dumps(record).encode()


def identification(answer: str, *, at: datetime = NOW, **loop: Any) -> dict[str, Any]:
    """What an identification tells. `loop`: display, face, version of the first one."""
    return {
        "schema": "mediacheck/identification/1",
        "identified_at": at.strftime("%Y-%m-%dT%H:%M:%SZ"),
        "taken_at": None,
        "looked_at": loop.pop("looked_at", "card"),
        "answer": answer,
        "reason": "",
        "display": "planter",
        "face": None,
        "loops": [{"display": "planter", "face": WATER, "version": "2", **loop}]
        if loop or answer == "match"
        else [],
    }


def photo(
    *,
    taken: str = "2026:03:10 11:00:00",
    orientation: int = 6,
    who: str = "Jane Gardener",
    kind: str = "JPEG",
) -> bytes:
    """A photo of a screen, with all that a phone writes into it."""
    image = Image.linear_gradient("L").resize((320, 240)).convert("RGB")
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif[0x013B] = who
    exif[0x010F] = "Maker of phones"
    exif.get_ifd(0x8769)[0x9003] = taken
    exif.get_ifd(0x8825)[1] = "N"
    exif.get_ifd(0x8825)[2] = (51.0, 30.0, 0.0)
    made = io.BytesIO()
    image.save(made, "JPEG", exif=exif, comment=who.encode())
    return made.getvalue()
