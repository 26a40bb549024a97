"""The ledger: one file (SQLite), or a PostgreSQL database in its place. What is committed is never lost.

It must not judge or word anything: it keeps plans and what documents say, and hands them out again.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import datetime
from typing import Any

from sqlalchemy import (
    ColumnElement,
    Connection,
    Engine,
    Table,
    func,
    select,
)
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.exc import DBAPIError, SQLAlchemyError

from mediacheck.errors import LedgerError
from mediacheck.stores import tables
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
from mediacheck.stores.rows import (
    day_of,
    day_text,
    document_row,
    evidence_of,
    evidence_row,
    moment_of,
    picture_key,
    rank_of,
    store_row,
)
from mediacheck.stores.tables import documents, evidence, faces, loops, pictures, standing, stores

EVIDENCE_KEY = ("document", "store", "display", "face")
AT_ONCE = 500
"""Rows in one statement: PostgreSQL takes 65,535 values, SQLite 32,766."""


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
            for display in sorted(plan.displays, key=lambda one: one.id):
                _put_display(connection, display)
            _put_all(connection, pictures, [{"sha256": k, "jpeg": j} for k, j in plan.pictures.items()])
            rows = [store_row(store) for store in plan.stores]
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
        shown = {picture_key(said): said for _, some in entries for said in some if said.said.picture}
        with self._writing() as connection:
            rows = [document_row(document, now) for document, _ in entries]
            _put_all(connection, documents, rows)
            small = [{"sha256": key, "jpeg": one.said.picture} for key, one in shown.items()]
            _put_all(connection, pictures, small)
            return _put_evidence(connection, [evidence_row(one) for _, some in entries for one in some])

    def current(
        self, until: datetime | None = None, of_stores: Sequence[str] | None = None
    ) -> Mapping[Place, Evidence]:
        """Of each face, the last that tells its state; with `until`, as it was known to be then; of these
        stores, or of all."""
        told: ColumnElement[bool] = evidence.c.rank.is_not(None)
        if until is not None:
            told = evidence.c.rank < rank_of(until, "")
        with self._reading() as connection:
            if of_stores is None:
                return _last_told(connection, told)
            found: dict[Place, Evidence] = {}
            for some in _slices(list(of_stores)):
                found |= _last_told(connection, told & evidence.c.store.in_(some))
            return found

    def photos(self) -> Mapping[Place, tuple[datetime, str]]:
        """Of each face, when its last photo was taken, and the key of its small picture."""
        asked = select(
            evidence.c.store, evidence.c.display, evidence.c.face, evidence.c.seen_at, evidence.c.picture
        ).where(evidence.c.picture.is_not(None))
        with self._reading() as connection:
            rows = connection.execute(asked.order_by(evidence.c.seen_at, evidence.c.document))
            return {
                Place(row.store, row.display, row.face): (moment_of(row.seen_at), row.picture) for row in rows
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
            return tuple((evidence_of(row), row.name, moment_of(row.added_at)) for row in rows)

    def document(self, sha256: str) -> Document:
        """A document, as it is kept. LedgerError: it is not here."""
        with self._reading() as connection:
            row = connection.execute(select(documents).where(documents.c.sha256 == sha256)).first()
        if row is None:
            raise LedgerError(f"The ledger {self.called} holds no document {sha256[:12]}")
        try:
            return Document(row.sha256, row.kind, row.name, zlib.decompress(row.content))
        except zlib.error as error:
            raise LedgerError(f"The ledger {self.called} is damaged at document {sha256[:12]}.") from error

    @contextmanager
    def _writing(self) -> Iterator[Connection]:
        try:
            with self._engine.begin() as connection:
                yield connection
        except DBAPIError as error:
            raise self._refused(error) from error

    @contextmanager
    def _reading(self) -> Iterator[Connection]:
        try:
            with self._engine.connect() as connection:
                if connection.dialect.name == "postgresql":  # SQLite gives every reader one moment by itself
                    connection.execution_options(isolation_level="REPEATABLE READ")
                yield connection.execution_options(writes=False)
        except DBAPIError as error:
            raise self._refused(error) from error

    def _refused(self, error: SQLAlchemyError) -> LedgerError:
        return LedgerError(f"The ledger {self.called} cannot be used: {why(error)}")


def _last_told(connection: Connection, told: ColumnElement[bool]) -> dict[Place, Evidence]:
    place = (evidence.c.store, evidence.c.display, evidence.c.face)
    last = select(*place, func.max(evidence.c.rank).label("rank")).where(told).group_by(*place).subquery()
    same = (evidence.c.store == last.c.store) & (evidence.c.display == last.c.display)
    same &= (evidence.c.face == last.c.face) & (evidence.c.rank == last.c.rank)
    rows = connection.execute(select(evidence).join(last, same))
    return {found.place: found for found in map(evidence_of, rows)}


def why(error: SQLAlchemyError) -> str:
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
    for some in _slices(_in_order(table, rows)):
        connection.execute(line, some)


def _put_evidence(connection: Connection, rows: list[dict[str, Any]]) -> int:
    """Insert what is not there yet, and tell how much that was."""
    line = _module(connection).insert(evidence).on_conflict_do_nothing().returning(evidence.c.id)
    some_rows = _slices(_in_order(evidence, rows))
    return sum(len(connection.execute(line, some).all()) for some in some_rows)


def _in_order(table: Table, rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """By what makes a row one of its kind: two writers that lock the same rows in different orders would wait
    for each other, and PostgreSQL ends one of them."""
    names = EVIDENCE_KEY if table is evidence else [column.name for column in table.primary_key]
    return sorted(rows, key=lambda row: tuple(row[name] for name in names))


def _module(connection: Connection) -> Any:
    """What knows how conflicts are told of in this database."""
    return postgresql if connection.dialect.name == "postgresql" else sqlite


def _put_display(connection: Connection, display: PlannedDisplay) -> None:
    dates = _dates(connection, display.id)
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
            **_dated(face, loop, dates),
            "content": loop.content,
            "picture": loop.picture,
        }
        for face in display.faces
        for loop in face.loops
    ]
    _put_all(connection, loops, planned)


Dates = Mapping[tuple[str, str], tuple[str, str | None]]
"""Of faces and versions: the day from which it belongs there, and the last day to confirm it."""


def _dates(connection: Connection, display: str) -> Dates:
    asked = select(loops).where(loops.c.display == display, loops.c.starts.is_not(None))
    return {(row.face, row.version): (row.starts, row.confirm_by) for row in connection.execute(asked)}


def _dated(face: PlannedFace, loop: PlannedLoop, before: Dates) -> dict[str, str | None]:
    """A version without a date keeps the one that it was planned with before: when a display file names its
    next loop, the present one becomes an earlier one there, and is due until that day all the same."""
    starts, confirm_by = day_text(loop.starts), day_text(loop.confirm_by)
    kept = before.get((face.key, loop.version))
    next_ones = [day_text(one.starts) or "" for one in face.loops if one.starts is not None]
    if starts is None and kept is not None and all(kept[0] < day for day in next_ones):
        starts, confirm_by = kept
    return {"starts": starts, "confirm_by": confirm_by}


def _put_standing(connection: Connection, planned: Sequence[Store]) -> None:
    for some in _slices([store.number for store in planned]):
        connection.execute(standing.delete().where(standing.c.store.in_(some)))
    pairs = {(store.number, display) for store in planned for display in store.displays}
    _put_all(connection, standing, [{"store": s, "display": d} for s, d in sorted(pairs)])


def _displays(connection: Connection) -> tuple[PlannedDisplay, ...]:
    by_face: dict[tuple[str, str], list[PlannedLoop]] = {}
    for row in connection.execute(select(loops).order_by(loops.c.display, loops.c.face, loops.c.version)):
        loop = PlannedLoop(row.version, day_of(row.starts), day_of(row.confirm_by), row.content, row.picture)
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
            day_of(row.due),
            tuple(there.get(row.number, ())),
        )
        for row in rows
    )
