"""What limits of a moving picture some videos have taught, each limit by itself.

It must not know of codecs: it is asked for those of one codec, or for all.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from typing import get_args

from mediacheck.learn.clips import Clip, said
from mediacheck.learn.evidence import Found, choice, greatest, joined, shares, unsaid
from mediacheck.learn.steps import half_seconds, picture_bit_rate, standard_rate, written_rate
from mediacheck.media.facts import VideoFacts
from mediacheck.names import Chroma, Scan
from mediacheck.report.words import counted
from mediacheck.rules.streams import bit_rate
from mediacheck.rules.video_shape import NEVER_INTERLACED
from mediacheck.rules.wording import number

DEPTHS = (8, 10, 12)
CHROMA: tuple[str, ...] = get_args(Chroma)


def picture_limits(clips: Sequence[Clip]) -> tuple[Found, ...]:
    """Every limit, in the order of a profile's keys."""
    return tuple(found for limit in LIMITS for found in limit(clips))


def _width(clips: Sequence[Clip]) -> Iterator[Found]:
    yield from _side("width", clips, lambda video: video.width)


def _height(clips: Sequence[Clip]) -> Iterator[Found]:
    yield from _side("height", clips, lambda video: video.height)


def _side(name: str, clips: Sequence[Clip], read: Callable[[VideoFacts], int]) -> Iterator[Found]:
    """Exactly, where all have the same."""
    sizes = {read(clip.video) for clip in clips}
    if sizes:
        key = name if len(sizes) == 1 else f"{name}_max"
        beyond = "" if 1 <= min(sizes) <= max(sizes) <= 65_536 else "it is no size of a picture"
        yield Found(key, max(sizes), tuple(clip.sighting for clip in clips), open_because=beyond)


def _frame_rates(clips: Sequence[Clip]) -> Iterator[Found]:
    """All rates seen, of the files that have one; uneven ones are told by a rule of their own."""
    even = [clip for clip in clips if clip.video.frame_rate_mode != "variable"]
    pairs = said(even, lambda video: video.frame_rate)
    rated = [(each, rate) for each, rate in pairs if rate is not None]
    meant = [(each, standard_rate(rate) or rate) for each, rate in rated]
    written = {rate: text for rate in sorted({rate for _, rate in meant}) if (text := written_rate(rate))}
    if not written:
        return
    counts = [(str(text), sum(rate == one for _, rate in meant)) for one, text in written.items()]
    yield Found(
        "frame_rates",
        tuple(written.values()),
        tuple(each for each, _ in rated),
        joined(shares(counts), _taken_as(rate for _, rate in rated), _uneven(len(clips) - len(even))),
        joined(unsaid(pairs), "a rate was seen that is none" * any(rate not in written for _, rate in meant)),
    )


def _taken_as(rates: Iterator[Fraction]) -> str:
    """Rates that are a standard one but for rounding."""
    off = sorted({(rate, exact) for rate in rates if (exact := standard_rate(rate)) not in (None, rate)})
    said_so = [
        f"{float(rate):.6g} rounded to {written_rate(exact)} (CTA-861)" for rate, exact in off if exact
    ]
    return ", ".join(said_so)


def _uneven(files: int) -> str:
    return f"{counted(files, 'file')} with an uneven rate left out" if files else ""


def _bit_rate(clips: Sequence[Clip]) -> Iterator[Found]:
    pairs = said(clips, lambda video: video.bit_rate)
    yield from greatest("bit_rate_max", pairs, picture_bit_rate, bit_rate)


def _peak(clips: Sequence[Clip]) -> Iterator[Found]:
    pairs = [(clip.sighting, clip.peak_bit_s) for clip in clips]
    yield from greatest("bit_rate_peak_max", pairs, picture_bit_rate, bit_rate)


def _bit_depths(clips: Sequence[Clip]) -> Iterator[Found]:
    yield from choice("bit_depths", said(clips, lambda video: video.bit_depth), DEPTHS)


def _chroma(clips: Sequence[Clip]) -> Iterator[Found]:
    yield from choice("chroma", said(clips, lambda video: video.chroma), CHROMA)


def _scan(clips: Sequence[Clip]) -> Iterator[Found]:
    """One kind, where only one was seen; a profile cannot say that both were."""
    pairs = said(clips, _scan_of)
    kinds = {kind for _, kind in pairs if kind is not None}
    if len(kinds) == 1:
        of = tuple(each for each, kind in pairs if kind is not None)
        yield Found("scan", kinds.pop(), of, open_because=unsaid(pairs))


def _scan_of(video: VideoFacts) -> Scan | None:
    return "progressive" if video.codec in NEVER_INTERLACED else video.scan


def _gop(clips: Sequence[Clip]) -> Iterator[Found]:
    pairs = said(clips, lambda video: video.packets.longest_gop_s if video.packets else None)
    of = [(each, seconds) for each, seconds in pairs if seconds is not None]
    if of:
        most = max(seconds for _, seconds in of)
        wide = half_seconds(most)
        remark = "" if wide == most else f"rounded up from {number(most)} s to the next half second"
        yield Found("gop_seconds_max", wide, tuple(each for each, _ in of), remark, unsaid(pairs))


LIMITS = (_width, _height, _frame_rates, _bit_rate, _peak, _bit_depths, _chroma, _scan, _gop)
