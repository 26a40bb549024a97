"""Which files only one of the two cards has, and which are there under one name with other contents.

It must not compare facts of files: what they hold is for `contents`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from mediacheck.compare.found import Found, sorted_out
from mediacheck.compare.model import Difference, NotCompared
from mediacheck.compare.pairing import Pair, Pairing, same_picture, same_start
from mediacheck.compare.weight import EASED, usual
from mediacheck.loop import File
from mediacheck.media.facts import Unreadable
from mediacheck.names import FileKind, Severity
from mediacheck.report.words import counted
from mediacheck.rules.wording import clause, told_apart

ITEMS: tuple[FileKind, ...] = ("video", "still")
MEDIA: tuple[FileKind, ...] = (*ITEMS, "audio")
THERE, NOT_THERE = "it is there", "no such file"
MISSING: Mapping[FileKind, str] = {
    **dict.fromkeys(ITEMS, "This item is on the good card only: on the bad one it is never shown."),
    "audio": "This sound file is on the good card only: on the bad one it is never heard.",
    "other": "This file is on the good card only: a player that takes its settings or its list of files from "
    "it may not start.",
}
EXTRA: Mapping[FileKind, str] = {
    **dict.fromkeys(
        ITEMS, "This item is on the bad card only: the player shows it too, or stops there if it cannot."
    ),
    "audio": "This sound file is on the bad card only: the player plays it too, or stops there if it cannot.",
    "other": "This file is on the bad card only: some players stop or show a message when they meet a file "
    "that they do not know.",
}
COPY_AGAIN = "Copy this file from the good card to the bad one again, if it is meant to be the same."


def compare_items(pairing: Pairing) -> Found:
    """Files that are missing, extra or changed; what is the same is told in one sentence each."""
    found = sorted_out(_all(pairing))
    files = len(pairing.pairs) + len(pairing.missing) + len(pairing.extra)
    alike = sum(pair.how == "same bytes" for pair in pairing.pairs)
    return Found(found.differences, _alike(alike, files), found.gaps)


def _alike(alike: int, files: int) -> tuple[str, ...]:
    if not alike:
        return ()
    if alike < files:
        return (f"{counted(alike, 'file')} of {files:,}: the same bytes on both cards.",)
    which = "The only file" if files == 1 else f"All {counted(files, 'file')}"
    return (f"{which}: the same bytes on both cards.",)


def _all(pairing: Pairing) -> Iterator[Difference | NotCompared]:
    if not _items(pairing.extra) and not any(pair.bad.kind in ITEMS for pair in pairing.pairs):
        yield from _nothing_to_play(pairing)
    yield from map(_missing, pairing.missing)
    yield from map(_extra, pairing.extra)
    for pair in pairing.pairs:
        if pair.how == "same picture, encoded again":
            yield _encoded_again(pair)
        elif pair.how == "same name":
            yield _unread(pair) or _changed(pair)


def _items(files: Sequence[File]) -> list[File]:
    return [file for file in files if file.kind in ITEMS]


def _nothing_to_play(pairing: Pairing) -> Iterator[Difference]:
    good = len(_items(pairing.missing)) + sum(pair.good.kind in ITEMS for pair in pairing.pairs)
    if good:
        yield Difference(
            subject="loop",
            severity=usual("loop-count"),
            rule="loop-count",
            good_path=None,
            bad_path=None,
            good=counted(good, "item"),
            bad="no item",
            message="There is no video and no still on the bad card: the player has nothing to play and the "
            "screen stays black.",
            action="Copy the items of the good card to the bad one.",
        )


def _missing(file: File) -> Difference:
    media = file.kind in MEDIA
    return Difference(
        subject="item",
        severity="warn" if media else EASED[usual("folder-missing")],
        rule=None if media else "folder-missing",
        good_path=file.entry.path,
        bad_path=None,
        good=THERE,
        bad=NOT_THERE,
        message=MISSING[file.kind],
        action="Copy this file from the good card to the bad one.",
    )


def _extra(file: File) -> Difference:
    media = file.kind in MEDIA
    return Difference(
        subject="item",
        severity="warn" if media else usual("file-unexpected"),
        rule=None if media else "file-unexpected",
        good_path=None,
        bad_path=file.entry.path,
        good=NOT_THERE,
        bad=THERE,
        message=EXTRA[file.kind],
        action="Take this file off the bad card and see whether it plays then."
        if media
        else "Take this file off the bad card.",
    )


def _unread(pair: Pair) -> NotCompared | None:
    """Same size, and bytes that were not looked at on both cards."""
    good, bad = pair.good, pair.bad
    if good.entry.size_bytes != bad.entry.size_bytes or (good.sha256 and bad.sha256):
        return None
    sides = [(name, file) for name, file in (("good", good), ("bad", bad)) if not file.sha256]
    reasons = [f"on the {name} card, {_why(file)}" for name, file in sides]
    return NotCompared(
        "whether the bytes are the same",
        "; ".join(reasons),
        expected=False,
        good_path=good.entry.path,
        bad_path=bad.entry.path,
    )


def _why(file: File) -> str:
    if isinstance(file.facts, Unreadable):
        return f"the whole file was not read ({_within(file.facts.reason)})"
    return "the whole file was not read"


def _within(sentence: str) -> str:
    """A sentence in the middle of another."""
    return clause(sentence[:1].lower() + sentence[1:])


def _encoded_again(pair: Pair) -> Difference:
    return _made(
        pair,
        "note",
        "It shows the same picture as on the good card, and was encoded again: what else differs in it is "
        "told beside its name.",
        COPY_AGAIN,
    )


def _changed(pair: Pair) -> Difference:
    if pair.bad.kind not in MEDIA and pair.good.kind not in MEDIA:
        return _made(
            pair,
            "warn",
            "It is not the same file as on the good card: a player that takes its settings or its list of "
            "files from it may behave otherwise.",
            COPY_AGAIN,
        )
    severity, said = _shown(pair)
    return _made(pair, severity, said, COPY_AGAIN)


def _shown(pair: Pair) -> tuple[Severity, str]:
    """What the screen shows under the same name."""
    if same_picture(pair.good, pair.bad):
        return "note", "Under this name the screen shows the same picture, encoded again."
    if same_start(pair.good, pair.bad):
        return "warn", "It begins as on the good card, and one of the two ends sooner: a part is missing."
    if same_start(pair.good, pair.bad) is False:
        return "warn", "Under this name the screen shows another picture than on the good card."
    return (
        "warn",
        "Its bytes are not those of the good card: it may be another version, or a copy that went wrong, "
        f"which {'crackles' if pair.bad.kind == 'audio' else 'shows blocks'} or stops.",
    )


def _made(pair: Pair, severity: Severity, message: str, action: str) -> Difference:
    good, bad = told_apart(pair.good.entry.size_bytes, pair.bad.entry.size_bytes)
    return Difference(
        subject="item",
        severity=severity,
        rule=None,
        good_path=pair.good.entry.path,
        bad_path=pair.bad.entry.path,
        good=good if good != bad else f"{good}, other bytes",
        bad=bad if good != bad else f"{bad}, other bytes",
        message=message,
        action=action,
    )
