"""The ledger: one file (SQLite), or a PostgreSQL database in its place. What is committed is never lost.

It must not judge or word anything: it keeps plans and what documents say, and hands them out again.
"""

from __future__ import annotations

import json
import re
import zlib
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import (
    ColumnElement,
    Connection,
    Engine,
    Row,
    Table,
    create_engine,
    event,
    func,
    insert,
    select,
)
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError, DatabaseError, NoSuchModuleError, SQLAlchemyError

from mediacheck.errors import LedgerError
from mediacheck.stores import tables
from mediacheck.stores.model import (
    TELLING,
    Document,
    Evidence,
    Noted,
    Place,
    Plan,
    PlannedDisplay,
    PlannedFace,
    PlannedLoop,
    Said,
    Store,
)
from mediacheck.stores.tables import documents, evidence, faces, loops, pictures, standing, stores

BUSY_S = 60
"""How long one writer waits for another."""
AT_ONCE = 500
"""Rows in one statement: PostgreSQL takes 65,535 values, SQLite 32,766."""
PACKING = 1
"""Reports are plain text: the least effort takes nine tenths of them away."""
DATABASES = ("postgresql", "sqlite")
SQLITE_HEAD = b"SQLite format 3\0"


class Ledger:
    """An open ledger. Every method is one transaction."""

    def __init__(self, engine: Engine, called: str) -> None:
        self._engine = engine
        self.called = called
        """For people: without a password."""

    def close(self) -> None:
        """Give back what was opened."""
        self._engine.dispose()

    def put_plan(self, plan: Plan) -> None:
        """Take displays and stores over; those of the same name are replaced, others stay."""
        with self._writing() as connection:
            for display in plan.displays:
                _put_display(connection, display)
            _put_all(connection, pictures, [{"sha256": k, "jpeg": j} for k, j in plan.pictures.items()])
            rows = [_store_row(store) for store in plan.stores]
            _put_all(connection, stores, rows, ("name", "region", "place", "time_zone", "due"))
            _put_standing(connection, plan.stores)

    def plan(self) -> Plan:
        """All that is planned, without the pictures."""
        with self._reading() as connection:
            return Plan(_displays(connection), _stores(connection))

    def picture(self, keys: Sequence[str]) -> Mapping[str, bytes]:
        """Small pictures (JPEG) by key."""
        found: dict[str, bytes] = {}
        with self._reading() as connection:
            for some in _slices(list(keys)):
                rows = connection.execute(select(pictures).where(pictures.c.sha256.in_(some)))
                found |= {row.sha256: row.jpeg for row in rows}
        return found

    def known(self, digests: Sequence[str]) -> frozenset[str]:
        """Which of these documents are here already."""
        found: set[str] = set()
        with self._reading() as connection:
            for some in _slices(list(digests)):
                asked = select(documents.c.sha256).where(documents.c.sha256.in_(some))
                found |= set(connection.scalars(asked))
        return frozenset(found)

    def add(self, entries: Sequence[tuple[Document, Sequence[Evidence]]], now: datetime) -> int:
        """Take documents with what they say, all or none. How much of it was new."""
        shown = {_picture_key(said): said for _, some in entries for said in some if said.said.picture}
        with self._writing() as connection:
            rows = [_document_row(document, now) for document, _ in entries]
            _put_all(connection, documents, rows)
            small = [{"sha256": key, "jpeg": one.said.picture} for key, one in shown.items()]
            _put_all(connection, pictures, small)
            return _put_evidence(connection, [_row_of(one) for _, some in entries for one in some])

    def current(self, until: datetime | None = None) -> Mapping[Place, Evidence]:
        """Of each face, the last that tells its state; with `until`, as it was known to be then."""
        told: ColumnElement[bool] = evidence.c.rank.is_not(None)
        if until is not None:
            told = evidence.c.rank < _rank(until, "")
        place = (evidence.c.store, evidence.c.display, evidence.c.face)
        last = select(*place, func.max(evidence.c.rank).label("rank")).where(told).group_by(*place).subquery()
        same = (evidence.c.store == last.c.store) & (evidence.c.display == last.c.display)
        same &= (evidence.c.face == last.c.face) & (evidence.c.rank == last.c.rank)
        with self._reading() as connection:
            rows = connection.execute(select(evidence).join(last, same))
            return {found.place: found for found in map(_evidence, rows)}

    def photos(self) -> Mapping[Place, tuple[datetime, str]]:
        """Of each face, when its last photo was taken, and the key of its small picture."""
        asked = select(
            evidence.c.store, evidence.c.display, evidence.c.face, evidence.c.seen_at, evidence.c.picture
        ).where(evidence.c.picture.is_not(None))
        with self._reading() as connection:
            rows = connection.execute(asked.order_by(evidence.c.seen_at, evidence.c.document))
            return {
                Place(row.store, row.display, row.face): (_moment(row.seen_at), row.picture) for row in rows
            }

    def history(self, store: str) -> tuple[tuple[Evidence, str, datetime], ...]:
        """All that is known of a store, in the order of time: with each document's name, and when it came."""
        asked = (
            select(evidence, documents.c.name, documents.c.added_at)
            .join(documents, documents.c.sha256 == evidence.c.document)
            .where(evidence.c.store == store)
            .order_by(evidence.c.seen_at, evidence.c.document, evidence.c.display, evidence.c.face)
        )
        with self._reading() as connection:
            rows = connection.execute(asked)
            return tuple((_evidence(row), row.name, _moment(row.added_at)) for row in rows)

    def document(self, sha256: str) -> Document:
        """A document, as it is kept. LedgerError: it is not here."""
        with self._reading() as connection:
            row = connection.execute(select(documents).where(documents.c.sha256 == sha256)).first()
        if row is None:
            raise LedgerError(f"The ledger {self.called} holds no document {sha256[:12]}")
        return Document(row.sha256, row.kind, row.name, zlib.decompress(row.content))

    @contextmanager
    def _writing(self) -> Iterator[Connection]:
        try:
            with self._engine.begin() as connection:
                yield connection
        except DatabaseError as error:
            raise self._refused(error) from error

    @contextmanager
    def _reading(self) -> Iterator[Connection]:
        try:
            with self._engine.connect() as connection:
                yield connection.execution_options(writes=False)
        except DatabaseError as error:
            raise self._refused(error) from error

    def _refused(self, error: SQLAlchemyError) -> LedgerError:
        return LedgerError(f"The ledger {self.called} cannot be used: {_why(error)}")


