"""Opens a ledger where it is: a file (SQLite), or a PostgreSQL database.

It must not know what is in one.
"""

from __future__ import annotations

import os
import re
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event, func, insert, inspect, select
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, NoSuchModuleError

from mediacheck.errors import LedgerError
from mediacheck.stores import tables
from mediacheck.stores.ledger import Ledger, why

BUSY_S = 60
"""How long one writer waits for another."""
DATABASES = ("postgresql", "sqlite")
MAKING = 0x6D636B
"""Of the lock in PostgreSQL under which tables are made; any number that others do not use."""
SQLITE_HEAD = b"SQLite format 3\0"


def open_ledger(place: str, create: bool = False) -> Ledger:
    """Open the ledger at a path, or at the address of a database. LedgerError.

    `create`: make one where none is.
    """
    engine, called = _engine(place, create)
    ledger = Ledger(engine, called)
    try:
        with engine.connect() as connection:
            connection.execution_options(writes=create)
            with connection.begin():
                if create:
                    _make(connection, called)
                elif not inspect(connection).has_table(tables.about.name):
                    raise LedgerError(f"There is no ledger in {called}: `mediacheck stores plan` makes one.")
                _demand_our_layout(connection, called)
    except LedgerError:
        ledger.close()
        raise
    except DBAPIError as error:
        ledger.close()
        raise LedgerError(f"The ledger {called} cannot be used: {why(error)}") from error
    return ledger


def _make(connection: Connection, called: str) -> None:
    """Make what is not there yet. Two that do so at once wait for each other."""
    if connection.dialect.name == "postgresql":
        connection.execute(select(func.pg_advisory_xact_lock(MAKING)))
    if not inspect(connection).has_table(tables.about.name):
        _demand_no_strangers(connection, called)
        tables.metadata.create_all(connection)
        connection.execute(insert(tables.about).values(layout=tables.LAYOUT))


def _demand_our_layout(connection: Connection, called: str) -> None:
    if connection.scalar(select(tables.about.c.layout)) != tables.LAYOUT:
        raise LedgerError(f"{called} is a ledger of another version of mediacheck.")


def _demand_no_strangers(connection: Connection, called: str) -> None:
    """A database that is somebody else's gets no tables of ours. LedgerError."""
    strangers = set(inspect(connection).get_table_names()) & set(tables.metadata.tables)
    if strangers:
        raise LedgerError(f"{called} holds other things already ({sorted(strangers)[0]}) and is no ledger.")


def _engine(place: str, create: bool) -> tuple[Engine, str]:
    if "://" not in place:
        return _file_engine(Path(place), create), place
    try:
        url = make_url(place.replace("postgres://", "postgresql://", 1))
    except (ArgumentError, ValueError):
        raise LedgerError(f"{_without_password(place)} is no address of a database.") from None
    called = _called(url)
    if url.get_backend_name() not in DATABASES:
        raise LedgerError(f"{called} is no database that a ledger can be in: PostgreSQL is, or a file.")
    if url.get_backend_name() == "sqlite":
        return _file_engine(Path(url.database or ""), create), called
    if "@" in (url.host or ""):
        raise LedgerError(
            f"{_without_password(place)} is no address of a database: in a password, @ is written as %40."
        )
    if url.drivername == "postgresql":
        url = url.set(drivername="postgresql+psycopg")
    try:
        return create_engine(url, pool_pre_ping=True, connect_args={"connect_timeout": 10}), called
    except (ArgumentError, NoSuchModuleError) as error:
        raise LedgerError(f"{called} is no address of a database.") from error
    except ModuleNotFoundError as error:
        raise LedgerError(
            "For a PostgreSQL ledger, install its driver: pip install 'mediacheck[postgres]'."
        ) from error


def _called(url: URL) -> str:
    """For people: without a password, wherever it stands."""
    hidden = {key: "***" for key in url.query if "password" in key.casefold()}
    return url.update_query_dict(hidden).render_as_string(hide_password=True)


def _without_password(place: str) -> str:
    """Of an address that cannot be taken apart: what stands up to the last @ may be part of a password."""
    shorter = re.sub(r"://.*@", "://...@", place)
    return re.sub(r"(password=)[^&]*", r"\1***", shorter, flags=re.IGNORECASE)


def _file_engine(path: Path, create: bool) -> Engine:
    if path.is_dir():
        raise LedgerError(f"{path} is a folder and no ledger.")
    if not create and not path.is_file():
        raise LedgerError(f"There is no ledger at {path}: `mediacheck stores plan` makes one.")
    if not path.absolute().parent.is_dir():
        raise LedgerError(f"The ledger {path} cannot be made: its folder does not exist.")
    if not os.access(path.absolute().parent, os.W_OK):
        raise LedgerError(
            f"The ledger {path} is in a folder that you may not write to, which it needs also to be read: "
            "copy it to another place first."
        )
    _demand_ours(path)
    place = URL.create("sqlite", database=str(path.absolute()))
    engine = create_engine(place, connect_args={"timeout": BUSY_S})

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
    names = _tables_in(path) if head else ()
    if names and tables.about.name not in names:
        raise LedgerError(f"{path} holds other things already ({names[0]}) and is no ledger.")


def _tables_in(path: Path) -> tuple[str, ...]:
    """Without a change to the file: it may be another program's."""
    try:
        with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as connection:
            found = connection.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name")
            return tuple(str(row[0]) for row in found)
    except sqlite3.Error as error:
        raise LedgerError(f"{path} is no ledger of stores that can be used: {error}.") from error
