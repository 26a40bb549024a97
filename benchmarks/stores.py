"""The ledger of many stores: 10,000 stores with two faces each, and 400,000 reports.

`add_s`: 10,000 new reports in one run, files in a folder, the whole program; 2,000 a second are asked for.
`status_s`: the state of all faces, from the open ledger; `status_run_s`: the whole program with a page, for
comparison. `page_mb`: that page, packed by gzip. `read_s` reads and hashes the same files, for comparison.

`python benchmarks/stores.py [--small]`
"""

from __future__ import annotations

import gzip
import hashlib
import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

from side_by_side import finish, in_turn, small

from mediacheck.loop_content import content_key
from mediacheck.stores.ledger import Ledger
from mediacheck.stores.model import (
    Document,
    Evidence,
    Place,
    Plan,
    PlannedDisplay,
    PlannedFace,
    PlannedLoop,
    Store,
)
from mediacheck.stores.opening import open_ledger
from mediacheck.stores.reading import said_in
from mediacheck.stores.status import status_of

ROOT = Path(__file__).parent.parent
STORES, REPORTS, NEW = (500, 5_000, 1_000) if small() else (10_000, 400_000, 10_000)
NOW = datetime.now(UTC).replace(microsecond=0)
FACES = ("aisle side", "window side")
BATCH = 2_000
ROUNDS = 3


def main() -> None:
    """Fill a ledger, then all in turn."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        place = folder / "stores.ledger"
        record = one_report(folder)
        ledger = open_ledger(str(place), create=True)
        ledger.put_plan(plan(record))
        fill(ledger, record)
        batches = new_files(folder, record)
        page = folder / "stores.html"
        figures = in_turn(
            {
                "add_s": lambda: run("add", str(next(batches)), "--ledger", str(place)),
                "read_s": lambda: read(folder / "new0"),
                "status_s": lambda: status(ledger),
                "status_run_s": lambda: run("status", "--html", str(page), "--ledger", str(place)),
            },
            ROUNDS,
        )
        figures["page_mb"] = len(gzip.compress(page.read_bytes())) / 1e6
        figures["ledger_mb"] = place.stat().st_size / 1e6
        ledger.close()
    goals = {"add_s": NEW / 2_000, "status_s": 1.0, "page_mb": 5.0}
    finish("stores", figures, [], goals)


def one_report(folder: Path) -> dict[str, Any]:
    """A real one, of a card with one video, at full depth."""
    card = folder / "card"
    card.mkdir()
    (card / "watering.mp4").write_bytes((ROOT / "sample_media/watering-landscape.mp4").read_bytes())
    out = folder / "report.json"
    command = [
        sys.executable,
        "-m",
        "mediacheck",
        "check",
        str(card),
        "--profile",
        "basic-1080p",
        "--json",
        str(out),
    ]
    subprocess.run(command, check=False, stdout=subprocess.DEVNULL)
    found: dict[str, Any] = json.loads(out.read_bytes())
    return found


def plan(record: dict[str, Any]) -> Plan:
    """The stores, and a display whose aisle side shows the loop of the report."""
    content = content_key([record["files"][0]["sha256"]])
    loops = (
        PlannedLoop("1", date(2025, 1, 1), None, content),
        PlannedLoop("2", NOW.date() - timedelta(days=30), None, "0" * 64),
    )
    faces = tuple(PlannedFace(face, "basic-1080p", loops) for face in FACES)
    regions = ("North", "South", "East", "West")
    stores = tuple(
        Store(f"{n:05}", f"Garden {n}", regions[n % 4], "by the tills", "Europe/London", None, ("planter",))
        for n in range(STORES)
    )
    return Plan((PlannedDisplay("planter", "", faces),), stores)


def reports(record: dict[str, Any], count: int, first: int) -> Iterator[tuple[Place, bytes]]:
    """So many that differ, over all faces and the last year."""
    for number in range(first, first + count):
        store, face = f"{number // 2 % STORES:05}", FACES[number % 2]
        moment = NOW - timedelta(seconds=number * 60 % 31_000_000)
        told = {
            **record,
            "checked_at": moment.strftime("%Y-%m-%dT%H:%M:%SZ"),
            "display": "planter",
            "face": face,
            "verdict": "pass" if number % 3 else record["verdict"],
            "findings": record["findings"] if number % 3 == 0 else [],
            "notes": [f"report {number}"],
        }
        yield Place(store, "planter", face), json.dumps(told).encode()


def fill(ledger: Ledger, record: dict[str, Any]) -> None:
    """All reports of the past, without files."""
    entries: list[tuple[Document, tuple[Evidence, ...]]] = []
    for place, content in reports(record, REPORTS, 0):
        digest = hashlib.sha256(content).hexdigest()
        said = said_in(content, None, NOW)
        entries.append((Document(digest, "check", "report.json", content), (Evidence(place, digest, said),)))
        if len(entries) == BATCH:
            ledger.add(entries, NOW)
            entries = []
    ledger.add(entries, NOW)


def new_files(folder: Path, record: dict[str, Any]) -> Iterator[Path]:
    """A folder of new reports for each round."""
    places: list[Path] = []
    for number in range(ROUNDS + 1):
        place = folder / f"new{number}"
        place.mkdir()
        for which, content in reports(record, NEW, REPORTS + number * NEW):
            (place / f"{which.store}_{which.face}_{len(places)}_{hash(content)}.json").write_bytes(content)
        places.append(place)
    return iter(places)


def run(*arguments: str) -> float | None:
    """The whole program."""
    command = [sys.executable, "-m", "mediacheck", "stores", *arguments]
    begun = time.perf_counter()
    done = subprocess.run(command, check=False, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
    return time.perf_counter() - begun if done.returncode in (0, 1, 3) and not done.stderr else None


def read(folder: Path) -> float:
    """The same files, read and hashed."""
    begun = time.perf_counter()
    for path in folder.iterdir():
        hashlib.sha256(path.read_bytes()).digest()
    return time.perf_counter() - begun


def status(ledger: Ledger) -> float:
    """The state of all faces."""
    begun = time.perf_counter()
    found = status_of(ledger, now=NOW)
    taken = time.perf_counter() - begun
    assert len(found.rows) == 2 * STORES
    return taken


if __name__ == "__main__":
    main()
