"""How the files of the bad card are named otherwise than those of the good one, and what that may do.

It must not look into the files.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from string import ascii_letters, digits

from mediacheck.compare.model import Difference
from mediacheck.compare.pairing import Pair, Pairing
from mediacheck.compare.weight import EASED, usual
from mediacheck.loop import File
from mediacheck.media.extensions import extension
from mediacheck.names import RuleName, Severity
from mediacheck.rules.wording import place

ITEMS = ("video", "still")
USUAL_SIGNS = frozenset(ascii_letters + digits + "._-")
SHORT_NAME, SHORT_STEM = 12, 8
"""Eight letters, a dot and three: names as FAT had them before long ones (Microsoft FAT32 specification)."""
RENAME = "Give this file the name that it has on the good card."


def compare_names(pairing: Pairing, good: Sequence[File]) -> tuple[Difference, ...]:
    """Differences of names: of files that stand for each other, and of items that the good card has not."""
    return tuple(_differences(pairing, [file for file in good if file.kind != "junk"]))


def _differences(pairing: Pairing, good: Sequence[File]) -> Iterator[Difference]:
    folders = {file.entry.folder.casefold() for file in good if file.kind in ITEMS}
    endings = {extension(file.entry.name) for file in good}
    for pair in pairing.pairs:
        if pair.good.entry.path != pair.bad.entry.path:
            yield from _renamed(pair, folders, endings)
    changed = [(pair.bad, pair.good) for pair in pairing.pairs if pair.good.entry.name != pair.bad.entry.name]
    for file in pairing.extra:
        if file.kind in ITEMS and folders and file.entry.folder.casefold() not in folders:
            yield _elsewhere(file)
    names = _Names.of([file.entry.name for file in good if file.kind in ITEMS])
    for file, other in (*changed, *((file, None) for file in pairing.extra)):
        if file.kind in ITEMS:
            yield from _unlike_all(file, other, names)


def _renamed(pair: Pair, folders: set[str], endings: set[str]) -> Iterator[Difference]:
    good, bad = pair.good.entry, pair.bad.entry
    if good.path.casefold() == bad.path.casefold():
        yield _made(
            pair,
            "file-name",
            "warn" if good.name.rpartition(".")[2] != bad.name.rpartition(".")[2] else "note",
            "The name differs in capitals only: the card does not tell them apart, and a few players do and "
            "skip it.",
            RENAME,
        )
        return
    if good.folder.casefold() != bad.folder.casefold():
        yield _moved(pair, bad.folder.casefold() in folders)
    if extension(good.name) != extension(bad.name):
        ours, theirs = extension(good.name) or "nothing", extension(bad.name) or "nothing"
        known = extension(bad.name) in endings
        yield _made(
            pair,
            "file-extension",
            EASED[usual("file-extension")] if known else usual("file-extension"),
            f"The name ends in {theirs} and on the good card in {ours}: players go by the ending, and skip "
            "or misread what they do not know.",
            RENAME,
        )
    elif good.name.casefold() != bad.name.casefold():
        yield _made(
            pair,
            "file-name",
            "note",
            "It has another name on the good card: a player that goes by name plays it at another place, "
            "and one that waits for certain names skips it.",
            RENAME,
        )


def _moved(pair: Pair, known: bool) -> Difference:
    usually = usual("file-misplaced")
    here, there = place(pair.bad.entry.folder), place(pair.good.entry.folder)
    return _made(
        pair,
        "file-misplaced",
        "note" if known else usually if pair.good.kind in ITEMS else EASED[usually],
        f"It lies in {here}, and on the good card in {there}: "
        + (
            "the good card has items in both, so the player looks there, but may play it at another place."
            if known
            else "where the player does not look, it is never shown."
        ),
        f"Move this file to {there}.",
        there,
        here,
    )


def _elsewhere(file: File) -> Difference:
    here = place(file.entry.folder)
    return Difference(
        subject="layout",
        severity=usual("file-misplaced"),
        rule="file-misplaced",
        good_path=None,
        bad_path=file.entry.path,
        good="no item lies there",
        bad=here,
        message=f"It lies in {here}, where no item of the good card lies: where the player does not look, it "
        "is never shown.",
        action="Move this file to where the items of the good card lie.",
    )


@dataclass(frozen=True, slots=True)
class _Names:
    """What the names of all items on the good card have in common, read once."""

    count: int
    ascii_only: bool
    signs: frozenset[str]
    longest: int
    short_only: bool

    @classmethod
    def of(cls, names: Sequence[str]) -> _Names:
        return cls(
            len(names),
            all(each.isascii() for each in names),
            USUAL_SIGNS | set("".join(names)),
            max(map(len, names), default=0),
            all(map(_is_short, names)),
        )

    @property
    def words(self) -> str:
        return f"all {self.count:,} names" if self.count > 1 else "the only name"


def _unlike_all(file: File, other: File | None, names: _Names) -> Iterator[Difference]:
    """What no name on the good card is: it is not known that such names play."""
    name = file.entry.name
    if not names.count:
        return
    if not name.isascii() and names.ascii_only:
        signs = "".join(sorted({each for each in name if not each.isascii()}))
        yield _name(
            file,
            other,
            usual("file-name"),
            f"plain English letters in {names.words}",
            f'Its name has letters beyond plain English ("{signs}"), as no name on the good card has: simple '
            "players cannot open it and skip it or stop.",
        )
    odd = {each for each in name if each.isascii()} - names.signs
    if odd:
        shown = " ".join("space" if each == " " else each for each in sorted(odd))
        yield _name(
            file,
            other,
            EASED[usual("file-name")],
            f"none of these in {names.words}",
            f"Its name has signs that no name on the good card has ({shown}): some players skip such files.",
        )
    yield from _longer(file, other, names)


def _longer(file: File, other: File | None, names: _Names) -> Iterator[Difference]:
    name = file.entry.name
    if len(name) <= names.longest:
        return
    crossed = not _is_short(name) and names.short_only
    effect = (
        "players that know only names of eight letters, a dot and three show it under another name or skip it"
        if crossed
        else "some players cut long names off, or skip such files"
    )
    yield Difference(
        subject="name",
        severity=EASED[usual("file-name-length")],
        rule="file-name-length",
        good_path=other.entry.path if other else None,
        bad_path=file.entry.path,
        good=f"at most {names.longest} characters",
        bad=f"{len(name)} characters",
        message=f"Its name is longer ({len(name)} characters) than any on the good card ({names.longest}): "
        f"{effect}.",
        action="Give this file a name as short as those on the good card.",
    )


def _is_short(name: str) -> bool:
    stem = name.partition(".")[0]
    return name.isascii() and len(name) <= SHORT_NAME and len(stem) <= SHORT_STEM and name.count(".") <= 1


def _name(file: File, other: File | None, severity: Severity, good: str, message: str) -> Difference:
    return Difference(
        subject="name",
        severity=severity,
        rule="file-name",
        good_path=other.entry.path if other else None,
        bad_path=file.entry.path,
        good=good,
        bad=file.entry.name,
        message=message,
        action=RENAME if other else "Give this file a name of plain letters, digits, dots, - and _.",
    )


def _made(
    pair: Pair,
    rule: RuleName,
    severity: Severity,
    message: str,
    action: str,
    good: str | None = None,
    bad: str | None = None,
) -> Difference:
    return Difference(
        subject="layout" if rule == "file-misplaced" else "name",
        severity=severity,
        rule=rule,
        good_path=pair.good.entry.path,
        bad_path=pair.bad.entry.path,
        good=good or pair.good.entry.name,
        bad=bad or pair.bad.entry.name,
        message=message,
        action=action,
    )
