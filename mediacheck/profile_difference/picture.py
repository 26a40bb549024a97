"""One limit of the picture after the other, for one codec that A and B both take.

It must not compare sets itself (`containment`) nor word sentences (`wording`).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction
from functools import partial
from typing import Any, NamedTuple

from mediacheck.media.levels import WORDS, h264_level_needed, h265_level_needed, has_levels, level_order
from mediacheck.profile import CodecLimits, PictureLimits, Profile
from mediacheck.profile_difference.containment import Span, above, beyond, exact, outside, span
from mediacheck.profile_difference.implied import Tools, accepted_profiles, tools
from mediacheck.profile_difference.model import Share
from mediacheck.profile_difference.severity import lets_pass
from mediacheck.profile_difference.wording import Values
from mediacheck.profile_text import value_text


class Pair(NamedTuple):
    """Both profiles, and the limits of both for one codec that both take."""

    a: Profile
    b: Profile
    codec: str
    in_a: CodecLimits
    in_b: CodecLimits


class Break(NamedTuple):
    """How far one codec's files break one limit of B. `key` is that of the limit, without its section."""

    key: str
    share: Share
    values: Values


def fill_rate(limits: CodecLimits, profile: Profile) -> Fraction | None:
    """At which rate the player's buffer fills, in bit/s, as `video-bit-rate-peak` has it; None: any."""
    read = exact(profile.player.read_mbit_s)
    given = (exact(limits.bit_rate_peak_max), None if read is None else read * 10**6)
    return min((rate for rate in given if rate is not None), default=None)


def goes_by_reading(limits: CodecLimits, profile: Profile) -> bool:
    """Whether the card is read no faster than the busiest places are unpacked."""
    read, peak = exact(profile.player.read_mbit_s), exact(limits.bit_rate_peak_max)
    return read is not None and (peak is None or read * 10**6 < peak)


def list_values(key: str, a: Sequence[Any] | None, b: Sequence[Any] | None) -> Values:
    """The values of a list, and those of A that are not in B."""
    extra = None if a is None else value_text(key, tuple(one for one in a if b is None or one not in b))
    return Values(value_text(key, a), value_text(key, b), extra)


def _profiles(pair: Pair) -> Break | None:
    a, b = pair.in_a.profiles, pair.in_b.profiles
    if b is None:
        return None
    takes = accepted_profiles(pair.codec, b)
    share = outside(None if a is None else accepted_profiles(pair.codec, a), takes)
    extra = None if a is None else tuple(name for name in a if name.casefold() not in takes) or a
    return share and Break(
        "profiles", share, list_values("profiles", a, b)._replace(has=_or_any("profiles", extra))
    )


def _or_any(key: str, values: Sequence[str] | None) -> str | None:
    return None if values is None else value_text(key, values)


def _level(pair: Pair) -> Break | None:
    codec, a, b = pair.codec, pair.in_a.level_max, pair.in_b.level_max
    most = level_order(codec, b) if b is not None and has_levels(codec) else None
    if b is None or most is None or b == WORDS.get(codec, ("",))[-1]:
        return None
    reached = level_order(codec, a) if a is not None else None
    if reached is not None and reached <= most:
        return None
    least = _least_level(pair)
    share: Share = "every" if least is not None and (level_order(codec, least) or 0) > most else "some"
    has = f"{least} or more" if share == "every" and least != a else a if reached is not None else None
    return Break("level_max", share, Values(value_text("level_max", a), value_text("level_max", b), has))


def _least_level(pair: Pair) -> str | None:
    """The level that A's exact size and slowest rate need (ITU-T H.264 Table A-1, H.265 Table A.8)."""
    size = exact_size(pair)
    if size is None or lets_pass(pair.a, "video-level-understated"):
        return None
    width, height = size
    rates = None if lets_pass(pair.a, "video-frame-rate") else pair.in_a.frame_rates
    rate = min(rates or (Fraction(1),))
    if pair.codec == "H.264":
        need = h264_level_needed(
            profile="High",
            width=width,
            height=height,
            frame_rate=rate,
            reference_frames=None,
            bit_rate=None,
        )
    elif pair.codec == "H.265":
        need = h265_level_needed(
            width=width, height=height, frame_rate=rate, dpb_frames=None, bit_rate=None, high_tier=False
        )
    else:
        return None
    return need.level if need else None


def exact_size(pair: Pair) -> tuple[int, int] | None:
    """The one size, in pixels, that every picture has which fits A; None where A lets others pass."""
    width, height = pair.in_a.width, pair.in_a.height
    if width is None or height is None or lets_pass(pair.a, "video-resolution"):
        return None
    return width, height


