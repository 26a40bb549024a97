"""The player: what it reads too slowly, and in which order it plays.

It must not compare sets itself (`containment`) nor word sentences that a table holds (`wording`).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from mediacheck.profile import Profile
from mediacheck.profile_difference.containment import Span, above, exact, over_kinds
from mediacheck.profile_difference.model import Lack
from mediacheck.profile_difference.picture import Pair, fill_rate, goes_by_reading
from mediacheck.profile_difference.severity import lets_pass
from mediacheck.profile_difference.video import pairs, videos_shown
from mediacheck.profile_difference.wording import Values, lack, name_of, said
from mediacheck.profile_text import value_text

GOES_BY = {"name": "the names of the files", "disk": "the order in which the files were copied"}


def player_lacks(a: Profile, b: Profile) -> Iterator[Lack]:
    """What the player reads too slowly, or plays in another order."""
    both = pairs(a, b) if videos_shown(a, b) else ()
    yield from _read(a, b, both)
    yield from _buffer(a, b, both)
    one_item = any(each.loop.items_max == 1 and not lets_pass(each, "loop-count") for each in (a, b))
    if a.player.order != b.player.order and not one_item:
        yield said(
            "player.order",
            "some",
            a.player.order,
            b.player.order,
            f"The player of {name_of(a)} goes by {GOES_BY[a.player.order]} and this player by "
            f"{GOES_BY[b.player.order]}, so a card may play in another order.",
        )


def _read(a: Profile, b: Profile, both: Sequence[Pair]) -> Iterator[Lack]:
    """Busy places, where the reading of the card and not the unpacking is B's limit."""
    slow = [pair for pair in both if goes_by_reading(pair.in_b, b)]
    rates = [(fill_rate(pair.in_a, a), fill_rate(pair.in_b, b)) for pair in slow]
    share = over_kinds(above(Span(None, left), Span(None, right)) for left, right in rates)
    if share is not None:
        greatest = None if any(left is None for left, _ in rates) else max(left for left, _ in rates if left)
        texts = _bit_rate(greatest), value_text("read_mbit_s", b.player.read_mbit_s)
        yield lack(a, "player.read_mbit_s", share, Values(*texts, None if greatest is None else texts[0]))


def _bit_rate(rate: Fraction | None) -> str:
    return value_text("bit_rate_peak_max", None if rate is None else float(rate))


def _buffer(a: Profile, b: Profile, both: Sequence[Pair]) -> Iterator[Lack]:
    """A shorter store does no harm where it holds as much, being filled faster."""
    left, right = exact(a.player.buffer_seconds), exact(b.player.buffer_seconds)
    if left is None or right is None or left <= right:
        return
    rates = [(fill_rate(pair.in_a, a), fill_rate(pair.in_b, b)) for pair in both]
    if any(rate_a and rate_b and rate_a * left > rate_b * right for rate_a, rate_b in rates):
        texts = [value_text("buffer_seconds", each.player.buffer_seconds) for each in (a, b)]
        yield lack(a, "player.buffer_seconds", "some", Values(texts[0], texts[1], texts[0]))
