"""Makes many frozen records at once from their columns: a card may hold tens of thousands of files.

It must not know what the records mean.
"""

from __future__ import annotations

import gc
from collections import deque
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import MISSING, fields
from itertools import repeat
from typing import Any, TypeVar

Record = TypeVar("Record")


def records(kind: type[Record], *columns: Sequence[Any]) -> list[Record]:
    """One record for each row, from a column for each field, in order, all equally long.

    Fields at the end that have a default need no column. The records are those that the frozen, slotted
    dataclass `kind` makes itself. It sets its fields one by one through `object.__setattr__`, which takes
    two to four times as long (measured); here each column goes straight into its slot. ValueError: a field
    without column and default, or columns that are unequally long.
    """
    own, count = fields(kind), len(columns[0])  # type: ignore[arg-type]  # is a dataclass
    missing = [field.default for field in own[len(columns) :]]
    if len(columns) > len(own) or MISSING in missing or any(len(column) != count for column in columns):
        raise ValueError(f"{kind.__name__} wants a column of one length for each of its {len(own)} fields")
    made: list[Record] = list(map(object.__new__, repeat(kind, count)))
    for field, column in zip(own, [*columns, *([value] * count for value in missing)], strict=True):
        deque(map(getattr(kind, field.name).__set__, made, column), maxlen=0)
    return made


@contextmanager
def no_collection() -> Iterator[None]:
    """Python looks for garbage over and over while many objects are made: not in here, there is none."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
