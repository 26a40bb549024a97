"""Cuts a line of text into runs that one font can draw, in the order in which they stand on the page.

It must not draw or measure.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from functools import lru_cache
from itertools import groupby
from typing import NamedTuple

import uharfbuzz as hb

from mediacheck.paper.fonts import Typeface, main_typeface, typeface_for
from mediacheck.paper.look import Weight

MISSING = "▯"
"""Stands for a letter that no font has."""
UNPRINTABLE = "\N{REPLACEMENT CHARACTER}"
"""Stands for what is not a letter: a control character, half a surrogate pair, a switch of direction."""
JOINERS = "\N{ZERO WIDTH NON-JOINER}\N{ZERO WIDTH JOINER}"
BACKWARDS = ("R", "AL")
NUMBERS = ("EN", "AN")
SEPARATORS = ("ES", "CS")
BRACKETS = {")": "(", "]": "[", "}": "{"}


class Run(NamedTuple):
    """Letters in reading order that one font draws in one direction. `script` is an ISO 15924 code."""

    text: str
    face: Typeface
    script: str | None
    rightwards: bool


class _Look(NamedTuple):
    face: Typeface
    script: str | None


@lru_cache(maxsize=4096)
def clean(text: str) -> str:
    """The text with its letters composed, and with nothing in it that would move or hide other letters."""
    letters = unicodedata.normalize("NFC", text)
    return "".join(UNPRINTABLE if _is_unprintable(letter) else letter for letter in letters)


def runs(text: str, weight: Weight) -> tuple[Run, ...]:
    """The runs of clean text, from left to right.

    A line runs rightwards as a whole, as a list of file names does. Inside it the order follows the
    Unicode bidirectional algorithm (UAX #9) as far as one level of embedding and numbers need it.
    """
    placed: list[Run] = []
    for part, is_backwards in _directions(text):
        found = list(_runs_of(part, weight, not is_backwards))
        placed.extend(reversed(found) if is_backwards else found)
    return tuple(placed)


def joins(letter: str) -> bool:
    """Whether it belongs to the letter before it and must not be parted from it."""
    is_variant = "\N{VARIATION SELECTOR-1}" <= letter <= "\N{VARIATION SELECTOR-16}"
    return is_variant or letter in JOINERS or unicodedata.category(letter) in ("Mn", "Mc", "Me")


def _is_unprintable(letter: str) -> bool:
    category = unicodedata.category(letter)
    return category in ("Cc", "Cs", "Co", "Zl", "Zp") or (category == "Cf" and letter not in JOINERS)


def _directions(text: str) -> Iterator[tuple[str, bool]]:
    """Cut at changes of direction; True where the part runs from right to left.

    Such a part reaches from its first letter to its last letter or number before a letter that runs
    rightwards (UAX #9, rules W2 to N1 where the paragraph runs rightwards).
    """
    kinds = [unicodedata.bidirectional(letter) for letter in text]
    done = 0
    while (start := next((i for i in range(done, len(text)) if kinds[i] in BACKWARDS), None)) is not None:
        stop = next((i for i in range(start, len(text)) if kinds[i] == "L"), len(text))
        last = max(i for i in range(start, stop) if kinds[i] in (*BACKWARDS, *NUMBERS, "NSM"))
        end = _after_brackets(text, start, last + 1, stop)
        if start > done:
            yield text[done:start], False
        yield text[start:end], True
        done = end
    if done < len(text):
        yield text[done:], False


def _after_brackets(text: str, start: int, end: int, stop: int) -> int:
    """A bracket that was opened in the part is closed in it (UAX #9, rule N0)."""
    for place in range(end, stop):
        opening = BRACKETS.get(text[place])
        inside = text[start:end]
        if opening and inside.count(opening) > inside.count(text[place]):
            end = place + 1
    return end


def _runs_of(part: str, weight: Weight, rightwards: bool) -> Iterator[Run]:
    """Digits run rightwards even inside text that runs from right to left."""
    looks = _looks(part, weight)
    ways = [rightwards or is_number for is_number in _numbers(part)]
    for (look, way), group in groupby(zip(part, looks, ways, strict=True), key=lambda one: one[1:]):
        letters = "".join(letter for letter, *_ in group)
        yield Run(_drawable(letters, look.face), look.face, look.script, way)


def _numbers(part: str) -> list[bool]:
    """Which letters belong to numbers; one separator between two digits does (UAX #9, rule W4)."""
    kinds = [unicodedata.bidirectional(letter) for letter in part]
    inner = zip(kinds, kinds[1:], kinds[2:], strict=False)
    joined = [kind in SEPARATORS and left == right and left in NUMBERS for left, kind, right in inner]
    return [kind in NUMBERS or join for kind, join in zip(kinds, [False, *joined, False], strict=False)]


def _looks(part: str, weight: Weight) -> list[_Look]:
    """The font and script of each letter. Marks, and what all scripts use, take after the letter before."""
    looks = list[_Look]()
    for letter in part:
        before = looks[-1] if looks else None
        face = typeface_for(letter, weight) or typeface_for(MISSING, weight) or main_typeface(weight)
        script = _script_of(letter)
        if before and joins(letter) and _fits(letter, before.face):
            face, script = before
        elif before and script is None and before.face is face:
            script = before.script
        looks.append(_Look(face, script))
    return looks


def _fits(letter: str, face: Typeface) -> bool:
    return ord(letter) in face.letters or not _is_drawn(letter)


def _is_drawn(letter: str) -> bool:
    return letter not in JOINERS and unicodedata.name(letter, "").partition("-")[0] != "VARIATION SELECTOR"


def _drawable(letters: str, face: Typeface) -> str:
    return "".join(letter if _fits(letter, face) else MISSING for letter in letters)


@lru_cache(maxsize=8192)
def _script_of(letter: str) -> str | None:
    """None for what every script uses: digits, marks, spaces."""
    buffer = hb.Buffer()
    buffer.add_str(letter)
    buffer.guess_segment_properties()
    script: str | None = buffer.script
    return script
