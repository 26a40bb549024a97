"""How the folders of the two cards differ, and the order in which their items play.

It must not look at what is in the files.
"""

from __future__ import annotations

from collections.abc import Sequence

from mediacheck.card.junk import is_junk
from mediacheck.card.model import Card
from mediacheck.compare.found import Found
from mediacheck.compare.model import Difference, NotCompared
from mediacheck.compare.pairing import Pair
from mediacheck.compare.weight import EASED, usual
from mediacheck.loop import File, name_order
from mediacheck.names import Order
from mediacheck.report.words import listed

ITEMS = ("video", "still")
MOST_NAMES = 12
ORDERS: tuple[tuple[Order, str, str], ...] = (
    ("disk", "in which the files were put onto the card", "copy them again one by one in that order"),
    ("name", "of the names", "give them names that sort as on the good card"),
)


def compare_folders(good: Card, bad: Card, good_files: Sequence[File]) -> Found:
    """Folders that only one card has; of a folder and those below it, only the folder."""
    ours, theirs = _folders(good), _folders(bad)
    holding = {file.entry.folder.casefold() for file in good_files if file.kind in ITEMS}
    differences = (
        *(_missing(ours[key], _holds(key, holding)) for key in _topmost(ours.keys() - theirs.keys())),
        *(_extra(theirs[key]) for key in _topmost(theirs.keys() - ours.keys())),
    )
    same = "The folders are the same." if ours else "Neither card has folders."
    return Found(differences, () if differences else (same,))


def _folders(card: Card) -> dict[str, str]:
    """By their names without regard to capitals, as FAT and exFAT do; what computers left behind is left
    out."""
    return {folder.casefold(): folder for folder in card.folders if not is_junk(folder)}


def _topmost(folders: set[str]) -> list[str]:
    return sorted(each for each in folders if each.rpartition("/")[0] not in folders)


def _holds(folder: str, holding: set[str]) -> bool:
    return any(each == folder or each.startswith(f"{folder}/") for each in holding)


def _missing(folder: str, holds_items: bool) -> Difference:
    return Difference(
        subject="layout",
        severity=usual("folder-missing") if holds_items else EASED[usual("folder-missing")],
        rule="folder-missing",
        good_path=folder,
        bad_path=None,
        good=folder,
        bad="no such folder",
        message=f'There is no folder "{folder}" on the bad card: a player that looks for its files there '
        "finds none and the screen stays black.",
        action=f'Make a folder "{folder}" on the bad card, and put into it what it holds on the good card.',
    )


def _extra(folder: str) -> Difference:
    return Difference(
        subject="layout",
        severity="note",
        rule=None,
        good_path=None,
        bad_path=folder,
        good="no such folder",
        bad=folder,
        message=f'The folder "{folder}" is on the bad card only: a player that looks into every folder also '
        "plays what lies in it.",
        action="Take this folder off the bad card, if nothing in it is meant to play.",
    )


def compare_order(good: Card, bad: Card, pairs: Sequence[Pair], order: Order | None) -> Found:
    """The order of the items that both cards have: that of the player, or both orders where it is not known.

    Pairs come in the on-disk order of the good card; so do the entries of `bad` in its own.
    """
    items = [pair for pair in pairs if pair.good.kind in ITEMS and pair.bad.kind in ITEMS]
    if len(items) < 2:
        return Found()
    unread = [name for name, card in (("good", good), ("bad", bad)) if not card.order_known]
    differences: list[Difference] = []
    same: list[str] = []
    gaps: list[NotCompared] = []
    for kind, which, remedy in ORDERS:
        if order not in (None, kind):
            continue
        if kind == "disk" and unread:
            gaps.append(_order_unknown(unread))
            continue
        ours, theirs = _sorted(items, kind, bad)
        if ours == theirs:
            same.append(f"The order {which}, of the {len(items)} items that both cards have.")
        else:
            differences.append(_other_order(ours, theirs, which, remedy))
    return Found(tuple(differences), tuple(same), tuple(gaps))


def _sorted(items: Sequence[Pair], order: Order, bad: Card) -> tuple[list[Pair], list[Pair]]:
    if order == "name":
        return (
            sorted(items, key=lambda pair: name_order(pair.good.entry)),
            sorted(items, key=lambda pair: name_order(pair.bad.entry)),
        )
    places = {entry.path: place for place, entry in enumerate(bad.entries)}
    return list(items), sorted(items, key=lambda pair: places[pair.bad.entry.path])


def _order_unknown(unread: Sequence[str]) -> NotCompared:
    which = "either card" if len(unread) == 2 else f"the {unread[0]} card"
    return NotCompared(
        "the order in which the items lie on the cards",
        f"it could not be read from {which}: a plain folder does not tell it",
        expected=True,
    )


def _other_order(ours: Sequence[Pair], theirs: Sequence[Pair], which: str, remedy: str) -> Difference:
    pairs = enumerate(zip(ours, theirs, strict=True), 1)
    at, one, other = next((at, one, other) for at, (one, other) in pairs if one != other)
    return Difference(
        subject="order",
        severity=usual("play-order"),
        rule="play-order",
        good_path=None,
        bad_path=None,
        good=_names([pair.good.entry.path for pair in ours], at),
        bad=_names([pair.bad.entry.path for pair in theirs], at),
        message=f'In the order {which}, "{other.bad.entry.path}" comes at place {at} of the items that both '
        f'cards have, and on the good card "{one.good.entry.path}": a player that goes by that order shows '
        "them in another order.",
        action=f"Take the items off the bad card and {remedy}."
        if "copy" in remedy
        else f"To play as the good card does, {remedy}.",
    )


def _names(paths: Sequence[str], at: int) -> str:
    """All of them where they are few; else some, from the place where the two orders part."""
    if len(paths) <= MOST_NAMES:
        return ", ".join(paths)
    return f"from place {at:,} on: {listed(tuple(paths[at - 1 :]), MOST_NAMES)}"
