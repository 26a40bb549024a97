"""What the ledger keeps as rows of its tables, and back.

It must not run a statement.
"""

from __future__ import annotations

import json
import zlib
from dataclasses import asdict
from datetime import UTC, date, datetime
from typing import Any

from sqlalchemy import Row

from mediacheck.stores.model import TELLING, Document, Evidence, Noted, Place, Said, Store

PACKING = 1
"""Reports are plain text: the least effort takes nine tenths of them away."""


def store_row(store: Store) -> dict[str, Any]:
    row = asdict(store)
    del row["displays"]
    return {**row, "due": day_text(store.due)}


def day_text(day: date | None) -> str | None:
    return day.isoformat() if day else None


def day_of(text: str | None) -> date | None:
    return date.fromisoformat(text) if text else None


def document_row(document: Document, now: datetime) -> dict[str, Any]:
    return {
        "sha256": document.sha256,
        "kind": document.kind,
        "name": document.name,
        "added_at": int(now.timestamp()),
        "content": zlib.compress(document.content, PACKING),
    }


def picture_key(one: Evidence) -> str:
    """Of the small picture of a photo: one for each document."""
    return one.document


def rank_of(moment: datetime, document: str) -> str:
    """Later ranks higher; at the same second, any fixed order will do."""
    return f"{int(moment.timestamp()):012d}-{document}"


def evidence_row(one: Evidence) -> dict[str, Any]:
    said = one.said
    return {
        "document": one.document,
        "store": one.place.store,
        "display": one.place.display,
        "face": one.place.face,
        "kind": said.kind,
        "rank": rank_of(said.seen_at, one.document) if tells(said) else None,
        "seen_at": int(said.seen_at.timestamp()),
        "verdict": said.verdict,
        "content": said.content,
        "held": said.held,
        "version": said.version,
        "answer": said.answer,
        "shows_display": said.shows_display,
        "shows_face": said.shows_face,
        "profile": said.profile,
        "card_label": said.card_label,
        "file_system": said.file_system,
        "findings": json.dumps([[f.rule, f.severity, f.message] for f in said.findings]),
        "picture": picture_key(one) if said.picture else None,
    }


def tells(said: Said) -> bool:
    """Whether a document tells the state of a face: a photo that is to be taken again does not."""
    return said.kind in TELLING and said.answer != "retake"


def evidence_of(row: Row[Any]) -> Evidence:
    noted = tuple(Noted(*finding) for finding in json.loads(row.findings))
    said = Said(
        kind=row.kind,
        seen_at=moment_of(row.seen_at),
        display=row.display,
        face=row.face,
        verdict=row.verdict,
        content=row.content,
        held=bool(row.held),
        answer=row.answer,
        shows_display=row.shows_display,
        shows_face=row.shows_face,
        version=row.version,
        profile=row.profile,
        card_label=row.card_label,
        file_system=row.file_system,
        findings=noted,
    )
    return Evidence(Place(row.store, row.display, row.face), row.document, said)


def moment_of(seconds: int) -> datetime:
    return datetime.fromtimestamp(seconds, UTC)
