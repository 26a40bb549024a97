"""The tables of the ledger, the same in SQLite and in PostgreSQL.

It must not hold statements: those are for `ledger`, `plans` and `reports`.
"""

from __future__ import annotations

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
)

LAYOUT = 1
"""Of the tables; a ledger with another one is refused."""
metadata = MetaData()

about = Table("about", metadata, Column("layout", Integer, primary_key=True))

stores = Table(
    "stores",
    metadata,
    Column("number", String, primary_key=True),
    Column("name", String, nullable=False),
    Column("region", String, nullable=False),
    Column("place", String, nullable=False),
    Column("time_zone", String, nullable=False),
    Column("due", String),
)
"""Dates are text (ISO 8601), so that both databases order and keep them alike."""

displays = Table(
    "displays",
    metadata,
    Column("id", String, primary_key=True),
    Column("title", String, nullable=False),
)

faces = Table(
    "faces",
    metadata,
    Column("display", String, ForeignKey("displays.id"), primary_key=True),
    Column("face", String, primary_key=True),
    Column("name", String, nullable=False),
    Column("position", Integer, nullable=False),
    Column("profile", String, nullable=False),
)
"""`face` is the name as names are compared."""

loops = Table(
    "loops",
    metadata,
    Column("display", String, primary_key=True),
    Column("face", String, primary_key=True),
    Column("version", String, primary_key=True),
    Column("starts", String),
    Column("confirm_by", String),
    Column("content", String),
    Column("picture", String),
)

standing = Table(
    "standing",
    metadata,
    Column("store", String, ForeignKey("stores.number"), primary_key=True),
    Column("display", String, primary_key=True),
)
"""Which displays stand in which store."""

pictures = Table(
    "pictures",
    metadata,
    Column("sha256", String, primary_key=True),
    Column("jpeg", LargeBinary, nullable=False),
)

documents = Table(
    "documents",
    metadata,
    Column("sha256", String, primary_key=True),
    Column("kind", String, nullable=False),
    Column("name", String, nullable=False),
    Column("added_at", BigInteger, nullable=False),
    Column("content", LargeBinary, nullable=False),
)
"""`content` is packed (zlib)."""

evidence = Table(
    "evidence",
    metadata,
    Column("id", BigInteger().with_variant(Integer, "sqlite"), primary_key=True, autoincrement=True),
    Column("document", String, ForeignKey("documents.sha256"), nullable=False),
    Column("store", String, nullable=False),
    Column("display", String, nullable=False),
    Column("face", String, nullable=False),
    Column("kind", String, nullable=False),
    Column("rank", String),
    Column("seen_at", BigInteger, nullable=False),
    Column("verdict", String),
    Column("content", String),
    Column("held", Boolean, nullable=False),
    Column("version", String),
    Column("answer", String),
    Column("shows_display", String),
    Column("shows_face", String),
    Column("profile", String, nullable=False),
    Column("card_label", String, nullable=False),
    Column("file_system", String, nullable=False),
    Column("findings", Text, nullable=False),
    Column("picture", String),
    UniqueConstraint("document", "store", "display", "face"),
)
"""What each document says of a face. `rank` orders what tells the state (time, then document), and is null
for what does not; `findings` is JSON: a list of rule, severity and message."""

Index("evidence_rank", evidence.c.store, evidence.c.display, evidence.c.face, evidence.c.rank)
