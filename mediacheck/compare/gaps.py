"""What of two cards was not compared because of how deep they were looked at, or what could not be read.

It must not compare.
"""

from __future__ import annotations

from collections.abc import Iterator

from mediacheck.compare.model import NotCompared
from mediacheck.compare.pairing import Pairing
from mediacheck.loop import File
from mediacheck.measure.model import NotMeasured
from mediacheck.names import Depth
from mediacheck.rules.measured import telling_print
from mediacheck.rules.wording import clause
from mediacheck.survey import Surveyed

PLAYED = ("video", "still", "audio")
NEEDS_FULL = "this needs every picture decoded (--depth full)"


def gaps_of(good: Surveyed, bad: Surveyed, pairing: Pairing, depth: Depth) -> tuple[NotCompared, ...]:
    """Of both cards; what single facts do not tell is found where they are compared."""
    return (
        *_unlisted(good, bad),
        *_nothing_to_go_by(good),
        *_damage(good, bad),
        *_pictures(good, bad, pairing, depth),
    )


def _unlisted(good: Surveyed, bad: Surveyed) -> Iterator[NotCompared]:
    for side, surveyed in (("good", good), ("bad", bad)):
        if surveyed.card.unlisted:
            reason = f"the files of the {side} card could not be listed: {clause(surveyed.card.unlisted)}"
            yield NotCompared("folders, names, order and files", reason, expected=False)


def _nothing_to_go_by(good: Surveyed) -> Iterator[NotCompared]:
    """A card without items cannot be one that plays: most likely the two were named the wrong way round."""
    if not good.card.unlisted and not any(file.kind in PLAYED for file in good.files):
        reason = "the good card has nothing to play: name the card that plays first"
        yield NotCompared("what plays", reason, expected=False)


def _damage(good: Surveyed, bad: Surveyed) -> Iterator[NotCompared]:
    sides = [side for side, surveyed in (("good", good), ("bad", bad)) if surveyed.card.damage is None]
    if sides:
        which = "either card" if len(sides) == 2 else f"the {sides[0]} card"
        reason = f"the medium of {which} was not looked at"
        yield NotCompared("damage of the card", reason, expected=True)


def _pictures(good: Surveyed, bad: Surveyed, pairing: Pairing, depth: Depth) -> Iterator[NotCompared]:
    """What the pictures show tells files apart only where their bytes do not."""
    unlike = [file for pair in pairing.pairs if pair.how == "same name" for file in (pair.good, pair.bad)]
    files = (*unlike, *pairing.missing, *pairing.extra)
    if any(file.kind == "still" for file in files):
        reason = "stills that are not the same byte by byte are known again by their names only"
        yield NotCompared("what the stills show", reason, expected=True)
    if depth == "quick":
        if any(file.kind == "video" for file in (*good.files, *bad.files)):
            yield NotCompared("what the pictures of the videos show", NEEDS_FULL, expected=True)
        return
    on_good = {id(file) for file in good.files}
    for file in files:
        if file.kind == "video" and file.media and telling_print(file) is None:
            yield _unseen(file, id(file) in on_good)


def _unseen(file: File, is_good: bool) -> NotCompared:
    reason, expected = _why_unseen(file)
    return NotCompared(
        "what the picture shows",
        reason,
        expected=expected,
        good_path=file.entry.path if is_good else None,
        bad_path=None if is_good else file.entry.path,
    )


def _why_unseen(file: File) -> tuple[str, bool]:
    measured = file.measurements
    if isinstance(measured, NotMeasured):
        return clause(measured.reason), measured.expected
    if measured is None or not measured.fingerprint:
        return "it was not decoded", False
    return "it is plain for most of its length, so it is like any other of its colour", True