def side_span(limits: PictureLimits, side: str) -> Span:
    """What a side of the picture may measure, in pixels."""
    exactly, most = getattr(limits, side), getattr(limits, f"{side}_max")
    return span(exactly, exactly if exactly is not None else most)


def _side(side: str, pair: Pair) -> Break | None:
    share = beyond(side_span(pair.in_a, side), side_span(pair.in_b, side))
    in_a, in_b = _side_text(pair.in_a, side), _side_text(pair.in_b, side)
    key = side if getattr(pair.in_b, side) is not None else f"{side}_max"
    unrestricted = side_span(pair.in_a, side) == Span()
    return share and Break(key, share, Values(in_a, in_b, None if unrestricted else in_a))


def _side_text(limits: PictureLimits, side: str) -> str:
    exactly, most = getattr(limits, side), getattr(limits, f"{side}_max")
    if exactly is not None:
        return f"exactly {value_text(side, exactly)}"
    return value_text(side, most) if most is None else f"up to {value_text(side, most)}"


def _frame_rates(pair: Pair) -> Break | None:
    """Equal rates only: two that differ by less than files are read to are the same to no encoder."""
    a, b = pair.in_a.frame_rates, pair.in_b.frame_rates
    share = outside(a, b)
    if share == "every" and any(_as_good_as(one, other) for one in a or () for other in b or ()):
        share = "some"
    return share and Break("frame_rates", share, list_values("frame_rates", a, b))


RATES_ALIKE = Fraction(4, 10_000)
"""Twice what the rule `video-frame-rate` lets pass: files for both rates may lie between them."""


def _as_good_as(one: Fraction, other: Fraction) -> bool:
    return abs(one - other) <= max(one, other) * RATES_ALIKE


def _at_most(key: str, pair: Pair) -> Break | None:
    a, b = getattr(pair.in_a, key), getattr(pair.in_b, key)
    share = above(span(None, a), span(None, b))
    text = value_text(key, a)
    return share and Break(key, share, Values(text, value_text(key, b), None if a is None else text))


def _peak(pair: Pair) -> Break | None:
    """Where B's limit is how fast the card is read, that is another key."""
    if pair.in_b.bit_rate_peak_max is None or goes_by_reading(pair.in_b, pair.b):
        return None
    rate_a, rate_b = fill_rate(pair.in_a, pair.a), fill_rate(pair.in_b, pair.b)
    share = above(Span(None, rate_a), Span(None, rate_b))
    texts = [
        value_text("bit_rate_peak_max", None if rate is None else int(rate)) for rate in (rate_a, rate_b)
    ]
    has = None if rate_a is None else texts[0]
    return share and Break("bit_rate_peak_max", share, Values(texts[0], texts[1], has))


def _tools(pair: Pair) -> Tools:
    """What A's profiles of the codec narrow, where A's rules insist on them."""
    return tools(pair.codec, None if lets_pass(pair.a, "video-profile") else pair.in_a.profiles)


def _bit_depths(pair: Pair) -> Break | None:
    implied = _tools(pair).depths
    return _narrowed("bit_depths", pair, pair.in_a.bit_depths, pair.in_b.bit_depths, implied)


def _chroma(pair: Pair) -> Break | None:
    implied = _tools(pair).chroma
    return _narrowed("chroma", pair, pair.in_a.chroma, pair.in_b.chroma, implied)


def _scan(pair: Pair) -> Break | None:
    implied = _tools(pair).scans
    a, b = ((limits.scan,) if limits.scan else None for limits in (pair.in_a, pair.in_b))
    return _narrowed("scan", pair, a, b, implied)


def _narrowed(
    key: str, pair: Pair, a: Sequence[Any] | None, b: Sequence[Any] | None, implied: frozenset[Any]
) -> Break | None:
    """A list of A, narrowed by what the profiles of the codec allow at all."""
    if not implied or b is None:
        share = outside(a, b)
        return share and Break(key, share, list_values(key, a, b))
    left = tuple(sorted(implied)) if a is None else tuple(one for one in a if one in implied)
    if not (share := outside(left, b)):
        return None
    values = list_values(key, left, b)
    return Break(key, share, values._replace(in_a=value_text(key, a)))


LOOKS: tuple[Callable[[Pair], Break | None], ...] = (
    _profiles,
    _level,
    partial(_side, "width"),
    partial(_side, "height"),
    _frame_rates,
    partial(_at_most, "bit_rate_max"),
    _peak,
    _bit_depths,
    _chroma,
    _scan,
    partial(_at_most, "gop_seconds_max"),
)
