"""Stills and the loop: what may be so for A that is too much, too little or too long for B.

It must not compare sets itself (`containment`) nor word sentences that a table holds (`wording`).
"""

from __future__ import annotations

from collections.abc import Iterator

from mediacheck.profile import Profile
from mediacheck.profile_difference.accepted import takes_stills
from mediacheck.profile_difference.containment import Span, above, below, outside, span
from mediacheck.profile_difference.model import Lack
from mediacheck.profile_difference.severity import lets_pass
from mediacheck.profile_difference.video import videos_shown
from mediacheck.profile_difference.wording import Values, lack, name_of, said
from mediacheck.profile_text import value_text


def still_lacks(a: Profile, b: Profile) -> Iterator[Lack]:
    """What stills lack; nothing where A takes none, one thing where B shows none."""
    if not takes_stills(a):
        return
    left, right = a.stills, b.stills
    if share := outside(left.formats, right.formats):
        extra = _extra(left.formats, right.formats)
        values = Values(value_text("formats", left.formats), value_text("formats", right.formats), extra)
        yield lack(a, "stills.formats", share, values, None if right.formats else "shows no stills")
    if share == "every" and not lets_pass(b, "still-format"):
        return
    for key in ("width_max", "height_max"):
        most_a, most_b = getattr(left, key), getattr(right, key)
        if share := above(span(None, most_a), span(None, most_b)):
            yield lack(a, f"stills.{key}", share, _values(key, most_a, most_b))
    yield from _still_seconds(a, b)


def _extra(a: tuple[str, ...] | None, b: tuple[str, ...] | None) -> str | None:
    return None if a is None else value_text("formats", tuple(one for one in a if one not in (b or ())))


def _values(key: str, a: float | None, b: float | None) -> Values:
    text = value_text(key, a)
    return Values(text, value_text(key, b), None if a is None else text)


def _still_seconds(a: Profile, b: Profile) -> Iterator[Lack]:
    """Another time for each still makes a round longer or shorter, which matters where B limits that."""
    left, right = a.stills.seconds, b.stills.seconds
    limited = b.loop.seconds_min is not None or b.loop.seconds_max is not None
    if right is None or left == right or not limited:
        return
    texts = value_text("seconds", left), value_text("seconds", right)
    before = "a time that is not known" if left is None else texts[0]
    yield said(
        "stills.seconds",
        "some",
        *texts,
        f"A still for {name_of(a)} is shown for {before} and by this player for {texts[1]}, so one round "
        "of the loop may be too short or too long here.",
    )


def loop_lacks(a: Profile, b: Profile) -> Iterator[Lack]:
    """What the loop as a whole lacks."""
    items = [span(max(1, each.loop.items_min or 1), each.loop.items_max) for each in (a, b)]
    seconds = [span(each.loop.seconds_min, each.loop.seconds_max) for each in (a, b)]
    yield from _bounds(a, b, "items", items[0], items[1])
    yield from _bounds(a, b, "seconds", seconds[0], seconds[1])
    if not videos_shown(a, b):
        return
    if b.loop.seamless and not a.loop.seamless:
        yield said(
            "loop.seamless",
            "some",
            "no",
            "yes",
            f"A loop for {name_of(a)} may jump where it starts again or from one item to the next; this one "
            "is to run on without a jump, so the picture may jump or the sound click.",
        )
    for key in ("black_seconds_max", "frozen_seconds_max"):
        most_a, most_b = getattr(a.loop, key), getattr(b.loop, key)
        if share := above(span(None, most_a), span(None, most_b)):
            yield lack(a, f"loop.{key}", share, _values(key, most_a, most_b))


def _bounds(a: Profile, b: Profile, what: str, left: Span, right: Span) -> Iterator[Lack]:
    for key, share in ((f"{what}_min", below(left, right)), (f"{what}_max", above(left, right))):
        if share is not None:
            yield lack(a, f"loop.{key}", share, _bound_values(key, a, b))


def _bound_values(key: str, a: Profile, b: Profile) -> Values:
    values = _values(key, getattr(a.loop, key), getattr(b.loop, key))
    if not key.startswith("items"):
        return values
    count = getattr(a.loop, key)
    return values._replace(has=None if count is None else f"{count} {'item' if count == 1 else 'items'}")
