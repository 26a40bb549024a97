"""A store's file as evidence: its reports, photos and sheets in one ZIP with a list of them.

It must not change a document: each comes out as the ledger keeps it.
"""

from __future__ import annotations

import hashlib
import re
import zipfile
from datetime import UTC, datetime
from pathlib import Path

from mediacheck import __version__
from mediacheck.errors import LedgerError
from mediacheck.output import atomic_writer
from mediacheck.report.facts_record import JsonObject
from mediacheck.report.record import record_text, time_text
from mediacheck.stores.ledger import Ledger
from mediacheck.stores.model import Document, Evidence
from mediacheck.stores.record import row_record
from mediacheck.stores.status import Wanted, status_of

SCHEMA_NAME = "mediacheck/store-file/1"
EARLIEST = (1980, 1, 1, 0, 0, 0)
"""Of a ZIP archive."""
PHOTOS = {b"\x89PNG": ".png", b"WEBP": ".webp", b"GIF8": ".gif"}
"""By their first bytes: as they came, they may be of any kind."""
ENDINGS = {"photo": (".jpg", ".png"), "sheet": (".pdf",)}


def export_store(ledger: Ledger, number: str, out: Path, now: datetime | None = None) -> int:
    """Write the file of one store; the number of documents in it. LedgerError, OutputError.

    The same ledger and moment give the same bytes. What speaks of several faces is in it once, and listed for
    each of them.
    """
    moment = (now or datetime.now(UTC)).astimezone(UTC)
    store = next((one for one in ledger.plan().stores if one.number == number), None)
    if store is None:
        raise LedgerError(f'The plan has no store "{number[:60]}".')
    history = ledger.history(number)
    listed: list[dict[str, object]] = []
    paths: dict[str, str] = {}
    sums: dict[str, str] = {}
    with atomic_writer(out) as file, zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        for place, (evidence, name, added_at) in enumerate(history, 1):
            document = ledger.document(evidence.document)
            path = paths.setdefault(document.sha256, _path(place, evidence, document, name))
            if path not in sums:
                sums[path] = _put(archive, path, document.content, evidence.said.seen_at)
            listed.append(_listed(path, document, evidence, added_at))
        faces = [row_record(row) for row in status_of(ledger, Wanted(stores=(number,)), moment).rows]
        manifest: JsonObject = {
            "schema": SCHEMA_NAME,
            "tool": {"name": "mediacheck", "version": __version__},
            "made_at": time_text(moment),
            "store": {"number": store.number, "name": store.name, "region": store.region},
            "faces": [face for face in faces if face["store"] == number],
            "documents": listed,
        }
        sums["manifest.json"] = _put(archive, "manifest.json", record_text(manifest).encode(), moment)
        _put(archive, "SHA256SUMS", "".join(f"{sums[path]}  {path}\n" for path in sums).encode(), moment)
    return len(paths)


def _path(place: int, evidence: Evidence, document: Document, name: str) -> str:
    """Numbered in the order of time; of a name from outside, letters and digits are kept."""
    stem, _, ending = name.rpartition(".")
    plain = re.sub(r"[^A-Za-z0-9_-]+", "-", stem or name).strip("-")[:60] or "document"
    known = ENDINGS.get(document.kind, (".json",))
    suffix = f".{ending.casefold()}" if f".{ending.casefold()}" in known else known[0]
    if document.kind == "photo":
        head = document.content[:12]
        suffix = next((s for mark, s in PHOTOS.items() if mark in head), ".jpg")
    return f"{place:03}-{evidence.said.seen_at:%Y-%m-%d}-{document.kind}-{plain}{suffix}"


def _listed(path: str, document: Document, evidence: Evidence, added_at: datetime) -> dict[str, object]:
    return {
        "path": path,
        "kind": document.kind,
        "display": evidence.place.display,
        "face": evidence.place.face,
        "seen_at": time_text(evidence.said.seen_at),
        "added_at": time_text(added_at),
        "sha256_as_it_came": document.sha256,
        "sha256_here": hashlib.sha256(document.content).hexdigest(),
        "size_bytes": len(document.content),
    }


def _put(archive: zipfile.ZipFile, path: str, content: bytes, moment: datetime) -> str:
    """Its SHA-256."""
    date_time = max(EARLIEST, moment.timetuple()[:6])
    entry = zipfile.ZipInfo(path, date_time)
    entry.compress_type = zipfile.ZIP_DEFLATED
    entry.external_attr = 0o644 << 16
    archive.writestr(entry, content)
    return hashlib.sha256(content).hexdigest()
