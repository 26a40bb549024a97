"""The card: what one that fits A may be that B does not read.

It must not compare sets itself (`containment`) nor word sentences that a table holds (`wording`).
"""

from __future__ import annotations

from collections.abc import Iterator

from mediacheck.card.limits import WINDOWS_NAMES
from mediacheck.profile import Profile
from mediacheck.profile_difference.containment import above, below, outside, span
from mediacheck.profile_difference.model import Lack
from mediacheck.profile_difference.wording import Values, lack, name_of, said
from mediacheck.profile_text import value_text


def card_lacks(a: Profile, b: Profile) -> Iterator[Lack]:
    """What the card lacks."""
    yield from _lists(a, b)
    yield from _names_for_windows(a, b)
    for key in ("capacity_max_gb", "cluster_bytes_max"):
        most_a, most_b = getattr(a.card, key), getattr(b.card, key)
        if share := above(span(None, most_a), span(None, most_b)):
            text = value_text(key, most_a)
            values = Values(text, value_text(key, most_b), None if most_a is None else text)
            yield lack(a, f"card.{key}", share, values)
    least_a, least_b = a.card.free_percent_min, b.card.free_percent_min
    if share := below(span(least_a or 0, None), span(least_b or 0, None)):
        text = value_text("free_percent_min", least_a)
        values = Values(text, value_text("free_percent_min", least_b), text if least_a else None)
        yield lack(a, "card.free_percent_min", share, values)
    yield from _label(a, b)


def _lists(a: Profile, b: Profile) -> Iterator[Lack]:
    for key in ("file_systems", "partition_tables"):
        left, right = getattr(a.card, key), getattr(b.card, key)
        if share := outside(left, right):
            extra = None if left is None else value_text(key, tuple(one for one in left if one not in right))
            yield lack(a, f"card.{key}", share, Values(value_text(key, left), value_text(key, right), extra))


def _names_for_windows(a: Profile, b: Profile) -> Iterator[Lack]:
    """A card of other file systems only may hold names that FAT, exFAT and Windows refuse.

    What B takes decides how names are looked at, also on a card that both read.
    """
    left, right = a.card.file_systems, b.card.file_systems
    free = left is not None and not set(left) & WINDOWS_NAMES
    bound = right is None or set(right) & WINDOWS_NAMES
    if free and bound and not outside(left, right):
        yield said(
            "card.file_systems",
            "some",
            value_text("file_systems", left),
            value_text("file_systems", right),
            f"A file for {name_of(a)} may have a name that FAT and exFAT do not take; a card for this player "
            "may be formatted so, and then the file is lost or renamed in copying.",
        )


def _label(a: Profile, b: Profile) -> Iterator[Lack]:
    left, right = a.card.label_pattern, b.card.label_pattern
    if right is None or left == right:
        return
    made = (
        f"may have any label; a card for this player is to have one that matches {right}"
        if left is None
        else f"has a label that matches {left}; a card for this player is to have one that matches {right}, "
        "and whether every such label does cannot be told"
    )
    yield said(
        "card.label_pattern",
        "some",
        value_text("label_pattern", left),
        value_text("label_pattern", right),
        f"A card for {name_of(a)} {made}, so the card may be taken for another one.",
    )
