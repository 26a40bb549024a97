"""How much room words take, and words cut, shortened and broken into lines for the room there is.

It must not draw, nor know what the words are about.
"""

from __future__ import annotations

import unicodedata
from bisect import bisect_left
from collections.abc import Iterator
from itertools import accumulate, takewhile

from mediacheck.paper.look import LEADING, MM_PER_PT, Weight
from mediacheck.paper.runs import clean, joins
from mediacheck.paper.shaping import line_of

ELLIPSIS = "…"
BREAK_AFTER = " -_/\\,;+"
"""In names of files."""
PROSE_BREAK_AFTER = " -–—/"
"""In sentences, where a comma stands in numbers too."""
NOT_FIRST = ".,;:!?)]}%。、，．：；！？」』）】〕》〉ー々"
"""What must not begin a line, where letters themselves may: in Chinese, Japanese and Korean."""


def line_mm(size_pt: float) -> float:
    """Height of one line."""
    return size_pt * LEADING * MM_PER_PT


def width_mm(words: str, size_pt: float, weight: Weight = "regular") -> float:
    """How much room a line of text takes on paper."""
    return line_of(words, weight).width_em * size_pt * MM_PER_PT


def shortened(words: str, size_pt: float, weight: Weight, room_mm: float) -> str:
    """The words, or their beginning and end with an ellipsis between them where they need more room."""
    words = clean(words)
    if width_mm(words, size_pt, weight) <= room_mm:
        return words
    parts = list(clusters(words))
    kept = bisect_left(
        range(1, len(parts)),
        True,
        key=lambda count: width_mm(_abridged(parts, count), size_pt, weight) > room_mm,
    )
    return _abridged(parts, kept)


def wrapped(words: str, size_pt: float, weight: Weight, room_mm: float, lines_max: int) -> tuple[str, ...]:
    """A name in at most so many lines, broken where a word or a part of it ends if that can be."""
    room = lines_max * room_mm
    while room > room_mm:
        short = shortened(words, size_pt, weight, room)
        lines = tuple(_broken(short, size_pt, weight, room_mm, BREAK_AFTER))
        if len(lines) <= lines_max:
            return lines
        room -= room_mm / 4
    return (shortened(words, size_pt, weight, room_mm),)


def paragraph(words: str, size_pt: float, weight: Weight, room_mm: float) -> tuple[str, ...]:
    """Sentences in as many lines as they need; a line end in the words is one on paper."""
    return tuple(
        line
        for part in words.split("\n")
        for line in _broken(clean(part.strip()), size_pt, weight, room_mm, PROSE_BREAK_AFTER) or ("",)
    )


def clusters(words: str) -> Iterator[str]:
    """Letters, each with the marks that belong to it."""
    cluster = ""
    for letter in words:
        if cluster and not joins(letter):
            yield cluster
            cluster = ""
        cluster += letter
    if cluster:
        yield cluster


def _abridged(parts: list[str], kept: int) -> str:
    """So many letters of both ends. The end of a file name says what it is, so both ends get half."""
    return "".join((*parts[: (kept + 1) // 2], ELLIPSIS, *parts[len(parts) - kept // 2 :]))


def _broken(words: str, size_pt: float, weight: Weight, room_mm: float, breaks: str) -> tuple[str, ...]:
    """Fill line after line; where words allow it, end a line at a break between them."""
    parts, lines = list(clusters(words)), list[str]()
    while parts:
        end = _fits(parts, size_pt, weight, room_mm)
        if end < len(parts):
            end = _best_break(parts, end, breaks)
        lines.append("".join(parts[:end]).strip())
        parts = parts[end:]
    return tuple(lines)


def _fits(parts: list[str], size_pt: float, weight: Weight, room_mm: float) -> int:
    """How many letters fill a line. Joined letters are measured as they stand together."""
    widths = accumulate(width_mm(part, size_pt, weight) for part in parts)
    count = max(1, sum(1 for _ in takewhile(lambda width: width <= room_mm, widths)))
    while count > 1 and width_mm("".join(parts[:count]).strip(), size_pt, weight) > room_mm:
        count -= 1
    return count


def _best_break(parts: list[str], fits: int, breaks: str) -> int:
    """After a word or a part of a name; else before the extension; else wherever the room ends."""
    fits += parts[fits] == " "
    words = [i for i in range(1, fits + 1) if parts[i - 1] in breaks or _between_signs(parts, i)]
    extensions = [i for i in range(1, min(fits + 1, len(parts))) if parts[i] == "."]
    return (words or extensions or [fits])[-1]


def _between_signs(parts: list[str], place: int) -> bool:
    """Whether Chinese, Japanese and Korean, which need no spaces, may end a line here."""
    if place >= len(parts) or parts[place][0] in NOT_FIRST:
        return False
    return any(unicodedata.east_asian_width(part[0]) == "W" for part in parts[place - 1 : place + 1])