def open_ledger(place: str, create: bool = False) -> Ledger:
    """Open the ledger at a path, or at the address of a database. LedgerError.

    `create`: make one where none is.
    """
    engine, called = _engine(place, create)
    ledger = Ledger(engine, called)
    try:
        with engine.begin() as connection:
            if create:
                tables.metadata.create_all(connection)
                if connection.scalar(select(tables.about.c.layout)) is None:
                    connection.execute(insert(tables.about).values(layout=tables.LAYOUT))
            layout = connection.scalar(select(tables.about.c.layout))
    except DatabaseError as error:
        ledger.close()
        raise LedgerError(f"{called} is no ledger of stores that can be used: {_why(error)}") from error
    if layout != tables.LAYOUT:
        ledger.close()
        raise LedgerError(f"{called} is a ledger of another version of mediacheck.")
    return ledger


def _engine(place: str, create: bool) -> tuple[Engine, str]:
    if "://" not in place:
        return _file_engine(Path(place), create), place
    try:
        url = make_url(place)
        called = url.render_as_string(hide_password=True)
        if url.get_backend_name() not in DATABASES:
            raise LedgerError(f"{called} is no database that a ledger can be in: PostgreSQL is, or a file.")
        if url.get_backend_name() == "sqlite":
            return _file_engine(Path(url.database or ""), create), called
        if url.drivername == "postgresql":
            url = url.set(drivername="postgresql+psycopg")
        return create_engine(url, pool_pre_ping=True, connect_args={"connect_timeout": 10}), called
    except (ArgumentError, NoSuchModuleError, ModuleNotFoundError) as error:
        if isinstance(error, ModuleNotFoundError):
            raise LedgerError(
                "For a PostgreSQL ledger, install its driver: pip install 'mediacheck[postgres]'."
            ) from error
        raise LedgerError(f"{_without_password(place)} is no address of a database.") from error


