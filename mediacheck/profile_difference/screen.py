"""The screen: what pictures that are made for A's look like on B's.

It must not compare sets itself (`containment`) nor word sentences that a table holds (`wording`).
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from mediacheck.profile import Profile, Screen
from mediacheck.profile_difference.containment import Span, beyond, over_kinds
from mediacheck.profile_difference.model import Lack
from mediacheck.profile_difference.picture import Pair, exact_size
from mediacheck.profile_difference.severity import lets_pass
from mediacheck.profile_difference.video import pairs, videos_shown
from mediacheck.profile_difference.wording import name_of, said
from mediacheck.profile_text import NOT_RESTRICTED, value_text
from mediacheck.rules.video_shape import PIXEL_TOLERANCE, SHAPE_TOLERANCE


def screen_lacks(a: Profile, b: Profile) -> Iterator[Lack]:
    """What pictures made for A's screen look like on B's."""
    if videos_shown(a, b):
        yield from _shape(a, b)
    left, right = a.screen, b.screen
    if right.overscan_percent > left.overscan_percent:
        texts = [value_text("overscan_percent", each.overscan_percent) for each in (left, right)]
        yield said(
            "screen.overscan_percent",
            "some",
            texts[0],
            texts[1],
            f"A picture for {name_of(a)} may have something that matters near its edge; this screen hides "
            f"{texts[1]} at each edge, so that may not be seen.",
        )
    if left.turned_degrees != right.turned_degrees:
        yield _turned(a, left, right)


def _turned(a: Profile, left: Screen, right: Screen) -> Lack:
    texts = [value_text("turned_degrees", each.turned_degrees) for each in (left, right)]
    lies = "upside down" if (left.turned_degrees - right.turned_degrees) % 360 == 180 else "on its side"
    return said(
        "screen.turned_degrees",
        "every",
        texts[0],
        texts[1],
        f"Every picture for {name_of(a)} is made for a screen mounted at {texts[0]}; this one is mounted at "
        f"{texts[1]}, so the picture lies {lies}.",
    )


def _shape(a: Profile, b: Profile) -> Iterator[Lack]:
    """How wide a picture may be for its height, held against the screen as `video-shape` does."""
    wanted = _screen_shapes(b.screen)
    share = over_kinds(beyond(_shapes(pair), wanted) for pair in pairs(a, b))
    if share is None:
        return
    key = "screen.width" if a.screen.width != b.screen.width else "screen.height"
    head = f"No video for {name_of(a)} is" if share == "every" else f"A video for {name_of(a)} may not be"
    yield said(
        key,
        share,
        _size(a.screen),
        _size(b.screen),
        f"{head} of the shape of this screen, {_size(b.screen)}, so black bars appear or the picture looks "
        "stretched.",
    )


def _size(screen: Screen) -> str:
    return NOT_RESTRICTED if screen.width is None else f"{screen.width}x{screen.height} pixels"


def _screen_shapes(screen: Screen) -> Span:
    if screen.width is None or screen.height is None:
        return Span()
    return _around(Fraction(screen.width, screen.height), SHAPE_TOLERANCE)


def _around(shape: Fraction, off: Fraction) -> Span:
    return Span(shape * (1 - off), shape * (1 + off))


def _shapes(pair: Pair) -> Span:
    """What A's screen lets through, and within that what its exact size is."""
    by_screen = Span() if lets_pass(pair.a, "video-shape") else _screen_shapes(pair.a.screen)
    size = exact_size(pair)
    if size is None or lets_pass(pair.a, "video-pixel-aspect"):
        return by_screen
    by_size = _around(Fraction(*size), PIXEL_TOLERANCE)
    both = by_size.within(by_screen)
    crossed = both.least is not None and both.most is not None and both.least > both.most
    return by_size if crossed else both
