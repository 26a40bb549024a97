"""What the cards themselves have taught: how they are formatted, how large they are, how their files lie.

It must not look at a medium: what is not known of a card is not counted.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from typing import TypeVar, get_args

from mediacheck.card.model import Card, Volume
from mediacheck.learn.evidence import ENOUGH, ONE_FILE, Sighting, content, joined
from mediacheck.learn.model import Plain, Value
from mediacheck.learn.steps import nominal_gb
from mediacheck.loop import File, name_order
from mediacheck.names import FileSystem, PartitionTable
from mediacheck.report.words import counted
from mediacheck.rules.wording import exact, size

T = TypeVar("T")

CLUSTER_MIN = 512
"""Less is no cluster that a profile can state."""


def card_values(cards: Sequence[Card], items: Sequence[Sighting]) -> Iterator[Value]:
    """Of each key as many cards count as were looked at below their files: a folder tells none of it.

    `items` are all files that play: one file on one card shows no more than that it plays.
    """
    known = [each for each in items if cards[each.card].volume]
    seen = max(len({each.card for each in known}), len(set(map(content, known))))
    values = _of_volumes(cards)
    yield from values if seen >= ENOUGH else map(_open, values)


def _open(value: Value) -> Value:
    return replace(value, evidence=joined(value.evidence, ONE_FILE), is_limit=False)


def _of_volumes(cards: Sequence[Card]) -> Iterator[Value]:
    yield from _kinds("file_systems", _each(cards, lambda volume: volume.file_system), FileSystem)
    yield from _kinds("partition_tables", _each(cards, lambda volume: volume.partition_table), PartitionTable)
    yield from _capacity(_each(cards, lambda volume: volume.medium_bytes or volume.capacity_bytes or None))
    yield from _cluster(_each(cards, lambda volume: volume.cluster_bytes or None))


def _each(cards: Sequence[Card], read: Callable[[Volume], T | None]) -> list[T | None]:
    return [read(card.volume) if card.volume else None for card in cards]


def seen_on(some: int, cards: int) -> str:
    """ "seen on 2 of 3 cards"."""
    return f"seen on {some} of {counted(cards, 'card')}"


def _value(key: str, value: Plain, known: int, cards: int, remark: str = "", is_limit: bool = True) -> Value:
    return Value(("card", key), value, joined(seen_on(known, cards), remark), is_limit)


def _kinds(key: str, found: Sequence[str | None], names: object) -> Iterator[Value]:
    known = [name for name in found if name is not None]
    kinds = tuple(name for name in get_args(names) if name in known)
    if kinds:
        each = ", ".join(f"{kind} on {counted(known.count(kind), 'card')}" for kind in kinds)
        yield _value(key, kinds, len(known), len(found), each if len(kinds) > 1 else "")


def _capacity(found: Sequence[int | None]) -> Iterator[Value]:
    known = [size_bytes for size_bytes in found if size_bytes is not None]
    if known:
        most, gb = max(known), nominal_gb(max(known))
        remark = (
            "" if most == gb * 10**9 else f"rounded up from {size(most)}, the largest, to the next size sold"
        )
        if not isinstance(gb, int):
            remark = f"rounded up from {exact(most)}, a little more than is printed on such cards"
        yield _value("capacity_max_gb", gb, len(known), len(found), remark)


def _cluster(found: Sequence[int | None]) -> Iterator[Value]:
    known = [size_bytes for size_bytes in found if size_bytes is not None]
    if known:
        most = max(known)
        remark = "the largest" if len(set(known)) > 1 else ""
        yield _value("cluster_bytes_max", most, len(known), len(found), remark, most >= CLUSTER_MIN)


def order_value(cards: Sequence[tuple[Card, Sequence[File]]]) -> Iterator[Value]:
    """That nothing can be learned about the order, and why. Items come in the card's own order."""
    known = [items for card, items in cards if card.order_known and len(items) > 1]
    if not known:
        return
    differing = sum(list(items) != sorted(items, key=lambda file: name_order(file.entry)) for items in known)
    told = (
        f"on {differing} of {counted(len(cards), 'card')} the files lie in another order than that of their "
        "names; look at the screen to see which of both the player goes by"
        if differing
        else f"on {len(known)} of {counted(len(cards), 'card')} the files lie in the order of their names, "
        "and which of both the player goes by does not show"
    )
    yield Value(("player", "order"), "name", f"{told}: too little for a limit", is_limit=False)
