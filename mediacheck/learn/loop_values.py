"""What the loops of the cards have taught: one card has one loop, so that cards are counted.

It must not say how a loop should look: black, standstill and loudness are told as remarks, since they are
matters of the material and not of the player.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from mediacheck.learn.card_values import seen_on
from mediacheck.learn.evidence import ENOUGH, Sighting, content, joined
from mediacheck.learn.model import Plain, Value
from mediacheck.learn.steps import whole_seconds
from mediacheck.rules.wording import number


@dataclass(frozen=True, slots=True)
class _Round:
    """The loop of one card."""

    items: tuple[Sighting, ...]

    @property
    def seconds(self) -> Fraction | None:
        """Of one round, as exactly as the rule judges it; None with stills, whose time the player sets."""
        lengths = [each.file.media.duration if each.file.media else None for each in self.items]
        known = [length for length in lengths if length is not None]
        return round(sum(known, Fraction(0)), 3) if len(known) == len(lengths) else None

    @property
    def untimed_video(self) -> bool:
        """Whether a video does not say how long it is."""
        media = [each.file.media for each in self.items if each.file.kind == "video"]
        return any(each is None or each.duration is None for each in media)


def loop_values(items: Sequence[Sighting], cards: int) -> Iterator[Value]:
    """How many items, and how long a round. The same loop on several cards is one loop."""
    rounds = [_Round(tuple(each for each in items if each.card == card)) for card in range(cards)]
    counts = [len(each.items) for each in rounds]
    least, most = min(counts), max(counts)
    apart = _few(rounds)
    yield _value("items_min", least, cards, cards, joined("the fewest", apart), not apart)
    yield _value("items_max", most, cards, cards, joined("the most", apart), not apart)
    yield from _lengths(rounds)


def _value(key: str, value: Plain, known: int, cards: int, remark: str, is_limit: bool) -> Value:
    return Value(("loop", key), value, joined(seen_on(known, cards), remark), is_limit)


def _few(rounds: Sequence[_Round]) -> str:
    """Why these are no limit, where they are one loop only."""
    loops = {frozenset(Counter(map(content, each.items)).items()) for each in rounds}
    return "" if len(loops) >= ENOUGH else "one loop is too little for a limit"


def _lengths(rounds: Sequence[_Round]) -> Iterator[Value]:
    timed = [each for each in rounds if each.seconds is not None]
    lengths = [each.seconds for each in timed if each.seconds]
    if not lengths:
        return
    least, most = whole_seconds(min(lengths), max(lengths))
    untimed = "a video does not say how long it is" if any(each.untimed_video for each in rounds) else ""
    open_because = joined(_few(timed), untimed)
    for key, value, exact in (("seconds_min", least, min(lengths)), ("seconds_max", most, max(lengths))):
        how = "down" if key == "seconds_min" else "up"
        remark = "" if value == exact else f"rounded {how} from {number(exact)} s to whole seconds"
        yield _value(key, value, len(timed), len(rounds), joined(remark, open_because), not open_because)
