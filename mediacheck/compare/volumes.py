"""How the two cards themselves differ: file system, parts, pieces, size and label.

It must not look at files; damage and unfinished writing are found by their rules.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from mediacheck.card.limits import SD_CLASSES, sd_class
from mediacheck.card.model import Card, Volume
from mediacheck.compare.fact import less
from mediacheck.compare.found import Found
from mediacheck.compare.model import Difference, NotCompared
from mediacheck.compare.weight import EASED, usual
from mediacheck.names import RuleName
from mediacheck.report.words import size_words
from mediacheck.rules.wording import capital, clause, exact

CLASSES = tuple(kind.name for kind in SD_CLASSES)


def _never(good: Any, bad: Any) -> bool:
    return False


@dataclass(frozen=True, slots=True)
class VolumeFact:
    """One fact of a card."""

    name: str
    rule: RuleName
    read: Callable[[Volume], Any]
    effect: str
    action: str
    words: Callable[[Any], str] = str
    gentler: Callable[[Any, Any], bool] = _never


def _size_bytes(volume: Volume) -> int | None:
    return volume.medium_bytes or volume.capacity_bytes


def _class(volume: Volume) -> str | None:
    kind = sd_class(_size_bytes(volume) or 0)
    return kind.name if kind else None


def _smaller_class(good: str, bad: str) -> bool:
    return CLASSES.index(bad) < CLASSES.index(good)


VOLUME_FACTS: tuple[VolumeFact, ...] = (
    VolumeFact(
        "the file system",
        "card-file-system",
        lambda volume: volume.file_system,
        "a player that cannot read it finds no files and the screen stays black",
        "Back up the files, format the bad card as {good}, and copy the files again.",
    ),
    VolumeFact(
        "the partition table",
        "card-partition-table",
        lambda volume: volume.partition_table,
        "a player that does not know this list of a card's parts finds no files and the screen stays black",
        "Copy the files to a new card as it was sold, or set the bad card up with {good} and one part.",
        words=lambda table: "no partition table" if table == "none" else str(table),
    ),
    VolumeFact(
        "the class of the card",
        "card-capacity",
        _class,
        "a player made for smaller cards may not see it at all and the screen stays black",
        "Use a card of the class {good}, as the good one is.",
        gentler=_smaller_class,
    ),
    VolumeFact(
        "the cluster size",
        "card-cluster-size",
        lambda volume: volume.cluster_bytes,
        "a player that expects smaller pieces may find no files",
        "Back up the files, format the bad card with a cluster size (allocation unit) of {good}, and copy "
        "the files again.",
        words=exact,
        gentler=less,
    ),
    VolumeFact(
        "the label",
        "card-label",
        lambda volume: volume.label,
        "the card may be meant for another screen, and a few players go by the label",
        "Make sure that this is the right card, and give it the label {good} if it is.",
        words=lambda label: f'"{label}"' if label else "none",
    ),
)


def compare_volumes(good: Card, bad: Card) -> Found:
    """All differences of the cards themselves, and which facts could not be compared."""
    differences: list[Difference] = []
    same: list[str] = []
    unknown: list[tuple[str, tuple[str, ...]]] = []
    for fact in VOLUME_FACTS:
        ours, theirs = (fact.read(card.volume) if card.volume else None for card in (good, bad))
        missing = tuple(name for name, value in (("good", ours), ("bad", theirs)) if value is None)
        if missing:
            unknown.append((fact.name, missing))
        elif ours == theirs:
            same.append(f"{capital(fact.name)}: {fact.words(ours)}.")
        else:
            differences.append(_difference(fact, ours, theirs))
    return Found(
        (*differences, *_other_size(good.volume, bad.volume)), tuple(same), tuple(_gaps(unknown, good, bad))
    )


def _difference(fact: VolumeFact, good: Any, bad: Any) -> Difference:
    gentler = fact.gentler(good, bad)
    effect = "players that take the good card take this as well, so it is hardly the cause"
    ours, theirs = fact.words(good), fact.words(bad)
    return Difference(
        subject="card",
        severity="note" if gentler else usual(fact.rule),
        rule=fact.rule,
        good_path=None,
        bad_path=None,
        good=ours,
        bad=theirs,
        message=f"{capital(fact.name)} of the bad card is {theirs}, and that of the good card {ours}: "
        f"{effect if gentler else fact.effect}.",
        action=fact.action.format(good=ours),
    )


def _other_size(good: Volume | None, bad: Volume | None) -> Iterator[Difference]:
    """Another size within the same class weighs one step less than another class."""
    ours, theirs = (_size_bytes(volume) if volume else None for volume in (good, bad))
    if good is None or bad is None or ours is None or theirs is None or ours == theirs:
        return
    if _class(good) != _class(bad) or (bad.claimed_bytes or 0) > theirs:
        return  # told as another class, or as a card that is smaller than it claims
    words = [size_words(ours), size_words(theirs)]
    ours_words, theirs_words = words if words[0] != words[1] else [exact(ours), exact(theirs)]
    larger = theirs > ours
    yield Difference(
        subject="card",
        severity=EASED[usual("card-capacity")],
        rule="card-capacity",
        good_path=None,
        bad_path=None,
        good=ours_words,
        bad=theirs_words,
        message=f"The bad card holds {theirs_words}, and the good card {ours_words}: cards of one class work "
        f"alike, so the {'larger' if larger else 'smaller'} one is hardly the cause.",
        action="Try a card of the same size as the good one if nothing else helps.",
    )


def _gaps(unknown: list[tuple[str, tuple[str, ...]]], good: Card, bad: Card) -> Iterator[NotCompared]:
    """One for each card or both of which facts are not known, with the reason."""
    cards = {"good": good, "bad": bad}
    for sides in dict.fromkeys(missing for _, missing in unknown):
        names = [name for name, missing in unknown if missing == sides]
        reasons = [_reason(cards[side]) for side in sides]
        told = [f"of the {side} card {reason}" for side, reason in zip(sides, reasons, strict=True)]
        if len(sides) == 2 and reasons[0] == reasons[1]:
            told = [f"of both cards {reasons[0]}"]
        yield NotCompared(", ".join(names), "; ".join(told), expected=True)


def _reason(card: Card) -> str:
    if card.volume is None and card.kind == "folder":
        return "only a folder was given, which does not tell it"
    if card.unlisted:
        return f"this is not known: {clause(card.unlisted)}"
    if card.raw_reason:
        return f"the medium itself was not looked at: {clause(card.raw_reason)}"
    return "this could not be found out"
