"""A ledger to test with: in a file, and in PostgreSQL where a database for tests is named."""

from __future__ import annotations

import os
import secrets
from collections.abc import Iterator
from pathlib import Path

import psycopg
import pytest

from mediacheck.stores.ledger import Ledger
from mediacheck.stores.opening import open_ledger
from tests.stores.made import PLAN

DATABASE = "MEDIACHECK_TEST_DATABASE"
"""Address of a PostgreSQL database in which tests may make schemas; .ci/run starts one."""


@pytest.fixture(params=["file", "database"])
def place(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """Where a new ledger can be made, in both kinds of place."""
    if request.param == "file":
        yield str(tmp_path / "stores.ledger")
        return
    address = os.environ.get(DATABASE)
    if not address:
        pytest.skip(f"no PostgreSQL: {DATABASE} names none")
    schema = f"test_{secrets.token_hex(8)}"
    with psycopg.connect(address, autocommit=True) as connection:
        connection.execute(f"CREATE SCHEMA {schema}")
    try:
        yield f"{address}?options=-csearch_path%3D{schema}"
    finally:
        with psycopg.connect(address, autocommit=True) as connection:
            connection.execute(f"DROP SCHEMA {schema} CASCADE")


@pytest.fixture
def ledger(place: str) -> Iterator[Ledger]:
    """A new ledger with the plan of `made`."""
    with_plan = open_ledger(place, create=True)
    with_plan.put_plan(PLAN)
    yield with_plan
    with_plan.close()
