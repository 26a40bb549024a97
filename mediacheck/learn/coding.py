"""What means something only under one codec: its profiles and its levels.

It must not reckon levels: the facts say which is stated and which is needed.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from mediacheck.learn.clips import Clip, said
from mediacheck.learn.evidence import Found, choice, joined, unsaid
from mediacheck.media.facts import VideoFacts
from mediacheck.media.levels import NO_LEVEL, has_levels, level_order
from mediacheck.names import LEVELS, PROFILES
from mediacheck.profile_values import parse_level
from mediacheck.report.words import counted

TABLES = {"H.264": "ITU-T H.264 Table A-1", "H.265": "ITU-T H.265 Tables A.8 and A.9"}


def profiles(clips: Sequence[Clip], codec: str) -> Iterator[Found]:
    """All profiles seen, in the standard's order where it is known here, else by name."""
    pairs = said(clips, lambda video: video.profile)
    seen = {value for _, value in pairs if value is not None}
    spelt = {name.casefold(): name for name in PROFILES.get(codec, ())}
    named = [(each, None if name is None else spelt.get(name.casefold(), name)) for each, name in pairs]
    yield from choice("profiles", named, PROFILES.get(codec) or sorted(seen))


def level(clips: Sequence[Clip], codec: str) -> Iterator[Found]:
    """The highest level that the pictures state or need, whichever is higher."""
    if not has_levels(codec):
        return
    told = [(clip, _level(clip.video)) for clip in clips]
    known = [(clip, name) for clip, name in told if name is not None and _can_be_named(codec, name)]
    if known:
        name = max((name for _, name in known), key=lambda each: _rank(codec, each))
        highest = [clip.video for clip, each in known if each == name]
        of = tuple(clip.sighting for clip, _ in known)
        yield Found("level_max", name, of, _remark(highest, codec, name), _why_open(told, len(known)))


def _rank(codec: str, name: str) -> int:
    """Where a level stands among those of its codec; -1 for one that the codec does not have."""
    rank = level_order(codec, name)
    return -1 if rank is None else rank


def _level(video: VideoFacts) -> str | None:
    """The higher one of the level that is stated and the one that is needed."""
    names = [name for name in (video.level, video.level_needed) if name is not None]
    return max(names, key=lambda name: _rank(video.codec, name), default=None)


def _can_be_named(codec: str, name: str) -> bool:
    if codec in LEVELS:
        return name in LEVELS[codec]
    try:
        return parse_level(name) == name and _rank(codec, name) >= 0
    except ValueError:
        return False


def _remark(highest: Sequence[VideoFacts], codec: str, name: str) -> str:
    """How the highest level was found where no file states it."""
    if any(video.level == name for video in highest):
        return ""
    stated = any(video.level is not None for video in highest)
    why = "its header says less than that" if stated else "its header states none"
    table = TABLES.get(codec, "its standard")
    return f"rounded up to the least level whose limits the highest one keeps ({table}), since {why}"


def _why_open(told: Sequence[tuple[Clip, str | None]], known: int) -> str:
    """Why a level is no limit: some file would not be allowed by it, or could not be held against it."""
    beyond = sum(name == NO_LEVEL for _, name in told)
    unnamed = len(told) - known - beyond - sum(name is None for _, name in told)
    return joined(
        f"{counted(beyond, 'file needs', 'files need')} more than any level allows" if beyond else "",
        f"{counted(unnamed, 'file states', 'files state')} a level that no profile can name"
        if unnamed
        else "",
        unsaid([(clip.sighting, name) for clip, name in told]),
    )
