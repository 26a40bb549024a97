"""Takes what came into the ledger: each file once, the broken ones listed, the rest confirmed piece by piece.

It must not decide what a document says or for whom it is.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path, PurePosixPath
from zoneinfo import ZoneInfo

from mediacheck.report.words import safe
from mediacheck.stores.ledger import Ledger
from mediacheck.stores.model import Document, Evidence, Said
from mediacheck.stores.parcels import Parcel, parcels
from mediacheck.stores.placing import Given, Placing
from mediacheck.stores.reading import NotTaken, PassedOver, kept_form, said_in

BATCH = 250
"""So many files are confirmed at once: each time, the disk is waited for."""
BATCH_BYTES = 64_000_000
NAME_MAX = 200
Entry = tuple[Document, tuple[Evidence, ...]]


@dataclass(frozen=True, slots=True)
class Refused:
    """A file that was not taken, and why, as a clause."""

    shown: str
    why: str


@dataclass(frozen=True, slots=True)
class Added:
    """What became of all files."""

    new: int
    """Taken now."""
    known: int
    """Here before."""
    refused: tuple[Refused, ...]
    passed_over: int = 0
    """Of ours, and saying nothing of one face."""

    @property
    def files(self) -> int:
        """All that were meant for a ledger."""
        return self.new + self.known + len(self.refused)


@dataclass(frozen=True, slots=True)
class Listeners:
    """Who is told how it goes on."""

    seen: Callable[[str], None] = lambda shown: None
    """Each file, when it is looked at."""
    confirmed: Callable[[Sequence[str]], None] = lambda shown: None
    """Files that are in the ledger for good."""


def add(
    ledger: Ledger,
    places: Sequence[Path],
    given: Given = Given(),  # noqa: B008 - it cannot change
    with_words: bool = False,
    listeners: Listeners = Listeners(),
    now: datetime | None = None,
) -> Added:
    """Take every file of these files, folders and archives that says something of a planned store.

    `with_words`: photos keep what they say of people. Whatever happens, a file that was told to be confirmed
    is in the ledger, and one that was not is not there in part.
    """
    moment = now or datetime.now(UTC)
    plan = ledger.plan()
    zones = {store.number: ZoneInfo(store.time_zone) for store in plan.stores}
    taking = _Taking(zones, Placing(plan, given), with_words, moment)
    new = known = passed_over = 0
    refused: list[Refused] = []
    for batch in _batches(parcels(places)):
        entries: list[tuple[str, Entry]] = []
        for parcel in batch:
            listeners.seen(parcel.shown)
            try:
                entries.append((parcel.shown, taking.entry(parcel)))
            except PassedOver:
                passed_over += 1
            except NotTaken as reason:
                refused.append(Refused(parcel.shown, str(reason)))
        if entries:
            fresh = ledger.add([entry for _, entry in entries], moment)
            new, known = new + fresh, known + len(entries) - fresh
            listeners.confirmed([shown for shown, _ in entries])
    return Added(new, known, tuple(refused), passed_over)


def _batches(found: Iterator[Parcel]) -> Iterator[list[Parcel]]:
    batch: list[Parcel] = []
    size_bytes = 0
    for parcel in found:
        batch.append(parcel)
        size_bytes += len(parcel.content or b"")
        if len(batch) >= BATCH or size_bytes >= BATCH_BYTES:
            yield batch
            batch, size_bytes = [], 0
    if batch:
        yield batch


@dataclass(frozen=True, slots=True)
class _Taking:
    zones: Mapping[str, ZoneInfo]
    placing: Placing
    with_words: bool
    now: datetime

    def entry(self, parcel: Parcel) -> Entry:
        """The document and what it says. NotTaken."""
        if parcel.content is None:
            raise NotTaken(parcel.refused)
        said = said_in(parcel.content, parcel.changed_at, self.now)
        place = self.placing.place(parcel.shown, said)
        digest = hashlib.sha256(parcel.content).hexdigest()
        document = Document(
            digest, said.kind, _name(parcel.shown), kept_form(parcel.content, said, self.with_words)
        )
        return document, (Evidence(place, digest, _by_clock(said, self.zones[place.store])),)


def _by_clock(said: Said, zone: ZoneInfo) -> Said:
    """With its moment in UTC; a phone's clock without a zone is that of the store."""
    there = said.seen_at if said.seen_at.tzinfo else said.seen_at.replace(tzinfo=zone)
    return replace(said, seen_at=there.astimezone(UTC).replace(microsecond=0))


def _name(shown: str) -> str:
    """The file's own name: folders may tell whose computer it was on."""
    return safe(PurePosixPath(shown.replace("\\", "/")).name)[-NAME_MAX:]