def _without_password(place: str) -> str:
    return re.sub(r"://[^@/]*@", "://...@", place)


def _file_engine(path: Path, create: bool) -> Engine:
    if path.is_dir():
        raise LedgerError(f"{path} is a folder and no ledger.")
    if not create and not path.is_file():
        raise LedgerError(f"There is no ledger at {path}: `mediacheck stores plan` makes one.")
    _demand_ours(path)
    engine = create_engine(f"sqlite:///{path.as_posix()}", connect_args={"timeout": BUSY_S})

    @event.listens_for(engine, "connect")
    def _settle(connection: Any, _: object) -> None:
        """A write-ahead log lets people read while one writes; FULL: what is confirmed is on the disk."""
        connection.isolation_level = None  # ours are the BEGINs
        for setting in ("journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON"):
            connection.execute(f"PRAGMA {setting}")

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        """Two that read first and write then would wait for each other for ever."""
        writes = connection.get_execution_options().get("writes", True)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


def _demand_ours(path: Path) -> None:
    try:
        with path.open("rb") as file:
            head = file.read(len(SQLITE_HEAD))
    except FileNotFoundError:
        return
    except OSError as error:
        raise LedgerError(f"The ledger {path} cannot be read: {error.strerror or error}.") from error
    if head and head != SQLITE_HEAD:
        raise LedgerError(f"{path} is no ledger of stores: it is some other file.")


def _why(error: SQLAlchemyError) -> str:
    """The database's own words, in one line."""
    cause = getattr(error, "orig", None) or error
    return " ".join(str(cause).split())[:300].rstrip(".") + "."


def _slices(rows: list[Any]) -> Iterator[list[Any]]:
    for at in range(0, len(rows), AT_ONCE):
        yield rows[at : at + AT_ONCE]


def _put_all(
    connection: Connection, table: Table, rows: list[dict[str, Any]], replaced: Sequence[str] = ()
) -> None:
    """Insert what is not there yet; of what is, replace these columns."""
    line = _module(connection).insert(table)
    if replaced:
        keys = [column.name for column in table.primary_key]
        taken = {name: line.excluded[name] for name in replaced}
        line = line.on_conflict_do_update(index_elements=keys, set_=taken)
    else:
        line = line.on_conflict_do_nothing()
    for some in _slices(rows):
        connection.execute(line, some)


def _put_evidence(connection: Connection, rows: list[dict[str, Any]]) -> int:
    """Insert what is not there yet, and tell how much that was."""
    line = _module(connection).insert(evidence).on_conflict_do_nothing().returning(evidence.c.id)
    return sum(len(connection.execute(line, some).all()) for some in _slices(rows))


def _module(connection: Connection) -> Any:
    """What knows how conflicts are told of in this database."""
    return postgresql if connection.dialect.name == "postgresql" else sqlite


def _put_display(connection: Connection, display: PlannedDisplay) -> None:
    _put_all(connection, tables.displays, [{"id": display.id, "title": display.title}], ("title",))
    connection.execute(loops.delete().where(loops.c.display == display.id))
    connection.execute(faces.delete().where(faces.c.display == display.id))
    rows = [
        {"display": display.id, "face": f.key, "name": f.name, "position": n, "profile": f.profile}
        for n, f in enumerate(display.faces)
    ]
    _put_all(connection, faces, rows)
    planned = [
        {
            "display": display.id,
            "face": face.key,
            "version": loop.version,
            "starts": _text(loop.starts),
            "confirm_by": _text(loop.confirm_by),
            "content": loop.content,
            "picture": loop.picture,
        }
        for face in display.faces
        for loop in face.loops
    ]
    _put_all(connection, loops, planned)


