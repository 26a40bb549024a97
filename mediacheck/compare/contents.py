"""In which facts files of the bad card differ from those that stand for them on the good card.

It must not know single facts, and must not pair files.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from mediacheck.compare.fact import Fact, Value
from mediacheck.compare.facts import FACTS
from mediacheck.compare.found import Found, sorted_out
from mediacheck.compare.model import Difference, NotCompared
from mediacheck.compare.pairing import Pair, Pairing
from mediacheck.compare.weight import EASED, Census, usual, variety
from mediacheck.loop import File
from mediacheck.media.facts import Unreadable
from mediacheck.names import FileKind
from mediacheck.report.words import counted
from mediacheck.rules.wording import capital, either

MEDIA: tuple[FileKind, ...] = ("video", "still", "audio")
MOST_VALUES = 4
NOUNS = {"video": "video", "still": "still", "audio": "sound file"}
HARDLY = "it asks no more of a player than the one on the good card, so it is hardly the cause"
LESS_LIKELY = ", though the good card has such files too and plays"


@dataclass(frozen=True, slots=True)
class _Spread:
    """One fact over all files of one kind: how often each value is there, in words, and who has it."""

    words: Census
    good: dict[str, tuple[Value, File]]
    """Values on the good card, each with one of its files."""


class _Spreads:
    """Worked out once for each fact and kind of file."""

    def __init__(self, good: Sequence[File], bad: Sequence[File]) -> None:
        self._good, self._bad = good, bad
        self._known: dict[tuple[str, FileKind], _Spread] = {}

    def of(self, fact: Fact, kind: FileKind) -> _Spread:
        """The spread of a fact over the files of a kind."""
        key = (fact.name, kind)
        if key not in self._known:
            self._known[key] = self._made(fact, kind)
        return self._known[key]

    def _made(self, fact: Fact, kind: FileKind) -> _Spread:
        ours, theirs = (
            [(value, file) for file in files if file.kind == kind and (value := fact.read(file)) is not None]
            for files in (self._good, self._bad)
        )
        return _Spread(
            Census.of(fact.words(value) for value, _ in (*ours, *theirs)),
            {fact.words(value): (value, file) for value, file in reversed(ours)},
        )


def compare_contents(pairing: Pairing, good: Sequence[File], bad: Sequence[File]) -> Found:
    """Differences in facts: of files that stand for each other, and of items that the good card has not."""
    spreads = _Spreads(good, bad)
    alike, extra = _Tally(), _Tally()
    found = sorted_out(
        (
            *(each for pair in pairing.pairs for each in _of_pair(pair, spreads, alike)),
            *(each for file in pairing.extra for each in _of_extra(file, spreads, extra)),
        )
    )
    compared = sum(_is_compared(pair) for pair in pairing.pairs)
    same = (
        (f"In {_files(compared)} with other bytes, alike", alike.names),
        ("What only the bad card has is like something on the good card in", extra.names),
    )
    told = tuple(f"{words}: {', '.join(names)}." for words, names in same if names)
    return Found(found.differences, told, found.gaps)


def _files(count: int) -> str:
    return "the only file" if count == 1 else f"the {counted(count, 'file')}"


class _Tally:
    """Which facts were compared, and which of them never differed."""

    def __init__(self) -> None:
        self._alike: set[str] = set()
        self._apart: set[str] = set()

    def note(self, fact: Fact, *, differs: bool) -> None:
        """One more comparison of this fact."""
        (self._apart if differs else self._alike).add(fact.name)

    @property
    def names(self) -> tuple[str, ...]:
        """The facts that were alike wherever they were compared, in their order."""
        names = dict.fromkeys(fact.name for fact in FACTS)
        return tuple(name for name in names if name in self._alike and name not in self._apart)


def _is_compared(pair: Pair) -> bool:
    return pair.how != "same bytes" and bool(pair.good.media and pair.bad.media)


def _of_pair(pair: Pair, spreads: _Spreads, tally: _Tally) -> Iterator[Difference | NotCompared]:
    if pair.how == "same bytes":
        return
    if not _is_compared(pair):
        yield from _unreadable(pair)
        return
    for fact in FACTS:
        if not fact.comparable(pair.good, pair.bad):
            continue
        ours, theirs = fact.read(pair.good), fact.read(pair.bad)
        if ours is None or theirs is None:
            if ours is not theirs and pair.good.kind == pair.bad.kind and _has_part(fact, pair):
                yield _untold(fact, pair, "good" if ours is None else "bad")
            continue
        differs = fact.differs(ours, theirs)
        tally.note(fact, differs=differs)
        if differs:
            yield _difference(fact, pair, ours, theirs, spreads)


def _has_part(fact: Fact, pair: Pair) -> bool:
    """Sound that only one of the two has is a difference of its own, and no gap in each fact of sound."""
    media = (pair.good.media, pair.bad.media)
    return fact.subject != "sound" or all(each and each.audio for each in media)


def _unreadable(pair: Pair) -> Iterator[NotCompared]:
    for side, file in (("good", pair.good), ("bad", pair.bad)):
        if isinstance(file.facts, Unreadable):
            yield NotCompared(
                "what the file holds",
                f"it could not be read on the {side} card",
                expected=False,
                good_path=pair.good.entry.path,
                bad_path=pair.bad.entry.path,
            )


def _untold(fact: Fact, pair: Pair, side: str) -> NotCompared:
    return NotCompared(
        fact.name,
        f"the file on the {side} card does not say it",
        expected=True,
        good_path=pair.good.entry.path,
        bad_path=pair.bad.entry.path,
    )


def _difference(fact: Fact, pair: Pair, ours: Value, theirs: Value, spreads: _Spreads) -> Difference:
    spread = spreads.of(fact, pair.bad.kind)
    known = any(
        not fact.differs(value, theirs) and fact.comparable(file, pair.bad)
        for value, file in spread.good.values()
    )
    severity = usual(fact.rule, fact.severity)
    gentler = fact.gentler(ours, theirs)
    effect = HARDLY if gentler else fact.effect + (LESS_LIKELY if known else "")
    good, bad = fact.words(ours), fact.words(theirs)
    return Difference(
        subject=fact.subject,
        severity="note" if gentler else EASED[severity] if known else severity,
        rule=fact.rule,
        good_path=pair.good.entry.path,
        bad_path=pair.bad.entry.path,
        good=good,
        bad=bad,
        message=f"{capital(fact.says.format(bad))} (on the good card: {good}): {effect}.",
        action=fact.action,
        variety=variety(spread.words, bad),
    )


def _of_extra(file: File, spreads: _Spreads, tally: _Tally) -> Iterator[Difference]:
    """An item that nothing stands for is held against all of its kind on the good card."""
    if not file.media or file.kind not in MEDIA:
        return
    for fact in FACTS:
        theirs = fact.read(file)
        spread = spreads.of(fact, file.kind)
        ours = [value for value, one in spread.good.values() if fact.comparable(one, file)]
        if theirs is None or not ours or fact.rule in (None, "loop-length"):
            continue
        differs = all(fact.differs(value, theirs) and not fact.gentler(value, theirs) for value in ours)
        tally.note(fact, differs=differs)
        if differs:
            yield _unlike_all(fact, file, ours, theirs, spread.words)


def _unlike_all(fact: Fact, file: File, ours: Sequence[Value], theirs: Value, words: Census) -> Difference:
    values = sorted({fact.words(value) for value in ours})
    shown = either(values) if len(values) <= MOST_VALUES else f"{len(values)} others, none like this"
    bad = fact.words(theirs)
    return Difference(
        subject=fact.subject,
        severity=usual(fact.rule, fact.severity),
        rule=fact.rule,
        good_path=None,
        bad_path=file.entry.path,
        good=shown,
        bad=bad,
        message=f"{capital(fact.says.format(bad))} (every {NOUNS[file.kind]} on the good card: {shown}): "
        f"{fact.effect}.",
        action=fact.action.replace("as the one on the good card is", "as those on the good card are"),
        variety=variety(words, bad),
    )