def _put_standing(connection: Connection, planned: Sequence[Store]) -> None:
    for some in _slices([store.number for store in planned]):
        connection.execute(standing.delete().where(standing.c.store.in_(some)))
    pairs = {(store.number, display) for store in planned for display in store.displays}
    _put_all(connection, standing, [{"store": s, "display": d} for s, d in sorted(pairs)])


def _store_row(store: Store) -> dict[str, Any]:
    row = asdict(store)
    del row["displays"]
    return {**row, "due": _text(store.due)}


def _text(day: date | None) -> str | None:
    return day.isoformat() if day else None


def _day(text: str | None) -> date | None:
    return date.fromisoformat(text) if text else None


def _displays(connection: Connection) -> tuple[PlannedDisplay, ...]:
    by_face: dict[tuple[str, str], list[PlannedLoop]] = {}
    for row in connection.execute(select(loops).order_by(loops.c.display, loops.c.face, loops.c.version)):
        loop = PlannedLoop(row.version, _day(row.starts), _day(row.confirm_by), row.content, row.picture)
        by_face.setdefault((row.display, row.face), []).append(loop)
    of_display: dict[str, list[PlannedFace]] = {}
    for row in connection.execute(select(faces).order_by(faces.c.display, faces.c.position)):
        face = PlannedFace(row.name, row.profile, tuple(by_face.get((row.display, row.face), ())))
        of_display.setdefault(row.display, []).append(face)
    rows = connection.execute(select(tables.displays).order_by(tables.displays.c.id))
    return tuple(PlannedDisplay(row.id, row.title, tuple(of_display.get(row.id, ()))) for row in rows)


def _stores(connection: Connection) -> tuple[Store, ...]:
    there: dict[str, list[str]] = {}
    for row in connection.execute(select(standing).order_by(standing.c.store, standing.c.display)):
        there.setdefault(row.store, []).append(row.display)
    rows = connection.execute(select(stores).order_by(stores.c.number))
    return tuple(
        Store(
            row.number,
            row.name,
            row.region,
            row.place,
            row.time_zone,
            _day(row.due),
            tuple(there.get(row.number, ())),
        )
        for row in rows
    )


def _document_row(document: Document, now: datetime) -> dict[str, Any]:
    return {
        "sha256": document.sha256,
        "kind": document.kind,
        "name": document.name,
        "added_at": int(now.timestamp()),
        "content": zlib.compress(document.content, PACKING),
    }


def _picture_key(one: Evidence) -> str:
    """Of the small picture of a photo: one for each document."""
    return one.document


def _rank(moment: datetime, document: str) -> str:
    """Later ranks higher; at the same second, any fixed order will do."""
    return f"{int(moment.timestamp()):012d}-{document}"


def _row_of(one: Evidence) -> dict[str, Any]:
    said = one.said
    return {
        "document": one.document,
        "store": one.place.store,
        "display": one.place.display,
        "face": one.place.face,
        "kind": said.kind,
        "rank": _rank(said.seen_at, one.document) if tells(said) else None,
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
        "picture": _picture_key(one) if said.picture else None,
    }


def tells(said: Said) -> bool:
    """Whether a document tells the state of a face: a photo that is to be taken again does not."""
    return said.kind in TELLING and said.answer != "retake"


def _evidence(row: Row[Any]) -> Evidence:
    noted = tuple(Noted(*finding) for finding in json.loads(row.findings))
    said = Said(
        kind=row.kind,
        seen_at=_moment(row.seen_at),
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


def _moment(seconds: int) -> datetime:
    return datetime.fromtimestamp(seconds, UTC)
